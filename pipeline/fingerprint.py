"""One hash of any value: frames, figures, settings. Equal values have equal hashes in every process."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from types import CodeType, FunctionType, MethodType, ModuleType

import numpy as np
import pandas as pd

PLAIN = (type(None), type(pd.NA), bool, int, float, complex, str, bytes, np.generic, np.dtype)
ALONE = {type(None), type(pd.NA), bool, int, float, str}
Tell = Callable[[str], None]


class NoFingerprint(TypeError):
    """The value has parts that cannot be told apart from others of their kind."""


def fingerprint(*values: object) -> str:
    """SHA-256 of the values, in hexadecimal.

    The order of dictionaries, sets and a frame's columns does not count. An object is its class and its attributes; a
    function is its name, its code and what it closes over.

    Raises:
        NoFingerprint: a part is neither data nor made of data, such as an open file.
    """
    return _digest(lambda tell: _tell_each("values", values, tell, _Seen()))


def fingerprints_by(frame: pd.DataFrame, key: str) -> dict[object, str]:
    """The hash of the rows that have a value in one column, by that value. The frame is gone through once, where to
    take each one's rows out of it and hash these costs many times as much.

    The order of rows counts, that of columns does not, nor which rows have other values.

    Raises:
        NoFingerprint: as fingerprint does.
    """
    groups = frame.groupby(key, sort=False).indices
    hashes = {value: hashlib.sha256() for value in groups}
    for name in sorted(frame.columns, key=str):
        column, part = frame[name], _parts_of(frame[name])
        for value, rows in groups.items():
            hashes[value].update(f"{name} {column.dtype} {len(rows)} ".encode() + part(rows))
    return {value: told.hexdigest() for value, told in hashes.items()}


def _parts_of(column: pd.Series) -> Callable[[np.ndarray], bytes]:
    """A function that tells the values of some rows of a column."""
    if _is_plain(column.dtype):
        values = column.to_numpy()
        return lambda rows: values[rows].tobytes()
    texts = [repr(value) if type(value) in ALONE else fingerprint(value) for value in column.tolist()]
    return lambda rows: ",".join([texts[row] for row in rows]).encode()


class _Seen:
    """What was told already, by id: its hash, as equal values may be one object here and two elsewhere.

    within: what is being told, for a value that holds itself.
    """

    def __init__(self) -> None:
        self.hashes: dict[int, tuple[str, object]] = {}  # the object is held, so that no other gets its id meanwhile
        self.within: dict[int, int] = {}


def _digest(told_by: Callable[[Tell], None]) -> str:
    told = hashlib.sha256()
    told_by(lambda text: told.update(f"{len(text)}:{text}".encode()))
    return told.hexdigest()


def _tell(value: object, tell: Tell, seen: _Seen) -> None:
    if isinstance(value, PLAIN):
        tell(f"{type(value).__name__} {value!r}")
    elif isinstance(value, (type, ModuleType)):
        tell(f"{getattr(value, '__module__', '')}.{value.__name__}")
    elif isinstance(value, (set, frozenset)):
        _tell_each("set", sorted(fingerprint(each) for each in value), tell, seen)
    elif isinstance(value, np.ndarray) and value.dtype != object:
        tell(f"array {value.dtype} {value.shape} {hashlib.sha256(np.ascontiguousarray(value)).hexdigest()}")
    elif id(value) in seen.within:
        tell(f"itself, {len(seen.within) - seen.within[id(value)]} up")
    else:
        if id(value) not in seen.hashes:
            seen.within[id(value)] = len(seen.within)
            seen.hashes[id(value)] = _digest(lambda own: _tell_whole(value, own, seen)), value
            del seen.within[id(value)]
        tell(seen.hashes[id(value)][0])


def _tell_whole(value: object, tell: Tell, seen: _Seen) -> None:
    kind = f"{type(value).__module__}.{type(value).__qualname__}"
    if isinstance(value, pd.DataFrame):
        _tell_each("frame", [len(value.columns), value.index], tell, seen)
        for name in sorted(value.columns, key=str):
            _tell_column(value[name], tell, seen)
    elif isinstance(value, pd.Series):
        _tell(value.index, tell, seen)
        _tell_column(value, tell, seen)
    elif isinstance(value, pd.Index):
        _tell_each("index", [*value.names], tell, seen)
        _tell_values(value, tell, seen)
    elif isinstance(value, pd.api.extensions.ExtensionArray):
        tell(kind)
        _tell_column(pd.Series(value), tell, seen)  # some hold their values in no attribute
    elif isinstance(value, pd.CategoricalDtype):
        _tell_each("categories", [value.ordered, value.categories], tell, seen)
    elif isinstance(value, pd.api.extensions.ExtensionDtype):
        tell(f"{kind} {value}")  # its attributes are filled as they are asked for
    elif isinstance(value, Mapping):
        pairs = sorted(value.items(), key=lambda pair: fingerprint(pair[0]))
        _tell_each(kind, [part for pair in pairs for part in pair], tell, seen)
        _tell_each("with", sorted(getattr(value, "__dict__", {}).items()), tell, seen)
    elif isinstance(value, (list, tuple, np.ndarray)):
        _tell_each(kind, value, tell, seen)
        _tell_each("with", sorted(getattr(value, "__dict__", {}).items()), tell, seen)
    elif isinstance(value, FunctionType):
        closed = [cell.cell_contents for cell in value.__closure__ or ()]
        defaults = value.__defaults__, value.__kwdefaults__
        _tell_each(value.__qualname__, [value.__module__, value.__code__, *defaults, *closed], tell, seen)
    elif isinstance(value, CodeType):
        _tell_each(value.co_name, [value.co_code, *value.co_consts, *value.co_names], tell, seen)
    elif isinstance(value, MethodType):
        _tell_each(kind, [value.__func__.__qualname__, value.__self__], tell, seen)
    else:
        _tell_object(value, kind, tell, seen)


def _tell_column(column: pd.Series, tell: Tell, seen: _Seen) -> None:
    _tell(column.name, tell, seen)
    _tell(column.dtype, tell, seen)
    _tell_values(column, tell, seen)


def _tell_values(column: pd.Series | pd.Index, tell: Tell, seen: _Seen) -> None:
    """The values of a column: all at once where each is of a plain type, whose text alone tells it from any other."""
    if _is_plain(column.dtype):
        _tell(column.to_numpy(), tell, seen)
        return
    values = column.tolist()
    if set(map(type, values)) <= ALONE:
        tell(f"values {values!r}")
    else:
        _tell_each("values", values, tell, seen)


def _is_plain(dtype: object) -> bool:
    """Whether a column of this type is an array of numbers, days or yes and no."""
    return isinstance(dtype, np.dtype) and dtype.kind in "fiubMm"


def _tell_object(value: object, kind: str, tell: Tell, seen: _Seen) -> None:
    """By its attributes; where it has none, by what it says of itself."""
    slots = {name for base in type(value).__mro__ for name in getattr(base, "__slots__", ())}
    parts = getattr(value, "__dict__", {}) | {name: getattr(value, name) for name in slots if hasattr(value, name)}
    parts = {name: part for name, part in parts.items() if name not in ("__weakref__", "__dict__")}
    if parts:
        _tell_each(kind, [part for pair in sorted(parts.items()) for part in pair], tell, seen)
    elif type(value).__repr__ is object.__repr__:
        tell(kind)  # without attributes one is like another
    elif " at 0x" in repr(value) or "..." in repr(value):  # known by where it is, or shortened as by pandas and pyarrow
        raise NoFingerprint(f"{kind} is known by nothing it holds.")
    else:
        tell(f"{kind} {value!r}")


def _tell_each(kind: str, values, tell: Tell, seen: _Seen) -> None:
    tell(f"{kind} of {len(values)}")
    for value in values:
        _tell(value, tell, seen)
