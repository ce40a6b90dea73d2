"""Independent jobs in processes of their own: on the cores of this machine, or on a cluster whose Dask scheduler
JOBS_AT names.

Dask is asked directly: joblib's way to it waits forever where a worker is ended.

The processes are fresh ones, as one with R in it must not be forked; their jobs ask for no R.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from joblib import Parallel, cpu_count

from pipeline.errors import UserError
from pipeline.provenance import software_sha256

JOBS_AT = "JOBS_AT"
REACHED_WITHIN = "15s"
ENDED = (
    "A process that was {doing} was ended from outside, most likely for lack of memory. Close other programs and"
    " run this again; the warehouse is complete, and the pages published before stay."
)
NO_DASK = (
    f"{JOBS_AT} names a Dask scheduler, and the Python package distributed is not here. Install it:"
    f" pip install distributed. Without {JOBS_AT} the work is done on this machine."
)


@dataclass(frozen=True)
class Workers:
    """Where jobs are done. n: how many at once. doing: in words, for the message when one is ended from outside.

    start: starts the jobs and gives what they give, in their order or as each is done; ends: what it raises where one
    was ended.
    """

    n: int
    doing: str
    start: Callable[[list, int, bool], Generator]
    ends: tuple[type[Exception], ...]

    def results(self, jobs: Iterable, *, most: int | None = None, in_order: bool = True) -> Generator:
        """What each job (joblib's delayed) gives; the work starts at once and ends where nobody asks for more.

        most: so many processes at once and no more, on this machine.

        Raises:
            UserError: a process was ended before its work was done.
        """
        return self._asked_for(self.start(list(jobs), min(self.n, most or self.n), in_order))

    def _asked_for(self, found: Generator) -> Generator:
        with closing(found):
            try:
                yield from found
            except self.ends as problem:
                raise UserError(ENDED.format(doing=self.doing)) from problem


def _started_here(jobs: list, n: int, in_order: bool) -> Generator:
    return Parallel(n_jobs=n, backend="loky", return_as="generator" if in_order else "generator_unordered")(jobs)


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
        yield Workers(cpu_count(), doing, _started_here, (BrokenProcessPool,))
        return
    try:
        from distributed import CancelledError, Client, KilledWorker
        from distributed.comm import CommClosedError
    except ImportError:
        raise UserError(NO_DASK) from None
    try:
        client = Client(address, timeout=REACHED_WITHIN)
    # TypeError of an address by TLS, which nothing here sets up; AssertionError where Dask's own thread does not begin
    # in ten seconds, as on a machine that is halted for a while
    except (OSError, ValueError, TypeError, AssertionError):
        raise UserError(
            f"No Dask scheduler answers at {address}. {JOBS_AT} names it, such as tcp://10.0.0.5:8786."
            f" Without {JOBS_AT} the work is done on this machine."
        ) from None
    with client:
        _check(client, sharing)
        start = partial(_started_at, client)
        yield Workers(len(client.nthreads()), doing, start, (KilledWorker, CancelledError, CommClosedError))


def _started_at(client, jobs: list, n: int, in_order: bool) -> Generator:
    from distributed import as_completed

    futures = deque(client.submit(call, *given, pure=False, **named) for call, given, named in jobs)
    return _in_order(futures) if in_order else (found for _, found in as_completed(futures, with_results=True))


def _in_order(futures: deque) -> Generator:
    while futures:
        yield futures.popleft().result()  # a result that nobody holds is forgotten there


def _check(client, sharing: Path | None) -> None:
    """UserError where a worker cannot do these jobs, or might give other numbers."""
    threads = client.nthreads()
    if not threads:
        raise UserError(f"The Dask scheduler that {JOBS_AT} names has no workers yet. Start some, then run this again.")
    if several := sorted(worker for worker, n in threads.items() if n > 1):
        raise UserError(
            f"The Dask worker {several[0]} does several jobs at once in one process, where figures would mix. Start"
            " each worker with --nthreads 1."
        )
    try:
        stand = client.run(_as_it_stands, str(sharing or ""))
    except ImportError as problem:
        raise UserError(f"A Dask worker lacks this program or a package of it ({problem}). Install it there.") from None
    here = _as_it_stands(str(sharing or ""))
    for worker, (software, sees) in sorted(stand.items()):
        if software != here[0]:
            raise UserError(
                f"The Dask worker {worker} has another version of this program, of Python or of a package, so its"
                " numbers could differ. Set it up as this machine is."
            )
        if not sees:
            raise UserError(
                f"The Dask worker {worker} does not see the folder {sharing}. Pages need a folder that all workers"
                f" share under one path. Without {JOBS_AT} the work is done on this machine."
            )


def _as_it_stands(sharing: str) -> tuple[str, bool]:
    """Asked of each worker: which software it has, and whether it sees the folder."""
    return software_sha256(), not sharing or Path(sharing).is_dir()
