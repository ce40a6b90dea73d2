"""One hash of any value: the same for equal values in every process, another for any other."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
import pandas as pd
import plotnine as p9
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.fingerprint import NoFingerprint, fingerprint, fingerprints_by

FRAME = pd.DataFrame({"place": ["Alder", None], "gain": [1.0, np.nan], "n": pd.array([3, None], "Int64")})
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=8,
)


@dataclass
class Sheet:
    width: float
    made: date


def in_inches(factor):
    return lambda value: value * factor


def rounded(digits):
    def told(value, *, digits=digits):
        return round(value, digits)

    return told


@given(one=PLAIN, other=PLAIN)
def test_drawn_values_have_one_hash_if_and_only_if_they_read_alike(one, other):
    def told(value):  # dictionaries in any order
        if isinstance(value, dict):
            return f"dict {sorted((repr(key), told(each)) for key, each in value.items())}"
        return f"list {[told(each) for each in value]}" if isinstance(value, list) else f"{type(value)} {value!r}"

    assert (fingerprint(one) == fingerprint(other)) == (told(one) == told(other))


@pytest.mark.parametrize(
    "changed",
    [
        FRAME.assign(gain=[1.0, 2.0]),
        FRAME.assign(gain=[1.0000000001, np.nan]),
        FRAME.assign(place=["Alder", "None"]),
        FRAME.assign(n=FRAME["n"].astype("float")),
        FRAME.rename(columns={"n": "m"}),
        FRAME.iloc[::-1],
        FRAME.head(1),
        FRAME.assign(place=pd.Categorical(FRAME["place"])),
    ],
)
def test_any_change_of_a_frame_counts(changed):
    assert fingerprint(FRAME) != fingerprint(changed)
    assert fingerprint(changed) == fingerprint(changed.copy())


def test_what_pandas_remembers_of_a_frame_it_was_asked_of_does_not_count():
    def anew():
        days = pd.to_datetime(["2091-05-01", None]).tz_localize("UTC")
        columns = {"n": pd.array([3, None], "Int64"), "is_shown": pd.array([True, None], "boolean"), "day": days}
        return pd.DataFrame(columns | {"place": pd.Categorical(["Alder", None])})

    frame = anew()
    before = fingerprint(frame)
    for column in (frame[name] for name in frame):
        assert [column.dtype.kind, column.dtype.name, column.isna().any(), len(column.tolist())]
    assert [frame.index.is_unique, frame.columns.is_unique, len(frame.to_dict("records"))]
    assert fingerprint(frame) == before == fingerprint(anew())


def test_the_order_of_columns_keys_and_sets_does_not_count():
    assert fingerprint(FRAME) == fingerprint(FRAME[["n", "gain", "place"]])
    assert fingerprint({"a": 1, "b": 2}) == fingerprint({"b": 2, "a": 1}) != fingerprint({"a": 2, "b": 1})
    assert fingerprint({"x", "y", "z"}) == fingerprint({"z", "y", "x"}) != fingerprint({"x", "y"})


ROWS = st.lists(
    st.tuples(
        st.sampled_from([1.0, 1.5, np.nan]),
        st.sampled_from(["a", "a,b", None, 1, 1.0, True, date(2091, 5, 1), date(2091, 5, 2)]),
        st.sampled_from([3, None]),
    ),
    max_size=3,
)


@given(one=ROWS, other=ROWS, elsewhere=ROWS)
def test_rows_of_a_place_have_the_same_hash_if_and_only_if_they_are_the_same_whatever_stands_between(
    one, other, elsewhere
):
    def frame(rows, between=()):
        all_of = [("Alder", *row) for row in rows[:1]] + [("Birch", *row) for row in between]
        found = pd.DataFrame(
            all_of + [("Alder", *row) for row in rows[1:]], columns=["place", "gain", "note", "n"], dtype=object
        )
        return found.astype({"gain": float, "n": "Int64"})

    def told(rows):
        return fingerprints_by(frame(rows, elsewhere), "place").get("Alder")

    assert told(one) == fingerprints_by(frame(one)[["n", "note", "place", "gain"]], "place").get("Alder")
    assert (told(one) == told(other)) == (fingerprint(frame(one)) == fingerprint(frame(other)))


def test_objects_are_their_attributes_and_functions_what_they_close_over():
    assert fingerprint(Sheet(1, date(2091, 5, 1))) == fingerprint(Sheet(1, date(2091, 5, 1)))
    assert fingerprint(Sheet(1, date(2091, 5, 1))) != fingerprint(Sheet(1, date(2091, 5, 2)))
    assert fingerprint(in_inches(2)) == fingerprint(in_inches(2)) != fingerprint(in_inches(3))
    assert fingerprint(rounded(2)) == fingerprint(rounded(2)) != fingerprint(rounded(3))
    assert fingerprint(np.array([1.0, 2.0])) != fingerprint(np.array([1.0, 2.0], "float32"))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (np.zeros(2), np.zeros(2, "int64")),
        (np.zeros((2, 3)), np.zeros((3, 2))),
        (pd.Series([1.0, 2.0]), pd.Series([1.0, 2.0], index=[2, 3])),
        (FRAME, FRAME.set_axis([2, 3])),
        (pd.Series(["a"], dtype=object), pd.Series(["a"], dtype="string")),
        (pd.CategoricalDtype(["a", "b"], ordered=True), pd.CategoricalDtype(["a", "b"])),
        (lambda value: value + 1, lambda value: value + 2),
        (lambda value: value.real, lambda value: value.imag),
        (FRAME.head, FRAME.iloc[::-1].head),
    ],
    ids=["type", "shape", "rows of a column", "rows", "texts", "ranks", "number in code", "name in code", "method"],
)  # fmt: skip
def test_what_differs_in_one_thing_alone_has_another_hash(one, other):
    """Else what was kept of the one would be taken for the other."""
    assert fingerprint(one) != fingerprint(other)


def test_a_set_is_the_same_in_whatever_order_it_was_filled():
    one, other = {0, 8}, {8, 0}
    assert list(one) != list(other) and fingerprint(one) == fingerprint(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"n": [0, 0]}, {"n": [0.0, 0.0]}),
        ({"n": [0, 0]}, {"m": [0, 0]}),
        ({"n": pd.Series([1, 11], dtype=object)}, {"n": pd.Series([11, 1], dtype=object)}),
    ],
    ids=["type", "name", "where one value ends"],
)
def test_rows_of_a_place_that_differ_in_one_thing_alone_have_another_hash(one, other):
    told = [fingerprints_by(pd.DataFrame({"place": "Alder"} | columns), "place") for columns in (one, other)]
    assert told[0] != told[1]


def test_a_value_that_holds_itself_ends():
    round_about = [1]
    round_about.append(round_about)
    assert fingerprint(round_about) == fingerprint(round_about)


def test_what_is_no_data_is_refused():
    with pytest.raises(NoFingerprint):
        fingerprint(threading.Lock())


@pytest.mark.parametrize("dtype", ["datetime64[ns]", "datetime64[ns, UTC]", "timedelta64[ns]", "Int64", "string"])
def test_arrays_of_pandas_are_their_values(dtype):
    one, other = (pd.Series(values, dtype="int64").astype(dtype).array for values in ([1, 2, 3], [1, 5, 3]))
    assert fingerprint(one) == fingerprint(one.copy()) != fingerprint(other)


@pytest.mark.parametrize("held", [pa.table, lambda frame: partial(len, frame)])
def test_what_tells_of_itself_in_short_is_refused(held):
    """Its text is the same where a value in the middle is another."""
    frame = pd.DataFrame({"day": pd.date_range("2094-01-01", periods=1000)})
    with pytest.raises(NoFingerprint):
        fingerprint(held(frame))


def figure(height: float) -> Callable[[], p9.ggplot]:
    frame = pd.DataFrame({"x": [1.0, 2.0], "y": [1.0, height], "kind": pd.Categorical(["a", "b"])})
    colors, sheet = {"a": "red", "b": "blue"}, Sheet(6.5, date(2091, 5, 1))

    def plot() -> p9.ggplot:
        return p9.ggplot(frame, p9.aes("x", "y")) + [
            p9.geom_point(p9.aes(color="kind"), size=2, shape="s"),
            *(p9.annotate("text", x=x, y=2, label=f"{x:g}", color="red") for x in frame["x"]),
            p9.scale_color_manual(values=colors),
            p9.theme(figure_size=(sheet.width, height)),
        ]

    return plot


def test_a_figure_has_one_hash_in_every_process():
    code = (
        "import sys; from pipeline.fingerprint import fingerprint; from tests.unit.test_fingerprint import figure;"
        " print([fingerprint(figure(float(x))) for x in sys.argv[1:]])"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code, "2", "3"],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    (one,) = told
    assert len(set(one.strip("[]\n").split(", "))) == 2


@pytest.mark.parametrize("shared", [[1.5, 2.5], (date(2094, 5, 2),), pd.Timestamp("2094-05-02"), {"rain": 2.0}])
def test_equal_values_are_equal_whether_or_not_they_are_one_object(shared):
    assert fingerprint([shared, shared]) == fingerprint([shared, pickle.loads(pickle.dumps(shared))])


def test_a_frame_is_as_it_was_after_a_way_through_another_process():
    """There its old columns have a type of their own and what is added has numpy's."""
    frame = pd.DataFrame({"gain": [4.0, 6.0], "place": ["Alder", "Birch"], "season": [2093, 2094]})
    apart = pickle.loads(pickle.dumps(frame))
    added = {"low": [3.5, 5.5], "n": [4, 6], "words": ["a", "b"]}
    assert fingerprint(frame.assign(**added)) == fingerprint(apart.assign(**added))


def test_what_holds_itself_is_known_by_where():
    ring, other, chain = [1], [1], [1]
    ring.append(ring)
    other.append([1, other])
    chain.append([1, [1]])
    assert fingerprint(ring) != fingerprint(other) != fingerprint(chain) != fingerprint(ring)
    again = [1]
    again.append(again)
    assert fingerprint(again) == fingerprint(ring)
