"""A clock that was set back between two runs: the last run is the one that was stored last."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from pipeline import provenance
from pipeline.steps.changes import earlier_run
from pipeline.warehouse import open_warehouse
from tests.tiny_program import runs_alone


def test_the_last_run_is_the_one_that_was_stored_last(tiny, monkeypatch):
    class SetBack(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(UTC) - timedelta(days=400)

    first = tiny.load(runs_alone)["reports.program"]
    monkeypatch.setattr(provenance, "datetime", SetBack)
    tiny.add_delivery("east")
    second = tiny.load(runs_alone)["reports.program"]
    assert second["started"][0] < first["started"][0] and second["run_id"][0] != first["run_id"][0]
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        assert earlier_run(warehouse).card["run_id"] == second["run_id"][0]
        assert (
            earlier_run(warehouse).last_arrival
            == warehouse.read("select max(arrival) as last from raw.files")["last"][0]
        )
