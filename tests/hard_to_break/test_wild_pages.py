"""Whatever stands in the cells of a delivery, every page is woven from it, and says nothing that nobody measured.

What is absurd stands in one cell of each column, or in whole columns: in one whose rows count in spite of it, it goes
all the way to the pages.
"""

from __future__ import annotations

import random
import re
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pandas as pd
import pytest

from pipeline.contract.tables import NOTED, Column, declared_tables
from pipeline.estimates.engines import mixed
from pipeline.verbs import answers, next_trials, run
from tests.drawn_programs import lint
from tests.drawn_programs.choices import choose
from tests.drawn_programs.draw import Drawn
from tests.drawn_programs.run_drawn import Said, only_woven
from tests.hard_to_break.soak import judge
from tests.hard_to_break.test_wild_cells import TABLES, delivered_rows
from tests.tiny_program import PRICES_AND_CLAIM, TinyProgram, write_tiny_program

EVERY_PAGE = 10  # a seed of drawn programs that has every page and the CSV files
MEMORY_BYTES, CPU_SECONDS = 2 * 1024**3, 180
ROWS_STAND = ("place", "season")  # rows without them are all set aside
NUMBERS_AND_DAYS = [
    ("1e308", "9999-12-31"),
    ("2000000000", "0001-01-01"),
    ("-1", "1900-01-01"),
    ("1e-300", "2199-12-31"),
    ("99999999999999999999", "nan"),
    ("0", "None"),
]
TEXTS = [
    "a | b **c** <b>&amp;</b> `d` $e$ # \"f\" 'g' \U0001f33d \u05d0\u05d1\nnext | row",
    "a long word " * 400,
    "# {{< include x >}} [x](y) ~~~ :::",
    "0",
]
# a place or a pass may be called None, and pages then say so
CELLS = [text for pair in NUMBERS_AND_DAYS for text in pair if text not in ("nan", "None")] + TEXTS
QUOTED = re.compile(r'((?:found:?(?:\s|<[^>]*>)*(?:"|&quot;)?|\| ))(?:nan|None)\b')


@contextmanager
def within_memory(more: int) -> Iterator[None]:
    """MemoryError where this process takes so many bytes more than it has now."""
    used = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[0]) * resource.getpagesize()
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (used + more, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


def run_spoiled(folder: Path, spoil: Callable[[TinyProgram], None]) -> tuple[Said, TinyProgram]:
    """Every page, every letter and what the other commands say of the tiny program, spoiled."""
    tiny = write_tiny_program(folder)
    tiny.settings_file.write_text(tiny.settings_file.read_text(encoding="utf-8") + PRICES_AND_CLAIM, encoding="utf-8")
    spoil(tiny)
    said = Said(Drawn(EVERY_PAGE, choose(EVERY_PAGE), folder, None))
    limits = within_memory(MEMORY_BYTES), judge.within(CPU_SECONDS), mixed.by(mixed.OWN)
    with limits[0], limits[1], limits[2], only_woven(said, pictures=False) as publish:
        said.do("report", lambda: run.report(folder, publish=publish))
        assert not said.failures, said.failures
        said.do("claims", lambda: answers.claims(folder))
        said.do("plan", lambda: next_trials.plan(folder))
    for letter in (folder / "findings").iterdir():
        said.messages[letter.name] = letter.read_text(encoding="utf-8")
    return said, tiny


def without_quoted(text: str) -> str:
    """The text without the words that were delivered, where a finding quotes them."""
    return QUOTED.sub(r"\1", text)


def faults(said: Said, tiny: TinyProgram) -> list[str]:
    """What is wrong with the run, the counts of its rows and what its pages and messages say."""
    found = list(said.failures)
    counts = pd.read_parquet(tiny.folder / "published" / "data" / "row_counts.parquet")
    found += judge.of_counts(counts)
    counted = {(row.season, row.table_name): row.delivered for row in counts.itertuples()}
    found += [] if counted == delivered_rows(tiny) else [f"counted {counted}, delivered {delivered_rows(tiny)}"]
    for name, text in {**said.pages, **said.messages}.items():
        of_cells = ("a missing value in words", "a row of other cells than its headings")
        found += [fault for fault in lint.faults(name, without_quoted(text)) if fault.startswith(of_cells)]
    return found


def fill_columns(tiny: TinyProgram, cell: Callable[[Column], str | None]) -> None:
    """Whole columns, by what is to stand in them; None leaves one as it is."""
    for name in TABLES:
        for column in declared_tables()[name].plain_columns:
            if (text := cell(column)) is not None:
                tiny.fill(name, next(iter(column.unit_of_heading)), text)


def is_sound(said: Said, tiny: TinyProgram) -> None:
    found = faults(said, tiny)
    assert not found, "\n".join(found)
    assert {"corn", "corn-handout", "corn-slides", "index", "review", "methods", "data_dictionary"} <= set(said.pages)


def first_of(cases: list) -> list:
    return [cases[0], *(pytest.param(case, marks=pytest.mark.thorough) for case in cases[1:])]


@pytest.mark.parametrize("case", first_of(NUMBERS_AND_DAYS), ids=str)
def test_numbers_and_days_that_cannot_be_where_their_rows_count_all_the_same(tmp_path, case):
    number, day = case
    kinds = {"number": number, "integer": number, "date": day}
    is_sound(
        *run_spoiled(
            tmp_path / "program",
            lambda tiny: fill_columns(tiny, lambda c: kinds.get(c.type) if c.severity == NOTED else None),
        )
    )


@pytest.mark.parametrize("text", first_of(TEXTS), ids=lambda text: text[:12])
def test_free_texts_that_a_page_might_obey(tmp_path, text):
    def cell(column: Column) -> str | None:
        is_free = column.type == "text" and not (column.words or column.words_from or column.required)
        return text if is_free and column.name not in ROWS_STAND else None

    is_sound(*run_spoiled(tmp_path / "program", lambda tiny: fill_columns(tiny, cell)))


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(12))
def test_absurd_cells_here_and_there(tmp_path, seed):
    """One to five single cells, and in every third program a whole column."""
    drawn = random.Random(seed)

    def spoil(tiny: TinyProgram) -> None:
        for _ in range(drawn.randint(1, 5)):
            name = drawn.choice(TABLES)
            heads, *rows = tiny.rows(name)
            tiny.change(name, drawn.randint(2, len(rows) + 1), drawn.choice(heads), drawn.choice(CELLS))
        if seed % 3 == 0:
            name = drawn.choice(TABLES)
            tiny.fill(name, drawn.choice(tiny.rows(name)[0]), drawn.choice(CELLS))

    is_sound(*run_spoiled(tmp_path / "program", spoil))
