"""Covariates as a run finds them: from delivered days and dates, blind to yields."""

from __future__ import annotations

import shutil

import pandas as pd
import pytest

from pipeline.contract.vocabulary import COVARIATES, DECLARED, EXPLORATORY, RAIN_AFTER
from pipeline.steps.checked import check
from tests.tiny_program import TinyProgram

DAYS = "explained_by: [{covariate: rain after application, days: 3, declared: %s}]\n    match: same N rate\n"


def with_dates(tiny, declared: str = "2090-11-15"):
    """The tiny program whose N went out on 2 May, and which declares three days of rain after it."""
    for season in (2091, 2092):
        tiny.fill("nitrogen_applications", "applied_on", f"{season}-05-02", season)
    tiny.settings("match: same N rate\n", DAYS % declared)
    return tiny


def covariates(tiny) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Of the site-years, and of the reference years."""
    with tiny.loaded(is_estimated=True) as warehouse:
        return warehouse.table("trials.weather_covariates"), warehouse.table("trials.reference_covariates")


@pytest.fixture(scope="module")
def of_sound(sound_program, tmp_path_factory) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The covariates of the tiny program with dates, which tests only read."""
    return covariates(with_dates(TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("dates") / "p"))))


def test_a_run_finds_every_covariate_of_every_site_year(of_sound):
    found, _ = of_sound
    assert found.groupby("site_year_id")["covariate"].apply(set).to_dict() == dict.fromkeys(
        ("alder-2091", "alder-2092"), set(COVARIATES)
    )
    rain = found[found["covariate"].eq(RAIN_AFTER)].set_index("site_year_id")
    # rain of day d is (year mod 4 + d) / 10 in
    assert rain["value"].to_dict() == pytest.approx(
        {"alder-2091": (3 * 3 + 2 + 3 + 4) * 2.54, "alder-2092": (2 + 3 + 4) * 2.54}
    )
    assert set(rain["kind"]) == {DECLARED} and set(rain["n_days"]) == {3}
    others = found[~found["covariate"].eq(RAIN_AFTER)]
    assert set(others["kind"]) == {EXPLORATORY} and others["reason"].notna().all()


def test_what_was_declared_after_the_first_harvest_explores(tiny):
    found, _ = covariates(with_dates(tiny, declared="2091-11-15"))
    assert set(found["kind"]) == {EXPLORATORY}


@pytest.mark.parametrize(("declared", "is_told"), [("2090-11-15", True), ("2091-11-15", False)])
def test_a_declared_covariate_that_cannot_be_worked_out_is_told_of_its_trial(tiny, declared, is_told):
    with_dates(tiny, declared)
    tiny.settings("covariate: rain after application, days: 3", "covariate: excess water, days: 3")
    tiny.change("trials", 3, "site_id", "Alder Bench")
    findings = tiny.checked()["reports.findings"]
    mine = findings[findings["check_name"].eq("weather not known")]
    # a trial at the same place and season that is in no comparison with it is not told
    assert mine["trial_id"].tolist() == ["2091-A-corn", "2092-A-corn"] * is_told
    assert set(mine["found"]) <= {"excess water: no latitude of the site"}
    assert mine["mend"].str.startswith("deliver what is missing;").all()
    assert all(
        expected.startswith("what excess water is worked out from, from 2091-04-02 to") or "2092" in expected
        for expected in mine["expected"]
    )


def test_a_missing_release_test_is_asked_of_the_lead_not_of_the_cooperator(tiny):
    with_dates(tiny)
    tiny.settings("covariate: rain after application, days: 3", "covariate: nitrogen released, days: 3")
    findings = tiny.checked()["reports.findings"]
    mine = findings[findings["check_name"].eq("weather not known")]
    assert mine["found"].str.contains("release test in program.yml").any()
    assert mine["mend"].str.startswith("nothing to deliver: the program's lead adds the release test").all()


def test_reference_years_take_the_days_of_the_trials(of_sound):
    _, found = of_sound
    rain = found[found["covariate"].eq(RAIN_AFTER)].set_index("year")["value"]
    assert rain.to_dict() == pytest.approx({y: (3 * (y % 4) + 9) * 2.54 for y in range(2071, 2075)})


def test_covariates_never_see_a_yield(of_sound, tiny):
    """Other weights on the plots: not a bit of any covariate moves."""
    with_dates(tiny)
    for season in (2091, 2092):
        heads, *rows = tiny.rows("plots", season)
        at = heads.index("harvest_weight_lb")
        weights = [row[at] for row in rows]
        tiny.write(
            "plots",
            [heads, *([*row[:at], w, *row[at + 1 :]] for row, w in zip(rows, reversed(weights), strict=True))],
            season,
        )
    for one, other in zip(of_sound, covariates(tiny), strict=True):
        pd.testing.assert_frame_equal(one, other)


# latitude of a place whose July is warmer than its January, and whether that is found
LATITUDES = {"North": ("35.2", False), "South": ("-35.2", True), "Tropics": ("-12", False), "Nowhere": ("", False)}
FAHRENHEIT = ["place", "date", "rain_in", "temp_max_f", "temp_min_f"]


