"""The rain of a winter crop: a window that ends before it begins starts in the year before harvest."""

from __future__ import annotations

from datetime import date

from pipeline.warehouse import open_warehouse

ACROSS = "corn: {first_day: 12-30, last_day: 01-02}"
DAYS = ("12-30", "12-31", "01-01", "01-02")


def test_a_window_across_the_new_year(tiny):
    tiny.settings("corn: {first_day: 05-01, last_day: 05-05}", ACROSS)
    tiny.settings("fewest_reference_years: 3", "fewest_reference_years: 3\n  most_missing_days: 0")
    history = [["place", "date", "rain_in"]] + [
        ["Alder", f"{year}-{day}", f"{(year % 5) / 10}"] for year in range(2070, 2076) for day in DAYS
    ]
    tiny.write("rain_history", history)
    rain = {
        "2090-12-29": 9,
        "2090-12-30": 1,
        "2090-12-31": 2,
        "2091-01-01": 3,
        "2091-01-02": 4,
        "2091-01-03": 9,
        "2091-12-30": 9,
    }
    tiny.write(
        "weather_daily", [["place", "date", "rain_in"], *(["Alder", day, str(inch)] for day, inch in rain.items())]
    )
    tiny.load()
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        window = warehouse.read("select * from trials.window_rainfall where season = 2091 and crop = 'corn'").iloc[0]
        reference = warehouse.read("select * from trials.reference_rainfall where crop = 'corn' order by year")
        sources = warehouse.read(
            "select used_for, n_days, first_date, last_date from reports.rain_sources where crop = 'corn' and"
            " site_year_id like '%2091' order by used_for desc"
        )
    assert (round(window.rain_mm / 25.4, 9), window.n_days, window.n_days_missing) == (10, 4, 0)
    assert list(reference["year"]) == [2071, 2072, 2073, 2074] and set(reference["n_days_missing"]) == {0}
    # harvest year 2072: two days of 2071 (1 % 5) and two of 2072 (2 % 5), each in tenths of an inch
    assert round(reference["rain_mm"][1] / 25.4, 9) == 0.6
    told = [(row.used_for, row.n_days, row.first_date.date(), row.last_date.date()) for row in sources.itertuples()]
    assert told == [
        ("window", 4, date(2090, 12, 30), date(2091, 1, 2)),
        ("reference years", 16, date(2070, 12, 30), date(2074, 1, 2)),
    ]
