"""Trials known by print against the same trials known by their plots.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.estimates.gains import all_gains
from pipeline.estimates.program import estimate
from pipeline.estimates.trials import printed_trials, site_year_gains

# Rice seeding rates, 6 treatments x 4 blocks: Gomez and Gomez 1984, p. 26-28 (from memory); longer digits by R's aov.
MEANS = {"25": 5124.0, "50": 5070.25, "75": 5304.25, "100": 4847.75, "125": 4708.0, "150": 4703.25}
MSE, DF, N_BLOCKS = 110558.411, 15, 4
SED, LSD_5, LSD_1, CV = 235.115303, 501.136405, 692.817292, 6.70425775
GAIN = 5304.25 - 5070.25


def table(kind, value, *, alpha=None, df=DF, means=MEANS):
    return pd.DataFrame(
        [
            {
                "trial_id": "t",
                "treatment_code": code,
                "mean_kg_ha": mean,
                "n_blocks": N_BLOCKS,
                "error_kind": kind,
                "error_value": value,
                "error_alpha": alpha,
                "error_df": df,
            }
            for code, mean in means.items()
        ]
    )


def arms(pairs, weights=None):
    return pd.DataFrame(
        [{"comparison_id": "c", "trial_id": "t", "treatment_code": code, "arm": arm, "rate_kg_ha": rate,
          "rate_weight": (weights or {}).get(rate, 1.0)}
         for rate, sides in pairs.items()
         for arm, codes in zip(("treatment", "comparator"), sides, strict=True) for code in codes]
    )  # fmt: skip


TRIALS = pd.DataFrame([{"trial_id": "t", "crop": "corn"}])
ONE_PAIR = {np.nan: (["75"], ["50"])}


@pytest.mark.parametrize(
    "kind, value, alpha",
    [
        ("SED", SED, None),
        ("SE of mean", SED / np.sqrt(2), None),
        ("LSD", LSD_5, 0.05),
        ("LSD", LSD_5, None),
        ("LSD", LSD_1, 0.01),
        ("CV", CV, None),
        ("MSE", MSE, None),
        ("p", 2 * stats.t.sf(GAIN / SED, DF), None),
    ],
)
@pytest.mark.parametrize("df", [DF, np.nan])
def test_every_printed_error_gives_the_standard_error_of_the_plots(kind, value, alpha, df):
    """Without a printed df, (4 - 1) x (6 - 1) = 15 is what it is."""
    found = printed_trials.printed_gains(table(kind, value, alpha=alpha, df=df), arms(ONE_PAIR), TRIALS).iloc[0]
    assert found["gain"] == pytest.approx(GAIN)
    assert np.sqrt(found["variance"]) == pytest.approx(SED, rel=1e-7)
    assert found["variance_df"] == 15 and found["warnings"] == printed_trials.ONLY_PRINT
    assert found["comparator_mean"] == pytest.approx(5070.25) and found["n_treatment_plots"] == 0


def test_several_rates_and_codes_get_the_variance_of_their_contrast():
    """(3/4)(75 - mean of 25 and 50) + (1/4)(100 - 125): factors 9/16 + 9/64 + 9/64 + 1/16 + 1/16 of the variance of a
    mean.
    """
    pairs = {40.0: (["75"], ["25", "50"]), 80.0: (["100"], ["125"])}
    found = printed_trials.printed_gains(table("MSE", MSE), arms(pairs, {40.0: 3.0, 80.0: 1.0}), TRIALS).iloc[0]
    assert found["gain"] == pytest.approx(0.75 * (5304.25 - (5124 + 5070.25) / 2) + 0.25 * (4847.75 - 4708))
    assert found["variance"] == pytest.approx((9 / 16 + 2 * 9 / 64 + 2 / 16) * MSE / 4)
    assert found["n_rates"] == 2


def test_named_rate_that_the_print_lacks_is_listed():
    pairs = {40.0: (["75"], ["50"]), 80.0: (["gone"], ["125"])}
    found = printed_trials.printed_gains(table("SED", SED), arms(pairs), TRIALS).iloc[0]
    assert found["gain"] == pytest.approx(GAIN) and found["rates_missing"] == [80]


def test_a_print_without_a_named_rate_is_freed_from_its_rate_term_as_a_block_of_plots_is():
    """At 40 the gain lies 30 above that over all rates where plots have them all; without such plots it says so."""
    pairs = {40.0: (["75"], ["50"]), 80.0: (["gone"], ["125"])}
    terms = {"c": {40.0: 30.0, 80.0: -30.0}}
    for printed in (table("SED", SED), differences(("75", "50"))):
        found = printed_trials.printed_gains(printed, arms(pairs), TRIALS, rate_terms=terms).iloc[0]
        assert found["gain"] == pytest.approx(GAIN - 30) and "not adjusted" not in found["warnings"]
        alone = printed_trials.printed_gains(printed, arms(pairs), TRIALS, rate_terms={"c": None}).iloc[0]
        assert alone["gain"] == pytest.approx(GAIN) and "not adjusted" in alone["warnings"]
    whole = {40.0: (["75"], ["50"]), 80.0: (["100"], ["125"])}
    found = printed_trials.printed_gains(table("SED", SED), arms(whole), TRIALS, rate_terms=terms).iloc[0]
    assert found["gain"] == pytest.approx((GAIN + 4847.75 - 4708) / 2)


def test_the_rate_terms_of_plots_reach_the_printed_trials_of_their_crop(build):
    """The trial in plots gains 6 at 90 and 2 at 180, so the 9 printed at 90 alone stands for 7 over both."""
    trials = build.trials({"trial_id": "p"}, {"trial_id": "t"})
    plots = build.plots("p", {str(b): {"U90": 100 + b, "C90": 106 + b, "U180": 140, "C180": 142} for b in range(2)})
    of_arms = build.arms(["p", "t"], {90.0: ("C90", "U90"), 180.0: ("C180", "U180")})
    printed = table("SED", SED, means={"U90": 100.0, "C90": 109.0})
    found = all_gains(["c"], trials, build.treatments(plots), plots, of_arms, printed).block_gains
    assert found.set_index("trial_id").loc["t", "gain"] == pytest.approx(7)


@pytest.mark.parametrize(
    "kind, value, words",
    [
        ("none", np.nan, "no error was printed"),
        ("LSD", 0.0, "no error was printed"),
        ("p", 1.0, "printed p"),
        ("p", np.nan, "no error"),
    ],
)
def test_without_error_the_crops_pooled_one_only_weights(kind, value, words):
    analyses = pd.DataFrame(
        [{"trial_id": "u", "zero_n_in_error": False, "crop": "corn", "pooled_error_variance": 200000.0}]
    )
    found = printed_trials.printed_gains(table(kind, value), arms(ONE_PAIR), TRIALS, analyses).iloc[0]
    assert words in found["warnings"] and site_year_gains.BORROWED_ERROR in found["warnings"]
    assert found["variance"] == pytest.approx(2 * 200000 / 4) and np.isnan(found["own_variance"])
    alone = printed_trials.printed_gains(table(kind, value), arms(ONE_PAIR), TRIALS).iloc[0]
    assert np.isnan(alone["variance"]) and site_year_gains.NO_ERROR in alone["warnings"]


def test_p_of_another_contrast_is_not_used():
    pairs = {40.0: (["75"], ["50"]), 80.0: (["100"], ["125"])}
    found = printed_trials.printed_gains(table("p", 0.04), arms(pairs), TRIALS).iloc[0]
    assert "not of this gain" in found["warnings"] and np.isnan(found["own_variance"])
    three = printed_trials.printed_gains(table("p", 0.04), arms({np.nan: (["25", "75"], ["50"])}), TRIALS).iloc[0]
    assert "not of this gain" in three["warnings"] and np.isnan(three["own_variance"])
    two = table("p", 0.04)
    two.loc[two["treatment_code"] == "75", "error_value"] = 0.03
    found = printed_trials.printed_gains(two, arms(ONE_PAIR), TRIALS).iloc[0]
    assert "not of this gain" in found["warnings"] and np.isnan(found["own_variance"])


def test_unequal_and_mixed_errors_are_said():
    unequal = table("SED", SED)
    unequal.loc[unequal["treatment_code"] == "75", "error_value"] = 300.0
    found = printed_trials.printed_gains(unequal, arms(ONE_PAIR), TRIALS).iloc[0]
    assert np.sqrt(found["variance"]) == pytest.approx(300) and "largest" in found["warnings"]
    mixed = unequal.assign(error_kind=np.where(unequal["treatment_code"] == "75", "LSD", "SED"))
    assert "different kinds" in printed_trials.printed_gains(mixed, arms(ONE_PAIR), TRIALS).iloc[0]["warnings"]
    errors = table("SE of mean", 100.0)
    errors.loc[errors["treatment_code"] == "75", "error_value"] = 200.0
    found = printed_trials.printed_gains(errors, arms(ONE_PAIR), TRIALS).iloc[0]
    assert found["variance"] == pytest.approx(100**2 + 200**2)


def differences(*pairs, kind="SED", value=SED, alpha=None, df=DF):
    """Rows that print no mean: (code, compared_with)."""
    return pd.DataFrame(
        [{"trial_id": "t", "treatment_code": code, "mean_kg_ha": np.nan, "compared_with": other,
          "difference_kg_ha": MEANS[code] - MEANS[other], "n_blocks": N_BLOCKS, "error_kind": kind,
          "error_value": value, "error_alpha": alpha, "error_df": df} for code, other in pairs]
    )  # fmt: skip


@pytest.mark.parametrize("pair", [("75", "50"), ("50", "75")])
@pytest.mark.parametrize(
    "kind, value, alpha",
    [("SED", SED, None), ("LSD", LSD_5, 0.05), ("MSE", MSE, None), ("p", 2 * stats.t.sf(GAIN / SED, DF), None)],
)
def test_a_printed_difference_is_the_gain_of_the_printed_means(pair, kind, value, alpha):
    """Whichever way the print takes it; only the comparator's yield is not known."""
    found = printed_trials.printed_gains(
        differences(pair, kind=kind, value=value, alpha=alpha), arms(ONE_PAIR), TRIALS
    ).iloc[0]
    assert found["gain"] == pytest.approx(GAIN) and np.isnan(found["comparator_mean"])
    assert np.sqrt(found["variance"]) == pytest.approx(SED, rel=1e-7) and found["variance_df"] == DF
    assert printed_trials.ONLY_DIFFERENCE in found["warnings"]


