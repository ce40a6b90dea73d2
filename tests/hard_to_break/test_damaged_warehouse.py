"""A warehouse that is damaged, foreign or of another shape: one true message, and the file is kept as it is."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.__main__ import main
from pipeline.warehouse import _cannot_open
from tests.examples import examples
from tests.tiny_program import TinyProgram, no_estimates

VERBS = (["findings"], ["plan"], ["report"])


@pytest.fixture(scope="module")
def stored(estimated_program) -> bytes:
    return (estimated_program / "warehouse.duckdb").read_bytes()


def said_of(tiny, capsys, words: list[str]) -> tuple[int, str]:
    parts = {"estimate": no_estimates, "publish": lambda outcome: None} if words == ["report"] else {}
    capsys.readouterr()
    status = main([*words, "--program", str(tiny.folder)], **parts)
    return status, capsys.readouterr().err


FIRST_BYTES = "first bytes"


@pytest.mark.parametrize("seed", [FIRST_BYTES, *range(examples(1, 60))])
def test_flipped_bytes_are_no_fault_of_ours_and_no_lock(stored, estimated_program, tmp_path, capsys, seed):
    """The first bytes are needed by every verb; of those that are drawn many lie where none looks."""
    tiny = TinyProgram(shutil.copytree(estimated_program, tmp_path / "program"))
    drawn = random.Random(seed)
    damaged = bytearray(stored)
    at = 0 if seed == FIRST_BYTES else drawn.randrange(len(stored) - 64)
    damaged[at : at + 64] = drawn.randbytes(64)
    file = tiny.folder / "warehouse.duckdb"
    for words in VERBS:
        file.write_bytes(damaged)
        status, said = said_of(tiny, capsys, words)
        assert status == 1 if seed == FIRST_BYTES else status in (0, 1), said
        assert "another program" not in said and "not your doing" not in said
        assert status == 0 or (file.read_bytes() == damaged and "damaged" in said and "Move it away" in said)


FOREIGN = {
    "another database": "create table harvest (plot integer)",
    "a raw table of another shape": "create schema raw; create table raw.files (file varchar, whatever integer)",
    "a raw table of other types": (
        "create schema raw; create table raw.rows (sha256 integer, sheet integer, row_number varchar, table_name"
        " varchar, cells varchar)"
    ),
    "views where tables are": "create schema raw; create view raw.files as select 1 as arrival",
}


CANNOT_BE_OURS = (FOREIGN["a raw table of other types"], FOREIGN["views where tables are"])  # the others are filled up


@pytest.mark.parametrize("statement", FOREIGN.values(), ids=FOREIGN)
@pytest.mark.parametrize("words", VERBS, ids=lambda words: words[0])
def test_a_database_of_another_kind_is_named(tiny, capsys, statement, words):
    file = tiny.folder / "warehouse.duckdb"
    with duckdb.connect(str(file)) as connection:
        connection.execute(statement)
    before = file.read_bytes()
    status, said = said_of(tiny, capsys, words)
    assert status in (0, 1) and "not your doing" not in said, said
    assert status == 0 or file.read_bytes() == before
    if words == ["report"]:
        assert (status == 1 and "of another kind" in said) == (statement in CANNOT_BE_OURS)


def test_a_lock_is_a_lock_and_a_block_is_none():
    held = 'IO Error: Could not set lock on file "w": Conflicting lock is held in /usr/bin/python3 (PID 42)'
    assert "open in another program (python3, process 42)" in str(_cannot_open(Path("w"), held))
    assert "damaged" in str(_cannot_open(Path("w"), "Corrupt database file: block 7: computed checksum 1"))
