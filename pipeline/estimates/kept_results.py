"""Results of the last run, taken again where the same would be worked out: the rule of pipeline.kept, for frames.

A result is kept by the function that gives it and by all that it is given. Where results are kept, one that is worked
out passes through the same text as one that is taken, so that both kinds of run have the same frames to the last bit.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from pipeline.estimates.engines import mixed
from pipeline.fingerprint import NoFingerprint
from pipeline.kept import kept

Rows = list[dict]  # of plain values by column
Part = pd.DataFrame | Rows
Result = Part | tuple[Part, ...] | dict[str, Part]
USES = "uses"  # names of kept files of which a result is made
PLAIN = (bool, int, float, str)
# types of columns that come back as they were; those of the second line know a missing value, NA
AS_TEXT = {"float64", "int64", "bool", "object"}
WITH_NA = {"Int64", "boolean"}


def kept_result(make: Callable[..., Result], *given: object) -> Result:
    """What make(*given) gives: a frame, rows numbered from 0 on, or a list of rows; several in a tuple, or by name.

    make must hang on nothing but what it is given. A result of types that are not AS_TEXT and PLAIN is worked out each
    time. make may keep results of its own: while this one stands, they are not forgotten.
    """
    if not kept().keeps:
        return make(*given)
    made: list[Result] = []

    def told() -> str:
        before = kept().used
        made.append(make(*given))
        return json.dumps(_parts(made[0]) | {USES: sorted(kept().used - before)})

    try:
        text = kept().told(lambda: (f"{make.__module__}.{make.__qualname__}", mixed.fitted_by(), given), told)
    except NoFingerprint:
        return made[0] if made else make(*given)
    parts = json.loads(text)
    kept().note_used(parts.pop(USES))
    return _result(parts)


def by_comparison(
    make: Callable[..., Result],
    comparison_ids: Sequence[str],
    frames: Sequence[pd.DataFrame | None],
    *,
    tell: Callable[[str], None],
    says: str,
) -> Result:
    """make(*frames, comparison_ids), worked out and kept comparison by comparison.

    frames have a comparison_id, or are None. Each call gets the rows of one comparison; the results are put under each
    other.
    """
    parts = []
    for comparison_id in comparison_ids:
        tell(f"{comparison_id}: {says}")
        own = [None if frame is None else _of(frame, comparison_id) for frame in frames]
        parts.append(kept_result(make, *own, [comparison_id]))
    return under_each_other(parts or [make(*frames, [])])


def _of(frame: pd.DataFrame, comparison_id: str) -> pd.DataFrame:
    return frame[frame["comparison_id"] == comparison_id].reset_index(drop=True)


def by_crop(
    make: Callable[..., Result], trials: pd.DataFrame, frames: Sequence[pd.DataFrame], *more: pd.DataFrame
) -> Result:
    """make(trials, *frames, *more), worked out and kept crop by crop.

    trials have a crop. Each call gets one crop's trials, the rows of frames that have their trial_id, and the rows of
    more that have their crop.
    """
    parts = []
    for crop, of_crop in trials.groupby("crop", dropna=False):
        own = [of_crop, *(frame[frame["trial_id"].isin(of_crop["trial_id"])] for frame in frames)]
        own += [frame[frame["crop"] == crop] for frame in more]
        parts.append(kept_result(make, *(frame.reset_index(drop=True) for frame in own)))
    return under_each_other(parts or [make(trials, *frames, *more)])


def under_each_other(parts: Sequence[Result]) -> Result:
    """Results of one shape as one, their rows numbered anew."""
    first = parts[0]
    if isinstance(first, dict):
        return {name: under_each_other([part[name] for part in parts]) for name in first}
    if isinstance(first, tuple):
        return tuple(under_each_other(each) for each in zip(*parts, strict=True))
    filled = [part for part in parts if len(part)] or [first]
    return pd.concat(filled, ignore_index=True)


def _parts(result: Result) -> dict:
    if isinstance(result, dict):
        return {"named": {name: _told(part) for name, part in result.items()}}
    if isinstance(result, tuple):
        return {"several": [_told(part) for part in result]}
    return {"one": _told(result)}


def _result(parts: dict) -> Result:
    if "named" in parts:
        return {name: _part(part) for name, part in parts["named"].items()}
    return tuple(map(_part, parts["several"])) if "several" in parts else _part(parts["one"])


def _told(part: Part) -> dict | list[dict]:
    """A frame's columns as [name, type, values] and its number of rows, or the rows of a list; NoFingerprint where they
    would come back otherwise.
    """
    if isinstance(part, list):
        return [{name: _value(value) for name, value in row.items()} for row in part]
    frame = part
    if not isinstance(frame.index, pd.RangeIndex) or frame.index.start or frame.index.step != 1:
        raise NoFingerprint("The rows are not numbered from 0 on.")
    columns = [[name, str(column.dtype), _values(column)] for name, column in frame.items()]
    return {"n": len(frame), "columns": columns}


def _values(column: pd.Series) -> list:
    if str(column.dtype) in WITH_NA:
        return [None if value is pd.NA else value for value in column.tolist()]
    if str(column.dtype) not in AS_TEXT:
        raise NoFingerprint(f"{column.name} is {column.dtype}.")
    return [_value(value) for value in column.tolist()]


def _value(value: object) -> object:
    if isinstance(value, (list, np.ndarray)):
        return [_value(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, PLAIN):
        return value
    raise NoFingerprint(f"{type(value).__name__} in a result.")


def _part(told: dict | list[dict]) -> Part:
    if isinstance(told, list):
        return told
    columns = {name: pd.Series(values, dtype=dtype) for name, dtype, values in told["columns"]}
    return pd.DataFrame(columns, index=pd.RangeIndex(told["n"]))
