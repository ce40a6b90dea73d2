"""What is proposed for a table whose headings are its sender's own."""

from __future__ import annotations

import pytest

from pipeline.contract.tables import declared_tables
from pipeline.errors import UserError
from pipeline.incoming.headings import NO_TABLE, SendersWords
from pipeline.incoming.misfits import Misfits, check_fit
from pipeline.incoming.sheet import Sheet, tidy_heading

FOLDER = "seasons/2094/oak"


def told(*measured: str) -> str:
    """What is said of a table of plots with the usual headings and these."""
    typed = ["Trial", "Rep", "Plot #", "Trt", *measured]
    headings = [tidy_heading(each) for each in typed]
    sheet = Sheet("plots", None, headings, typed, 1, {heading: ["1"] for heading in headings}, [2])
    with pytest.raises(UserError) as caught:
        check_fit([sheet], SendersWords(), file=f"{FOLDER}/plots.csv", folder=FOLDER, season=2094)
    return str(caught.value)


def test_the_only_weight_is_proposed():
    said = told("Seed cotton (lb)", "Turnout %")
    assert '"Seed cotton (lb)": harvest_weight_lb' in said and "may be harvest_weight_lb" not in said


def test_turnout_and_what_was_harvested_are_proposed():
    said = told("Seed cotton (lb)", "Turnout %", "Length (ft)", "Width, feet", "Rows")
    for typed, ours in (
        ('"Turnout %"', "gin_turnout_pct"),
        ('"Length (ft)"', "harvest_length_ft"),
        ('"Width, feet"', "harvest_width_ft"),
        ("Rows", "rows_harvested"),
    ):
        assert f"{typed}: {ours}" in said
    bare = told("Turnout", "Lint lb/ac", "Row length", "Rows planted")
    assert "gin_turnout" not in bare and "harvest_length" not in bare and "rows_harvested" not in bare


@pytest.mark.parametrize(
    ("weights", "named"),
    [
        (["1st pick (lb)", "2nd pick (lb)"], '"1st pick (lb)" or "2nd pick (lb)" may be harvest_weight_lb'),
        (["Pick 1 lb"], '"Pick 1 lb" may be harvest_weight_lb'),
        (["Gross lbs", "Tare lbs", "Net lbs"], '"Gross lbs" or "Tare lbs" or "Net lbs" may be harvest_weight_lb'),
    ],
)
def test_the_weight_of_a_pick_or_one_of_several_is_not_proposed_as_that_of_the_plot(weights, named):
    said = told(*weights)
    assert named in said and ": harvest_weight_lb," not in said and '": harvest_weight_lb}' not in said
    assert ("Deliver picks in the table harvests" in said) == ("ick" in weights[0])


YML = f"{FOLDER}/headings.yml"
LACKS = {
    "trial_id": "lacks the column trial_id (a trial of the trials table)",
    "block": "lacks the column block (block (replicate) of the plot; 1 everywhere for a completely random layout)",
    "plot": "lacks the column plot (plot number, unique in its trial)",
    "treatment_code": "lacks the column treatment_code (a code of the treatments table)",
    "outcome": "lacks the column outcome (what happened to the plot; anything but harvested needs a cause)",
}
PLOTS = ["trial_id", "block", "plot", "treatment_code", "outcome"]


def same(entry: str, rename: str = "") -> str:
    also = f" (or rename the heading if one of these is it: {rename})" if rename else ""
    return f"; if it is the same in every row, put into {YML}: same_for_all: {{plots: {{{entry}}}}}{also}"


def renamed(known: str, entry: str) -> str:
    line = f"put into {YML}: headings: {{plots: {{{entry}}}}}"
    return f"; rename the heading if one of these is it: {known}; or {line}"


def no_table(sheet: str, guess: str, theirs: str) -> str:
    line = f"put into {YML}: tables: {{{theirs}: <our table>}}, or none where it holds no table"
    return f'sheet "{sheet}": "{sheet}" is no table of ours ({guess}); name the sheet for what it holds, or {line}'


