"""A result that would be worked out from the same is taken from the last run, and is the same to the last bit."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.engines import lme4_fits, mixed
from pipeline.estimates.kept_results import by_comparison, by_crop, kept_result
from pipeline.kept import kept_in

GAINS = pd.DataFrame(
    {
        "comparison_id": ["a", "a", "b"],
        "gain": [0.1, np.nan, -1 / 3],
        "n": [1, 2, 3],
        "is_shown": [True, False, True],
        "rule": ["so", None, ""],
        "may_differ": [True, None, False],
        "n_clusters": pd.array([None, 2, 3], "Int64"),
        "agrees": pd.array([None, True, False], "boolean"),
        "rates": [[], [56.04, 112.0], [1.0]],
    }
)


@pytest.fixture(autouse=True)
def without_r(monkeypatch):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "results"


@pytest.fixture
def calls(monkeypatch):
    """How often results were worked out, by the first cell of what was given."""
    found = []
    monkeypatch.setattr(f"{__name__}.worked_out", found.append)
    return found


def worked_out(what: object) -> None:
    """Set by `calls`."""


def itself(result):
    worked_out("itself")
    return result


def doubled(gains: pd.DataFrame, others: pd.DataFrame | None, comparison_ids: list[str]):
    worked_out(comparison_ids[0])
    return gains[["comparison_id", "gain"]].assign(gain=2 * gains["gain"]), gains[["n"]]


def of_crop(trials: pd.DataFrame, plots: pd.DataFrame, prices: pd.DataFrame) -> dict[str, pd.DataFrame]:
    worked_out(trials["crop"].iloc[0])
    return {"plots": plots[["value"]], "prices": prices[["price"]]}


def in_run(folder, make, *given, is_fresh=False, **options):
    """What a run gets that keeps its results in the folder."""
    with kept_in(folder, is_fresh=is_fresh) as results:
        found = make(*given, **options)
        results.forget_unused()
    return found


def told(gains: pd.DataFrame, folder, **options):
    ids = ["a", "b"]
    return in_run(folder, by_comparison, doubled, ids, (gains, None), tell=lambda text: None, says="gain", **options)


@pytest.mark.parametrize("shape", [lambda f: f, lambda f: (f, f.iloc[:0]), lambda f: {"one": f, "none": f.iloc[:0]}])
def test_a_result_comes_back_as_it_was(folder, calls, shape):
    result = shape(GAINS)
    for _ in range(2):
        found = in_run(folder, kept_result, itself, result)
        assert type(found) is type(result)
        pairs = [(found, result)] if isinstance(found, pd.DataFrame) else list(zip(found, result, strict=True))
        if isinstance(found, dict):
            pairs = [(found[name], result[name]) for name in result]
        for one, other in pairs:
            pd.testing.assert_frame_equal(one, other, check_exact=True)
            assert one.map(type).equals(other.map(type))
    assert calls == ["itself"]


def test_only_the_comparison_that_changed_is_worked_out(folder, calls):
    first = told(GAINS, folder)
    assert calls == ["a", "b"]
    again = told(GAINS, folder)
    assert calls == ["a", "b"] and all(x.equals(y) for x, y in zip(first, again, strict=True))
    corrected = GAINS.assign(gain=[0.1, np.nan, -0.3])
    found = told(corrected, folder)
    assert calls == ["a", "b", "b"] and found[0]["gain"].tolist()[2] == -0.6


def test_rows_of_another_comparison_do_not_count(folder, calls):
    """Nor where they stand: a comparison's rows are numbered anew."""
    told(GAINS, folder)
    more = pd.concat([GAINS.iloc[:2], GAINS.iloc[1:2], GAINS.iloc[2:]], ignore_index=True)
    told(more, folder)
    assert calls == ["a", "b", "a"]


def test_only_the_crop_that_changed_is_worked_out(folder, calls):
    trials = pd.DataFrame({"trial_id": ["t1", "t2", "t3"], "crop": ["corn", "cotton", "corn"]})
    plots = pd.DataFrame({"trial_id": ["t1", "t2", "t3"], "value": [1.0, 2.0, 3.0]})
    prices = pd.DataFrame({"crop": ["corn", "cotton"], "price": [4.5, 0.7]})
    found = in_run(folder, by_crop, of_crop, trials, [plots], prices)
    assert found["plots"]["value"].tolist() == [1.0, 3.0, 2.0] and found["prices"]["price"].tolist() == [4.5, 0.7]
    in_run(folder, by_crop, of_crop, trials, [plots.assign(value=[1.0, 2.0, 4.0])], prices)
    in_run(folder, by_crop, of_crop, trials, [plots.assign(value=[1.0, 2.0, 4.0])], prices.assign(price=[4.5, 0.8]))
    assert calls == ["corn", "cotton", "corn", "cotton"]


def of_each(values: dict[str, float], prices: float) -> tuple[list[dict], pd.DataFrame]:
    """Made of results that are kept by themselves."""
    worked_out("all")
    rows = [row for name, value in values.items() for row in kept_result(of_one, name, value)]
    return rows, pd.DataFrame({"price": [prices]})


