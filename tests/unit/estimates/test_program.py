from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import DECLARED, RAIN_AFTER
from pipeline.estimates.average import pooling
from pipeline.estimates.engines import mixed
from pipeline.estimates.program import estimate
from pipeline.estimates.trials import designs, site_year_gains
from pipeline.estimates.trials.block_gains import block_gains
from pipeline.estimates.where import weather_tables
from pipeline.kept import kept_in
from tests.declared_shapes import check_shapes

TABLES = {
    "trial_analyses",
    "treatment_means",
    "block_gains",
    "site_year_gains",
    "pooled_gains",
    "interaction_tests",
    "explored",
    "explored_site_years",
    "variance_components",
    "robustness",
    "agreement",
    "shrunken_gains",
    *weather_tables.TABLES,
}
NUMBERS = [
    "estimate",
    "std_error",
    "conf_low",
    "conf_high",
    "pred_low",
    "pred_high",
    "observed_low",
    "observed_high",
]


def check_every_table(found):
    assert set(found) == TABLES
    check_shapes(found)


@pytest.fixture(scope="module")
def whole(build):
    return build.program(21, season_sd=100.0)


@pytest.fixture(scope="module")
def estimated(whole):
    """Its estimates by table, and what was told of the progress; read them, never change them."""
    told = []
    return SimpleNamespace(tables=estimate(*whole, progress=told.append), told=told)


@pytest.fixture(scope="module")
def pooled(estimated):
    return estimated.tables["pooled_gains"]


def test_every_table_has_its_columns(estimated):
    found = estimated.tables
    check_every_table(found)
    assert len(found["trial_analyses"]) == 2 * 24
    assert len(found["block_gains"]) == 96
    assert len(found["site_year_gains"]) == 24
    assert found["pooled_gains"]["rule"].str.len().gt(0).all()
    assert found["pooled_gains"]["warnings"].notna().all()


def test_progress_is_told(estimated):
    told = estimated.told
    assert told[0].startswith("each trial") and any("c: " in text for text in told)


@pytest.mark.parametrize("n_trials, n_blocks", [(0, 4), (1, 4), (1, 1), (2, 4), (3, 1)], ids=lambda count: str(count))
def test_small_programs_survive(whole, n_trials, n_blocks):
    comparisons, trials, treatments, plots, arms = whole
    trials = trials.iloc[:n_trials].assign(rainfall_class=None)
    plots = plots[plots["block"].astype(int) <= n_blocks]
    kept = [frame[frame["trial_id"].isin(trials["trial_id"])] for frame in (treatments, plots, arms)]
    found = estimate(comparisons, trials, *kept)
    check_every_table(found)
    overall = found["pooled_gains"].query("moderator == 'all'")
    assert len(overall) == (7 if n_trials == 3 else 6) and overall["n_site_years"].eq(n_trials).all()
    assert overall["estimate"].isna().all() or n_trials == 3


def test_a_comparison_without_arms_is_counted_as_none(build):
    comparisons, *frames = build.program(21, n_places=3, n_seasons=1)
    found = estimate([*comparisons, SimpleNamespace(id="lonely", crop="cotton")], *frames)
    lonely = found["pooled_gains"].query("comparison_id == 'lonely'")
    assert lonely["n_site_years"].eq(0).all() and lonely["rule"].eq("No site-year has this comparison.").all()


def test_comparisons_that_are_not_asked_for_are_left_out(whole):
    found = estimate([], *whole[1:])
    check_shapes(found)
    assert found["block_gains"].empty and found["pooled_gains"].empty


def test_the_weather_is_asked_where_covariates_are_given(whole, estimated):
    """A covariate that is the trial's own gain, nearly: a slope of 1, in the rows of this comparison alone."""
    tables = estimated.tables
    gains = tables["site_year_gains"]
    covariates = gains[["comparison_id", "site_year_id"]].assign(
        covariate=RAIN_AFTER, kind=DECLARED, unit="mm",
          value=gains["gain"] + np.random.default_rng(1).normal(0, 20, len(gains))
    )  # fmt: skip
    others = covariates.assign(comparison_id="another")
    found = estimate(*whole, covariates=pd.concat([covariates, others]))
    check_every_table(found)
    assert all(tables[name].empty for name in weather_tables.TABLES)
    headlines = found["weather_slopes"][found["weather_slopes"]["is_headline"]]
    assert headlines["estimate"].to_numpy() == pytest.approx(np.ones(2), abs=0.05)
    assert headlines["is_shown"].all() and set(headlines["comparison_id"]) == {"c"}
    pd.testing.assert_frame_equal(found["pooled_gains"], tables["pooled_gains"])


def test_frames_without_a_row(whole):
    check_shapes(estimate(whole[0], *(frame.iloc[:0] for frame in whole[1:])))


def test_order_of_rows_does_not_matter(whole, estimated):
    comparisons, *frames = whole
    shuffled = [frame.sample(frac=1, random_state=3).reset_index(drop=True) for frame in frames]
    first, second = estimated.tables, estimate(comparisons, *shuffled)
    for name in TABLES:
        pd.testing.assert_frame_equal(first[name], second[name], check_exact=True)


def test_unit_does_not_matter(whole, pooled):
    """kg/ha or bushels: every figure scales, every rule and df stays."""
    comparisons, trials, treatments, plots, arms = whole
    scaled = plots.assign(value=plots["value"] / 62.77)
    left, right = pooled, estimate(comparisons, trials, treatments, scaled, arms)["pooled_gains"]
    np.testing.assert_allclose(left[NUMBERS].astype(float) / 62.77, right[NUMBERS].astype(float), rtol=1e-4, atol=1e-3)
    assert left["rule"].equals(right["rule"])


