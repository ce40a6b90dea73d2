"""Trials whose harvest is ahead: rows in, and what they are counted as."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from openpyxl import Workbook

from pipeline.display.index.page import IndexPage
from pipeline.display.review.page import ReviewPage
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.errors import UserError
from pipeline.publishing.pages import page_list
from tests.tiny_program import TinyProgram, write_tiny_program

# season, cells of its row in trials.csv, and what it counts as; each is a trial of its own in one program
TRIALS = {
    "planned": (2093, {}, "planned"),
    "planted": (2093, {"outcome": "planted"}, "planned"),
    "with its due date": (2093, {"outcome": "planned", "due": "2093-12-15"}, "planned"),
    "lost": (2093, {"outcome": "lost", "outcome_reason": "flood"}, "not harvested"),
    # others of its crop were harvested then or later: it was to report
    "of an earlier season": (2090, {}, "not harvested"),
    "overdue": (2090, {"due": "2091-01-01"}, "not harvested"),
    "of an earlier season, not due yet": (2090, {"due": "2099-01-01"}, "planned"),
    "without a design": (2093, {"design": "of my own"}, "held"),
}


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    tiny = write_tiny_program(tmp_path_factory.mktemp("planned") / "program")
    for heading in ("due", "outcome_reason"):
        tiny.fill("trials", heading, "", 2092)
    for name, (season, cells, _) in TRIALS.items():
        tiny.plan_season(season, trial_id=name, folder=name, **cells)
    return tiny.checked()


@pytest.mark.parametrize("name", TRIALS)
def test_a_trial_counts_as_planned_while_its_harvest_is_ahead(checked, name):
    *_, status = TRIALS[name]
    assert checked["reports.trials"].set_index("trial_id").loc[name, "status"] == status
    if status == "planned":
        findings = checked["reports.findings"]
        about = findings["trial_id"].eq(name) | findings["file"].str.contains(f"/{name}/")
        assert findings[about].empty, "nothing is missing of a trial that is ahead"


@pytest.fixture(scope="module")
def one_planned(sound_program, tmp_path_factory) -> tuple[Path, Mapping]:
    """The folder of the tiny program with a planned season, and its tables, estimated."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("one") / "program"))
    tiny.plan_season()
    return tiny.folder, tiny.load_and_estimate()


def test_it_is_counted_by_itself_and_not_as_left_out(one_planned):
    folder, tables = one_planned
    (flow,) = tables["reports.flow"].itertuples()
    assert (flow.n_listed, flow.n_planned, flow.n_used, flow.n_not_harvested) == (3, 1, 2, 0)
    assert tables["reports.left_out"].empty
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views["pages"] = page_list(views)
    crop = GrowersAnswers(views, "corn", folder)
    assert crop.trials_counted == "Of 3 corn trials, 2 are used and 1 is planned, not yet harvested."
    assert crop.title.endswith("2091 and 2092") or crop.title.endswith("2091\u20132092"), crop.title
    home = IndexPage(views, folder)
    assert home.seasons == ReviewPage(views, folder).seasons == "2091 and 2092"
    assert "1 trial is planned, not yet harvested (2093)." in home.site_years
    (row,) = [line for line in home.site_years.splitlines() if "2093]" in line or "| 2093 " in line]
    assert "planned, not yet harvested" in row and "not compared" not in row


def test_its_rows_are_used_and_its_treatments_known(one_planned):
    counts = one_planned[1]["reports.row_counts"].query("season == 2093").set_index("table_name")
    assert counts["used"].to_dict() == {
        "nitrogen_applications": counts.loc["nitrogen_applications", "delivered"],
        "treatments": 3,
        "trials": 1,
    }


def test_a_harvested_trial_without_any_plots_is_refused_as_before(tiny):
    tiny.plan_season(outcome="harvested")
    with pytest.raises(UserError, match="seasons/2093: no plots table was delivered"):
        tiny.checked()


