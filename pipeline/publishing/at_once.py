"""Pages woven by several processes at once: an iterator gives them in order, each as soon as it and those before are
woven.

The processes are fresh ones, as one with R in it must not be forked; what they weave asks for no R.
"""

from __future__ import annotations

import faulthandler
import gc
import pickle
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pandas as pd
from joblib import Parallel, cpu_count, delayed

from pipeline import stopping
from pipeline.errors import UserError
from pipeline.kept import Kept, kept, standing_by
from pipeline.publishing.weave import weave

PAGES_A_PROCESS = 12  # with fewer to weave a process costs more than it spares: it imports for the time of three pages
HANDED = "handed.pickle"  # what the processes need beside their page
ENDED = (
    "A process that was making pages was ended from outside, most likely for lack of memory. Close other programs and"
    " run this again; the warehouse is complete, and the pages published before stay."
)


@dataclass(frozen=True)
class Weaving:
    """One page to weave; folder: for its Markdown and figures."""

    source: Path
    parameters: dict
    folder: Path

    def done(self, views: Mapping[str, pd.DataFrame]) -> str:
        """Weaves the page; returns why it cannot be, empty where it is there."""
        try:
            weave(self.source, parameters=self.parameters, names={"views": views}, folder=self.folder)
        except UserError as problem:
            return str(problem)
        return ""


def woven(pages: Sequence[Weaving], views: Mapping[str, pd.DataFrame], scratch: Path) -> Iterator[str]:
    """Weaves the pages, on all cores where they are many; gives page by page why it cannot be woven, empty where it is.

    Args:
        scratch: a folder that nobody else reads, for the views on their way.

    Raises:
        UserError: a process was ended before its work was done.
    """
    n_processes = min(cpu_count(), len(pages) // PAGES_A_PROCESS)
    if n_processes < 2:
        yield from (page.done(views) for page in pages)
        return
    handed = scratch / HANDED
    handed.write_bytes(pickle.dumps((dict(views), kept())))
    work = Parallel(n_jobs=n_processes, backend="loky", return_as="generator")
    try:
        with stopping.unheard():
            results = work(delayed(_apart)(page, handed) for page in pages)
        with closing(results):
            for said, used in results:
                kept().note_used(used)
                yield said
    except BrokenProcessPool as problem:
        raise UserError(ENDED) from problem


def _apart(page: Weaving, handed: Path) -> tuple[str, set[str]]:
    """In a process of its own: what `done` says, and the names of the kept files that this process used so far."""
    views, files = _opened(handed)
    with standing_by(files):
        return page.done(views), files.used


@cache
def _opened(handed: Path) -> tuple[dict[str, pd.DataFrame], Kept]:
    faulthandler.disable()  # joblib would have a crash tell its stack on the screen
    opened = pickle.loads(handed.read_bytes())
    gc.freeze()  # nothing of this ends before the process: it need not be looked through again and again
    return opened