def test_swapping_the_arms_turns_the_sign(whole, pooled):
    comparisons, trials, treatments, plots, arms = whole
    swapped = arms.assign(arm=arms["arm"].map({"treatment": "comparator", "comparator": "treatment"}))
    left, right = pooled, estimate(comparisons, trials, treatments, plots, swapped)["pooled_gains"]
    np.testing.assert_allclose(left["estimate"].astype(float), -right["estimate"].astype(float), rtol=1e-5)
    np.testing.assert_allclose(left["conf_low"].astype(float), -right["conf_high"].astype(float), rtol=1e-5)


def test_lost_plots_leave_no_gap(whole, pooled):
    comparisons, trials, treatments, plots, arms = whole
    kept = plots.sample(frac=0.85, random_state=1)
    found = estimate(comparisons, trials, treatments, kept, arms)
    headline = "moderator == 'all' and target == 'seasons tested' and method == 'mixed model'"
    row, full = found["pooled_gains"].query(headline).iloc[0], pooled.query(headline).iloc[0]
    assert abs(row["estimate"] - full["estimate"]) < full["std_error"]
    assert found["site_year_gains"]["rates_missing"].str.len().gt(0).any()


def overall_rows(frames) -> pd.DataFrame:
    """The rows over all site-years, without the time the breakdowns take."""
    _, trials, treatments, plots, arms = frames
    analyses, _ = designs.analyze_trials(plots, treatments, trials)
    gains = block_gains(plots, arms, trials)
    gains = site_year_gains.with_variances(gains, site_year_gains.moderated_analyses(analyses, trials))
    by_site_year = site_year_gains.site_year_gains(gains, trials)
    rows, _ = pooling.pooled_gains(by_site_year, pooling.model_blocks(gains, trials, by_site_year), ["c"])
    return rows


def share_caught(rows: pd.DataFrame, truth: float) -> float:
    return float(((rows["conf_low"] <= truth) & (truth <= rows["conf_high"])).mean())


@pytest.mark.parametrize("n", [20, pytest.param(60, marks=pytest.mark.thorough)])
def test_known_truth_is_recovered(build, n):
    """n programs of 12 site-years, true gain 250 and tau 200: unbiased, the interval catches it, tau2 is right.

    Bands of four Monte Carlo standard errors; the coverage goal itself needs a longer run.
    """
    runs = pd.concat([overall_rows(build.program(seed, n_places=12, n_seasons=1)) for seed in range(n)])
    rows = runs.query("target == 'seasons tested' and method == 'mixed model'")
    variance = 200**2 + 500**2 / 4  # tau2 + plot variance x (4 x 1/4 plots) / 4 blocks
    assert len(rows) == n
    assert abs((rows["estimate"] - 250).mean()) < 4 * np.sqrt(variance / 12 / n)
    assert rows["std_error"].mean() == pytest.approx(np.sqrt(variance / 12), rel=0.15)
    assert share_caught(rows, 250) > 0.95 - 4 * np.sqrt(0.95 * 0.05 / n)
    assert abs(rows["tau2"].mean() - 200**2) < 4 * variance * np.sqrt(2 / 11 / n)


@pytest.mark.parametrize("n", [7, pytest.param(20, marks=pytest.mark.thorough)])
def test_seasons_to_come_are_caught_where_seasons_differ(build, n):
    """n programs of 4 places x 5 seasons whose seasons differ (SD 800 against a tau of 200).

    The interval for seasons to come catches the mean over all seasons, and pays for it
    with its width: the one for the seasons tested takes no account of other seasons.
    """
    programs = (build.program(100 + seed, n_places=4, n_seasons=5, season_sd=800.0) for seed in range(n))
    runs = pd.concat([overall_rows(frames) for frames in programs])
    to_come = runs.query("target == 'seasons to come' and is_headline")
    tested = runs.query("target == 'seasons tested' and is_headline")
    assert len(to_come) == len(tested) == n
    assert share_caught(to_come, 250) > 0.95 - 4 * np.sqrt(0.95 * 0.05 / n)
    width = (to_come["conf_high"] - to_come["conf_low"]).mean()
    assert width > 1.5 * (tested["conf_high"] - tested["conf_low"]).mean()


def test_a_run_after_edits_estimates_what_one_from_nothing_does(build, tmp_path, monkeypatch):
    """A corrected plot, a trial withdrawn, all as it was, and nothing at all."""
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    comparisons, *frames = build.program(21, n_places=3, n_seasons=3, season_sd=100.0)
    trials, treatments, plots, arms = frames
    corrected = plots.assign(value=plots["value"].where(plots.index != 7, plots["value"] + 3))
    withdrawn = [frame[frame["trial_id"] != trials["trial_id"].iloc[0]] for frame in frames]
    states = [frames, (trials, treatments, corrected, arms), withdrawn]
    anew = [estimate(comparisons, *state) for state in states]
    with mixed.recorded() as calls:
        for number, state in enumerate((0, 1, 2, 0, 0)):
            with kept_in(tmp_path / "results") as results:
                calls.clear()
                after = estimate(comparisons, *states[state])
                n_fits = len(calls)
                results.forget_unused()
            assert (n_fits == 0) == (number == 4), number
            assert [name for name in after if not after[name].equals(anew[state][name])] == [], number
