"""Independent jobs in processes of their own: on the cores of this machine, or on a cluster whose Dask scheduler JOBS_AT
names. joblib hands them out either way.

The processes are fresh ones, as one with R in it must not be forked; their jobs ask for no R.
"""

from __future__ import annotations

import os
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from joblib import Parallel, cpu_count

from pipeline.errors import UserError
from pipeline.provenance import code_sha256

JOBS_AT = "JOBS_AT"
REACHED_WITHIN = "15s"
ENDED = (
    "A process that was {doing} was ended from outside, most likely for lack of memory. Close other programs and"
    " run this again; the warehouse is complete, and the pages published before stay."
)
NO_DASK = (
    f"{JOBS_AT} names a Dask scheduler, and the Python package distributed is not here. Install it:"
    f" .venv/bin/pip install distributed. Without {JOBS_AT} the work is done on this machine."
)


@dataclass(frozen=True)
class Workers:
    """Where jobs are done. n: how many at once. doing: in words, for the message when one is ended from outside."""

    n: int
    backend: str
    doing: str
    ends: tuple[type[Exception], ...]

    def results(self, jobs: Iterable, *, most: int | None = None, in_order: bool = True) -> Generator:
        """What each job (joblib's delayed) gives; the work starts at once and ends where nobody asks for more.

        most: as many processes at once and no more, of this machine.

        Raises:
            UserError: a process was ended before its work was done.
        """
        how = "generator" if in_order else "generator_unordered"
        found = Parallel(n_jobs=min(self.n, most or self.n), backend=self.backend, return_as=how)(jobs)
        return self._asked_for(found)

    def _asked_for(self, found: Generator) -> Generator:
        with closing(found):
            try:
                yield from found
            except self.ends as problem:
                raise UserError(ENDED.format(doing=self.doing)) from problem


@contextmanager
def workers(doing: str, *, sharing: Path | None = None) -> Iterator[Workers]:
    """Those of the cluster that JOBS_AT names, else of this machine.

    Args:
        sharing: a folder that each of them must see under the same path.

    Raises:
        UserError: the cluster cannot be reached, or a worker of it cannot do these jobs.
    """
    address = os.environ.get(JOBS_AT, "").strip()
    if not address:
        yield Workers(cpu_count(), "loky", doing, (BrokenProcessPool,))
        return
    try:
        from distributed import Client, KilledWorker
    except ImportError:
        raise UserError(NO_DASK) from None
    try:
        client = Client(address, timeout=REACHED_WITHIN)
    except (OSError, ValueError):
        raise UserError(
            f"No Dask scheduler answers at {address}. {JOBS_AT} names it, such as tcp://10.0.0.5:8786."
            f" Without {JOBS_AT} the work is done on this machine."
        ) from None
    with client:
        _check(client, sharing)
        yield Workers(len(client.nthreads()), "dask", doing, (KilledWorker,))


def _check(client, sharing: Path | None) -> None:
    """UserError where a worker cannot do these jobs, or might give other numbers."""
    threads = client.nthreads()
    if not threads:
        raise UserError(f"The Dask scheduler that {JOBS_AT} names has no workers yet. Start some, then run this again.")
    if several := sorted(worker for worker, n in threads.items() if n > 1):
        raise UserError(
            f"The Dask worker {several[0]} does several jobs at once in one process, where figures would mix. Start each"
            " worker with --nthreads 1."
        )
    try:
        stand = client.run(_as_it_stands, str(sharing or ""))
    except ImportError as problem:
        raise UserError(f"A Dask worker lacks this program or a package of it ({problem}). Install it there.") from None
    here = _as_it_stands(str(sharing or ""))
    for worker, (code, sees) in sorted(stand.items()):
        if code != here[0]:
            raise UserError(f"The Dask worker {worker} has another version of this program. Install this one there.")
        if not sees:
            raise UserError(
                f"The Dask worker {worker} does not see the folder {sharing}. Pages need a folder that all workers share"
                f" under one path. Without {JOBS_AT} the work is done on this machine."
            )


def _as_it_stands(sharing: str) -> tuple[str, bool]:
    """Asked of each worker: which code it has, and whether it sees the folder."""
    return code_sha256(), not sharing or Path(sharing).is_dir()
