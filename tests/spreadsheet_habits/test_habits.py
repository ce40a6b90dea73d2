"""Each habit in a file of its own: what the reader notes, and what is said of it when the whole program is loaded.

All deliveries are loaded at once; nothing may be said of one beside what stands here.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from pipeline.incoming.readers import read_file
from tests.spreadsheet_habits import drawn_files as drawn
from tests.tiny_program import write_tiny_program

HOLDS, ASIDE, NOTED = "holds the trial", "sets the row aside", "noted"
READER = "noticed while reading"
LAYOUT = "layout noticed"
TOTAL = "row is a total or footnote"
AGAIN = "row repeats the headings"
ABOVE = "row above the headings"


@dataclass(frozen=True)
class Habit:
    """`notes`: (kind, row, column) from the reader. `findings`: (check, severity, row, column, found, part of what is
    said).
    """

    draw: drawn.Draw
    notes: tuple[tuple, ...]
    findings: tuple[tuple, ...]
    also: tuple[str, ...] = ()
    used: int = 6


def _reader(row, column, found, says) -> tuple:
    return (READER, NOTED, row, column, found, says)


def _layout(row, column, found, says) -> tuple:
    return (LAYOUT, NOTED, row, column, found, says)


# fmt: off
HABITS = {
    "block merged down three rows": Habit(
        drawn.in_workbook(drawn.merged_block), (("merged_cells", 2, "block"),),
        (_layout(2, "block", "B2:B4, rows 2-4", "the value of the first is read in each of their rows"),)),
    "a weight merged over three plots": Habit(
        drawn.in_workbook(lambda sheet: sheet.merge_cells("F2:F4")), (("merged_cells", 2, "moisture_pct"),),
        (_reader(2, "moisture_pct", "F2:F4, rows 2-4", "Unmerge them and type the value into each row"),
         ("harvested plot without yield", ASIDE, 3, "moisture_pct", "no moisture_pct", ""),
         ("harvested plot without yield", ASIDE, 4, "moisture_pct", "no moisture_pct", "")),
        also=("block lacks treatment",), used=4),
    "a title above the headings": Habit(
        drawn.in_workbook(drawn.merged_title), (("title_row", 1, None),),
        ((ABOVE, ASIDE, 1, None, "Harvest of the season", "stands above the headings"),)),
    "group headings above the headings": Habit(
        drawn.in_workbook(drawn.group_headings), (("title_row", 1, None),),
        ((ABOVE, ASIDE, 1, None, "Layout | Harvest", "stands above the headings"),)),
    "units in a row beneath the headings": Habit(
        drawn.in_csv(drawn.units_beneath), (("unit_row", 2, None),),
        (_layout(2, None, "no. | code | (lb) | % | ft | feet", "holds their units"),)),
    "totals and footnotes": Habit(
        drawn.in_workbook(drawn.total_and_footnotes),
        (("looks_like_total", 8, None), ("looks_like_total", 9, None), ("looks_like_footnote", 11, None),
         ("looks_like_footnote", 12, None)),
        ((TOTAL, ASIDE, 8, None, "Mean", "reads as a total"), (TOTAL, ASIDE, 9, None, "LSD (0.05)", "reads as a total"),
         (TOTAL, ASIDE, 11, None, "* weights from the scale at the elevator", "reads as a footnote"),
         (TOTAL, ASIDE, 12, None, "checked", "It is set aside"))),
    "headings on each page of a workbook": Habit(
        drawn.in_workbook(drawn.headings_on_each_page), (("repeats_headings", 5, None),),
        ((AGAIN, ASIDE, 5, None, "trial_id ...", "repeats the headings"),)),
    "headings on each page of a text file": Habit(
        drawn.in_csv(lambda rows: rows.insert(4, list(rows[0]))), (("repeats_headings", 5, None),),
        ((AGAIN, ASIDE, 5, None, "trial_id ...", "repeats the headings"),)),
    "rows hidden by a filter": Habit(
        drawn.in_workbook(drawn.hidden_by_filter), (("hidden_rows", 2, None),),
        (_reader(2, None, "rows 2, 4-5, 7", "hidden, perhaps by a filter, and were read all the same"),)),
    "a hidden column": Habit(
        drawn.in_workbook(drawn.hidden_column), (("hidden_column", None, "moisture_pct"),),
        (_reader(None, "moisture_pct", "F", "read all the same"),)),
    "cells filled with a color": Habit(
        drawn.in_workbook(drawn.filled_cells), (("marked_by_color", 3, None),),
        (_reader(3, None, "filled with FFFF00: rows 3, 6 (E3, E6, F6)", "What it means is not read"),)),
    "a weight in red": Habit(
        drawn.in_workbook(drawn.red_text), (("marked_by_color", 4, "harvest_weight_lb"),),
        (_reader(4, "harvest_weight_lb", "written in FF0000: row 4 (E4)", "say it in a column"),)),
    "a row struck through": Habit(
        drawn.in_workbook(drawn.struck_through), (("struck_through", 5, None),),
        (_reader(5, None, "struck through: row 5 (A5, B5, C5, D5, E5 and 1 more)", "read all the same"),)),
    "a comment on a cell": Habit(
        drawn.in_workbook(drawn.with_comment), (("cell_comment", 2, "harvest_weight_lb"),),
        (_reader(2, "harvest_weight_lb", "scale read twice", "Cell E2 carries a comment"),)),
    "1E2 typed into a workbook": Habit(
        drawn.in_workbook(drawn.cell("C3", 100, "0.00E+00")), (("scientific_format", 3, "plot"),),
        (_reader(3, "plot", "0.00E+00: row 3 (C3)", "codes such as 1E2, which becomes 100"),)),
    "1E2 in a text file": Habit(
        drawn.in_csv(drawn.column_of(2, "1.00E+02", "1E2")), (),
        (("plots.plot reads as a number in scientific form", NOTED, 2, "plot", '"1.00E+02" and 1 more',
          "format the column as Text"),)),
    "plots 1-1 to 1-6 turned into dates": Habit(
        drawn.in_workbook(drawn.plot_codes_as_dates), (),
        (("plots.plot reads as a date", NOTED, 2, "plot", '"2091-01-01" and 5 more', "turns codes like 1-1 into dates"),
         )),
    "blocks 1-1 and 1-2 exported as dates": Habit(
        drawn.in_csv(drawn.column_of(1, *["1-Jan"] * 3, *["2-Jan"] * 3)), (),
        (("plots.block reads as a date", NOTED, 2, "block", '"1-Jan" and 5 more', "format the column as Text"),)),
    "plots called by three letters and a number": Habit(
        drawn.in_csv(drawn.column_of(2, "26-elm", "27-elm", "Elm-101", "ASH-7", "1-oak", "2-oak")), (), ()),
    "plots turned into months in any case": Habit(
        drawn.in_csv(drawn.column_of(2, "JAN-94", "2-feb", "3-Dec-2091")), (),
        (("plots.plot reads as a date", NOTED, 2, "plot", '"JAN-94" and 2 more', "format the column as Text"),)),
    "treatments that the program calls Jun-01 and 1-Jan": Habit(
        drawn.with_treatment_codes("Jun-01", "1-Jan", drawn.in_csv(lambda rows: None)), (), ()),
    "treatment codes turned into dates in a workbook": Habit(
        drawn.with_treatment_codes("2091-01-01", "2091-01-02", drawn.in_workbook(drawn.dates_from_text)), (),
        (("plots.treatment_code reads as a date", NOTED, 3, "treatment_code", '"2091-01-01" and 3 more',
          "turns codes like 1-1 into dates"),)),
    "plots 101.0": Habit(
        drawn.in_csv(drawn.column_of(2, "101.0", "102.0", "103.00")), (),
        (("plots.plot ends in .0", NOTED, 2, "plot", '"101.0" and 2 more', "101.0 as 101"),)),
    "a block that lost its zero": Habit(
        drawn.in_csv(drawn.column_of(1, "01", "01", "1", "02", "02", "02")), (),
        (("block with and without leading zeros", HOLDS, 2, "block", '"01" here, "1" in {file} row 4',
          "drops leading zeros"),),
        also=("block lacks treatment",), used=0),
    "treatment codes that lost their zeros": Habit(
        lambda tiny, where: [
            drawn.in_csv(drawn.column_of(1, "01", "02", "03"), "treatments")(tiny, where),
            drawn.in_csv(lambda rows: [row.__setitem__(1, {"U-120": "02", "C-120": "03"}.get(row[1], row[1]))
            for row in rows],
            "nitrogen_applications")(tiny, where),
            drawn.in_csv(drawn.column_of(3, "01", "2", "03", "01", "02", "03"))(tiny, where)][-1], (),
        (("plot with unknown treatment", HOLDS, 3, "treatment_code", "2", "correct the code"),
         ("treatment_code with and without leading zeros", HOLDS, 2, "treatment_code", '"02" here, "2" in {file} row 3',
          "drops leading zeros")),
        also=("block lacks treatment",), used=0),
    "-9999 for a weight": Habit(
        drawn.in_csv(drawn.column_of(4, "22.3", "-9999", "42.9", "-9999.0")), (),
        (("plots.harvest_weight holds words for missing", NOTED, 3, "harvest_weight_lb", '"-9999"',
          "never as a number"),
         ("plots.harvest_weight holds words for missing", NOTED, 5, "harvest_weight_lb", '"-9999.0"',
          "never as a number"),
         ("harvested plot without yield", ASIDE, 3, "harvest_weight", "no harvest_weight", "fill it in"),
         ("harvested plot without yield", ASIDE, 5, "harvest_weight", "no harvest_weight", "fill it in")),
        used=4),
    "NA, N/A, #N/A, a dot and a dash for turnout": Habit(
        drawn.in_csv(drawn.column_of(6, "NA", "N/A", "#N/A", ".", "-", "na")), (),
        (("plots.gin_turnout holds words for missing", NOTED, 2, "gin_turnout_fraction", '"NA" and 1 more',
          "read as empty"),
         *(("plots.gin_turnout holds words for missing", NOTED, row, "gin_turnout_fraction", f'"{word}"',
            "read as empty")
           for row, word in ((3, "N/A"), (4, "#N/A"), (5, "."), (6, "-"))))),
    "a dash for a required block": Habit(
        drawn.in_csv(drawn.column_of(1, "1", "1", "-")), (),
        (("plots.block holds words for missing", NOTED, 4, "block", '"-"', "read as empty"),
         ("plots.block is empty", ASIDE, 4, "block", "-", "fill it in")),
        also=("block lacks treatment",), used=5),
    "day and month": Habit(
        drawn.in_csv(drawn.column_of(5, "5/2/2091"), "trials"), (),
        (("trials.planted is not a date as year-month-day", NOTED, 2, "planted", "5/2/2091",
          "month first it is 2091-05-02, day first 2091-02-05: write the one that is meant"),)),
    "day and month with points": Habit(
        drawn.in_csv(drawn.column_of(5, "02.05.91"), "trials"), (),
        (("trials.planted is not a date as year-month-day", NOTED, 2, "planted", "02.05.91",
          "month first it is ??91-02-05, day first ??91-05-02"),)),
    "a day above twelve": Habit(
        drawn.in_csv(drawn.column_of(5, "13/5/2091"), "trials"), (),
        (("trials.planted is not a date as year-month-day", NOTED, 2, "planted", "13/5/2091",
          "write it like 2091-05-13"),)),
    "a day number": Habit(
        drawn.in_csv(drawn.column_of(5, "69885"), "trials"), (),
        (("trials.planted is not a date as year-month-day", NOTED, 2, "planted", "69885",
          "2091-05-02 where days count from 1900, 2095-05-03 where"),)),
    "a season with a decimal": Habit(drawn.in_csv(drawn.column_of(1, "2091.0"), "trials"), (), ()),
    "a date with its midnight": Habit(drawn.in_csv(drawn.column_of(5, "2091-05-02 00:00:00"), "trials"), (), ()),
}
# fmt: on


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """(tables of reports, path drawn for each habit)."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("habits") / "program")
    paths = {}
    for number, (name, habit) in enumerate(HABITS.items()):
        tiny.add_delivery(folder(number))
        paths[name] = tiny, habit.draw(tiny, f"2091/{folder(number)}")
    return tiny.checked(), {name: path for name, (_, path) in paths.items()}


