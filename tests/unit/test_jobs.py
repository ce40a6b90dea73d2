"""Jobs on this machine and on a Dask cluster: the same results, and a sentence where a cluster cannot do them."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pandas as pd
import pytest
from joblib import delayed

from pipeline import jobs
from pipeline.errors import UserError
from pipeline.publishing import at_once
from pipeline.simulation import calibration
from tests.simulated.test_calibration import layout
from tests.unit.publishing.test_at_once import contents, told, weavings


@pytest.fixture(scope="module")
def cluster():
    """Two workers of one thread each, in processes of their own; one that is killed is not tried again."""
    import dask  # here, as every worker imports this file and one runs it
    from distributed import LocalCluster

    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0}),
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as found,
    ):
        yield found


@pytest.fixture
def at_cluster(cluster, monkeypatch):
    monkeypatch.setenv(jobs.JOBS_AT, cluster.scheduler_address)


def where(number: int) -> tuple[int, int]:
    return number, os.getpid()


def test_results_come_in_order_from_processes_of_the_cluster(at_cluster):
    with jobs.workers("counting") as at:
        found = list(at.results(delayed(where)(number) for number in range(6)))
    assert at.n == 2 and [number for number, _ in found] == list(range(6))
    assert os.getpid() not in {process for _, process in found}


def test_a_calibration_gives_the_same_numbers_on_a_cluster(at_cluster, monkeypatch):
    there = calibration.calibrate(layout(n_places=4), n=2, seed=9)
    monkeypatch.delenv(jobs.JOBS_AT)
    pd.testing.assert_frame_equal(there, calibration.calibrate(layout(n_places=4), n=2, seed=9, n_processes=1))


def test_pages_are_woven_alike_on_a_cluster(at_cluster, tmp_path, monkeypatch):
    monkeypatch.setattr(at_once, "PAGES_A_PROCESS", 1)
    does = [f"assert os.getpid() != {os.getpid()}"] * 3
    assert told(weavings(tmp_path / "there", does), tmp_path) == [""] * 3
    monkeypatch.setattr(at_once, "PAGES_A_PROCESS", 9)
    assert told(weavings(tmp_path / "here", [""] * 3), tmp_path) == [""] * 3
    made = contents(tmp_path / "there")
    assert made == contents(tmp_path / "here") and "2/gains.png" in made


def test_a_worker_that_is_ended_is_told_in_a_sentence(at_cluster):
    with jobs.workers("counting") as at, pytest.raises(UserError, match="A process that was counting was ended"):
        list(at.results([delayed(os._exit)(1)]))


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nowhere", "tls://127.0.0.1:9"])
def test_a_scheduler_that_does_not_answer_is_named(address, monkeypatch):
    monkeypatch.setenv(jobs.JOBS_AT, address)
    monkeypatch.setattr(jobs, "REACHED_WITHIN", "1s")
    with pytest.raises(UserError, match=f"No Dask scheduler answers at {address}"), jobs.workers("counting"):
        pass


def test_a_machine_too_busy_to_ask_the_scheduler_is_told_the_same(monkeypatch):
    """Dask gives its own thread ten seconds to begin, and then fails by an assertion."""

    class TooBusy:
        def __init__(self, *words, **named):
            raise AssertionError

    monkeypatch.setenv(jobs.JOBS_AT, "tcp://127.0.0.1:9")
    monkeypatch.setattr("distributed.Client", TooBusy)
    with pytest.raises(UserError, match="No Dask scheduler answers at tcp://127.0.0.1:9"), jobs.workers("counting"):
        pass


def test_without_dask_the_message_says_what_to_install(monkeypatch):
    monkeypatch.setenv(jobs.JOBS_AT, "tcp://127.0.0.1:9")
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UserError, match="pip install distributed"), jobs.workers("counting"):
        pass


class OtherWorkers:
    """A client whose workers stand as they are said to."""

    def __init__(self, threads: dict[str, int], software: str = "", sees: bool = True) -> None:
        self.nthreads = lambda: threads
        self._stand = (software or jobs.software_sha256(), sees)

    def run(self, asked, *given):
        if self._stand[0] == "none":
            raise ModuleNotFoundError("No module named 'pipeline'")
        return dict.fromkeys(self.nthreads(), self._stand)


@pytest.mark.parametrize(
    ("client", "said"),
    [
        (OtherWorkers({}), "has no workers yet"),
        (OtherWorkers({"tcp://a": 1, "tcp://b": 4}), "worker tcp://b does several jobs at once"),
        (OtherWorkers({"tcp://a": 1}, software="none"), "lacks this program or a package of it"),
        (OtherWorkers({"tcp://a": 1}, software="other"), "worker tcp://a has another version of this program"),
        (OtherWorkers({"tcp://a": 1}, sees=False), "worker tcp://a does not see the folder /shared"),
    ],
)
def test_workers_that_cannot_do_the_jobs_are_refused(client, said):
    with pytest.raises(UserError, match=said):
        jobs._check(client, Path("/shared"))


def test_workers_that_stand_as_this_machine_are_taken():
    jobs._check(OtherWorkers({"tcp://a": 1, "tcp://b": 1}), Path("/shared"))
