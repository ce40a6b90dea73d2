"""No cell of a delivery, however wild, stops a run or loses a row."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.examples import examples
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.payloads import WILD
from tests.tiny_program import TinyProgram, write_tiny_program

TABLES = ("sites", "trials", "treatments", "nitrogen_applications", "plots", "weather_daily", "rain_history")


def counts_add_up(tables) -> None:
    counts = tables["reports.row_counts"]
    assert len(counts) and judge.of_counts(counts) == []


def delivered_rows(tiny: TinyProgram) -> dict[tuple[int, str], int]:
    """Filled rows in the files, counted without the pipeline."""
    found: dict[tuple[int, str], int] = {}
    for path in (tiny.folder / "seasons").rglob("*.csv"):
        season = path.relative_to(tiny.folder / "seasons").parts[0]
        rows = tiny.rows(path.stem, "/".join(path.relative_to(tiny.folder / "seasons").parts[:-1]))[1:]
        key = int(season), path.stem
        found[key] = found.get(key, 0) + sum(any(cell.strip() for cell in row) for row in rows)
    return found


def counted_rows(tables) -> dict[tuple[int, str], int]:
    counts = tables["reports.row_counts"]
    return {(row.season, row.table_name): row.delivered for row in counts.itertuples()}


def findings_name_real_rows(tiny: TinyProgram, tables) -> None:
    for row in tables["reports.findings"].itertuples():
        path = tiny.folder / row.file
        table, season = path.stem, path.parent.relative_to(tiny.folder / "seasons").as_posix()
        assert 1 <= row.row_number <= len(tiny.rows(table, season)), row
        assert row.found and row.mend and (row.expected or row.check_name == "noticed while reading"), row


def test_every_wild_value_in_every_column(tmp_path):
    tiny = write_tiny_program(tmp_path / "program")
    for table in TABLES:
        heads, *rows = tiny.rows(table)
        wild = [
            [value if i == column else cell for i, cell in enumerate(rows[column % len(rows)])]
            for value in WILD
            for column in range(len(heads))
        ]
        tiny.write(table, [heads, *rows, *wild])
    tables = tiny.checked()
    counts_add_up(tables)
    assert counted_rows(tables) == delivered_rows(tiny)
    findings_name_real_rows(tiny, tables)


def test_any_heading_is_kept_with_its_cells(tiny):
    odd = [
        'weight "lb"',
        "it's",
        "caf\u00e9%",
        "a.b[0]",
        "$.x",
        "a,b",
        "row_number",
        "cells",
        "sha256",
        "select",
        "null",
        "x" * 300,
    ]
    for heading in odd:
        tiny.fill("plots", heading, "kept")
    with tiny.loaded() as warehouse:
        kept = warehouse.read(
            "select count(*) as n from raw.rows where table_name = 'plots' and cells ->> '$.\"weight_\\\"lb\\\"\"' ="
            " 'kept'"
        )
        unknown = warehouse.read("select found from trials.findings where check_name = 'unknown column'")["found"]
    assert kept["n"][0] == len(tiny.rows("plots")) - 1
    assert sorted(unknown) == sorted(odd)


@st.composite
def faults(draw):
    """Blank cells, words from elsewhere and doubled rows, anywhere in the delivery."""
    kind = draw(st.sampled_from(["blank", "swap", "wild", "double", "drop"]))
    return (
        kind,
        draw(st.sampled_from(TABLES)),
        draw(st.integers(0, 99)),
        draw(st.integers(0, 99)),
        draw(st.sampled_from(WILD)),
    )


def spoil(tiny: TinyProgram, fault) -> None:
    kind, table, row_pick, column_pick, word = fault
    heads, *rows = tiny.rows(table)
    row, column = row_pick % len(rows), column_pick % len(heads)
    if kind == "double":
        rows.insert(row, list(rows[row]))
    elif kind == "drop" and len(rows) > 1:
        del rows[row]
    elif kind == "swap":
        rows[row][column] = rows[-row % len(rows)][(column + 1) % len(heads)]
    else:
        rows[row][column] = "" if kind == "blank" else word
    tiny.write(table, [heads, *rows])


@pytest.mark.thorough
@settings(
    max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(planted=st.lists(faults(), min_size=1, max_size=12))
def test_no_row_is_lost_under_random_faults(tmp_path_factory, planted):
    tiny = write_tiny_program(tmp_path_factory.mktemp("faults") / "program")
    for fault in planted:
        spoil(tiny, fault)
    tables = tiny.checked()
    counts_add_up(tables)
    assert counted_rows(tables) == delivered_rows(tiny)
    findings_name_real_rows(tiny, tables)


NEEDED = ("trials", "treatments", "plots")  # a season without these stops the run


@settings(max_examples=examples(2, 12), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    at=st.lists(st.tuples(st.integers(0, 2), st.integers(1, 12)), min_size=len(TABLES), max_size=len(TABLES)),
    order=st.randoms(use_true_random=False),
)
def test_no_row_is_lost_wherever_the_headings_stand(tmp_path_factory, at, order):
    """Some tables under titles, some sorted together with their headings."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("headings") / "program")
    n_titles, is_sorted = {}, {}
    for table, (kind, n) in zip(TABLES, at, strict=True):
        heads, *rows = tiny.rows(table)
        is_sorted[table] = kind == 2 and table not in NEEDED
        n_titles[table] = n if kind == 1 else 0
        if is_sorted[table]:
            order.shuffle(rows)
            rows.insert(min(n, len(rows)), heads)
        else:
            rows = [*[["A title"]] * n_titles[table], heads, *rows]
        tiny.write(table, rows)
    tables = tiny.checked()
    counts_add_up(tables)
    counted = {table: n for (season, table), n in counted_rows(tables).items() if season == 2091}
    in_files = {t: n for (season, t), n in delivered_rows(tiny).items() if season == 2091}
    assert counted.pop("files not read", 0) == sum(n for t, n in in_files.items() if is_sorted[t])
    assert counted == {t: n for t, n in in_files.items() if not is_sorted[t]}
    counts = tables["reports.row_counts"].query("season == 2091").set_index("table_name")["title_rows"]
    assert counts.drop("files not read", errors="ignore").to_dict() == {
        t: n for t, n in n_titles.items() if not is_sorted[t]
    }
    held = tables["reports.findings"].query("check_name == 'file not read'")
    assert {file.split("/")[-1].removesuffix(".csv") for file in held["file"]} == {t for t in TABLES if is_sorted[t]}
    assert all("Move the headings above all rows of the table" in mend for mend in held["mend"])


