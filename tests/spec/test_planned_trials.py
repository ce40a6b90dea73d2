"""Trials whose harvest is ahead: rows in, and what they are counted as."""

from __future__ import annotations

import shutil

import pytest

from pipeline.display.index.page import IndexPage
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.errors import UserError
from pipeline.publishing.pages import page_list


@pytest.mark.parametrize(
    ("season", "cells", "status"),
    [
        (2093, {}, "planned"),
        (2093, {"became": "planted"}, "planned"),
        (2093, {"became": "planned", "due": "2093-12-15"}, "planned"),
        (2093, {"became": "lost", "became_why": "flood"}, "not harvested"),
        # others of its crop were harvested then or later: it was to report
        (2090, {}, "not harvested"),
        (2090, {"due": "2091-01-01"}, "not harvested"),
        (2090, {"due": "2099-01-01"}, "planned"),
        (2093, {"design": "of my own"}, "held"),
    ],
)
def test_a_trial_counts_as_planned_while_its_harvest_is_ahead(tiny, season, cells, status):
    for heading in ("due", "became_why"):
        tiny.fill("trials", heading, "", 2092)
    tiny.plan_season(season, trial_id="P", **cells)
    tables = tiny.checked()
    assert tables["reports.trials"].set_index("trial_id").loc["P", "status"] == status
    if status == "planned":
        findings = tables["reports.findings"]
        assert findings[findings["trial_id"] == "P"].empty, "nothing is missing of a trial that is ahead"


def test_it_is_counted_by_itself_and_not_as_left_out(tiny):
    tiny.plan_season()
    tables = tiny.load_and_estimate()
    (flow,) = tables["reports.flow"].itertuples()
    assert (flow.n_listed, flow.n_planned, flow.n_used, flow.n_not_harvested) == (3, 1, 2, 0)
    assert tables["reports.left_out"].empty
    program = tables["reports.program"].iloc[0]
    assert (program["first_season"], program["last_season"]) == (2091, 2092)
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views["pages"] = page_list(views)
    crop = GrowersAnswers(views, "corn", tiny.folder)
    assert crop.trials_counted == "Of 3 corn trials, 2 are used and 1 is planned, not yet harvested."
    assert crop.title.endswith("2091 and 2092") or crop.title.endswith("2091\u20132092"), crop.title
    home = IndexPage(views, tiny.folder)
    assert "1 trial is planned, not yet harvested (2093)." in home.site_years
    (row,) = [line for line in home.site_years.splitlines() if "2093]" in line or "| 2093 " in line]
    assert "planned, not yet harvested" in row and "not compared" not in row


def test_its_rows_are_used_and_its_treatments_known(tiny):
    tiny.plan_season()
    tables = tiny.checked()
    counts = tables["reports.row_counts"].query("season == 2093").set_index("table_name")
    assert counts["used"].to_dict() == {
        "nitrogen_applications": counts.loc["nitrogen_applications", "delivered"],
        "treatments": 3,
        "trials": 1,
    }


def test_a_harvested_trial_without_any_plots_is_refused_as_before(tiny):
    tiny.plan_season(became="harvested")
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
