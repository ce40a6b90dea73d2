"""What must not move an estimate, and what must move it exactly: drawn programs, changed in ways that tell nothing new.

The cheap parts (block and site-year gains, two-stage, third road) on many programs, the whole with R on a few.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average import pooling
from pipeline.estimates.engines import restricted_likelihood, two_stage
from pipeline.estimates.program import estimate
from pipeline.estimates.trials import block_gains, designs, site_year_gains
from tests.examples import examples

CODES = {
    "Z": None,
    "U1": ("comparator", 90.0),
    "C1": ("treatment", 90.0),
    "U2": ("comparator", 135.0),
    "C2": ("treatment", 135.0),
}
DESIGNS = ("RCBD", "CRD", "incomplete block", "Latin square")
CHEAP = settings(max_examples=examples(6, 25), deadline=None, suppress_health_check=[HealthCheck.too_slow])
WHOLE = settings(
    max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)


def frames(seed, n_trials, n_blocks, lost):
    """trials, treatments, plots, arms of a program with a few plots lost and trials of any design.

    Drainage group goes with the season, so that this breakdown cannot be told from seasons to come.
    """
    rng = np.random.default_rng(seed)
    trials = pd.DataFrame(
        [
            {
                "trial_id": f"t{i}",
                "site_year_id": f"s{i}",
                "place": f"p{i % 4}",
                "season": 2091 + i % 3,
                "crop": "corn",
                "design": DESIGNS[rng.integers(0, 4)] if i else "RCBD",
                "drainage_group": "RWP"[i % 3],
                "rainfall_class": ["dry", "wet"][i % 2],
            }
            for i in range(n_trials)
        ]
    )
    plots = pd.DataFrame(
        [{"trial_id": f"t{i}", "block": f"b{b}", "main_plot": None, "plot": f"{b}{code}", "treatment_code": code,
          "value": round(9000 + 500 * i + 200 * b + 300 * code.startswith("C") + rng.normal(0, 400), 1)}
         for i in range(n_trials) for b in range(n_blocks) for code in CODES]
    )  # fmt: skip
    plots = plots.drop(index=rng.choice(len(plots), lost, replace=False)).reset_index(drop=True)
    treatments = (
        plots[["trial_id", "treatment_code"]].drop_duplicates().assign(is_zero_n=lambda t: t["treatment_code"] == "Z")
    )
    arms = treatments[treatments["treatment_code"] != "Z"]
    sides = [CODES[code] for code in arms["treatment_code"]]
    arms = arms[["trial_id", "treatment_code"]].assign(
        comparison_id="c", arm=[side for side, _ in sides], rate_kg_ha=[rate for _, rate in sides], rate_weight=1.0
    )
    return SimpleNamespace(trials=trials, treatments=treatments, plots=plots, arms=arms)


programs = st.builds(
    frames, st.integers(0, 10**6), n_trials=st.integers(6, 9), n_blocks=st.integers(3, 5), lost=st.integers(0, 4)
)


def found(program):
    """(site-year gains by site-year, numbers of the pooled means)."""
    analyses, _ = designs.analyze_trials(program.plots, program.treatments, program.trials)
    gains = block_gains.block_gains(program.plots, program.arms, program.trials)
    gains = site_year_gains.with_variances(gains, site_year_gains.moderated_analyses(analyses, program.trials))
    site_years = site_year_gains.site_year_gains(gains, program.trials)
    blocks = pooling.model_blocks(gains, program.trials, site_years)
    gain, variance = site_years["gain"].to_numpy(float), site_years["std_error"].to_numpy(float) ** 2
    mean = two_stage.random_effects_mean(gain, variance, two_stage.tau2_reml(gain, variance))
    third = [restricted_likelihood.fit_gains(blocks, target) for target in (TESTED, TO_COME)]
    pairs = [(mean.estimate, mean.std_error), *((fit.estimate, fit.std_error) for fit in third)]
    return site_years.set_index("site_year_id"), np.array(pairs)


def changed(program, **frames):
    return SimpleNamespace(**(vars(program) | frames))


def agree(one, other, *, sign=1.0, scale=1.0):
    """Both results alike, once gains are multiplied by sign x scale and errors by scale."""
    (left, pooled_left), (right, pooled_right) = one, other
    right = right.loc[left.index]
    tolerance = {"rel": 1e-8, "abs": 1e-6 * scale}
    assert right["gain"].to_list() == pytest.approx((sign * scale * left["gain"]).to_list(), **tolerance)
    for column in ("std_error", "own_std_error", "block_std_error"):
        assert right[column].to_list() == pytest.approx((scale * left[column]).to_list(), nan_ok=True, **tolerance)
    # an optimizer stands between: its stop rule bounds what can be asked
    error = scale * pooled_left[:, 1].max()
    assert pooled_right[:, 0] == pytest.approx(sign * scale * pooled_left[:, 0], abs=1e-3 * error)
    assert pooled_right[:, 1] == pytest.approx(scale * pooled_left[:, 1], rel=2e-3)


@CHEAP
@given(programs, st.integers(0, 1000))
def test_row_order(program, seed):
    mixed = {name: frame.sample(frac=1, random_state=seed) for name, frame in vars(program).items()}
    agree(found(program), found(changed(program, **mixed)))


@CHEAP
@given(programs, st.integers(0, 1000))
def test_a_season_in_two_deliveries(program, seed):
    """Its plots arrive in two parts, the second first."""
    is_first = np.random.default_rng(seed).random(len(program.plots)) < 0.5
    plots = pd.concat([program.plots[~is_first], program.plots[is_first]], ignore_index=True)
    agree(found(program), found(changed(program, plots=plots)))


@CHEAP
@given(programs)
def test_labels(program):
    """Blocks, plots, treatments, trials, places and seasons under other names, sorted the other way."""
    other = {code: f"{9 - number} {code}" for number, code in enumerate(CODES)}
    trial = {f"t{i}": f"trial {99 - i}" for i in range(20)}
    renamed = {}
    for name, frame in vars(program).items():
        renamed[name] = frame.assign(trial_id=frame["trial_id"].map(trial))
        if "treatment_code" in frame:
            renamed[name]["treatment_code"] = frame["treatment_code"].map(other)
    renamed["plots"]["block"] = program.plots["block"].map({f"b{b}": f"{50 - b}" for b in range(9)})
    renamed["trials"]["place"] = "farm " + program.trials["place"].str[::-1]
    renamed["trials"]["season"] = 3000 - program.trials["season"]
    agree(found(program), found(changed(program, **renamed)))


@CHEAP
@given(programs, st.sampled_from([0.4535923, 62.77, 1 / 453.6, 1000.0]))
def test_unit(program, factor):
    plots = program.plots.assign(value=program.plots["value"] * factor)
    agree(found(program), found(changed(program, plots=plots)), scale=factor)


@CHEAP
@given(programs, st.integers(0, 1000))
def test_a_constant_added_to_each_trial(program, seed):
    """A scale that reads high by the same weight all day changes no gain."""
    rng = np.random.default_rng(seed)
    shift = program.plots["trial_id"].map({trial: rng.normal(0, 3000) for trial in program.trials["trial_id"]})
    agree(found(program), found(changed(program, plots=program.plots.assign(value=program.plots["value"] + shift))))


@CHEAP
@given(programs)
def test_arms_swapped(program):
    swapped = program.arms.assign(arm=program.arms["arm"].map({"treatment": "comparator", "comparator": "treatment"}))
    agree(found(program), found(changed(program, arms=swapped)), sign=-1.0)


@CHEAP
@given(programs, st.floats(0.01, 100))
def test_rate_weights_count_by_their_shares(program, factor):
    agree(found(program), found(changed(program, arms=program.arms.assign(rate_weight=factor))))


@CHEAP
@given(programs)
def test_another_trials_plots_move_nothing_but_the_moderation(program):
    """A site-year's gain and own error rest on its own plots (where no named rate is missing from a block)."""
    is_last = program.plots["trial_id"] == program.trials["trial_id"].iloc[-1]
    plots = program.plots.assign(value=program.plots["value"].where(~is_last, program.plots["value"] ** 1.01))
    before, after = found(program)[0], found(changed(program, plots=plots))[0]
    whole = before[before["rates_missing"].str.len() == 0].index.difference([before.index[-1]])
    for column in ("gain", "own_std_error"):
        assert after.loc[whole, column].to_list() == pytest.approx(before.loc[whole, column].to_list(), nan_ok=True)