@pytest.fixture(scope="module")
def demo_counts(tmp_path_factory):
    from pipeline.simulation.demo import write_demo

    folder = tmp_path_factory.mktemp("demo_counts")
    write_demo(folder, seasons=(2091, 2092), senders=False)
    return folder, TinyProgram(folder).checked()


def test_the_counts_of_the_demo_add_up_by_season_and_table(demo_counts):
    folder, tables = demo_counts
    counts_add_up(tables)
    assert counted_rows(tables) == _rows_of_demo(folder)
    totals = tables["reports.row_counts"][["used", "set_aside", "held"]].sum()
    assert (totals > 0).all()


def test_the_plots_of_the_demo_add_up_by_trial(demo_counts):
    _, tables = demo_counts
    fates = tables["reports.plots"].groupby("trial_id")["fate"].value_counts().unstack(fill_value=0)
    trials = tables["reports.trials"].set_index("trial_id")
    assert fates.sum(axis=1).to_dict() == trials.loc[fates.index, "n_plots_delivered"].to_dict()
    assert (trials.loc[trials["status"] != "accepted", "n_plots_used"] == 0).all()


def _rows_of_demo(folder) -> dict[tuple[int, str], int]:
    import openpyxl
    import pandas as pd

    found = {}
    for path in (folder / "seasons").rglob("*.csv"):
        found[int(path.parent.name), path.stem] = len(pd.read_csv(path, dtype=str))
    for path in (folder / "seasons").rglob("*.xlsx"):
        for sheet in openpyxl.load_workbook(path, read_only=True):
            rows = list(sheet.iter_rows(values_only=True))
            found[int(path.parent.name), sheet.title] = sum(any(cell is not None for cell in row) for row in rows) - 1
    return found
