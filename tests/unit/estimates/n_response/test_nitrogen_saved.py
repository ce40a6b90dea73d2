from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import AT_NAMED_RATE
from pipeline.estimates.n_response import nitrogen_saved as saved
from pipeline.estimates.n_response import optimum
from pipeline.estimates.n_response.clusters import with_clusters
from pipeline.estimates.n_response.ladders import ladder_plots, ladders, rate_means
from pipeline.estimates.n_response.pooled_curves import usable_means
from pipeline.estimates.n_response.resampling import ResampledCurves
from tests.declared_shapes import check_shape


def table_of(make, frames, ratio=6.0):
    trials, treatments, plots, arms = frames
    means = usable_means(with_clusters(rate_means(ladders(ladder_plots(plots, treatments, trials))), trials))
    return saved.nitrogen_saved(means, arms, treatments, ratio_of={("corn", make.UREA): ratio}, conf_level=0.95)


def stretched(make, *, use=0.8, plot_sd=0.0, **program):
    """The blend needs `use` of the urea's rate for the same yield: slope 1/use times, join use times."""
    frames = make.program(4, joins={make.UREA: 160.0, make.BLEND: 160.0}, plot_sd=plot_sd, **program)
    trials, treatments, plots, arms = frames
    zero = plots[plots["treatment_code"] == "none-0"].set_index(["trial_id", "block"])["value"]
    rows = plots["treatment_code"].str.startswith(make.BLEND)
    keys = pd.MultiIndex.from_frame(plots.loc[rows, ["trial_id", "block"]])
    rates = plots.loc[rows, "treatment_code"].str.rsplit("-", n=1).str[1].astype(float).to_numpy()
    noise = np.random.default_rng(9).normal(0, plot_sd, rows.sum())
    plots.loc[rows, "value"] = zero.reindex(keys).to_numpy() + 55 * make.bend(rates / use, 160.0) + noise
    return trials, treatments, plots, arms


def test_known_saving_is_recovered(make):
    found = table_of(make, stretched(make, slope_sd=0.0))
    at_eonr = found[found["at"] == saved.AT_EONR].iloc[0]
    rate = 160 * (1 - 6 / 55)
    assert at_eonr["comparator_rate"] == pytest.approx(rate, rel=1e-4)
    assert at_eonr["nitrogen_saved"] == pytest.approx(0.2 * rate, rel=1e-3)
    at_60 = found[found["comparator_rate"].eq(60) & found["at"].eq(AT_NAMED_RATE)].iloc[0]
    assert at_60["same_yield_rate"] == pytest.approx(48, rel=1e-3)
    assert at_60["status"] == saved.ESTIMATED and at_60["n_site_years"] == 8


def test_on_the_plateau_nothing_can_be_said(make):
    found = table_of(make, stretched(make, slope_sd=0.0)).set_index("comparator_rate")
    for rate in (180.0, 240.0):
        assert found.loc[rate, "status"] == saved.ON_PLATEAU
        assert pd.isna(found.loc[rate, "nitrogen_saved"]) and pd.isna(found.loc[rate, "conf_low"])


def test_interval_holds_the_known_saving(make):
    found = table_of(make, stretched(make, plot_sd=250.0, slope_sd=0.0, n_site_years=12))
    at_60 = found[found["comparator_rate"].eq(60)].iloc[0]
    assert at_60["conf_low"] < 12 < at_60["conf_high"]
    assert at_60["conf_high"] - at_60["conf_low"] < 20


def test_a_source_that_does_not_reach_the_yield(make):
    trials, treatments, plots, arms = stretched(make, slope_sd=0.0)
    rows = plots["treatment_code"].str.startswith(make.BLEND)
    zero = plots[plots["treatment_code"] == "none-0"].set_index(["trial_id", "block"])["value"]
    base = zero.reindex(pd.MultiIndex.from_frame(plots.loc[rows, ["trial_id", "block"]])).to_numpy()
    plots.loc[rows, "value"] = base + 0.6 * (plots.loc[rows, "value"] - base)
    at_120 = table_of(make, (trials, treatments, plots, arms)).set_index("comparator_rate").loc[120.0]
    assert at_120["status"] == saved.NOT_REACHED
    assert pd.isna(at_120["nitrogen_saved"]) and pd.isna(at_120["conf_low"])