def folder(number: int) -> str:
    return f"habit-{number}"


@pytest.mark.parametrize("name", HABITS)
def test_what_the_reader_notes(loaded, name):
    _, paths = loaded
    (sheet,) = read_file(paths[name], name="file")
    assert tuple((note.what, note.row, note.column) for note in sheet.notes) == HABITS[name].notes


@pytest.mark.parametrize("name", HABITS)
def test_what_is_found(loaded, name):
    tables, paths = loaded
    folder_name = paths[name].parent.name
    found = tables["reports.findings"]
    found = found[found["file"].str.contains(f"/{folder_name}/") & ~found["check_name"].isin(HABITS[name].also)]
    found = found.astype(object).where(found.notna(), None)
    rows = {(r.check_name, r.severity, r.row_number, r.column_name, r.found): r for r in found.itertuples()}
    wanted = {(*f[:4], f[4].format(file=f"seasons/2091/{folder_name}/plots.csv")): f[5] for f in HABITS[name].findings}
    assert set(rows) == set(wanted) and len(found) == len(wanted)
    for place, says in wanted.items():
        assert says in f"{rows[place].expected} {rows[place].mend}"


@pytest.mark.parametrize("name", HABITS)
def test_what_becomes_of_the_plots(loaded, name):
    tables, paths = loaded
    fates = tables["reports.plots"]
    fates = fates[fates["trial_id"] == paths[name].parent.name]["fate"]
    assert len(fates) == 6 and (fates == "used").sum() == HABITS[name].used


def test_every_delivered_row_has_a_fate(loaded):
    counts = loaded[0]["reports.row_counts"]
    assert (counts["used"] + counts["set_aside"] + counts["held"]).tolist() == counts["delivered"].tolist()
    plots = counts[(counts["table_name"] == "plots") & (counts["season"] == 2091)]
    assert (
        plots["delivered"].item() == 12 + 6 * len(HABITS) + 8
    )  # four totals and footnotes, headings twice, two titles
    assert plots["title_rows"].item() == 2