@pytest.fixture(scope="module")
def odd_days(sound_program, tmp_path_factory) -> dict[str, pd.DataFrame]:
    """Days told by the season and by the history, one colder at noon than at night, irrigation, and four places."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("odd") / "program"))
    heads, *rows = tiny.rows("rain_history", 2091)
    tiny.write("rain_history", [heads, *rows, ["Alder", "2091-05-03", "9.9"]])
    tiny.append("weather_daily", place="Alder", date="2091-05-20", rain_in="25")  # more than its hard range
    tiny.fill("weather_daily", "temp_max_f", "70")
    tiny.fill("weather_daily", "temp_min_f", "50")
    tiny.change("weather_daily", 3, "temp_min_f", "80")
    days = (("2091-06-20", "1.0"), ("2091-06-21", "0.5"), ("2091-06-21", "0.5"))  # the last told twice
    tiny.write("irrigations", [["trial_id", "date", "irrigation_in"], *(["2091-A-corn", *day] for day in days)])
    tiny.fill("sites", "latitude", "")
    for place, (latitude, _) in LATITUDES.items():
        tiny.append("sites", site_id=f"{place} Bench", place=place, latitude=latitude, drainage_class="Well drained",
                    drainage_source="on-site description")  # fmt: skip
    dates = [*pd.date_range("2091-01-01", periods=25), *pd.date_range("2091-07-01", periods=25)]
    of_place = [[f"{day:%Y-%m-%d}", "0", *(("80", "60") if day.month == 7 else ("45", "30"))] for day in dates]
    tiny.write("weather_daily", [FAHRENHEIT, *([p, *day] for p in LATITUDES for day in of_place)], "2091/four places")
    with tiny.loaded() as warehouse:
        names = ("trials.daily_weather", "trials.irrigations", "trials.findings")
        return {name: warehouse.table(name) for name in names}


def day_of_alder(tables, date: str) -> pd.Series:
    days = tables["trials.daily_weather"]
    (found,) = days.index[days["place"].eq("Alder") & days["date"].eq(pd.Timestamp(date))]
    return days.loc[found]


def test_a_place_and_day_take_what_the_season_sent_before_the_history(odd_days):
    assert day_of_alder(odd_days, "2091-05-03")["rain_mm"] == pytest.approx(0.6 * 25.4)


def test_a_day_that_is_set_aside_is_not_known(odd_days):
    days = odd_days["trials.daily_weather"].query("place == 'Alder'")["date"]
    assert pd.Timestamp("2091-05-05") in set(days) and pd.Timestamp("2091-05-20") not in set(days)


def test_of_rows_for_one_place_and_day_the_first_counts_of_the_first_file(tiny):
    """The season before the history, then files by path and rows from the top; rain is traced to the row that gave
    it.
    """
    heads = ["site_id", "place", "drainage_class", "drainage_source", "also_called"]
    tiny.write("sites", [heads, ["Alder Bench", "Alder", "Well drained", "on-site description", "Alder Station"]])
    of_history = [
        ["Alder Station", "2070-05-01", "1.0"],
        ["Alder", "2070-05-01", "2.0"],
        ["Alder", "2070-05-02", "3.0"],
    ]
    of_other = [["Alder Station", "2070-05-02", "4.0"], ["Alder Station", "2070-05-03", "5.0"]]
    of_season = [["Alder Station", "2070-05-03", ""], ["alder", "2070-05-04", "6.0"]]
    tiny.write("rain_history", [["place", "date", "rain_in"], *of_history], "2091/a")
    tiny.write("rain_history", [["place", "date", "rain_in"], *of_other], "2091/b")
    tiny.write("weather_daily", [["place", "date", "rain_in"], *of_season], "2091/c")
    with tiny.loaded() as warehouse:
        found = warehouse.read(
            "select strftime(date, '%m-%d') as day, rain_mm / 25.4 as rain, file, row_number from trials.weather_days"
            " where place = 'Alder' and year(date) = 2070 order by date"
        )
        daily = warehouse.read("select rain_mm / 25.4 as rain from trials.daily_weather where year(date) = 2070")
    assert found[["day", "file", "row_number"]].to_numpy().tolist() == [
        ["05-01", "seasons/2091/a/rain_history.csv", 2],
        ["05-02", "seasons/2091/a/rain_history.csv", 4],
        ["05-03", "seasons/2091/b/rain_history.csv", 3],
        ["05-04", "seasons/2091/c/weather_daily.csv", 3],
    ]
    assert found["rain"].tolist() == pytest.approx([1.0, 3.0, 5.0, 6.0])
    assert daily["rain"].tolist() == pytest.approx([1.0, 3.0, 5.0, 6.0])


def test_a_day_whose_minimum_is_above_its_maximum_has_no_air_temperature(odd_days):
    day = day_of_alder(odd_days, "2091-05-02")
    assert pd.isna(day["temp_max_c"]) and pd.notna(day["rain_mm"])
    assert day_of_alder(odd_days, "2091-05-03")["temp_max_c"] == pytest.approx((70 - 32) / 1.8)


@pytest.mark.parametrize("place", LATITUDES)
def test_a_summer_on_the_wrong_side_of_the_equator_is_found(odd_days, place):
    _, is_found = LATITUDES[place]
    found = odd_days["trials.findings"]
    told = found[found["check_name"].eq("seasons against latitude") & found["site_id"].eq(f"{place} Bench")]["found"]
    assert told.tolist() == ["latitude -35.2, where June to August is warmer than December to March"] * is_found


def test_irrigation_is_stored_by_trial_and_day(odd_days):
    assert odd_days["trials.irrigations"]["irrigation_mm"].tolist() == pytest.approx([25.4, 12.7])


def test_a_check_alone_works_out_what_is_declared_and_nothing_else(tiny):
    with_dates(tiny)
    tiny.settings("covariate: rain after application, days: 3", "covariate: excess water, days: 3")
    found = check(tiny.folder, lambda text: None).findings
    assert found.loc[found["check_name"].eq("weather not known"), "trial_id"].tolist() == ["2091-A-corn", "2092-A-corn"]
    loaded = tiny.load()["reports.findings"]
    pd.testing.assert_frame_equal(found.reset_index(drop=True), loaded.reset_index(drop=True))
