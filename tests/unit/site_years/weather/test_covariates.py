"""Covariates of one trial against sums made by hand, and what is said where one cannot be worked out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.vocabulary import (
    COVARIATES,
    EXCESS_WATER,
    NITROGEN_RELEASED,
    RAIN_AFTER,
    SOIL_WARMTH,
)
from pipeline.site_years.weather import covariates, daily, soil_water
from pipeline.site_years.weather.by_site_year import by_site_year
from pipeline.site_years.weather.covariates import worked_out
from pipeline.site_years.weather.days import DailyWeather
from pipeline.site_years.weather.season_days import season_days
from tests.unit.site_years.weather.made_by_hand import FIRST, TRIAL, case, coated, days, known, release_test

LEAD = FIRST - pd.Timedelta(days=daily.LEAD_DAYS)


def one(cases: pd.DataFrame, of) -> pd.Series:
    return worked_out(cases, of).iloc[0]


def test_rain_counts_from_the_day_of_the_nitrogen_to_the_last_day():
    weather = days([50.0, 1, 2, 3, 70], first=FIRST - pd.Timedelta(days=1))
    assert one(case(RAIN_AFTER, n_days=3), known(weather))["value"] == 6


@pytest.mark.parametrize("n_missing", [1, 3, 4])
def test_a_few_missing_days_are_a_reserve_and_more_a_reason(n_missing):
    rain = [1.0] * (10 - n_missing) + [np.nan] * n_missing
    found = one(case(RAIN_AFTER, n_days=10), known(days(rain)))
    assert found["reason"] == f"{n_missing} of 10 days without rain"
    assert np.isnan(found["value"]) == (n_missing > 3)


def test_excess_water_is_the_balance_of_each_day_from_thirty_days_before():
    """The same balance, written as a loop over days of one field."""
    rng = np.random.default_rng(1)
    rain = rng.gamma(0.2, 30, daily.LEAD_DAYS + 40).round(1)
    highest, lowest = 20 + 8 * rng.random(len(rain)), 8 + 6 * rng.random(len(rain))
    found = one(case(EXCESS_WATER, n_days=40), known(days(rain, highest=highest, lowest=lowest, first=LEAD)))
    depleted, expected, available = 0.0, 0.0, 160 * 0.6
    for i, (water, warm, cool) in enumerate(zip(rain, highest, lowest, strict=True)):
        date = LEAD + pd.Timedelta(days=i)
        et0 = soil_water.reference_et(np.array(warm), np.array(cool), np.array(35.3), np.array(date.dayofyear))
        since = (date - FIRST).days
        kc = 0.3 if since < 30 else 0.3 + (since - 30) / 40 * 0.9
        depleted = depleted - water + min(1, (available - depleted) / (0.45 * available)) * kc * float(et0)
        expected += max(-depleted, 0) if date >= FIRST else 0
        depleted = min(max(depleted, 0), available)
    assert expected > 20 and found["value"] == pytest.approx(expected, rel=1e-9)
    assert found["is_modeled"] and "silt loam" in found["inputs"]


def test_irrigation_counts_as_rain_does():
    rain = np.zeros(daily.LEAD_DAYS + 10)
    watered = rain.copy()
    watered[daily.LEAD_DAYS + 4] = 80.0
    dry = case(EXCESS_WATER, n_days=10, irrigated=True)
    by_hose = known(days(rain, first=LEAD), irrigations=[(TRIAL, FIRST + pd.Timedelta(days=4), 80.0)])
    from_above = one(case(EXCESS_WATER, n_days=10), known(days(watered, first=LEAD)))
    assert one(dry, by_hose)["value"] == from_above["value"] > 0
    assert one(dry, known(days(rain, first=LEAD)))["reason"] == "irrigated, and the amounts are not known"


def test_irrigation_stands_on_its_own_day_of_lead_and_window():
    """Two days of lead and three of the window; two waterings of one day add up, those outside are left out."""
    given = [(TRIAL, FIRST + pd.Timedelta(days=day), mm) for day, mm in enumerate([1.0, 2, 3, 4, 5, 6, 7], -3)]
    given += [(TRIAL, FIRST, 10.0), ("another", FIRST, 90.0)]
    irrigations = pd.DataFrame(given, columns=["trial_id", "date", "irrigation_mm"])
    weather = DailyWeather.of(days(np.zeros(9), first=FIRST - pd.Timedelta(days=4)))
    windows = daily.cut_windows(case(EXCESS_WATER, n_days=3), weather, irrigations, lead=2)
    assert windows.irrigation.tolist() == [[2.0, 3, 14, 5, 6]]


@pytest.mark.parametrize(
    ("lacking", "reason"),
    [
        ({"latitude": np.nan}, "no latitude of the site"),
        ({"texture": None}, "no surface texture of the site"),
        ({"texture": "gumbo"}, 'no known texture: "gumbo"'),
        ({"planted": pd.NaT}, "no planting date"),
        ({"crop": "barley"}, "no crop coefficients for barley"),
    ],
)
def test_what_the_water_balance_lacks_is_said_and_nothing_is_filled_in(lacking, reason):
    weather = days(np.ones(daily.LEAD_DAYS + 10), first=LEAD)
    found = one(case(EXCESS_WATER, n_days=10, **lacking), known(weather))
    assert found["reason"] == reason and np.isnan(found["value"]) and found["inputs"] is None


@pytest.mark.parametrize("covariate", COVARIATES)
@pytest.mark.parametrize(
    ("window", "reason"),
    [
        ({"first_day": pd.NaT}, "the day of the first N is not delivered"),
        ({"last_day": FIRST - pd.Timedelta(days=1)}, "the window ends before the first N"),
        ({"place": "nowhere"}, None),
    ],
)
def test_every_covariate_is_missing_without_days_and_says_why(covariate, window, reason):
    of = known(days(np.ones(90), first=LEAD), given=coated(), test=release_test(q10=2.0))
    found = one(case(covariate, n_days=10, **window), of)
    assert np.isnan(found["value"]) and found["reason"]
    assert reason is None or found["reason"] == reason


def test_soil_warmth_is_measured_where_it_was_and_else_the_air_of_seven_days():
    n = daily.LEAD_DAYS + 10
    air = np.arange(n, dtype=float)
    measured = one(case(SOIL_WARMTH, n_days=10), known(days(np.zeros(n), soil=15.0, first=LEAD)))
    estimated = one(case(SOIL_WARMTH, n_days=10), known(days(np.zeros(n), highest=air + 5, lowest=air - 5, first=LEAD)))
    assert measured["value"] == 15 and not measured["is_modeled"] and measured["inputs"] == "measured soil temperature"
    assert estimated["value"] == pytest.approx(air[-10:].mean() - 3) and estimated["is_modeled"]
    assert estimated["inputs"].startswith("soil temperature estimated from the air")


@pytest.mark.parametrize(("n_days", "percent"), [(10, 20), (30, 50), (60, 80), (75, 80)])
@pytest.mark.parametrize("factor", [{"q10": 2.0}, {"activation_energy_kj_mol": 70.0}])
def test_at_25_c_the_release_test_comes_back_and_nothing_goes_beyond_it(factor, n_days, percent):
    of = known(days(np.zeros(150), soil=25.0, first=LEAD), given=coated(), test=release_test(**factor))
    assert one(case(NITROGEN_RELEASED, n_days=n_days), of)["value"] == pytest.approx(percent)


def test_ten_degrees_cooler_takes_q10_times_as_long():
    of = known(days(np.zeros(150), soil=15.0, first=LEAD), given=coated(), test=release_test(q10=2.0))
    assert one(case(NITROGEN_RELEASED, n_days=60), of)["value"] == pytest.approx(50)


def test_arrhenius_is_the_q10_of_its_energy_near_25_c():
    """70 kJ/mol between 15 and 25 C: exp(70 / R (1/288.15 - 1/298.15)) = 2.664 times as fast."""
    of = known(
        days(np.zeros(150), soil=15.0, first=LEAD), given=coated(), test=release_test(activation_energy_kj_mol=70.0)
    )
    same = known(days(np.zeros(150), soil=15.0, first=LEAD), given=coated(), test=release_test(q10=2.66437))
    asked = case(NITROGEN_RELEASED, n_days=60)
    assert one(asked, of)["value"] == pytest.approx(one(asked, same)["value"], rel=1e-4)


def test_two_coated_applications_count_by_their_nitrogen_and_day():
    given = pd.concat([coated(0, 40), coated(20, 20)])
    of = known(days(np.zeros(150), soil=25.0, first=LEAD), given=given, test=release_test(q10=2.0))
    alone = [
        one(
            case(NITROGEN_RELEASED, n_days=n),
            known(days(np.zeros(150), soil=25.0, first=LEAD), given=coated(), test=release_test(q10=2.0)),
        )["value"]
        for n in (30, 10)
    ]
    assert one(case(NITROGEN_RELEASED, n_days=30), of)["value"] == pytest.approx((40 * alone[0] + 20 * alone[1]) / 60)


def test_release_says_what_it_lacks():
    weather = days(np.zeros(150), soil=25.0, first=LEAD)
    untested = one(case(NITROGEN_RELEASED), known(weather))
    undated = one(case(NITROGEN_RELEASED), known(weather, given=coated(np.nan), test=release_test(q10=2.0)))
    assert untested["reason"] == "no product of the treatment has a release test in program.yml"
    assert undated["reason"] == "the days on which the coated product was given are not all known"
    assert np.isnan(untested["value"]) and np.isnan(undated["value"]) and untested["inputs"] is None


def test_many_at_once_are_as_one_by_one(monkeypatch):
    """Windows of other lengths, places and lead are cut out of one array: each must be as if it were alone."""
    rng = np.random.default_rng(7)
    weather = pd.concat(
        days(rng.gamma(0.3, 20, 200), soil=18 + 6 * rng.random(200), first=LEAD, place=place)
        for place in ("Alder", "Birch")
    )
    drawn = [
        case(
            covariate,
            n_days=int(rng.integers(1, 120)),
            place=str(rng.choice(["Alder", "Birch", "nowhere"])),
            texture=str(rng.choice(["sand", "silt loam", "clay"])),
            first_day=FIRST + pd.Timedelta(days=int(rng.integers(0, 40))),
        )
        for covariate in rng.choice(COVARIATES, 60)
    ]
    of = known(weather, given=coated(), test=release_test(q10=2.2))
    together = worked_out(pd.concat(drawn), of)
    alone = pd.concat([worked_out(each, of) for each in drawn], ignore_index=True)
    pd.testing.assert_frame_equal(together, alone)
    monkeypatch.setattr(covariates, "CASES_AT_ONCE", 4)
    pd.testing.assert_frame_equal(worked_out(pd.concat(drawn), of), together)


def test_the_days_of_a_season_add_up_to_its_covariates():
    rng = np.random.default_rng(3)
    weather = days(rng.gamma(0.3, 30, 150), soil=18 + 6 * rng.random(150), first=LEAD)
    of = known(weather, given=coated(), test=release_test(q10=2.2))
    cases = pd.concat([case(each, n_days=50) for each in COVARIATES])
    values = worked_out(cases, of).set_index("covariate")["value"]
    season = season_days(cases, of)
    assert len(season) == 50 and season["date"].iloc[0] == FIRST.date()
    assert season["rain_mm"].sum() == pytest.approx(values[RAIN_AFTER])
    assert season["excess_mm"].sum() == pytest.approx(values[EXCESS_WATER])
    assert season["soil_temp_c"].mean() == pytest.approx(values[SOIL_WARMTH])
    assert season["released_pct"].iloc[-1] == pytest.approx(values[NITROGEN_RELEASED])


def test_trials_of_one_site_year_are_averaged_and_one_without_a_value_is_told():
    rain = [1.0] * 10
    both = pd.concat(
        [case(RAIN_AFTER, n_days=10), case(RAIN_AFTER, n_days=4, trial_id="2091-A-corn-2", drainage_group="P")]
    )
    (row,) = by_site_year(worked_out(both, known(days(rain)))).itertuples()
    assert (row.value, row.n_trials, row.n_days, row.drainage_group, row.reason) == (7, 2, 10, None, None)
    (row,) = by_site_year(worked_out(both.assign(drainage_group="P"), known(days(rain)))).itertuples()
    assert (row.value, row.drainage_group) == (7, "P")
    (row,) = by_site_year(worked_out(both.assign(drainage_group=["P", None]), known(days(rain)))).itertuples()
    assert row.drainage_group is None, "as its gain is of no group either"
    lost = both.assign(first_day=[FIRST, pd.NaT])
    (row,) = by_site_year(worked_out(lost, known(days(rain)))).itertuples()
    assert row.value == 10
    assert row.reason == "the day of the first N is not delivered; the mean of 1 of 2 trials"
