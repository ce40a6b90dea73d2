"""The end of the reviewer's page: versions, seeds, hashes and corrections."""

from __future__ import annotations

import pandas as pd

from pipeline.display.review import run
from pipeline.display.review.row_counts import row_counts_table
from tests.unit.display.season.test_comparisons import rows_of


def test_what_made_the_numbers_names_versions_seed_and_hashes():
    program = {
        "code_commit": "abc",
        "lock_sha256": "l" * 64,
        "settings_sha256": "s" * 64,
        "inputs_sha256": "i" * 64,
        "python": "3.11.7",
        "drawn_by": "Quarto 1.10.18",
        "packages": '{"duckdb": "2.0.1"}',
        "r_versions": '{"R": "4.2.2", "lme4": "1.1.31", "lmerTest": "3.1.3"}',
    }
    rows = rows_of(run.versions(program))
    assert rows["Code"] == ["abc"] and rows["Packages"] == ["duckdb 2.0.1"]
    assert rows["Mixed models fitted by"] == ["lme4 1.1.31 and lmerTest 3.1.3 in R 4.2.2"]
    assert rows["Pages drawn by"] == ["Quarto 1.10.18"]
    assert rows["program.yml, sha256"] == ["s" * 64] and int(rows["Random seed of resampling"][0]) > 0


def test_corrections_with_their_cause():
    row = {"table_name": "plots", "says": "plot is 202", "changes": "harvest_weight_lb 41.6 to 41.9", "n_rows": 1,
           "n_changed": 1, "correction": "c1", "cause": "ticket misread", "who": "A",
           "date": pd.Timestamp("2091-11-02"),
           "treatment_known": False, "state": "applied"}  # fmt: skip
    table = run.corrections_table(pd.DataFrame([row]))
    assert "| ticket misread | A, November 2, 2091 | no | applied, 1 of 1 row |" in table
    assert r"plots where plot is 202: harvest\_weight\_lb 41.6 to 41.9" in table
    known = run.corrections_table(pd.DataFrame([row | {"treatment_known": True}]))
    assert "| yes | applied, 1 of 1 row |" in known


def test_title_rows_are_told_among_those_set_aside():
    row = {"season": 2091, "table_name": "plots", "delivered": 1200, "used": 1190, "set_aside": 10, "held": 0,
           "superseded": 0, "title_rows": 0}  # fmt: skip
    counts = pd.DataFrame([row, row | {"season": 2092, "title_rows": 3}])
    cells = rows_of(row_counts_table(counts))
    assert cells["2091"] == ["plots", "1,200", "1,190", "10", "0", "0"]
    assert cells["2092"] == ["plots", "1,200", "1,190", "10 (title rows: 3)", "0", "0"]
