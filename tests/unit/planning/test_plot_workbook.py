"""A workbook that is made, filled with openpyxl as a person would, and delivered."""

import csv
import re
from datetime import date, datetime
from pathlib import Path
from zipfile import ZipFile

import pandas as pd
import pytest
from openpyxl import load_workbook

from pipeline.contract.tables import declared_tables
from pipeline.errors import UserError
from pipeline.incoming.readers import read_file
from pipeline.planning.layout import plan_of_plots
from pipeline.planning.plot_workbook import SHEETS, write_plot_workbook
from pipeline.planning.workbook_fields import fields_of

REFERENCE = Path(__file__).parents[3] / "sql" / "reference"
TRIAL = "2091-A-corn-1"


def known_words():
    found = {}
    for name in ("crops", "n_sources", "n_products"):
        with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            found[f"reference.{name}"] = tuple(row["word"] for row in csv.DictReader(file))
    return found


def tables(crop="corn", **trial):
    trials = {
        "trial_id": TRIAL,
        "season": 2091,
        "site_id": "Alder Bench",
        "crop": crop,
        "design": "RCBD",
        "planted": "2091-05-02",
        "row_spacing_in": 30,
        "outcome": "planned",
    } | trial
    heads = [
        "treatment_code",
        "n_source",
        "coated_n_fraction",
        "n_rate_lb_ac",
        "timing",
        "passes",
        "placement",
        "is_zero_n",
        "factor_variety",
    ]
    rows = [
        ("ZERO", "none", None, 0, "none", 0, "none", "yes", "K1"),
        ("1-1", "urea", None, 120, "at planting", 1, "broadcast", "no", "K1"),
        ("C-120", "coated blend", 0.5, 120, "at planting", 1, "broadcast", "no", "K1"),
    ]
    applied = [
        "treatment_code",
        "application",
        "product",
        "product_n_pct",
        "n_rate_lb_ac",
        "placement",
        "counts_toward",
    ]
    applications = [
        ("1-1", "at planting", "urea", 46, 120, "broadcast", "treatment"),
        ("C-120", "at planting urea", "urea", 46, 60, "broadcast", "treatment"),
        ("C-120", "at planting coated", "coated urea", 44, 60, "broadcast", "treatment"),
    ]
    return {
        "trials": pd.DataFrame([trials]),
        "treatments": pd.DataFrame(rows, columns=heads).assign(trial_id=TRIAL),
        "nitrogen_applications": pd.DataFrame(applications, columns=applied).assign(trial_id=TRIAL),
    }


def plan(**changed):
    return plan_of_plots(tables()["treatments"], **{"design": "RCBD", "n_blocks": 3, "random_seed": 17} | changed)


@pytest.fixture
def workbook(tmp_path):
    path = tmp_path / "plots of one trial.xlsx"
    write_plot_workbook(path, tables(), plan(), known_words(), random_seed=17)
    return path


def test_no_library_is_its_author(workbook):
    with ZipFile(workbook) as parts:
        said = parts.read("docProps/core.xml").decode("utf-8")
    assert "created" in said and "creator" not in said and "lastModifiedBy" not in said


def column(sheet, heading):
    return next(cell.column for cell in sheet[1] if cell.value == heading)


def fill(path):
    """What a cooperator types in."""
    book = load_workbook(path)
    trials, plots = book["trials"], book["plots"]
    trials.cell(2, column(trials, "outcome")).value = "harvested"
    trials.cell(2, column(trials, "harvested")).value = datetime(2091, 10, 4)
    for row in range(2, plots.max_row + 1):
        typed = {"harvest_weight_lb": 40 + row / 10, "moisture_pct": 18.2, "harvest_length_ft": 30,
                 "harvest_width_ft": 5,
                 "rows_harvested": 2, "outcome": "harvested"}  # fmt: skip
        for heading, value in typed.items():
            plots.cell(row, column(plots, heading)).value = value
    book.save(path)


def read(path):
    return {sheet.table: sheet for sheet in read_file(path, name=path.name)}