def test_a_source_whose_first_rate_is_enough_has_no_curve_to_read(make):
    trials, treatments, plots, arms = stretched(make, use=0.2, slope_sd=0.0)  # at its plateau from 32 kg/ha
    found = table_of(make, (trials, treatments, plots, arms))
    assert set(found["status"]) == {saved.NO_CURVE.format(family=make.BLEND, flag=optimum.BELOW)}


N_DRAWS = 2000
RISING, STEEPER, FLATTER = 10.0, 12.0, 5.0  # slopes at zero-N of curves that join at 200 kg/ha


def drawn(slope, of_one_in_ten=None, is_below=False):
    """A source in each resample: one in ten has another slope, or is not told below two rates."""
    is_other = np.arange(N_DRAWS) % 10 == 0
    b = np.where(is_other & (of_one_in_ten is not None), of_one_in_ten or 0.0, slope)
    curves = ResampledCurves("quadratic-plateau", np.zeros(N_DRAWS), b, np.full(N_DRAWS, 200.0), is_other & is_below)
    sums = SimpleNamespace(rates=np.array([0.0, 240.0]))
    return SimpleNamespace(why_no_interval="", clusters=range(8), sums=sums, resampled=lambda model, counts: curves)


@pytest.mark.parametrize(
    ("ours", "theirs", "is_known"),
    [
        (drawn(STEEPER), drawn(RISING), True),
        (drawn(STEEPER, of_one_in_ten=FLATTER), drawn(RISING), False),  # its plateau of 500 lies below 750
        (drawn(STEEPER, is_below=True), drawn(RISING), False),
        (drawn(STEEPER), drawn(RISING, is_below=True), False),
    ],
)
def test_resamples_that_cannot_tell_the_saving_leave_no_lower_bound(ours, theirs, is_known):
    """At 100 kg/ha 10 (x - x^2 / 400) is 750; 12 (x - x^2 / 400) is so at 200 - sqrt(15000), 22.47 kg/ha below."""
    found = saved._interval(ours, theirs, 100.0, 6.0, 0.95)
    expected = 100 - (200 - np.sqrt(15_000))
    assert found["conf_high"] == pytest.approx(expected)
    assert found["conf_low"] == (pytest.approx(expected) if is_known else None)


def test_no_response_means_no_saving(make):
    found = table_of(make, make.program(1, joins={make.UREA: 160.0, make.BLEND: 160.0}, slope=0.0, slope_sd=2.0))
    assert found["status"].str.endswith("no response").all()
    assert found["nitrogen_saved"].isna().all()


def test_without_prices_only_named_rates_are_compared(make):
    trials, treatments, plots, arms = stretched(make)
    means = usable_means(with_clusters(rate_means(ladders(ladder_plots(plots, treatments, trials))), trials))
    found = saved.nitrogen_saved(means, arms, treatments, ratio_of={}, conf_level=0.95)
    assert found.set_index("at").loc[saved.AT_EONR, "status"] == saved.NO_EONR
    assert found["status"].eq(saved.ESTIMATED).sum() == 2


def test_few_site_years_have_no_interval(make):
    found = table_of(make, stretched(make, n_site_years=4))
    row = found[found["comparator_rate"].eq(60)].iloc[0]
    assert row["status"] == saved.ESTIMATED and pd.isna(row["conf_low"]) and "no interval" in row["warnings"]


def test_arms_of_mixed_sources_are_no_pair(make):
    trials, treatments, plots, arms = stretched(make)
    mixed = arms.assign(arm="treatment")
    assert list(saved.source_pairs(mixed, treatments)) == []
    check_shape("nitrogen_saved", table_of(make, (trials, treatments, plots, mixed)))
    (pair,) = saved.source_pairs(arms, treatments)
    assert pair == ("c", make.BLEND, make.UREA, [60.0, 120.0, 180.0, 240.0])


def test_only_trials_of_the_comparison_count(make):
    trials, treatments, plots, arms = stretched(make)
    found = table_of(make, (trials, treatments, plots, arms[arms["trial_id"] < "t05"]))
    assert set(found["n_site_years"]) == {5}


def test_an_interval_holds_its_own_estimate(make):
    """Without scatter every resample gives the same saving, off by the step of the grid that it is refitted on."""
    found = table_of(make, stretched(make, slope_sd=0.0, use=0.77))
    told = found[found["status"].eq(saved.ESTIMATED)]
    assert len(told) == 3 and told["conf_low"].notna().all()
    assert (told["conf_low"] <= told["nitrogen_saved"]).all() and (told["nitrogen_saved"] <= told["conf_high"]).all()