def of_one(name: str, value: float) -> list[dict]:
    worked_out(name)
    return [{"name": name, "value": np.float64(value), "n": np.int64(1), "is_shown": np.bool_(True), "none": None}]


def test_what_a_standing_result_is_made_of_is_not_forgotten(folder, calls):
    """It was not asked for in the run before the correction."""
    for _ in range(3):
        in_run(folder, kept_result, of_each, {"one": 0.1, "other": np.nan}, 1.0)
    assert calls == ["all", "one", "other"]
    rows, _ = in_run(folder, kept_result, of_each, {"one": 0.1, "other": 0.3}, 1.0)
    assert calls == ["all", "one", "other", "all", "other"]
    assert rows == [*of_one("one", 0.1), *of_one("other", 0.3)]


def test_rows_come_back_as_they_were(folder, calls):
    for _ in range(2):
        (row,) = in_run(folder, kept_result, of_one, "one", 1 / 3)
        assert row == {"name": "one", "value": 1 / 3, "n": 1, "is_shown": True, "none": None}
        assert [type(each) for each in row.values()] == [str, float, int, bool, type(None)]
    assert calls == ["one"]


def test_fresh_takes_nothing(folder, calls):
    told(GAINS, folder)
    told(GAINS, folder, is_fresh=True)
    assert calls == ["a", "b"] * 2


def test_without_a_folder_nothing_is_kept(calls):
    for _ in range(2):
        by_comparison(doubled, ["a"], (GAINS, None), tell=lambda text: None, says="gain")
    assert calls == ["a", "a"]


@pytest.mark.parametrize(
    "result",
    [
        GAINS.assign(day=pd.Timestamp("2091-05-01")),
        GAINS.assign(day=[pd.Timestamp("2091-05-01"), None, None]).astype({"day": object}),
        GAINS.iloc[1:],
        GAINS.assign(pair=[(1, 2)] * 3),
    ],
    ids=["a day", "a day among others", "rows from 1 on", "a tuple"],
)
def test_what_would_come_back_otherwise_is_worked_out_each_time(folder, calls, result):
    for _ in range(2):
        pd.testing.assert_frame_equal(in_run(folder, kept_result, itself, result), result)
    assert calls == ["itself"] * 2 and not list(folder.glob("*"))


def test_a_damaged_result_is_worked_out_again(folder, calls):
    first = told(GAINS, folder)
    for path in folder.iterdir():
        path.write_bytes(path.read_bytes()[:-2])
    again = told(GAINS, folder)
    assert calls == ["a", "b"] * 2 and all(x.equals(y) for x, y in zip(first, again, strict=True))


def test_no_comparison_gives_empty_frames(folder):
    with kept_in(folder):
        plain, counts = by_comparison(nothing_of, [], (GAINS, None), tell=lambda text: None, says="gain")
    assert plain.empty and list(plain) == ["gain"] and list(counts) == ["n"]


def nothing_of(gains, others, comparison_ids):
    assert comparison_ids == []
    return gains.iloc[:0][["gain"]], gains.iloc[:0][["n"]]


class OfR:
    """Stands for R: how often it was started, and what it says of itself."""

    def __init__(self, monkeypatch) -> None:
        self.starts, self.says, self.can_start = 0, "R 4.2.2 lme4 1.1-31", True
        monkeypatch.delenv(mixed.FIT_BY)
        monkeypatch.setattr(lme4_fits, "start_r", self._start)
        monkeypatch.setattr(lme4_fits, "said_by_r", lambda: self.says)
        monkeypatch.setattr(lme4_fits, "versions", lambda: {"R": self.says})

    def _start(self):
        self.starts += 1
        if not self.can_start:
            from pipeline.errors import UserError

            raise UserError("no R")

    def fitted_by(self, folder) -> dict[str, str]:
        """In a process of its own."""
        mixed._engine.cache_clear()
        try:
            return in_run(folder, mixed.fitted_by)
        finally:
            mixed._engine.cache_clear()


def test_r_is_started_where_it_was_not_met_before_and_not_again(folder, monkeypatch):
    r = OfR(monkeypatch)
    assert r.fitted_by(folder) == {"R": r.says} and r.starts == 1
    assert r.fitted_by(folder) == {"R": r.says} and r.starts == 1
    r.says = "R 4.3.0 lme4 1.1-35"
    assert r.fitted_by(folder) == {"R": r.says} and r.starts == 2


@pytest.mark.parametrize("says", ["", "R 4.2.2 lme4 1.1-31"])
def test_where_r_cannot_be_started_it_is_tried_each_time(folder, monkeypatch, says):
    """Else nobody would be told that our own code fitted the models."""
    r = OfR(monkeypatch)
    r.says, r.can_start = says, False
    for times in (1, 2):
        assert "own_fits" in r.fitted_by(folder) and r.starts == times and mixed.notice()
    monkeypatch.setattr(mixed, "_looked_in_vain", False)


def test_what_fits_the_models_counts(folder, calls, monkeypatch):
    told(GAINS, folder)
    monkeypatch.setattr(mixed, "fitted_by", lambda: {"R": "another"})
    told(GAINS, folder)
    assert calls == ["a", "b"] * 2
