"""Printed means in the N response: in the common curve like unreplicated plots, with their own error beside them."""

import pandas as pd
import pytest

from pipeline.estimates.n_response import optimum
from pipeline.estimates.n_response.estimate_n_response import estimate_n_response

RATES = (0, 60, 120, 180, 240)


def as_print(frames, *trial_ids, **error):
    """The same program with these trials known only by the means of their treatments: (frames, printed means)."""
    trials, treatments, plots, arms = frames
    is_printed = plots["trial_id"].isin(trial_ids)
    means = plots[is_printed].groupby(["trial_id", "treatment_code"], as_index=False)["value"].mean()
    told = {"n_blocks": 4, "error_kind": "none", "error_value": None, "error_alpha": None, "error_df": None} | error
    means = means.rename(columns={"value": "mean_kg_ha"}).assign(**told)
    return (trials, treatments, plots[~is_printed], arms), means


@pytest.fixture(scope="module")
def program(make):
    return make.program(8)


@pytest.fixture(scope="module")
def sources(make):
    return make.sources()


def pooled_of(found):
    return found["n_response"].query("level == 'pooled' and is_primary").iloc[0]


def test_the_means_of_a_balanced_trial_say_the_same_printed_or_as_plots(program, sources):
    frames, means = as_print(program, "t00", "t01")
    of_plots, of_print = (
        estimate_n_response(*given, sources, printed_means=printed)
        for given, printed in ((program, None), (frames, means))
    )
    curve = ["a", "b", "c", "aonr", "aonr_low", "aonr_high", "eonr", "eonr_low", "eonr_high", "n_site_years"]
    assert pooled_of(of_print)[curve].astype(float).tolist() == pytest.approx(
        pooled_of(of_plots)[curve].astype(float).tolist()
    )
    for name, columns in (("rate_losses", ["loss_kg_ha", "conf_low", "conf_high"]), ("efficiencies", ["estimate"])):
        pd.testing.assert_frame_equal(of_print[name][columns], of_plots[name][columns], check_dtype=False)
    printed = of_print["rate_means"][of_print["rate_means"]["trial_id"].isin(["t00", "t01"])]
    assert set(printed["n_plots"]) == {0} and printed["std_error"].isna().all()
    assert set(of_print["ladder_plots"].query("trial_id == 't00'")["plot"].isna()) == {True}


@pytest.mark.parametrize(
    ("error", "expected"),
    [
        ({"error_kind": "SE of mean", "error_value": 150.0}, 150.0),
        ({"error_kind": "SED", "error_value": 200.0}, 200 / 2**0.5),
        ({"error_kind": "MSE", "error_value": 90000.0}, 150.0),
        ({"error_kind": "p", "error_value": 0.03}, None),
    ],
)
def test_a_printed_mean_has_the_error_that_was_printed(program, sources, error, expected):
    """By hand: SED = sqrt(2) SE; SE = sqrt(MSE / 4 blocks); a p of one pair gives no error of a mean."""
    frames, means = as_print(program, "t00", **error)
    found = estimate_n_response(*frames, sources, printed_means=means)["rate_means"].query("n_plots == 0")
    assert len(found) == len(RATES)
    if expected is None:
        assert found["std_error"].isna().all()
    else:
        assert found["std_error"].tolist() == pytest.approx([expected] * len(RATES))


def test_a_printed_trial_has_no_curve_of_its_own_and_says_so(program, sources):
    frames, means = as_print(program, "t00")
    own = estimate_n_response(*frames, sources, printed_means=means)["n_response"].query("trial_id == 't00'")
    assert set(own["flag"]) == {optimum.PRINTED} and set(own["n_plots"]) == {0} and set(own["n_rates"]) == {5}


def test_a_trial_with_plots_is_taken_from_its_plots(program, sources):
    _, means = as_print(program, "t00")
    found = estimate_n_response(*program, sources, printed_means=means.assign(mean_kg_ha=1.0))
    assert found["rate_means"]["n_plots"].min() > 0


def without(frames, *, zero_n: bool):
    trials, treatments, plots, arms = frames
    return trials, treatments, plots[plots["treatment_code"].str.startswith("none").ne(zero_n)], arms


def not_randomized_in_part(frames):
    designs = frames[0]["design"].where(frames[0]["trial_id"].ne("t00"), "not randomized")
    return frames[0].assign(design=designs), *frames[1:]


def test_every_way_of_giving_n_has_a_curve_or_a_reason(program, sources, make):
    """A family none of whose ladders can enter a common curve is listed with the reason."""
    for frames, flag in (
        (without(program, zero_n=True), optimum.NO_ZERO_N),
        (without(program, zero_n=False), optimum.NO_FERTILIZED),
        ((program[0].assign(design="not randomized"), *program[1:]), optimum.NOT_RANDOMIZED),
        (not_randomized_in_part(without(program, zero_n=True)), optimum.NO_ZERO_N),
    ):
        found = estimate_n_response(*frames, sources)["n_response"].query("level == 'pooled'")
        assert set(found["flag"]) == {flag} and set(found["family"]) == {make.UREA}
    frames, means = as_print(program, *program[0]["trial_id"])
    printed = means[~means["treatment_code"].str.startswith("none")]
    found = estimate_n_response(*frames, sources, printed_means=printed)["n_response"]
    assert set(found["flag"]) == {optimum.NO_ZERO_N} and set(found["level"]) == {"pooled", "trial"}
    # of one treatment a difference was printed, and no mean: the others still say what lacks
    in_part = printed.assign(mean_kg_ha=printed["mean_kg_ha"].where(printed["treatment_code"].ne(f"{make.UREA}-60")))
    found = estimate_n_response(*frames, sources, printed_means=in_part)["n_response"]
    assert set(found["flag"]) == {optimum.NO_ZERO_N}


def test_printed_differences_are_no_means_and_say_so(program, sources):
    frames, means = as_print(program, *program[0]["trial_id"])
    differences = means.assign(mean_kg_ha=None, compared_with="none-0", difference_kg_ha=500.0)
    found = estimate_n_response(*frames, sources, printed_means=differences)
    assert set(found["n_response"]["flag"]) == {optimum.NO_MEANS} and found["rate_means"].empty
    one = means["trial_id"].eq("t00")
    mixed = means.assign(mean_kg_ha=means["mean_kg_ha"].where(~one))
    found = estimate_n_response(*frames, sources, printed_means=mixed)
    assert pooled_of(found)["n_site_years"] == 7
    assert set(found["n_response"].query("trial_id == 't00'")["flag"]) == {optimum.NO_MEANS}


def test_a_program_known_only_by_print_has_a_curve(program, sources):
    frames, means = as_print(program, *program[0]["trial_id"])
    row = pooled_of(estimate_n_response(*frames, sources, printed_means=means))
    assert row["flag"] == optimum.FOUND and row["n_site_years"] == 8 and row["n_plots"] == 0
