"""What is read of a file follows what headings.yml says now, whatever it said when the same content came first."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from pipeline.errors import UserError
from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.deliveries import DeliveredFile, find_files
from pipeline.incoming.headings import SendersWords, WideColumn
from pipeline.incoming.sheet import Note, Sheet
from pipeline.provenance import start_run
from pipeline.settings.program import read_program
from pipeline.steps import loading
from pipeline.steps.readings import Readings, words_sha256
from pipeline.warehouse import Warehouse, memory_of
from tests import examples
from tests.ods import ods_bytes
from tests.tiny_program import TinyProgram, write_tiny_program

# each another reading of one of the files below, or none of any
WORDS = {
    "nothing": "words: {}\n",
    "codes alone": "words: {treatments: {n_source: {carbamide: urea}}}\n",
    "another unit than beneath": "headings: {plots: {harvest_weight: harvest_weight_kg}}\n",
    "a sheet is no table": "tables: {picks: none}\n",
    "a sheet of photos is no table": "tables: {blocks: plots, photos: none}\n",
    "a sheet is another table": "tables: {picks: plots, blocks: plots}\n",
    "a merged column names things": "headings: {plots: {rep: block}}\ntables: {blocks: plots}\n",
    "the commas": 'read_as: {"harvest.csv": [semicolons, decimal commas]}\n',
}
FILES = ("plots.csv", "harvest.csv", "sheets.ods", "merged.xlsx")


def contents(tiny: TinyProgram) -> dict[str, bytes]:
    """Files whose reading depends on their sender's words."""
    heads, *rows = tiny.rows("plots")
    bare = ["harvest_weight" if head == "harvest_weight_lb" else head for head in heads]
    units = ["lb" if head == "harvest_weight" else "" for head in bare]
    text = "\n".join(",".join(row) for row in [bare, units, *rows])
    book = Workbook()
    book.active.title = "blocks"
    for row in [["rep" if head == "block" else head for head in heads], *rows[:6]]:
        book.active.append(row)
    book.active.merge_cells("B2:B4")
    book.create_sheet("photos").append(["plot", "photo"])
    book["photos"].append(["102", "102.jpg"])
    stream = io.BytesIO()
    book.save(stream)
    return {
        "plots.csv": text.encode(),
        "harvest.csv": b"trial_id;plot;moisture_pct\n2091-A-corn;102;18,250\n",
        "sheets.ods": ods_bytes({"plots": [heads, *rows[:6]], "picks": [heads, *rows[6:]]}),
        "merged.xlsx": stream.getvalue(),
    }


def load(warehouse: Warehouse, folder: Path) -> dict[str, pd.DataFrame]:
    """What a run makes of the deliveries up to staging, with the reasons of files that are held."""
    files = find_files(folder)
    accompanying, card = (
        read_accompanying(folder, [f.folder for f in files]),
        start_run("report", folder / "program.yml"),
    )
    loading.store_arrivals(warehouse, files, accompanying, card, lambda text: None)
    loading.build_staging(warehouse, read_program(folder), accompanying)
    asked = {name: f"from staging.{name}" for name in ("plots", "headings", "rows_left_out")}
    asked["held"] = "select file, held_because from raw.current_files"
    asked["notes"] = "select c.file, n.* exclude (sha256, table_name) from raw.notes as n, staging.contents as c"
    asked["notes"] += " where c.content = n.sha256"
    rows = {name: f"select cast(t as varchar) as row from ({query}) as t order by row" for name, query in asked.items()}
    return {name: warehouse.read(query) for name, query in rows.items()}


def alike(one: dict[str, pd.DataFrame], other: dict[str, pd.DataFrame]) -> list[str]:
    """Names of what differs."""
    return [name for name, rows in one.items() if not rows.equals(other[name])]


EDITS = st.tuples(st.sampled_from(("north", "south")), st.sampled_from((*WORDS, *FILES, "moved")))


