"""What observers write for rain, and how workbooks count days, from the file to the numbers in the warehouse."""

from __future__ import annotations

import datetime as dt

import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.contract import dates
from pipeline.contract.tables import declared_tables
from pipeline.incoming.readers import read_file
from pipeline.warehouse import open_warehouse
from tests.spreadsheet_habits.drawn_files import column_of, in_csv, in_workbook

# rows 2-6 are five days at Alder
RAIN = ("T", "M", "", "-9999", "0.30")


def test_a_trace_is_zero_and_m_and_a_blank_are_missing(tiny):
    path = in_csv(column_of(2, *RAIN), "weather_daily")(tiny, "2091")
    (sheet,) = read_file(path, name="file")
    assert sheet.columns["rain_in"][:5] == ["T", "M", None, "-9999", "0.30"] and sheet.notes == []
    with tiny.loaded() as warehouse:
        days = warehouse.read(
            "select strftime(date, '%d') as day, rain_mm from trials.weather_days where place = 'Alder' and year(date)"
            " = 2091 order by date"
        )
        (window,) = warehouse.table("trials.window_rainfall").query("place == 'Alder' and season == 2091").itertuples()
        found = warehouse.table("reports.findings")
    assert dict(zip(days["day"], days["rain_mm"].round(6), strict=True)) == {"01": 0.0, "05": 7.62}
    assert (window.n_days, window.n_days_missing) == (5, 3)
    says = found[found["check_name"].str.startswith("weather_daily.rain")]
    assert says[["check_name", "severity", "row_number", "column_name", "found"]].values.tolist() == [
        ["weather_daily.rain holds traces", "noted", 2, "rain_in", '"T"'],
        ["weather_daily.rain holds words for missing", "noted", 3, "rain_in", '"M"'],
        ["weather_daily.rain holds words for missing", "noted", 5, "rain_in", '"-9999"'],
    ]
    assert says["mend"].iloc[0] == "read as 0; right if T was the observer's trace"


def test_a_weather_date_that_is_no_iso_date_sets_its_day_aside(tiny):
    in_csv(column_of(1, "5/2/2091", "5/13/2091"), "weather_daily")(tiny, "2091")
    found = tiny.checked()["reports.findings"].query("column_name == 'date'")
    assert found[["severity", "row_number", "found", "mend"]].values.tolist() == [
        [
            "sets the row aside",
            2,
            "5/2/2091",
            "month first it is 2091-05-02, day first 2091-02-05: write the one that is meant; or put into headings.yml:"
            ' read_as: {"weather_daily.csv": [month first]} (or [day first]), if all dates of the file are written so',
        ],
        [
            "sets the row aside",
            3,
            "5/13/2091",
            'write it like 2091-05-13; or put into headings.yml: read_as: {"weather_daily.csv": [month first]}, if all'
            " dates of the file are written so",
        ],
    ]


@pytest.mark.parametrize(
    ("order", "days", "read"),
    [
        ("month first", ["5/2/2091", "05/13/2091", "2091-05-14", "5-15-2091 0:00"], [2, 13, 14, 15]),
        ("day first", ["2.5.2091", "13/05/2091", "2091-05-14 00:00:00", "15-5-2091"], [2, 13, 14, 15]),
        ("month first", ["13/5/2091", "5/2/91", "2/30/2091", "5/2/2091"], [2]),
    ],
)
def test_dates_of_a_file_are_read_as_its_headings_yml_says(tiny, order, days, read):
    """What is no date in this order, and a year of two digits, stays unread and found."""
    in_csv(column_of(1, *days), "weather_daily")(tiny, "2091")
    (tiny.folder / "seasons/2091/headings.yml").write_text(f"read_as: {{weather_daily.csv: [{order}]}}\n")
    with tiny.loaded() as warehouse:
        rows = warehouse.read(
            "select date from staging.weather_daily where file = 'seasons/2091/weather_daily.csv'"
            " and row_number between 2 and 5 order by date"
        )
        found = warehouse.table("reports.findings").query("column_name == 'date'")
    assert [(day.year, day.month, day.day) for day in rows["date"].dropna()] == [(2091, 5, day) for day in read]
    assert len(found) == len(days) - len(read)


