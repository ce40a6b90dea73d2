"""Source and standing of each number: pipeline/contract/published_checks.yml."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import TO_COME
from pipeline.errors import UserError
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import lme4_fits, mixed, one_stage


@pytest.fixture
def crossed(answers, either_engine):
    frame = answers("weighted_model")
    fit = mixed.fit(
        "gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year_id)",
        frame.astype({"season": str})[["gain", "place", "season", "site_year_id", "weight"]],
        weights="weight",
    )
    return fit, answers("weighted_model_answers").set_index("quantity")["value"]


def test_weighted_crossed_model_agrees_with_r(crossed):
    fit, expected = crossed
    first = fit.coefficients.iloc[0]
    assert first["estimate"] == pytest.approx(expected["estimate"], rel=1e-6)
    assert first["std_error"] == pytest.approx(expected["std_error"], rel=1e-5)
    assert first["df"] == pytest.approx(expected["df"], abs=0.01)
    for group in ("place", "season", "site_year_id"):
        assert fit.variance(group) == pytest.approx(expected[group], rel=1e-4)
    assert fit.residual_variance == pytest.approx(expected["residual"], rel=1e-4)
    assert fit.reml == pytest.approx(expected["reml"], rel=1e-8)


def test_prediction_interval_has_the_df_of_the_total_variance(crossed):
    from scipy import stats

    fit, expected = crossed
    model = one_stage.OneStage(fit, ("place", "season", "site_year_id"), (), 29)
    low, high = one_stage.prediction_interval(model, 0.95, least_df=1, most_df=1000)
    half = stats.t.ppf(0.975, expected["total_df"]) * np.sqrt(expected["total_variance"])
    assert (high - low) / 2 == pytest.approx(half, rel=1e-4)
    clipped = one_stage.prediction_interval(model, 0.95, least_df=1, most_df=3)
    assert (clipped[1] - clipped[0]) / 2 == pytest.approx(
        stats.t.ppf(0.975, 3) * np.sqrt(expected["total_variance"]), rel=1e-4
    )


@pytest.mark.usefixtures("either_engine")
@pytest.mark.parametrize("case", ["between", "lower", "upper", "zero"])
def test_prediction_interval_for_seasons_to_come_agrees_with_r(answers, case):
    """The way the pipeline takes, with df between its bounds, at either one, and with a variance of zero."""
    expected = answers("prediction_answers").set_index("case").loc[case]
    blocks = answers("prediction").query("case == @case").assign(trial_id=lambda rows: rows["site_year_id"])
    site_years = (
        blocks.groupby("site_year_id").agg(gain=("gain", "mean"), season=("season", "first")).assign(std_error=1.0)
    )
    row = three_methods.mixed_model(site_years, blocks, TO_COME, 0.95).columns
    half = (expected["high"] - expected["low"]) / 2
    assert row["tau2"] == pytest.approx(expected["tau2"], rel=1e-4)
    assert (row["pred_low"], row["pred_high"]) == pytest.approx((expected["low"], expected["high"]), abs=5e-4 * half)


def test_weights_change_the_fit(crossed, answers):
    frame = answers("weighted_model")[["gain", "site_year_id", "weight"]]
    weighted = mixed.fit("gain ~ 1 + (1 | site_year_id)", frame, weights="weight")
    plain = mixed.fit("gain ~ 1 + (1 | site_year_id)", frame)
    assert abs(weighted.coefficients["estimate"].iloc[0] - plain.coefficients["estimate"].iloc[0]) > 1e-4


@pytest.mark.usefixtures("either_engine")
def test_singular_fit_is_reported_and_heard_not_printed(capfd):
    frame = pd.DataFrame({"gain": [1.0, -1, 1, -1, 1.1, -1.1, 0.9, -0.9], "site": list("aabbccdd")})
    found = mixed.fit("gain ~ 1 + (1 | site)", frame)
    assert found.is_singular and found.is_zero(found.variance("site"))
    assert any("singular" in message for message in found.messages)
    assert capfd.readouterr() == ("", "")


@pytest.mark.usefixtures("either_engine")
def test_a_variance_whose_optimum_is_zero_is_zero():
    """lme4's default optimizer stops at a relative SD of 1.02e-3 for the season here; the criterion is lowest at
    zero.
    """
    gain = [
        -2.14, -1.48, -1.09, -1.66, -1, 0.16, -1.56, -0.2, 0.08, 1.44, -0.01, -1.17, -1.99, 0.31, -1.97, -0.86, -0.22,
        0.04, 0.84, 0.91,
        -0.77, 0.44, -3.93, -3.3, -1.06, -1.03, 0.57, -3.29, 0.3, 0.88, -2.19, -1.13, -2.33, -2.21, 0.12, -0.51, -0.5,
        -1.74, 0.59, -1.49,
    ]  # fmt: skip
    cells = pd.MultiIndex.from_product([list("abcd"), list("vwxyz"), range(2)], names=["season", "place", "block"])
    frame = cells.to_frame(index=False).assign(gain=gain).assign(site_year_id=lambda f: f["place"] + f["season"])
    without = mixed.fit("gain ~ 1 + (1 | place) + (1 | site_year_id)", frame[["gain", "place", "site_year_id"]])
    fit = mixed.fit(
        "gain ~ 1 + (1 | place) + (1 | season) + (1 | site_year_id)",
        frame[["gain", "place", "season", "site_year_id"]],
    )
    assert fit.reml == pytest.approx(without.reml, abs=1e-8)
    assert fit.is_zero(fit.variance("season"))


@pytest.mark.usefixtures("either_engine")
def test_a_model_that_is_refused_is_a_plain_message():
    frame = pd.DataFrame({"gain": [1.0, 2.0], "site": ["a", "b"]})
    with pytest.raises(UserError, match="could not be fitted to 2 rows") as raised:
        mixed.fit("gain ~ 1 + (1 | site)", frame)
    assert "number of levels" in str(raised.value)


FRAME = pd.DataFrame({"gain": [1.0, 2, 2, 4, 3, 5], "site": list("aabbcc")})


def test_fit_by_names_who_fits(monkeypatch):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    assert mixed.fit("gain ~ 1 + (1 | site)", FRAME).versions == mixed.versions() and "own_fits" in mixed.versions()
    monkeypatch.setenv(mixed.FIT_BY, mixed.LME4)
    assert set(mixed.fit("gain ~ 1 + (1 | site)", FRAME).versions) == {"R", "lme4", "lmerTest", "pymer4"}


def test_lme4_leads_where_nothing_is_said(monkeypatch):
    monkeypatch.delenv(mixed.FIT_BY, raising=False)
    assert mixed.engine() is lme4_fits and mixed.notice() == ""


def test_another_word_is_refused_with_those_that_are_known(monkeypatch):
    monkeypatch.setenv(mixed.FIT_BY, "lmer")
    with pytest.raises(
        UserError, match='FIT_BY is "lmer". It may be lme4 or own, or be left unset: did you mean "lme4"'
    ):
        mixed.fit("gain ~ 1 + (1 | site)", FRAME)


def test_without_r_own_code_fits_and_the_user_is_told_unless_something_is_forced(monkeypatch):
    def lost():
        raise UserError("no R")

    mixed._engine.cache_clear()
    monkeypatch.setattr(mixed, "_looked_in_vain", False)
    monkeypatch.setattr(lme4_fits, "start_r", lost)
    monkeypatch.delenv(mixed.FIT_BY, raising=False)
    try:
        assert "own_fits" in mixed.fit("gain ~ 1 + (1 | site)", FRAME).versions and mixed.notice() == mixed.WITHOUT_R
        monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
        assert mixed.notice() == ""
        monkeypatch.setenv(mixed.FIT_BY, mixed.LME4)
        with pytest.raises(UserError, match="no R"):
            mixed.fit("gain ~ 1 + (1 | site)", FRAME)
    finally:
        mixed._engine.cache_clear()


def test_calls_are_recorded_with_what_came_of_them():
    with mixed.by(mixed.OWN), mixed.recorded() as calls:
        found = mixed.fit("gain ~ 1 + (1 | site)", FRAME)
        with pytest.raises(mixed.NotFitted):
            mixed.fit("gain ~ 1 + (1 | site)", FRAME.iloc[:2])
    assert [(call.formula, len(call.frame)) for call in calls] == [("gain ~ 1 + (1 | site)", n) for n in (6, 2)]
    assert calls[0].found is found and calls[1].found is None