@settings(max_examples=examples.examples(2, 12), deadline=None)
@given(edits=st.lists(EDITS, min_size=2, max_size=6))
def test_any_edits_of_words_and_files_end_as_from_nothing(tmp_path_factory, edits):
    """Files with the same bytes lie in two folders, each with words of its own."""
    folder = write_tiny_program(tmp_path_factory.mktemp("read") / "program").folder
    known = contents(TinyProgram(folder))
    for sender in ("north", "south"):
        (folder / "seasons/2091" / sender).mkdir()
    with memory_of(folder / "warehouse.duckdb") as warehouse:
        for sender, edit in edits:
            mail = folder / "seasons/2091" / sender
            if edit in WORDS:
                (mail / "headings.yml").write_text(WORDS[edit], encoding="utf-8")
            elif edit in known:
                (mail / edit).unlink() if (mail / edit).exists() else (mail / edit).write_bytes(known[edit])
            else:
                for file in [file for file in mail.iterdir() if file.name in FILES]:
                    file.rename(mail.with_name("south" if sender == "north" else "north") / file.name)
            after = load(warehouse, folder)
        with memory_of(folder / "warehouse.duckdb") as fresh:
            assert alike(after, load(fresh, folder)) == []


@pytest.mark.parametrize(
    "edit", ["another unit than beneath", "a sheet is no table", "a merged column names things", "the commas"]
)
@pytest.mark.parametrize("goes", [False, True], ids=["comes", "goes"])
def test_words_that_come_or_go_after_the_file(tiny, edit, goes):
    mail = tiny.folder / "seasons/2091/north"
    mail.mkdir()
    for name, content in contents(tiny).items():
        (mail / name).write_bytes(content)
    before, after = (WORDS[edit], WORDS["nothing"]) if goes else (WORDS["nothing"], WORDS[edit])
    with memory_of(tiny.folder / "warehouse.duckdb") as warehouse, memory_of(tiny.folder / "x.duckdb") as fresh:
        (mail / "headings.yml").write_text(before)
        first = load(warehouse, tiny.folder)
        (mail / "headings.yml").write_text(after)
        second = load(warehouse, tiny.folder)
        assert alike(second, load(fresh, tiny.folder)) == [] != alike(first, second)


def test_words_that_change_no_reading_store_nothing_again(tiny):
    with memory_of(tiny.folder / "warehouse.duckdb") as warehouse:
        load(warehouse, tiny.folder)
        stored = [warehouse.read(f"from raw.{name}") for name in ("files", "sheets", "rows", "notes")]
        (tiny.folder / "seasons/2091/headings.yml").write_text("tables: {photos: none}\n")
        load(warehouse, tiny.folder)
        for before, name in zip(stored, ("files", "sheets", "rows", "notes"), strict=True):
            pd.testing.assert_frame_equal(before, warehouse.read(f"from raw.{name}"))
        assert len(warehouse.read("from raw.readings")) == 7 + 5 + 7


@pytest.mark.parametrize(
    ("before", "edit"),
    [
        ("nothing", "another unit than beneath"),
        ("a sheet is no table", "nothing"),
        ("the commas", "a sheet is no table"),
        ("another unit than beneath", "another unit than beneath"),
    ],
)
def test_a_warehouse_of_an_earlier_version_is_read_by_the_words_of_now(tiny, before, edit):
    """It kept one reading of a content, and not by which words; what it kept and what is the same is not stored
    again.
    """
    mail = tiny.folder / "seasons/2091/north"
    mail.mkdir()
    for name, content in contents(tiny).items():
        (mail / name).write_bytes(content)
    with memory_of(tiny.folder / "warehouse.duckdb") as warehouse, memory_of(tiny.folder / "x.duckdb") as fresh:
        (mail / "headings.yml").write_text(WORDS[before])
        load(warehouse, tiny.folder)
        warehouse.execute("delete from raw.readings")
        kept = [warehouse.read(f"from raw.{name}") for name in ("files", "sheets", "rows", "notes")]
        (mail / "headings.yml").write_text(WORDS[edit])
        assert alike(load(warehouse, tiny.folder), load(fresh, tiny.folder)) == []
        for name, rows in zip(("files", "sheets", "rows", "notes"), kept, strict=True):
            now = warehouse.read(f"from raw.{name}")
            pd.testing.assert_frame_equal(now.head(len(rows)), rows, check_dtype=False)
            assert before != edit or len(now) == len(rows)


def test_a_file_that_is_saved_while_it_is_read_stops_the_run(tiny, monkeypatch):
    """Its rows would be stored for what was there before, and be taken for that when it comes back."""

    def saved_meanwhile(delivered, *others):
        if delivered.file == "seasons/2092/plots.csv":
            tiny.change("plots", 2, "harvest_weight_lb", "99", 2092)
        return read(delivered, *others)

    read = loading.read_sheets
    monkeypatch.setattr(loading, "read_sheets", saved_meanwhile)
    with memory_of(tiny.folder / "warehouse.duckdb") as warehouse:
        with pytest.raises(UserError, match="seasons/2092/plots.csv was changed while it was read"):
            load(warehouse, tiny.folder)