def test_gray_cells_are_no_mark_of_somebodys(workbook):
    assert tables()["treatments"]["coated_n_fraction"].isna().any(), "a column that is given in part"
    assert [note for sheet in read(workbook).values() for note in sheet.notes] == []
    book = load_workbook(workbook)
    plots = book["plots"]
    plots.cell(plots.max_row + 1, column(plots, "trial_id")).value = "scale set anew after plot 201"
    book.save(workbook)
    said = [note.what for sheet in read(workbook).values() for note in sheet.notes]
    assert "marked_by_color" not in said, "a white row below the gray ones"


def test_only_the_four_tables_are_read_and_every_heading_is_declared(workbook):
    sheets = read(workbook)
    assert tuple(sheets) == SHEETS
    for name, sheet in sheets.items():
        assert all(declared_tables()[name].knows(heading) for heading in sheet.headings)


def test_our_own_sheets_are_passed_over_in_silence_and_a_strangers_are_not(workbook):
    said = [note.sentence for sheet in read(workbook).values() for note in sheet.notes]
    assert not [sentence for sentence in said if "passed over" in sentence]
    book = load_workbook(workbook)
    book["_words"]["A1"], book["instructions"]["A1"] = "yields", "what we did"
    book.create_sheet("_more").append(["anything"])
    book.save(workbook)
    notes = [note for sheet in read(workbook).values() for note in sheet.notes if note.what == "sheet_passed_over"]
    assert {note.found for note in notes} == {"_words", "instructions", "_more"}


def test_what_was_given_comes_back_as_it_was_typed(workbook):
    sheets = read(workbook)
    for name, frame in tables().items():
        for heading in frame:
            typed = [None if pd.isna(value) else str(value) for value in frame[heading]]
            assert sheets[name].columns[heading] == typed, (name, heading)


def test_plots_are_the_plan_in_field_order(workbook):
    plots = read(workbook)["plots"]
    assert plots.columns["plot"] == [str(number) for number in plan()["plot"]]
    assert plots.columns["treatment_code"] == list(plan()["treatment_code"])
    assert set(plots.columns["trial_id"]) == {TRIAL}
    assert "main_plot" not in plots.headings


def test_text_stays_text(workbook):
    book = load_workbook(workbook)
    for name, headings in {"plots": ["plot", "block", "treatment_code"], "treatments": ["treatment_code"]}.items():
        for heading in headings:
            cell = book[name].cell(2, column(book[name], heading))
            assert (cell.number_format, cell.data_type) == ("@", "s")
    trials = book["trials"]
    assert trials.cell(2, column(trials, "planted")).value == datetime.combine(date(2091, 5, 2), datetime.min.time())


@pytest.mark.parametrize("opening", ["=", "+", "-", "@", "\uff1d"])
def test_a_code_that_opens_like_a_formula_is_no_formula(tmp_path, opening):
    """A spreadsheet program shows such a cell as it does after a typed apostrophe (quotePrefix in ECMA-376, part 1)."""
    path, code = tmp_path / "plots.xlsx", f"{opening}1+1"
    given = {name: frame.replace("C-120", code) for name, frame in tables().items()}
    write_plot_workbook(path, given, plan().replace("C-120", code), known_words(), random_seed=17)
    sheet = load_workbook(path)["treatments"]
    (cell,) = [cell for cell in sheet["B"] + sheet["A"] if cell.value == code]
    assert (cell.data_type, cell.quotePrefix) == ("s", True)
    assert code in read(path)["plots"].columns["treatment_code"]


def rules_of(book, name):
    """heading -> its data validation."""
    sheet = book[name]
    of_letter = {cell.column_letter: cell.value for cell in sheet[1]}
    found = {}
    for rule in sheet.data_validations.dataValidation:
        letter = str(rule.sqref).split("2")[0]
        found[of_letter[letter]] = rule
    return found


