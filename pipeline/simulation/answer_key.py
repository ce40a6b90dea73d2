"""The answer key of the planted defects: where a person would look for each, and what the pipeline should say about
it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import pandas as pd

from pipeline.contract.tables import NOTED
from pipeline.simulation.defects import HEADINGS, NO_FINDING, Tables
from pipeline.simulation.paperwork import SAVED_ANEW

WORKBOOK_SEASON = 2092  # delivered as one workbook; the other seasons as CSV files


@dataclass(frozen=True)
class KeyRow:
    """`row` is the first row concerned as the file numbers it, headings in row 1; empty where no row is to blame.

    `check_names` are the checks that must speak, separated by "; "; empty where only the counts tell.
    """

    defect: str
    file: str
    sheet: str
    row: str
    n_rows: int
    column: str
    trial_id: str
    what_was_done: str
    pipeline_should_say: str
    severity_expected: str
    check_names: str


def workbook_name(season: int | str) -> str:
    return f"season_{season}.xlsx"


def delivered_file(season: int, table: str) -> tuple[str, str]:
    """(file, sheet) that holds a table of a season; no sheet in a CSV file."""
    if season == WORKBOOK_SEASON:
        return f"seasons/{season}/{workbook_name(season)}", table
    return f"seasons/{season}/{table}.csv", ""


def answer_key(planted: pd.DataFrame, delivered: dict[int, Tables]) -> list[KeyRow]:
    """One row per planted defect; `delivered` holds each season's tables in file order with their row index kept."""
    rows = []
    for defect, trial_id, season, labels in planted.itertuples(index=False):
        file, sheet = delivered_file(season, defect.table)
        row = _row_number(delivered[season][defect.table], labels)
        rows.append(
            KeyRow(
                defect.name,
                file,
                sheet,
                row,
                len(labels),
                defect.column,
                trial_id,
                defect.done,
                defect.expected,
                defect.severity,
                defect.check_names,
            )
        )
    return rows


def with_paperwork(rows: list[KeyRow], season: int, delivered: Tables, stale: pd.Series) -> list[KeyRow]:
    """The key where corrections.yml mends the harvest width; `stale` is the plots row of a correction that no longer
    matches.
    """
    file, sheet = delivered_file(season, "plots")
    row = _row_number(delivered["plots"], [stale.name])
    mended = "corrected to 5 ft before any check: the correction is listed as applied, the trial is accepted"
    kept = [
        (
            KeyRow(**(asdict(r) | {"pipeline_should_say": mended, "severity_expected": NO_FINDING, "check_names": ""}))
            if r.defect == "harvest width"
            else r
        )
        for r in rows
    ]
    kept.append(
        KeyRow(
            "stale correction",
            file,
            sheet,
            row,
            1,
            "harvest_weight_lb",
            stale["trial_id"],
            "corrections.yml expects a weight that stands there no longer",
            "the correction no longer matches; it changed nothing",
            NOTED,
            "correction no longer matches",
        )
    )
    file, sheet = delivered_file(season, SAVED_ANEW.removesuffix(".csv"))
    if not sheet:
        kept.append(
            KeyRow(
                "file saved anew",
                file,
                "",
                "",
                0,
                "",
                "",
                "line ends changed after the file was received and listed in manifest.csv",
                "the file is not the one that was received",
                NOTED,
                "file changed since received",
            )
        )
    return kept


def _row_number(frame: pd.DataFrame, labels: list) -> str:
    if not labels:
        return ""
    return "1" if labels[0] == HEADINGS else str(frame.index.get_loc(labels[0]) + 2)
