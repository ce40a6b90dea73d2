"""The plan on the screen and the plot workbook of a trial to plant, up to the filled workbook as a delivery."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import load_workbook

from pipeline.errors import UserError
from pipeline.verbs.next_trials import Wanted, layout, plan
from pipeline.verbs.plan_told import FEWER_PLACES, tell_plan
from tests.tiny_program import TinyProgram

NO_SLOPES = pd.DataFrame({"comparison_id": [], "covariate": []})


def wanted(like="2091-A-corn", **changed) -> Wanted:
    usual = {"season": 2093, "site_id": None, "design": "RCBD", "n_blocks": 3, "random_seed": 5, "main_plots": "timing"}
    return Wanted(like, **(usual | changed))


def column(sheet, heading: str) -> int:
    return next(cell.column for cell in sheet[1] if cell.value == heading)


def test_nothing_can_be_planned_before_a_report(tiny):
    for ask in (plan, lambda folder: layout(folder, wanted())):
        with pytest.raises(UserError, match="Run make report first"):
            ask(tiny.folder)


def test_the_workbook_has_the_trials_treatments_and_a_plan_that_the_seed_gives_again(loaded_tiny):
    first = layout(loaded_tiny.folder, wanted())
    assert first == loaded_tiny.folder / "plans" / "2093-A-corn.xlsx"
    cells = [list(load_workbook(first)["plots"].iter_rows(values_only=True))]
    first.unlink()
    cells.append(list(load_workbook(layout(loaded_tiny.folder, wanted()))["plots"].iter_rows(values_only=True)))
    assert cells[0] == cells[1] and len(cells[0]) == 1 + 3 * 3
    rates = load_workbook(first)["treatments"]
    at = column(rates, "n_rate_lb_ac")
    assert sorted(row[at - 1].value for row in rates.iter_rows(min_row=2)) == [0, 120, 120]


ODD_IDS = (
    "a/b",
    "../x",
    "..",
    "what?",
    "say 'no' \"now\"",
    "x" * 300,
    "\\\\a\\b: <c>|*",
    "=1+1",
    "CON",
    "a\u202eb",
)

WITH_BELL = "a\u0007b"


def test_any_trial_id_gives_a_workbook_in_plans(tiny):
    for table in ("trials", "treatments", "nitrogen_applications", "plots"):
        heads, *rows = tiny.rows(table)
        at = heads.index("trial_id")
        mine = [row for row in rows if row[at] == "2091-A-corn"]
        copies = [
            [trial if i == at else cell for i, cell in enumerate(row)]
            for trial in (*ODD_IDS, WITH_BELL)
            for row in mine
        ]
        tiny.write(table, [heads, *rows, *copies])
    tiny.load()
    with pytest.raises(UserError, match='layout: trial_id "2093-a<U\\+0007>b" in trials holds a control character'):
        layout(tiny.folder, wanted(WITH_BELL))
    for trial in ODD_IDS:
        path = layout(tiny.folder, wanted(trial))
        assert path.parent == tiny.folder / "plans" and path.is_file()
        assert re.fullmatch(r"[\w][\w .-]{0,120}\.xlsx", path.name)
        sheet = load_workbook(path)["plots"]
        assert sheet.cell(2, column(sheet, "trial_id")).value == f"2093-{trial}"
    assert len(list((tiny.folder / "plans").iterdir())) == len(ODD_IDS)


def fill(book) -> None:
    """What a cooperator types in."""
    plots, trials = book["plots"], book["trials"]
    filled = {
        "harvest_weight_lb": 22.5,
        "moisture_pct": 18.2,
        "harvest_length_ft": 30,
        "harvest_width_ft": 5,
        "rows_harvested": 2,
        "outcome": "harvested",
    }
    for row in range(2, plots.max_row + 1):
        for heading, value in filled.items():
            plots.cell(row, column(plots, heading)).value = value
    trials.cell(2, column(trials, "outcome")).value = "harvested"


def findings_of_the_workbook(tables) -> list[str]:
    findings = tables["reports.findings"]
    return list(findings.loc[findings["file"] == "seasons/2093/plots.xlsx", "check_name"])


def test_a_filled_workbook_is_a_delivery(loaded_tiny):
    book = load_workbook(layout(loaded_tiny.folder, wanted()))
    fill(book)
    (loaded_tiny.folder / "seasons" / "2093").mkdir()
    book.save(loaded_tiny.folder / "seasons" / "2093" / "plots.xlsx")
    tables = loaded_tiny.checked()
    found = tables["reports.trials"].set_index("trial_id").loc["2093-A-corn"]
    assert found["status"] == "accepted"
    used = tables["reports.row_counts"].query("table_name == 'plots' and season == 2093")["used"].sum()
    assert used == 9
    assert findings_of_the_workbook(tables) == ["season without weather"], "our own sheets need no note"


def test_a_split_plot_has_zero_n_in_every_main_plot_and_loads(loaded_tiny):
    loaded_tiny.fill("treatments", "factor_variety", "K1")
    loaded_tiny.change("treatments", 4, "timing", "sidedress")
    loaded_tiny.change("nitrogen_applications", 2, "application", "at planting")
    loaded_tiny.load()
    book = load_workbook(layout(loaded_tiny.folder, wanted(design="split-plot")))
    rows = list(book["plots"].iter_rows(min_row=2, values_only=True))
    at = {heading: column(book["plots"], heading) - 1 for heading in ("block", "main_plot", "treatment_code")}
    wholes: dict = {}
    for row in rows:
        wholes.setdefault((row[at["block"]], row[at["main_plot"]]), []).append(row[at["treatment_code"]])
    assert len(wholes) == 6 and all("ZERO" in codes and len(codes) == 2 for codes in wholes.values())
    assert {
        row[column(book["treatments"], "factor_variety") - 1]
        for row in book["treatments"].iter_rows(min_row=2, values_only=True)
    } == {"K1"}
    fill(book)
    (loaded_tiny.folder / "seasons" / "2093").mkdir()
    book.save(loaded_tiny.folder / "seasons" / "2093" / "plots.xlsx")
    tables = loaded_tiny.checked()
    assert tables["reports.trials"].set_index("trial_id").loc["2093-A-corn", "status"] == "accepted"
    assert findings_of_the_workbook(tables) == ["season without weather"], "zero-N twice in a block is the plan"


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"like": "2091-A-crn"}, 'did you mean "2091-A-corn"'),
        ({"site_id": "Alder Benhc"}, 'did you mean "Alder Bench"'),
        ({"season": 2091}, "is a trial of this program already"),
        ({"design": "circle"}, "cannot be laid out here"),
        ({"n_blocks": 1}, "a trial needs 2 to"),
        ({"random_seed": -1}, "give a whole number"),
        ({"design": "split-plot", "main_plots": "color"}, "a split-plot needs the column"),
    ],
)
def test_what_cannot_be_laid_out_is_said(loaded_tiny, asked, said):
    with pytest.raises(UserError, match=said):
        layout(loaded_tiny.folder, wanted(**asked))
    assert not (loaded_tiny.folder / "plans").exists() or not list((loaded_tiny.folder / "plans").iterdir())


def test_where_the_next_trial_is_planned_already_that_one_is_named(loaded_tiny):
    loaded_tiny.plan_season()
    loaded_tiny.load()
    with pytest.raises(UserError, match="2093-A-corn is planned already; lay it out with TRIAL=2093-A-corn, or name"):
        layout(loaded_tiny.folder, wanted())
    assert layout(loaded_tiny.folder, wanted(like="2093-A-corn")).name == "2093-A-corn.xlsx"


def test_a_plan_in_use_is_never_overwritten(loaded_tiny):
    layout(loaded_tiny.folder, wanted())
    with pytest.raises(UserError, match="there already"):
        layout(loaded_tiny.folder, wanted())


def test_another_site_gives_the_trial_another_name(loaded_tiny):
    assert layout(loaded_tiny.folder, wanted(site_id="Birch Flats")).name == "2093-Birch-Flats-corn.xlsx"


def test_the_screen_names_half_widths_empty_cells_and_sites(capsys):
    outlook = pd.DataFrame(
        [
            {
                "comparison_id": "c",
                "position": 0,
                "unit": "bu/ac",
                "digits": 1,
                "target": "seasons to come",
                "is_declared": True,
                "more_site_years": more,
                "n_blocks": blocks,
                "more_seasons": seasons,
                "half_width": width,
                "printed_half_width": 6.91,
                "reason": reason,
            }
            for more, blocks, seasons, width, reason in ((0, None, 0, 6.24, ""), (6, 4.0, 2, 4.41, "too hopeful"))
        ]
    )
    evidence = pd.DataFrame(
        {
            "comparison_id": ["c", "c"],
            "drainage_group": ["P", "R"],
            "rainfall_class": ["wet", "dry"],
            "n_site_years": [0, 4],
        }
    )
    proposed = pd.DataFrame(
        {
            "crop": ["corn"],
            "position": [0],
            "comparison_id": ["c"],
            "rank": [1],
            "site_id": ["Alder Bench"],
            "drainage_group": ["P"],
            "why": ["fills P x wet"],
        }
    )
    comparisons = pd.DataFrame(
        {"comparison_id": ["b", "c"], "crop": "corn", "says": ["b", "blend against urea"], "position": [1, 0],
         "is_against_standard": [False, True]}
    )  # fmt: skip
    tell_plan(outlook, NO_SLOPES, evidence, proposed, comparisons)
    said = capsys.readouterr().out
    assert said.startswith("Corn, blend against urea. Add ")
    assert "c, future seasons: half-width of the 95% interval to expect (bu/ac)" in said
    assert (
        "the interval printed now: 6.9" in said
        and "as now, by the plan: 6.2" in said
        and "6 more site-years in 2 more seasons: 4.4 (4 blocks)" in said
        and "too hopeful" in said
    )
    assert "empty cells of drainage x rainfall: P x wet" in said and "1. Alder Bench (P): fills P x wet" in said
    assert "Drainage groups. P: somewhat poorly drained and wetter; R: excessively" in said and "W: " not in said


@pytest.mark.parametrize(
    ("widths", "is_said"), [((0.7, 0.9, 0.9), True), ((0.9, 0.9, 0.7), False), ((0.71, 0.74, 0.7), False)]
)
def test_why_more_seasons_can_give_a_wider_interval_is_said_where_they_do(capsys, widths, is_said):
    row = {
        "comparison_id": "c",
        "position": 0,
        "unit": "bu/ac",
        "digits": 1,
        "target": "seasons tested",
        "is_declared": True,
    }
    row |= {"more_site_years": 24, "n_blocks": 4.0, "printed_half_width": 1.4, "reason": ""}
    outlook = pd.DataFrame([row | {"more_seasons": j, "half_width": w} for j, w in enumerate(widths, start=1)])
    nothing = pd.DataFrame(columns=["comparison_id", "n_site_years", "crop", "position", "drainage_group"])
    tell_plan(outlook, NO_SLOPES, nothing, nothing, nothing.assign(is_against_standard=[]))
    assert (FEWER_PLACES in capsys.readouterr().out) == is_said


def test_one_more_site_year_is_not_told_as_several(capsys):
    row = {"comparison_id": "c", "position": 0, "unit": "bu/ac", "digits": 1, "target": "seasons tested"}
    row |= {"is_declared": True, "more_site_years": 1, "more_seasons": 1, "n_blocks": 4.0, "half_width": 2.0}
    nothing = pd.DataFrame(columns=["comparison_id", "n_site_years", "crop", "position", "drainage_group"])
    outlook = pd.DataFrame([row | {"printed_half_width": 2.4, "reason": ""}])
    tell_plan(outlook, NO_SLOPES, nothing, nothing, nothing.assign(is_against_standard=[]))
    assert "   1 more site-year in 1 more season: 2.0 (4 blocks)" in capsys.readouterr().out


@pytest.fixture(scope="module")
def planned_once(sound_program, tmp_path_factory) -> Path:
    """The folder of the tiny program with a planned season, loaded; copy it, never change it."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("planned") / "program"))
    tiny.plan_season()
    tiny.load()
    return tiny.folder