KNOWN_TABLES = (
    "known: harvests, irrigations, measurements, nitrogen_applications, plots, prices, printed_means, rain_history,"
    " sites, treatments, trials, weather_daily"
)
ROW = f'; if plots have no number, put into {YML}: same_for_all: {{plots: {{plot: "row {{row}}"}}}}'
# sheet, headings, cells of the column crop; each problem; the lines to paste
WHOLE = {
    "nothing unknown": ("plots", PLOTS[1:], (), [LACKS["trial_id"] + same("trial_id: <trial_id>")],
                        ["same_for_all:", "  plots: {trial_id: <trial_id>}"]),
    "a trial for each crop": (
        "plots", ["Crop", *PLOTS[1:]], ("corn", "cotton", None),
        [LACKS["trial_id"] + same('trial_id: "<trial>-{Crop}"', "Crop")],
        ["same_for_all:", '  plots: {trial_id: "<trial>-{Crop}"}']),
    "one crop": ("plots", ["Crop", *PLOTS[1:]], ("corn", "corn", None),
                 [LACKS["trial_id"] + same("trial_id: <trial_id>", "Crop")],
                 ["same_for_all:", "  plots: {trial_id: <trial_id>}"]),
    "a heading of theirs": ("plots", ["Study", *PLOTS[1:]], (),
                            [LACKS["trial_id"] + renamed("Study", "Study: trial_id")],
                            ["headings:", "  plots: {Study: trial_id}"]),
    "a heading that is like ours": ("plots", [*PLOTS[:3], "treatm code", "outcome"], (),
                                    [LACKS["treatment_code"] + renamed("treatm code", '"treatm code": treatment_code')],
                                    ["headings:", '  plots: {"treatm code": treatment_code}']),
    "a heading that is like nothing": ("plots", [*PLOTS[:3], "Zq", "outcome"], (),
                                       [LACKS["treatment_code"] + renamed("Zq", '"<their heading>": treatment_code')],
                                       []),
    "plots without a number": (
        "plots", [*PLOTS[:2], *PLOTS[3:]], (), [f"{LACKS['plot']}{ROW}, and each is called by its row"],
        ["same_for_all:", '  plots: {plot: "row {row}"}']),
    "two columns twice": (
        "plots", [*PLOTS, "Plot", "Block", "BLOCK"], (),
        [f'the columns {names} mean {ours}. Delete one column, or change what {YML} says of it.'
         for names, ours in (('"block" and "Block" and "BLOCK" all', "block"), ('"plot" and "Plot" both', "plot"))],
        []),
    "no table": ("Photos: 2", ["a", "b"], (), [no_table("Photos: 2", KNOWN_TABLES, '"Photos: 2"')],
                 ['tables: {"Photos: 2": none}']),
    "a table by its headings": (
        "Cut", ["Study", *PLOTS[1:]], (),
        [no_table("Cut", f"{KNOWN_TABLES}; by its headings it may be plots", "Cut"),
         f'sheet "Cut": {LACKS["trial_id"]}{renamed("Study", "Study: trial_id")}'],
        ["headings:", "  plots: {Study: trial_id}", "tables: {Cut: plots}"]),
    "plots side by side": (
        "plots", ["trial_id", "treatment_code", "outcome", "Rep 1", "Rep 2"], (),
        ["holds several plots in a row, blocks side by side (2 columns, 2 plots a row). A wide entry in"
         f" {YML} reads each cell as a plot (or another heading of ours, if the cells are not bushels per acre)."],
        ["wide:", '  plots: {"Rep 1": {block: "1", holds: yield_bu_ac}, "Rep 2": {block: "2", holds: yield_bu_ac}}']),
    "a yield at its own moisture": (
        "plots", [*PLOTS, "Yield (bu/ac @ 13%)"], (),
        ["a heading says that the yield is stated at 13% moisture, and no column does; put into"
         f" {YML}: same_for_all: {{plots: {{yield_moisture_pct: 13}}}}"],
        ["same_for_all:", "  plots: {yield_moisture_pct: 13}"]),
}  # fmt: skip


def sheet_of(name: str, typed: list[str], crops: tuple = (), *, is_sheet: bool | None = None) -> Sheet:
    headings = [tidy_heading(each) for each in typed]
    cells = {heading: list(crops) if heading == "crop" else ["1"] for heading in headings}
    is_sheet = name not in declared_tables() if is_sheet is None else is_sheet
    return Sheet(name, name if is_sheet else None, headings, typed, 1, cells, [2])


def misfits(*sheets: Sheet) -> Misfits:
    with pytest.raises(Misfits) as caught:
        check_fit(list(sheets), SendersWords(), file=f"{FOLDER}/x", folder=FOLDER, season=2094)
    return caught.value


@pytest.mark.parametrize("case", WHOLE)
def test_each_problem_is_told_with_the_lines_to_paste_and_nothing_else(case):
    name, typed, crops, problems, lines = WHOLE[case]
    found = misfits(sheet_of(name, typed, crops))
    assert found.problems == problems
    assert found.proposal.lines() == lines
    assert ("To fix it there, put into" in str(found)) == bool(lines)


def test_of_several_sheets_each_names_its_trial():
    found = misfits(*(sheet_of("plots", PLOTS[1:], is_sheet=True) for _ in "ab"))
    each = f'sheet "plots": {LACKS["trial_id"]}' + same('trial_id: "{sheet}"')
    assert found.problems == [each, each]