def test_the_sheet_enforces_words_and_hard_ranges(workbook):
    book = load_workbook(workbook)
    plots = rules_of(book, "plots")
    moisture, outcome = plots["moisture_pct"], plots["outcome"]
    assert (moisture.type, float(moisture.formula1), float(moisture.formula2)) == ("decimal", 8, 45)
    assert moisture.errorStyle == "stop" and "13 to 28" in moisture.prompt
    assert outcome.type == "list" and outcome.prompt.startswith("Required.")
    place = outcome.formula1.split("!")[1].replace("$", "")
    assert [row[0].value for row in book["_words"][place]] == ["harvested", "damaged", "replanted", "lost"]
    passes = rules_of(book, "treatments")["passes"]
    assert (passes.type, float(passes.formula1), float(passes.formula2)) == ("whole", 0, 9)
    planted = rules_of(book, "trials")["planted"]
    assert planted.type == "date"
    assert str(plots["harvest_weight_lb"].sqref).endswith("10")  # 9 plots under the headings


def test_required_headings_are_bold_on_grey_over_a_thick_line(workbook):
    heads = {cell.value: cell for cell in load_workbook(workbook)["plots"][1]}
    required, free = heads["outcome"], heads["notes"]
    assert required.font.bold and required.border.bottom.style == "thick"
    assert not free.font.bold and free.border.bottom.style == "thin"
    assert required.fill.start_color.rgb != free.fill.start_color.rgb


def test_instructions_name_seed_and_every_column(workbook):
    book = load_workbook(workbook)
    text = "\n".join(str(cell.value) for row in book["instructions"] for cell in row if cell.value is not None)
    assert "random seed 17" in text and "certified crop adviser" in text
    for name in SHEETS:
        assert all(cell.value in text for cell in book[name][1])
    assert book.sheetnames[0] == "instructions" and book["_words"].sheet_state == "hidden"


def test_the_plan_of_plots_lies_as_in_the_field(workbook):
    sheet = load_workbook(workbook)["_plan of plots"]
    for plot in plan().itertuples():
        at = 5 + 2 * (plot.block - 1), 1 + plot.position
        assert sheet.cell(*at).value == f"{plot.plot}\n{plot.treatment_code}"
        below = sheet.cell(at[0] + 1, at[1])
        assert below.value is None and below.border.bottom.style == "thin", "room to write in"


def computed(sheet, formula: str) -> float | str:
    """A formula of the plan sheet, worked out as a spreadsheet does: IF, OR, ROUND and cell names alone."""
    names = {name: sheet[name].value for name in set(re.findall(r"\b[A-Z]+\d+\b", formula))}
    text = formula.removeprefix("=").replace('=""', ' in ("", None)')
    functions = {
        "IF": lambda test, then, other: then if test else other(),
        "OR": lambda *tests: any(tests),
        "ROUND": round,
    }
    head, _, last = text.rpartition(",ROUND(")
    return eval(
        f"{head}, lambda: ROUND({last}",
        functions | {k: computed(sheet, v) if str(v).startswith("=") else v for k, v in names.items()},
    )


def test_the_plan_says_what_to_weigh_out_for_each_plot(workbook):
    """120 lb N/ac of urea at 46 % N on 10 by 40 feet: 120 / 0.46 * 400 / 43,560 = 2.40 lb (arithmetic)."""
    sheet = load_workbook(workbook)["_plan of plots"]
    assert [sheet["A3"].value, sheet["C3"].value, sheet["G3"].value] == [
        "Planned plot length, ft", "Planned plot width, ft", "North is toward",
    ]  # fmt: skip
    rows = {(row[0].value, row[2].value): row for row in sheet.iter_rows(min_row=10) if row[2].value}
    urea = rows["1-1", "urea"]
    assert computed(sheet, urea[5].value) == pytest.approx(260.9) and computed(sheet, urea[6].value) == ""
    sheet["B3"], sheet["D3"] = 40, 10
    assert computed(sheet, urea[6].value) == pytest.approx(2.40)
    assert rows["ZERO", "none"][4].value == 0 and computed(sheet, rows["ZERO", "none"][5].value) == ""
    urea[3].value = 40  # another label
    assert computed(sheet, urea[6].value) == pytest.approx(2.75)


