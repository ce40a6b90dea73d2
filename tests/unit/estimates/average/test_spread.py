import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.estimates.average import spread


def pooled_rows(estimate=4.0, tau2=16.0, *, n_site_years=8, n_seasons=3, pred_low=-5.0):
    shared = {
        "comparison_id": "c",
        "target": "seasons tested",
        "moderator": "all",
        "estimate": estimate,
        "n_site_years": n_site_years,
        "n_seasons": n_seasons,
    }
    model = shared | {"method": "mixed model", "is_headline": True, "tau2": tau2, "pred_low": pred_low}
    return pd.DataFrame([model, shared | {"method": "plain mean", "is_headline": False}])


def test_share_is_the_normal_probability_in_tenths():
    row = spread.field_shares(pooled_rows()).iloc[0]
    assert row["share"] == pytest.approx(stats.norm.cdf(1.0)) and row["tenths"] == 8 and row["tau"] == 4
    assert row["reason"] == ""


def test_share_above_break_even_stands_beside():
    found = spread.field_shares(pooled_rows(), {"c": 4.0, "d": 1.0}).set_index("above")
    assert found.loc["break-even", "share"] == pytest.approx(0.5) and found.loc["break-even", "tenths"] == 5


@pytest.mark.parametrize(
    "changes, words",
    [
        ({"n_site_years": 5}, "fewer than 6 site-years"),
        ({"n_seasons": 2}, "fewer than 6 site-years or 3 seasons"),
        ({"pred_low": np.nan}, "cannot be estimated"),
        ({"estimate": np.nan}, "cannot be estimated"),
    ],
)
def test_gates(changes, words):
    row = spread.field_shares(pooled_rows(**changes)).iloc[0]
    assert words in row["reason"] and pd.isna(row["share"]) and pd.isna(row["tenths"])


@pytest.mark.parametrize(("share", "tenths", "words"), [(0.9501, 10, "above 95%"), (0.0499, 0, "below 5%")])
def test_beyond_the_edges_the_side_is_given_and_no_share(share, tenths, words):
    row = spread.field_shares(pooled_rows(estimate=4 * stats.norm.ppf(share))).iloc[0]
    assert row["tenths"] == tenths and pd.isna(row["share"]) and words in row["reason"]


@pytest.mark.parametrize("share, tenths", [(0.0501, 1), (0.149, 1), (0.151, 2), (0.9499, 9)])
def test_tenths_at_the_edges(share, tenths):
    row = spread.field_shares(pooled_rows(estimate=4 * stats.norm.ppf(share))).iloc[0]
    assert row["tenths"] == tenths


def test_prediction_of_simulated_truths_errs_as_its_standard_error_says():
    """5,000 programs of 6 site-years at 3 places: squared errors average the stated variances, and beat the raw
    gains.
    """
    rng = np.random.default_rng(7)
    errors = np.array([1.0, 4, 9, 1, 4, 9])
    places = np.repeat([0, 1, 2], 2)
    covariance = 2.0 * np.equal.outer(places, places) + 3.0 * np.eye(6)
    root = np.linalg.cholesky(covariance)
    missed, raw = [], []
    for _ in range(5000):
        true = 5 + root @ rng.normal(size=6)
        gains = true + rng.normal(size=6) * np.sqrt(errors)
        predicted, std_errors = spread.best_prediction(gains, errors, 3.0, places=places, place_variance=2.0)
        missed.append((predicted - true) ** 2)
        raw.append((gains - true) ** 2)
    assert np.mean(missed, axis=0) == pytest.approx(std_errors**2, rel=0.08)
    assert (np.mean(missed, axis=0) < np.mean(raw, axis=0)).all()


@pytest.mark.parametrize(("n_places", "n"), [(3, 12), (90, 300)])
@pytest.mark.parametrize("place_variance", [0.0, 2.0])
def test_prediction_is_that_of_whole_matrices(n_places, n, place_variance):
    rng = np.random.default_rng(n)
    places, gains, errors = rng.integers(0, n_places, n), rng.normal(5, 3, n), rng.uniform(0.1, 9, n)
    true = place_variance * np.equal.outer(places, places) + 3.0 * np.eye(n)
    inverse = np.linalg.inv(true + np.diag(errors))
    toward, mean_variance = true @ inverse, 1 / inverse.sum()
    mean = mean_variance * inverse.sum(axis=0) @ gains
    rest = 1 - toward.sum(axis=1)
    predicted, std_errors = spread.best_prediction(gains, errors, 3.0, places=places, place_variance=place_variance)
    assert predicted == pytest.approx(mean + toward @ (gains - mean), rel=1e-10)
    expected = np.diag(true - toward @ true) + rest**2 * mean_variance
    assert std_errors == pytest.approx(np.sqrt(expected), rel=1e-10)