@pytest.fixture
def planned(planned_once, tmp_path) -> TinyProgram:
    """That program, a test's own."""
    return TinyProgram(shutil.copytree(planned_once, tmp_path / "program"))


def test_a_planned_trial_is_laid_out_itself(planned, capsys):
    tiny = planned
    made = layout(tiny.folder, wanted("2093-A-corn", season=None))
    assert made.name == "2093-A-corn.xlsx"
    book = load_workbook(made)
    assert book["trials"].cell(2, column(book["trials"], "season")).value == 2093
    codes = [book["plots"].cell(row, column(book["plots"], "treatment_code")).value for row in range(2, 11)]
    assert sorted(codes) == sorted(["ZERO", "U-120", "C-120"] * 3)
    assert "they take the place of those in seasons/2093/trials.csv" in capsys.readouterr().out.replace("\n", " ")
    fill(book)
    book.save(tiny.folder / "seasons" / "2093" / "plots.xlsx")
    checked = tiny.checked()
    assert checked["reports.trials"].set_index("trial_id").loc["2093-A-corn", "status"] == "accepted"
    assert "two rows for one key" not in " ".join(checked["reports.findings"]["check_name"])


def test_without_a_season_a_new_trial_stands_in_the_one_after_the_last_harvest(planned):
    assert layout(planned.folder, wanted("2091-A-corn", season=None, site_id="Birch Flats")).name.startswith("2093-")