def test_crop_and_given_headings_choose_the_columns():
    words, plots = known_words(), declared_tables()["plots"]
    headings = {
        crop: [field.heading for field in fields_of(plots, [], {crop: product}, 2091, words)]
        for crop, product in (("corn", "grain"), ("cotton", "lint"))
    }
    assert "moisture_pct" in headings["corn"] and "gin_turnout_fraction" not in headings["corn"]
    assert not [heading for heading in headings["corn"] if "gin" in heading]
    assert (
        "gin_turnout_fraction" in headings["cotton"]
        and "gin_turnout_level" in headings["cotton"]
        and "moisture_pct" not in headings["cotton"]
    )
    metric = {
        f.heading: f
        for f in fields_of(
            declared_tables()["treatments"], ["n_rate_kg_ha", "factor_stand"], {"corn": "grain"}, 2091, words
        )
    }
    # 500 lb/ac is 560.4 kg/ha; a limit is rounded outward
    assert metric["n_rate_kg_ha"].limits == pytest.approx((0, 560.426), abs=1e-9)
    assert list(metric)[-1] == "factor_stand" and "n_rate_lb_ac" not in metric


def test_a_split_plot_workbook_names_its_main_plots(tmp_path):
    given = tables(design="split-plot")
    given["treatments"] = pd.concat([given["treatments"], given["treatments"].tail(1).assign(treatment_code="C-160")])
    frame = given["treatments"].assign(whole=["a", "a", "b", "b"])
    laid = plan_of_plots(frame, design="split-plot", n_blocks=2, random_seed=3, main_plot_column="whole")
    write_plot_workbook(tmp_path / "w.xlsx", given, laid, known_words(), random_seed=3)
    assert read(tmp_path / "w.xlsx")["plots"].columns["main_plot"] == ["A", "A", "B", "B"] * 2


def test_a_filled_workbook_loads_as_a_delivery(workbook, tiny):
    """As it is sent back, without edits: every plot used, nothing held, nothing set aside."""
    fill(workbook)
    season = tiny.folder / "seasons" / "2091"
    (season / workbook.name).write_bytes(workbook.read_bytes())
    with tiny.loaded() as warehouse:
        used = warehouse.read("select * from trials.plots where trial_id = ? order by plot", [TRIAL])
        held = warehouse.table("trials.held_trials")
        findings = warehouse.read("select * from trials.findings where file like '%.xlsx' and severity <> 'noted'")
    assert held.empty and findings.empty, findings.to_string()
    assert list(used["plot"]) == [str(number) for number in plan()["plot"]]
    assert list(used["treatment_code"]) == list(plan()["treatment_code"])
    assert set(used["fate"]) == {"used"}
    # the first plot: 40.2 lb at 18.2 % from 150 ft2, in lb/ac at 15.5 %
    standard = 40.2 * (100 - 18.2) / (100 - 15.5) / (150 / 43560)
    assert used["yield_kg_ha"].iloc[0] == pytest.approx(standard * 1.120851156, rel=1e-8)


@pytest.mark.parametrize(
    "spoil, words",
    [
        (
            lambda t: t["trials"].rename(columns={"outcome": "outcme"}),
            'trials has no column "outcme": did you mean "outcome"',
        ),
        (lambda t: t["trials"].assign(row_spacing_in="wide"), '"wide" under row_spacing_in is not a number'),
        (lambda t: t["trials"].assign(planted="in May"), '"in May" under planted is not a date'),
        (lambda t: t["trials"].drop(columns="season"), "trials needs season"),
        (lambda t: pd.concat([t["trials"]] * 2), "for one trial"),
    ],
)
def test_what_does_not_fit_is_named(tmp_path, spoil, words):
    given = tables()
    given["trials"] = spoil(given)
    with pytest.raises(UserError, match=words):
        write_plot_workbook(tmp_path / "w.xlsx", given, plan(), known_words(), random_seed=1)


def test_a_plan_of_other_treatments_is_refused(tmp_path):
    with pytest.raises(UserError, match="lacks: X-1"):
        write_plot_workbook(tmp_path / "w.xlsx", tables(), plan().replace("C-120", "X-1"), known_words(), random_seed=1)


def test_a_missing_word_list_or_folder_is_named(tmp_path):
    with pytest.raises(UserError, match="reference.crops are missing"):
        write_plot_workbook(tmp_path / "w.xlsx", tables(), plan(), {}, random_seed=1)
    with pytest.raises(UserError, match="cannot be written"):
        write_plot_workbook(tmp_path / "no" / "w.xlsx", tables(), plan(), known_words(), random_seed=1)