def test_gains_of_the_same_plots_are_shrunken_with_the_error_they_share():
    """20,000 programs of 6 site-years at 3 places, each place's on the same plots: as the standard errors say, and
    nearer than with errors taken as independent.
    """
    rng = np.random.default_rng(8)
    places, std_errors = np.repeat(["p", "q", "r"], 2), np.array([1.5, 2, 2.5, 1.5, 2, 2.5])
    known = {"comparison_id": "c", "site_year_id": list("abcdef"), "place": places, "n_trials": 1}
    on_plots = {"std_error": std_errors, "plot_set": places, "lasting_std_error": 0.9 * std_errors, "lasting_df": 9.0}
    site_years = pd.DataFrame(known | on_plots)
    named = {"site-year": 3.0, "place": 2.0}
    components = pd.DataFrame(
        [{"comparison_id": "c", "target": "seasons tested", "component": k, "variance": v} for k, v in named.items()]
    )
    is_same = np.equal.outer(places, places)
    of_true = 2.0 * is_same + 3.0 * np.eye(6)
    errors = np.where(is_same, 0.81 * np.outer(std_errors, std_errors), 0.0)
    np.fill_diagonal(errors, std_errors**2)

    def shrunken(gains, of_plots=True):
        rows = site_years.assign(gain=gains, plot_set=site_years["plot_set"] if of_plots else None)
        return spread.shrunken_gains(rows, pooled_rows(), components)

    ones = np.eye(6)  # predictions are linear in the gains
    maps = [np.column_stack([shrunken(e, by)["shrunken_gain"] for e in ones]) for by in (True, False)]
    true = rng.normal(size=(20000, 6)) @ np.linalg.cholesky(of_true).T
    gains = true + rng.normal(size=(20000, 6)) @ np.linalg.cholesky(errors).T
    missed, as_if_apart = (np.mean((gains @ of_gains.T - true) ** 2, axis=0) for of_gains in maps)
    assert missed == pytest.approx(shrunken(ones[0])["shrunken_std_error"].to_numpy() ** 2, rel=0.04)
    assert missed.sum() < 0.97 * as_if_apart.sum()
    assert maps[0].sum(axis=1) == pytest.approx(1)


def test_no_spread_gives_no_shrunken_gains():
    site_years = pd.DataFrame(
        [{"comparison_id": "c", "site_year_id": "s", "gain": 1.0, "std_error": 1.0, "place": "p", "n_trials": 1}]
    )
    components = pd.DataFrame(
        [{"comparison_id": "c", "target": "seasons tested", "component": "site-year", "variance": 2.0}]
    )
    assert len(spread.shrunken_gains(site_years, pooled_rows(), components)) == 1
    assert spread.shrunken_gains(site_years, pooled_rows(pred_low=np.nan), components).empty
    residual_alone = components.assign(component="residual")  # one row per site-year: no variance of its own
    assert spread.shrunken_gains(site_years, pooled_rows(), residual_alone).empty


def test_gains_are_shrunken_once_by_the_model_of_the_seasons_tested():
    site_years = pd.DataFrame(
        [{"comparison_id": "c", "site_year_id": "s", "gain": 1.0, "std_error": 1.0, "place": "p", "n_trials": 1}]
    )
    components = pd.DataFrame(
        [{"comparison_id": "c", "target": "seasons tested", "component": "site-year", "variance": 2.0}]
    )
    of_model = pooled_rows().query("method == 'mixed model'")
    others = [of_model.assign(target="seasons to come"), of_model.assign(method="two-stage")]
    assert len(spread.shrunken_gains(site_years, pd.concat([of_model, *others]), components)) == 1


def test_trials_of_one_site_year_share_their_trial_variance():
    site_years = pd.DataFrame(
        [
            {"comparison_id": "c", "site_year_id": s, "gain": g, "std_error": 1.0, "place": s, "n_trials": n}
            for s, g, n in (("a", 0.0, 1), ("b", 6.0, 2))
        ]
    )
    named = {"site-year": 2.0, "trial": 4.0}
    components = pd.DataFrame(
        [{"comparison_id": "c", "target": "seasons tested", "component": k, "variance": v} for k, v in named.items()]
    )
    found = spread.shrunken_gains(site_years, pooled_rows(), components)
    expected, _ = spread.best_prediction(np.array([0.0, 6.0]), np.array([5.0, 3.0]), 2.0)
    assert found["shrunken_gain"].to_list() == pytest.approx(list(expected))
