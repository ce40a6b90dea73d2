"""The trial workbook: sent out empty, filled in, and delivered as it is."""

from __future__ import annotations

from zipfile import ZipFile

import pandas as pd
import pytest
from openpyxl import load_workbook

from pipeline.contract.tables import declared_tables
from pipeline.incoming.readers import read_file
from pipeline.incoming.sheet import tidy_heading
from pipeline.planning.trial_workbook import SHEETS, trial_workbook_fields, write_trial_workbook
from pipeline.planning.worked_example import worked_example

CROPS = {"corn": "grain", "cotton": "lint"}


def write(folder, crops=CROPS, units="us", rows=None):
    path = folder / "trials.xlsx"
    write_trial_workbook(path, program="Tiny trials", season=2093, crops=crops, display_units=units, rows=rows)
    return path


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """The workbook as it is sent out, empty; only to be read."""
    return write(tmp_path_factory.mktemp("sent"))


def filled(folder, crop="corn", units="us"):
    crops = {crop: CROPS.get(crop, "grain")}
    return write(folder, crops, units, worked_example(trial_workbook_fields(crops, 2093, units), crop))


def fields(crops=CROPS, units="us"):
    return {
        table: {field.heading: field for field in of_table}
        for table, of_table in trial_workbook_fields(crops, 2093, units).items()
    }


def test_no_library_is_its_author(sent):
    with ZipFile(sent) as parts:
        said = parts.read("docProps/core.xml").decode("utf-8")
    assert "created" in said and "creator" not in said and "lastModifiedBy" not in said


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_heading_is_a_declared_one_and_only_tables_are_read(tmp_path, units):
    sheets = {sheet.table: sheet for sheet in read_file(write(tmp_path, units=units), name="trials.xlsx")}
    assert tuple(sheets) == SHEETS
    for name, sheet in sheets.items():
        assert sheet.headings == list(fields(units=units)[name])
        assert not declared_tables()[name].lacking(sheet.headings)
        assert not sheet.row_numbers and not sheet.notes, "nothing was delivered, and nothing is said of it"


def test_a_heading_has_its_unit_in_a_line_of_its_own(sent):
    heads = [cell.value for cell in load_workbook(sent)["plots"][1]]
    assert {"harvest weight\nlb", "moisture\npct", "yield bu ac", "outcome"} <= set(heads)
    assert tidy_heading("n rate\nlb/ac") == "n_rate_lb_ac"


def test_metric_programs_get_metric_headings():
    metric = fields(units="metric")
    told = {name for of_table in metric.values() for name in of_table}
    assert {"harvest_weight_kg", "n_rate_kg_ha", "rain_mm", "temp_max_c", "row_spacing_cm"} <= told
    assert not {"harvest_weight_lb", "n_rate_lb_ac", "rain_in", "temp_max_f"} & told


def test_crops_choose_columns_words_and_ranges():
    assert "moisture_pct" not in fields({"cotton": "lint"})["plots"]
    both = fields({"corn": "grain", "soybean": "grain"})
    assert both["plots"]["moisture_pct"].limits == (
        5,
        45,
    ), "from the lowest to the highest of the crops that have a range"
    assert both["trials"]["crop"].words == ("corn", "soybean")


def test_a_crop_of_the_programs_own_has_the_columns_of_its_product_without_their_ranges():
    own = fields({"sorghum": "grain"})["plots"]
    assert "moisture_pct" in own and "gin_turnout_fraction" not in own
    assert own["moisture_pct"].limits == (-1e9, 1e9)
    assert "gin_turnout_fraction" in fields({"flax": "lint"})["plots"]


def test_words_limits_and_meanings_are_those_of_the_contract(sent):
    book = load_workbook(sent)
    rules = {str(rule.sqref): rule for rule in book["trials"].data_validations.dataValidation}
    letters = {tidy_heading(cell.value): cell.column_letter for cell in book["trials"][1]}
    design = rules[f"{letters['design']}2:{letters['design']}5000"]
    place = design.formula1.split("!")[1].replace("$", "")
    column = next(column for column in declared_tables()["trials"].columns if column.name == "design")
    assert tuple(row[0].value for row in book["_words"][place]) == column.words
    assert design.prompt.startswith("Required. ")
    heads = {tidy_heading(cell.value): cell for cell in book["trials"][1]}
    assert heads["crop"].font.bold and not heads["planted"].font.bold


def test_the_first_sheet_says_where_to_send_it_and_cautions_and_every_column_is_explained(sent):
    book = load_workbook(sent)
    assert book.sheetnames == ["Read me", "Example", *SHEETS, "Columns", "_words"]
    texts = {name: [str(c.value) for row in book[name] for c in row if c.value is not None] for name in book.sheetnames}
    assert "Send it back to" in texts["Read me"]
    assert any("certified crop adviser" in text for text in texts["Read me"])
    assert all(field.meaning in texts["Columns"] for of_table in fields().values() for field in of_table.values())


def test_the_example_is_no_table_even_when_its_title_is_gone(sent, tmp_path):
    path = tmp_path / sent.name
    book = load_workbook(sent)
    book["Example"]["A1"] = None
    book.save(path)
    sheets = read_file(path, name=path.name)
    assert [sheet.table for sheet in sheets] == list(SHEETS)
    assert [note.found for sheet in sheets for note in sheet.notes] == ["Example"]


def delivered(tiny, path):
    season = tiny.folder / "seasons" / "2093"
    season.mkdir()
    (season / path.name).write_bytes(path.read_bytes())
    return tiny.checked()


def test_sent_back_empty_it_delivers_nothing_and_is_not_refused(sent, tiny):
    tables = delivered(tiny, sent)
    assert set(tables["reports.trials"]["season"]) == {2091, 2092}
    findings = tables["reports.findings"]
    assert not findings["file"].str.contains("trials.xlsx", na=False).any()


@pytest.mark.parametrize(("crop", "units"), [("corn", "us"), ("cotton", "us"), ("soybean", "metric")])
def test_a_filled_one_loads_every_row_without_an_open_question(tmp_path, tiny, crop, units):
    tables = delivered(tiny, filled(tmp_path, crop, units))
    findings = tables["reports.findings"]
    mine = findings[findings["file"].str.contains("trials.xlsx", na=False)]
    assert not len(mine[mine["severity"] != "noted"]), mine.to_string()
    plots = tables["reports.plots"]
    plots = plots[plots["trial_id"] == f"2093-QF-{crop}"]
    assert len(plots) == 16 and set(plots["fate"]) == {"used"}
    counts = tables["reports.row_counts"].query("season == 2093").set_index("table_name")["used"]
    assert counts.to_dict() == {
        "sites": 1,
        "trials": 1,
        "treatments": 4,
        "nitrogen_applications": 6,
        "plots": 16,
        "weather_daily": 10,
    }


def test_the_example_yields_what_it_was_made_for():
    """Middle of the usual range of corn, 170 bu/ac, times the share of each treatment, within block and plot noise."""
    rows = worked_example(trial_workbook_fields({"corn": "grain"}, 2093, "us"), "corn")["plots"]
    acres = 30 * 5 / 43_560
    bushels = rows["harvest_weight_lb"] / acres / 56 * (100 - 18.2) / (100 - 15.5)
    means = pd.Series(bushels.values, rows["treatment_code"]).groupby(level=0).mean() / 170
    assert means.to_dict() == pytest.approx({"ZERO": 0.62, "U-120": 0.98, "U2-120": 1.03, "C50-120": 1.04}, abs=0.06)