def test_a_reading_is_stored_by_itself_where_a_cell_or_a_note_is_other():
    mail = DeliveredFile(Path("plots.csv"), "seasons/2091/plots.csv", "seasons/2091", 2091, "abc", 1)
    sheet = Sheet("plots", None, ["plot"], ["Plot"], 1, {"plot": ["101", "102"]}, [2, 3])
    noted = replace(sheet, notes=[Note(None, None, "x", "read_otherwise", "x")])
    other_cell = replace(sheet, columns={"plot": ["101", "101"]})
    with memory_of(Path("not there")) as warehouse:
        readings = Readings(warehouse)
        for said, each in (("a", sheet), ("b", noted), ("c", other_cell), ("d", sheet), ("e", noted)):
            readings.take(mail, SendersWords(tables={said: "plots"}), [each])
        readings.store_known()
        known = warehouse.read("from raw.readings")["content"]
        again = Readings(warehouse)
        assert [again.content(mail, SendersWords(tables={said: "plots"})) for said in "abcdef"] == [*known, None]
        assert (known == known[0]).tolist() == [True, False, False, True, False]
        assert known[1] == known[4] != known[2] and known[0] == "abc"
        assert warehouse.read("select count(*) as n from raw.rows group by sha256")["n"].tolist() == [2, 2, 2]
        assert len(warehouse.read("from raw.sheets")) == 3 and len(warehouse.read("from raw.notes")) == 1


def test_a_held_file_whose_content_is_known_by_another_name_is_told_the_same_on_every_run(tiny):
    """Its rows were not counted on the second run, and it was asked for another thing: its cells were not looked at."""
    heads, *rows = tiny.rows("trials")
    at = heads.index("trial_id")
    tiny.write("list", [[cell for i, cell in enumerate(row) if i != at] for row in (heads, *rows)])
    tiny.path("trials").unlink()
    (tiny.folder / "seasons/2091/headings.yml").write_text(
        'tables: {list: trials}\nsame_for_all: {list: {trial_id: "2091-{crop}"}}\n', encoding="utf-8"
    )
    tiny.path("copy").write_bytes(tiny.path("list").read_bytes())
    held = "select file, held_because, held_rows from raw.current_files where file like '%/copy.csv'"
    with memory_of(tiny.folder / "not there.duckdb") as warehouse:
        load(warehouse, tiny.folder)
        first = warehouse.execute(held).fetchall()
        load(warehouse, tiny.folder)
        assert warehouse.execute(held).fetchall() == first
        assert len(first) == 1 and "<trial>-{crop}" in first[0][1] and first[0][2] == len(rows)
        assert warehouse.execute("select count(*) from raw.files where file like '%/copy.csv'").fetchone() == (1,)


SAID = SendersWords(
    tables={"picks": "plots"},
    headings={("plots", "weight"): "harvest_weight_lb"},
    same_for_all={("plots", "outcome"): "harvested"},
    wide={("plots", "rep_1"): WideColumn("yield_bu_ac", (("block", "1"),))},
    read_as={"plots.csv": ("semicolons",)},
)


@pytest.mark.parametrize(
    ("part", "instead"),
    [
        ("tables", {"picks": "harvests"}),
        ("headings", {("plots", "weight"): "harvest_weight_kg"}),
        ("same_for_all", {("plots", "cause"): "harvested"}),
        ("wide", {("plots", "rep_1"): WideColumn("yield_bu_ac", (("block", "2"),))}),
        ("read_as", {"plots.csv": ("semicolons", "decimal commas")}),
    ],
)
def test_a_reading_is_known_by_each_part_that_may_decide_it(part, instead):
    """Else a file that came by other words would stay as it was read then."""
    known = words_sha256(SAID, "seasons/2091/plots.csv")
    assert words_sha256(replace(SAID, **{part: instead}), "seasons/2091/plots.csv") != known
    assert words_sha256(replace(SAID, **{part: {}}), "seasons/2091/plots.csv") != known
    assert words_sha256(SendersWords(**{part: instead}), "seasons/2091/plots.csv") != ""


def test_what_translates_cells_or_speaks_of_another_file_decides_no_reading():
    words = {("treatments", "n_source", "carbamide"): "urea"}
    assert words_sha256(SendersWords(words=words), "seasons/2091/plots.csv") == ""
    assert words_sha256(SendersWords(read_as=SAID.read_as), "seasons/2091/trials.csv") == ""