def test_of_unequal_numbers_of_blocks_the_fewest_count():
    unequal = table("MSE", MSE)
    unequal.loc[unequal["treatment_code"] == "25", "n_blocks"] = 3
    found = printed_trials.printed_gains(unequal, arms(ONE_PAIR), TRIALS).iloc[0]
    assert found["variance"] == pytest.approx(2 * MSE / 3) and found["variance_factor"] == pytest.approx(2 / 3)


def test_differences_from_one_treatment_share_its_error():
    """(25 + 75)/2 - 50: the variance of a mean times 1/4 + 1/4 + 1, as from the means."""
    pairs = {np.nan: (["25", "75"], ["50"])}
    found = printed_trials.printed_gains(differences(("25", "50"), ("75", "50")), arms(pairs), TRIALS).iloc[0]
    by_means = printed_trials.printed_gains(table("SED", SED), arms(pairs), TRIALS).iloc[0]
    assert found[["gain", "variance"]].to_list() == pytest.approx(by_means[["gain", "variance"]].to_list())


def test_df_of_a_difference_alone_are_those_of_its_two_treatments():
    found = printed_trials.printed_gains(differences(("75", "50"), df=np.nan), arms(ONE_PAIR), TRIALS).iloc[0]
    assert found["variance_df"] == N_BLOCKS - 1