def test_a_program_of_nothing_but_plans_loads(tiny):
    tiny.plan_season()
    for table in ("sites", "rain_history"):
        tiny.path(table).rename(tiny.path(table, 2093))
    for season in (2091, 2092):
        shutil.rmtree(tiny.folder / "seasons" / str(season))
    tables = tiny.load_and_estimate()
    assert list(tables["reports.trials"]["status"]) == ["planned"]
    assert tables["reports.flow"]["n_planned"].tolist() == [1]


def bring_what_came(tiny: TinyProgram, how: str, outcome: str = "harvested") -> None:
    """The planned trial with its plots: as CSV files of its cooperator, or as a workbook beside the plan."""
    rain = [[cell.replace("2092-", "2093-") for cell in row] for row in tiny.rows("weather_daily", 2092)]
    tiny.write("weather_daily", rain, 2093)
    of_year = {name: tiny.rows(name, 2092) for name in ("trials", "treatments", "nitrogen_applications", "plots")}
    tables = {}
    for name, (heads, *rows) in of_year.items():
        mine = [dict(zip(heads, row, strict=True)) for row in rows if row[heads.index("trial_id")] == "2092-A-corn"]
        changed = {"trial_id": "2093-A-corn", "season": "2093", "planted": "2093-05-02", "harvested": "2093-10-04"}
        changed |= {"outcome": outcome} if name == "trials" else {}
        tables[name] = [heads, *([{**row, **changed}[head] for head in heads] for row in mine)]
    if how == "workbook":
        book = Workbook()
        book.remove(book.active)
        for name, rows in tables.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        book.save(tiny.folder / "seasons/2093/alder.xlsx")
    else:
        for name, rows in tables.items():
            tiny.write(name, rows, "2093/alder")


@pytest.mark.parametrize(("how", "before"), [("workbook", "planned"), ("folder", "planned"), ("folder", " Planted ")])
def test_what_came_of_a_planned_trial_takes_the_place_of_its_plan(tiny, how, before):
    tiny.plan_season(outcome=before)
    bring_what_came(tiny, how)
    checked = tiny.checked()
    assert checked["reports.trials"].set_index("trial_id").loc["2093-A-corn", "status"] == "accepted"
    assert checked["reports.findings"].empty
    counts = checked["reports.row_counts"].query("season == 2093").set_index("table_name")
    of_plan = {"trials": 1, "treatments": 3, "nitrogen_applications": 4}
    assert counts["superseded"].to_dict() == of_plan | {"plots": 0, "weather_daily": 0}
    assert (counts["used"] + counts["superseded"]).equals(counts["delivered"])


def test_a_table_that_is_not_brought_again_stays_as_planned(tiny):
    tiny.plan_season()
    bring_what_came(tiny, "folder")
    for name in ("treatments", "nitrogen_applications"):
        tiny.path(name, "2093/alder").unlink()
    checked = tiny.checked()
    assert checked["reports.findings"].empty
    assert checked["reports.row_counts"].query("season == 2093")["superseded"].sum() == 1


@pytest.mark.parametrize("first", ["planned", "harvested"])
def test_two_that_are_as_far_are_held_as_before(tiny, first):
    tiny.plan_season(outcome=first)
    bring_what_came(tiny, "folder", outcome=first)
    if first == "planned":
        tiny.path("plots", "2093/alder").unlink()
    checked = tiny.checked()
    assert "trials has two rows for one key" in set(checked["reports.findings"]["check_name"])
    assert not checked["reports.row_counts"]["superseded"].any()


def test_a_plan_of_another_season_under_the_same_id_is_not_its_plan(tiny):
    tiny.plan_season(trial_id="2092-A-corn")
    checked = tiny.checked()
    assert "trials has two rows for one key" in set(checked["reports.findings"]["check_name"])
    assert not checked["reports.row_counts"]["superseded"].any()