def headline(program):
    given_frames = (program.trials, program.treatments, program.plots, program.arms)
    rows = estimate([SimpleNamespace(id="c", crop="corn")], *given_frames)["pooled_gains"]
    rows = rows[rows["estimate"].notna()].set_index(["target", "method", "moderator", "level"]).sort_index()
    return rows[["estimate", "conf_low", "conf_high"]].astype(float)


@pytest.mark.thorough
@WHOLE
@given(programs, st.integers(0, 1000))
def test_whole_program_in_another_order_is_the_same_to_the_last_digit(program, seed):
    mixed = {name: frame.sample(frac=1, random_state=seed) for name, frame in vars(program).items()}
    pd.testing.assert_frame_equal(headline(program), headline(changed(program, **mixed)), check_exact=True)


@pytest.mark.thorough
@WHOLE
@given(programs)
def test_whole_program_with_arms_swapped_and_in_another_unit(program):
    """Every pooled row turns about zero and scales; which method leads may not change."""
    arms = program.arms.assign(arm=program.arms["arm"].map({"treatment": "comparator", "comparator": "treatment"}))
    plots = program.plots.assign(value=program.plots["value"] * 2.0)
    before, after = headline(program), headline(changed(program, arms=arms, plots=plots))
    assert before.index.equals(after.index)
    width = (before["conf_high"] - before["conf_low"]).max()
    for one, other in (("estimate", "estimate"), ("conf_low", "conf_high"), ("conf_high", "conf_low")):
        assert after[one].to_list() == pytest.approx((-2 * before[other]).to_list(), abs=2e-3 * width)