def test_a_difference_from_a_treatment_outside_the_arms_gives_no_gain():
    assert printed_trials.printed_gains(differences(("75", "25")), arms(ONE_PAIR), TRIALS).empty


def test_no_gain_without_both_arms():
    assert printed_trials.printed_gains(table("SED", SED), arms({np.nan: (["75"], ["gone"])}), TRIALS).empty


def test_a_program_with_one_trial_in_print_hardly_differs_from_all_in_plots(build):
    """The printed trial enters every table; only its unmoderated error and its block spread are lost."""
    comparisons, trials, treatments, plots, arms = build.program(31, n_places=8, n_seasons=1)
    whole = estimate(comparisons, trials, treatments, plots, arms)
    trial = trials["trial_id"].iloc[2]
    of_trial, analysis = (
        plots[plots["trial_id"] == trial],
        whole["trial_analyses"].set_index(["trial_id", "zero_n_in_error"]).loc[(trial, False)],
    )
    means = (
        of_trial.groupby(["trial_id", "treatment_code"], as_index=False)["value"]
        .mean()
        .rename(columns={"value": "mean_kg_ha"})
    )
    means = means.assign(
        n_blocks=4,
        error_kind="MSE",
        error_value=analysis["error_variance"],
        error_alpha=None,
        error_df=analysis["error_df"],
    )
    kept = plots[plots["trial_id"] != trial]
    found = estimate(
        comparisons,
        trials,
        treatments,
        kept,
        arms,
        printed_means=pd.concat([means, means.assign(trial_id=trials["trial_id"].iloc[0])]),
    )
    by_print = found["site_year_gains"].set_index("site_year_id").loc[trial]
    by_plots = whole["site_year_gains"].set_index("site_year_id").loc[trial]
    assert by_print["gain"] == pytest.approx(by_plots["gain"])
    assert by_print["own_std_error"] == pytest.approx(by_plots["own_std_error"])
    assert by_print["n_plots"] == 0 and printed_trials.ONLY_PRINT in by_print["warnings"]
    both = [
        frame["pooled_gains"].query("is_headline and moderator == 'all' and target == 'seasons tested'").iloc[0]
        for frame in (found, whole)
    ]
    assert both[0]["n_site_years"] == both[1]["n_site_years"] == 8
    assert both[0]["estimate"] == pytest.approx(both[1]["estimate"], abs=0.2 * both[1]["std_error"])
    without = found["robustness"].query("kind.str.contains('by print') and target == 'seasons tested'").iloc[0]
    assert without["left_out"] == trial and without["n_site_years"] == 7
