"""Exports: cells safe to open, numbers that come back to the last digit, bytes that two runs share."""

from __future__ import annotations

import csv

import pandas as pd
import pytest

from pipeline.publishing.exports import dictionary, write_csv, write_exports


def cells_of(path) -> list[list[str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+1",
        "-1",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        '=HYPERLINK("http://x")',
        "-9999",
        "-",
        "\uff1d1",
        "\uff0b1",
        "\uff0d1",
        "\uff201",
    ],
)
def test_a_text_that_would_run_gets_an_apostrophe(tmp_path, text):
    write_csv(pd.DataFrame({"found": [text]}), tmp_path / "t.csv")
    assert cells_of(tmp_path / "t.csv")[1] == [f"'{text}"]


@pytest.mark.parametrize("text", ["corn", "'quoted", "a=b", "5 - 3", "1-1", "", " =1", "Müller, Nord"])
def test_other_texts_stay(tmp_path, text):
    write_csv(pd.DataFrame({"found": [text], "beside": ["x"]}), tmp_path / "t.csv")
    assert cells_of(tmp_path / "t.csv")[1] == [text, "x"]


def test_numbers_are_untouched_and_come_back_to_the_last_digit(tmp_path):
    values = [-1.0400000000000003, 0.1 + 0.2, 1e-17, -5.0, float("nan")]
    write_csv(pd.DataFrame({"estimate": values, "n": range(5)}), tmp_path / "t.csv")
    back = pd.read_csv(tmp_path / "t.csv", float_precision="round_trip")
    assert back["estimate"].dropna().tolist() == values[:-1] and back["n"].tolist() == list(range(5))


def test_lists_become_one_text(tmp_path):
    write_csv(pd.DataFrame({"rates": [[80.0, 120.5], []]}), tmp_path / "t.csv")
    assert [row[0] for row in cells_of(tmp_path / "t.csv")[1:]] == ["80; 120.5", ""]


@pytest.fixture
def views() -> dict[str, pd.DataFrame]:
    columns = pd.DataFrame({"table_name": ["gains"], "grain": ["One row per pooled estimate"]})
    gains = pd.DataFrame(
        {"estimate_id": ["a"], "estimate": [5.0], "unit": ["bu/ac"], "estimate_kg_ha": [313.8], "is_headline": [True]}
    )
    return {"gains": gains, "columns": columns, "program": pd.DataFrame({"run_id": ["r1"]})}


def test_the_dictionary_has_every_column_with_type_and_unit(views):
    told = dictionary(views).set_index(["table", "column"])
    assert len(told) == sum(len(frame.columns) for frame in views.values())
    assert told.loc[("gains", "estimate"), ["one_row", "type", "unit"]].tolist() == [
        "One row per pooled estimate",
        "number",
        "see the row's unit",
    ]
    assert (
        told.loc[("gains", "estimate_kg_ha"), "unit"] == "kg/ha"
        and told.loc[("gains", "is_headline"), "type"] == "true or false"
    )


@pytest.mark.parametrize(
    ("cells", "kind"),
    [
        ([True, None], "true or false"),
        ([True, "a"], "text"),
        ([None, None], "text"),
        ([1, 2], "whole number"),
        ([1, None], "number"),
        ([pd.Timestamp("2091-05-02"), None], "date or time"),
    ],
)
def test_the_dictionary_says_the_type_of_a_column(views, cells, kind):
    told = dictionary({"columns": views["columns"], "gains": pd.DataFrame({"of_kind": cells})})
    assert told.set_index("column").loc["of_kind", "type"] == kind


def test_what_changes_with_each_run_stands_apart(views, tmp_path):
    told_by_run = ["changes", "editions", "program", "verdict_changes"]
    views |= {name: views["program"] for name in told_by_run}
    write_exports(views, tmp_path / "data")
    assert {path.name for path in (tmp_path / "data/csv").iterdir()} == {"gains.csv", "columns.csv", "dictionary.csv"}
    assert sorted(path.stem for path in (tmp_path / "data/run").iterdir()) == told_by_run
    pd.testing.assert_frame_equal(pd.read_parquet(tmp_path / "data/gains.parquet"), views["gains"])