def test_where_no_heading_is_unknown_none_is_to_be_renamed():
    assert misfits(sheet_of("plots", ["trial_id", *PLOTS[2:]])).problems == [LACKS["block"]]


def test_a_sheet_is_called_as_it_is_in_its_workbook():
    found = misfits(Sheet("plot_data", "Plot data", ["a"], ["a"], 1, {"a": ["1"]}, [2]))
    assert found.proposal.lines() == ['tables: {"Plot data": none}'] and 'tables: {"Plot data": <our' in str(found)


def test_a_table_that_fits_is_let_through():
    check_fit([sheet_of("plots", PLOTS)], SendersWords(), file="x", folder=FOLDER, season=2094)


def test_the_season_is_that_of_its_folder():
    said = str(misfits(sheet_of("trials", ["trial_id", "site_id", "crop", "design", "outcome"])))
    assert "same_for_all: {trials: {season: 2094}}" in said


def test_of_many_headings_the_first_are_named():
    known = ["trial_id", "season", "crop", "design", "outcome"]
    for n, named in ((42, "Z38, Z39 and 2 more)"), (40, "Z38, Z39)")):
        (problem,) = misfits(sheet_of("trials", [*known, *(f"Z{number}" for number in range(n))])).problems
        assert problem.endswith(named)


def of(name: str, *typed: str, crops: tuple = (), is_sheet: bool | None = None) -> Sheet:
    return sheet_of(name, list(typed), crops, is_sheet=is_sheet)


APPLIED = ("trial_id", "treatment_code", "application", "product", "counts_toward")


@pytest.mark.parametrize(
    ("sheet", "n_problems", "in_the_first", "lines"),
    [
        # by its name, whatever its headings are
        (of("sites", *PLOTS[1:]), 2, "site_id (name",
         ["same_for_all:", "  sites: {site_id: <site_id>, place: <place>}"]),
        (of("plots", "trial_id", "block", "Plt", *PLOTS[3:]), 1, "if one of these is it: Plt; or",
         ["headings:", "  plots: {Plt: plot}"]),
        (of("plots", "trial_id", *PLOTS[2:]), 1, LACKS["block"], []),
        (of("plots", *PLOTS[1:], is_sheet=True), 1, "{trial_id: <trial_id>}",
         ["same_for_all:", "  plots: {trial_id: <trial_id>}"]),
        (of("trials", "trial_id", "season", "site_id", "Crop", "outcome", crops=("corn", "cotton")), 1,
         "{design: <design>}", ["same_for_all:", "  trials: {design: <design>}"]),
        (of("nitrogen_applications", *APPLIED, "Product (lb/ac)", "% N"), 1, "n_rate_lb_ac or n_rate_kg_ha",
         ["headings:", '  nitrogen_applications: {"Product (lb/ac)": product_rate_lb_ac, "% N": product_n_pct}']),
        (of("treatments", "trial_id", "treatment_code", "n_source", "n_rate_lb_ac", "timing", "% N"), 1, "passes",
         ["same_for_all:", "  treatments: {passes: <passes>}"]),
        (of("Cut", "trial_id", "Weird", is_sheet=False), 1, "name the file for", ["tables: {Cut: <our table>}"]),
        (of("Cut", "block", "outcome"), 4, "by its headings it may be plots",
         ["same_for_all:", '  plots: {trial_id: <trial_id>, plot: "row {row}"}', "tables: {Cut: plots}"]),
        (of("Cut", "trial_id", "treatment_code"), 1, "weather_daily);", ["tables: {Cut: <our table>}"]),
        (of("plots", *PLOTS, "Pick 1 lb", "Net lbs", "Plot"), 1, '"plot" and "Plot" both', []),
        (of("plots", *PLOTS[:4], "Pick 1 lb", "Net lbs"), 2, "for the whole plot, put into",
         ["same_for_all:", "  plots: {outcome: harvested}"]),
    ],
    ids=lambda value: value.table if isinstance(value, Sheet) else None,
)  # fmt: skip
def test_what_is_proposed(sheet, n_problems, in_the_first, lines):
    found = misfits(sheet)
    assert len(found.problems) == n_problems and in_the_first in found.problems[0]
    assert found.proposal.lines() == lines
    assert ("Deliver picks in the table harvests" in found.problems[0]) == ("whole plot" in in_the_first)


def test_a_sheet_that_headings_yml_calls_no_table_is_not_looked_at():
    words = SendersWords(tables={"photos": NO_TABLE})
    check_fit([of("photos", "a", "a")], words, file="x", folder=FOLDER, season=2094)
    with pytest.raises(Misfits, match='"other" is no table of ours'):
        check_fit([of("photos", "a"), of("other", "a")], words, file="x", folder=FOLDER, season=2094)
