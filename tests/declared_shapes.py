"""Frames held against the declared results."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import pandas as pd

from pipeline.contract.results import declared_results, frame_of


def check_shape(name: str, frame: pd.DataFrame, *, stored: bool = False, without: Collection[str] = ()) -> None:
    """The frame has the columns that are declared for its table, in order, in the declared types."""
    columns = [c for c in declared_results()[name].columns if (stored or not c.by_run) and c.name not in without]
    assert dict(frame.dtypes.astype(str)) == {c.name: c.dtype for c in columns}, name
    assert list(frame.columns) == [c.name for c in columns], name


def check_shapes(frames: Mapping[str, pd.DataFrame], *, stored: bool = False) -> None:
    for name, frame in frames.items():
        check_shape(name, frame, stored=stored)


STAND_INS = {"text": "", "number": 0.0, "integer": 0, "yes_no": False}


def whole(table: str, rows: pd.DataFrame) -> pd.DataFrame:
    """A table to be stored, of rows that say only what a test needs: the rest is empty, or nothing much where it may
    not be.
    """
    columns = declared_results()[table].columns
    stand_ins = {c.name: STAND_INS[c.type] if c.required else None for c in columns if c.name not in rows}
    lacking = [c for c in columns if c.required and c.name in rows and rows[c.name].isna().any()]
    given = {c.name: rows[c.name].fillna(STAND_INS[c.type]) for c in lacking}
    return frame_of(rows.assign(**stand_ins, **given), table, stored=True)