def test_a_date_of_a_year_that_no_season_is_of_is_not_read_and_told(tiny):
    """Days thousands of years apart would be counted one by one, and stopped the run."""
    years = {"1899": False, "1900": True, "2199": True, "2200": False, "9999": False, "0001": False}
    days = [f"{year}-05-02" for year in years] + [f"2.5.{year}" for year in years]
    heads, *rows = tiny.rows("weather_daily")
    places = ["Alder"] * len(years) + ["Birch"] * len(years)
    added = [[place, day, "0.1"] for place, day in zip(places, days, strict=True)]
    tiny.write("weather_daily", [heads, *rows, *added])
    (tiny.folder / "seasons/2091/headings.yml").write_text("read_as: {weather_daily.csv: [day first]}\n")
    with tiny.loaded() as warehouse:
        read = warehouse.read(
            f"select year(date) as year from staging.weather_daily where row_number > {len(rows) + 1}"
            " and file = 'seasons/2091/weather_daily.csv' order by row_number"
        )["year"]
        found = warehouse.table("reports.findings").query("column_name == 'date'")
    assert [None if missing else int(year) for year, missing in zip(read, read.isna(), strict=True)] == [
        int(year) if is_read else None for year, is_read in years.items()
    ] * 2
    assert set(found["found"]) == {day for day, is_read in zip(days, [*years.values()] * 2, strict=True) if not is_read}
    assert set(found["severity"]) == {"sets the row aside"}
    assert set(found["mend"]) == {"a wrong year? a date lies between 1900 and 2199: correct it"}
    season = next(column for column in declared_tables()["trials"].columns if column.name == "season")
    assert season.hard == (dates.FIRST_YEAR, dates.LAST_YEAR)


def test_a_pass_named_by_a_day_of_such_a_year_has_no_day(tiny):
    names = ["2091-05-02 at planting", "9999-12-31", "0001-01-01", "1900-01-01 fall"]
    for number, name in enumerate(names):
        tiny.add_delivery(f"trial {number}")
        tiny.fill("nitrogen_applications", "application", name, f"2091/trial {number}")
    tiny.load()
    query = (
        "select strftime(applied_on, '%Y-%m-%d') as day from {}"
        " where trial_id like 'trial %' and treatment_code = 'U-120' order by trial_id"
    )
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        found = [
            warehouse.read(query.format(name))["day"] for name in ("trials.nitrogen_given", "reports.applications")
        ]
    for days in found:
        assert days.astype(object).where(days.notna(), None).tolist() == ["2091-05-02", None, None, "1900-01-01"]


def test_dates_of_a_workbook_are_read_as_its_headings_yml_says(tiny):
    def typed(sheet: Worksheet) -> None:
        sheet["F2"].value = "5/2/2091"

    path = in_workbook(typed, "trials")(tiny, "2091")
    (path.parent / "headings.yml").write_text(f'read_as: {{"{path.name}": [month first]}}\n')
    with tiny.loaded() as warehouse:
        planted = warehouse.read("select planted from staging.trials where season = 2091 and row_number = 2")["planted"]
    assert str(planted.iloc[0])[:10] == "2091-05-02"


def test_what_is_said_of_separators_and_of_dates_stands_together(tiny):
    """The refusal of an entry names the one to write, which is then taken."""
    rows = tiny.rows("weather_daily")
    rows[1][1] = "5/1/2091"
    text = "\n".join(";".join(row) for row in rows)
    tiny.path("weather_daily").write_text(text)
    headings = tiny.folder / "seasons/2091/headings.yml"
    headings.write_text("read_as: {weather_daily.csv: [month first]}\n")
    with tiny.loaded() as warehouse:
        (held,) = warehouse.table("raw.current_files")["held_because"].dropna()
    right = held.split("Correct the entry: write ")[1].removesuffix(".")
    assert right == 'read_as: {"weather_daily.csv": [semicolons, month first]}'
    headings.write_text(right + "\n")
    assert tiny.checked()["reports.findings"].empty


def _date_beside_a_typed_one(sheet: Worksheet) -> None:
    sheet.parent.epoch = CALENDAR_MAC_1904
    sheet["F2"].value, sheet["F2"].number_format = dt.datetime(2091, 2, 5), "m/d/yyyy"
    sheet["F3"].value = "13/5/2091"


def test_dates_counted_from_1904_and_a_swap_of_day_and_month(tiny):
    path = in_workbook(_date_beside_a_typed_one, "trials")(tiny, "2091")
    (sheet,) = read_file(path, name="file")
    assert [(note.what, note.row, note.column) for note in sheet.notes] == [
        ("dates_beside_text", 3, "planted"),
        ("dates_from_1904", None, None),
    ]
    with tiny.loaded() as warehouse:
        planted = warehouse.read(
            "select cast(planted as varchar) as day from staging.trials where season = 2091 order by row_number"
        )["day"]
        found = warehouse.table("reports.findings")
    assert planted.tolist()[0] == "2091-02-05" and planted.isna().tolist() == [False, True]
    read = found[found["check_name"].isin(["noticed while reading", "layout noticed"])].sort_values("found")
    assert read["found"].tolist() == ["1 date cells", "13/5/2091"]
    assert "counts its days from 1904" in read["mend"].iloc[0]
    assert "dates (row 2) beside dates left as text (row 3)" in read["mend"].iloc[1]
    (typed,) = found[found["check_name"] == "trials.planted is not a date as year-month-day"].itertuples()
    assert typed.row_number == 3 and typed.mend.startswith("write it like 2091-05-13; or put into headings.yml: ")