def test_what_is_known_of_a_planned_trial_stays_in_its_workbook(tiny):
    """The workbook replaces the trial's row, so it must not have less in it."""
    known = {"irrigated": "yes", "cooperator": "coop-07", "artificial_drainage": "subsurface", "paid_by": "program"}
    known |= {"due": "2093-12-15", "row_spacing_in": "30", "same_plots_as": "2092-A-corn"}
    tiny.plan_season()
    for heading, text in known.items():
        tiny.fill("trials", heading, text, 2093)
    tiny.load()
    sheet = load_workbook(layout(tiny.folder, wanted("2093-A-corn", season=None)))["trials"]
    typed = {head.value: cell.value for head, cell in zip(sheet[1], sheet[2], strict=True)}
    typed["due"] = typed["due"].strftime("%Y-%m-%d")
    assert {heading: str(typed[heading]) for heading in known} == known


def test_a_planned_trial_that_did_not_report_is_told_as_one(tiny):
    tiny.plan_season(2092, trial_id="2092-D-corn", folder="alder")
    tiny.load()
    with pytest.raises(UserError, match="2092-D-corn was planned and did not report, while other trials"):
        layout(tiny.folder, wanted("2092-D-corn", season=None))


def units_of(book) -> set[str]:
    heads = [str(cell.value) for name in ("trials", "nitrogen_applications", "plots") for cell in book[name][1]]
    endings = (re.search(r"_(lb|ft|in|lb_ac|lb_bu|plants_ac|kg|m|cm|kg_ha|kg_hl|plants_ha)$", head) for head in heads)
    return {found[1] for found in endings if found}


def test_its_headings_are_in_the_units_of_the_program(loaded_tiny):
    us = units_of(load_workbook(layout(loaded_tiny.folder, wanted())))
    loaded_tiny.settings("program: Tiny trials\n", "program: Tiny trials\ndisplay_units: metric\n")
    loaded_tiny.load()
    metric = units_of(load_workbook(layout(loaded_tiny.folder, wanted(site_id="Birch Flats"))))
    assert us == {"lb", "ft", "in", "lb_ac", "lb_bu", "plants_ac"}
    assert metric == {"kg", "m", "cm", "kg_ha", "kg_hl", "plants_ha"}


def test_a_treatment_without_applications_is_not_told_as_without_nitrogen(planned, capsys):
    planned.path("nitrogen_applications", 2093).unlink()
    planned.load()
    capsys.readouterr()
    sheet = load_workbook(layout(planned.folder, wanted("2093-A-corn", season=None)))["_plan of plots"]
    key = {row[0]: row[1:5] for row in sheet.iter_rows(values_only=True)}
    assert key["ZERO"] == ("none", "none", None, 0) and key["U-120"] == ("not listed yet", None, None, 120)
    assert "No nitrogen application is listed for C-120, U-120." in " ".join(capsys.readouterr().out.split())
