"""Pages woven by several processes at once: an iterator gives them in order, each as soon as it and those before are
woven.
"""

from __future__ import annotations

import faulthandler
import gc
import os
import pickle
import tempfile
from collections.abc import Generator, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import pandas as pd
from joblib import delayed

from pipeline import jobs, stopping
from pipeline.errors import UserError
from pipeline.kept import Kept, kept, standing_by
from pipeline.publishing.weave import weave

PAGES_A_PROCESS = 12  # with fewer to weave a process costs more than it spares: it imports for the time of three pages
DOING = "making pages"


@dataclass(frozen=True)
class Woven:
    """Why a page cannot be woven, empty where it is there; and the names of the kept files that it took or left."""

    why_not: str
    used: set[str]


@dataclass(frozen=True)
class Weaving:
    """One page to weave; folder: for its Markdown and figures."""

    source: Path
    parameters: dict
    folder: Path

    def done(self, views: Mapping[str, pd.DataFrame]) -> Woven:
        """Weaves the page."""
        with standing_by(kept().for_a_part()) as files:
            try:
                weave(self.source, parameters=self.parameters, names={"views": views}, folder=self.folder)
            except UserError as problem:
                return Woven(str(problem), files.used)
            return Woven("", files.used)


def woven(pages: Sequence[Weaving], views: Mapping[str, pd.DataFrame], scratch: Path) -> Iterator[Woven]:
    """Weaves the pages, on all cores where they are many; gives page by page what came of it.

    Args:
        scratch: a folder that nobody else reads, for the views on their way.

    Raises:
        UserError: a process was ended before its work was done.
    """
    most = len(pages) // PAGES_A_PROCESS
    if most < 2:
        yield from _here(pages, views)
        return
    with jobs.workers(DOING, sharing=scratch) as at:
        if at.n < 2:
            yield from _here(pages, views)
            return
        # a command that is ended at once leaves the tidying to a process of joblib's, which need not tell of it
        os.environ.setdefault("PYTHONWARNINGS", "ignore:resource_tracker")
        with tempfile.NamedTemporaryFile(dir=scratch, suffix=".pickle") as handed:
            pickle.dump((dict(views), kept()), handed)
            handed.flush()
            with stopping.unheard():
                results = at.results([delayed(_apart)(page, handed.name) for page in pages], most=most)
            yield from _noted(results)


def _here(pages: Sequence[Weaving], views: Mapping[str, pd.DataFrame]) -> Iterator[Woven]:
    """In this process. What it holds by now, of libraries and of the run, is not looked through for garbage again and
    again while figures leave theirs.
    """
    stays_frozen = gc.get_freeze_count() > 0  # as R's objects are, once it is started
    gc.freeze()
    try:
        yield from _noted(page.done(views) for page in pages)
    finally:
        if not stays_frozen:
            gc.unfreeze()


def _noted(results: Generator[Woven, None, None]) -> Iterator[Woven]:
    """Ends the processes where nobody asks for more, as when the command is stopped."""
    with closing(results):
        for page in results:
            kept().note_used(page.used)
            yield page


def _apart(page: Weaving, handed: str) -> Woven:
    """In a process of its own."""
    views, files = _opened(handed)
    with standing_by(files):
        return page.done(views)


@lru_cache(maxsize=1)
def _opened(handed: str) -> tuple[dict[str, pd.DataFrame], Kept]:
    """What the processes need beside their page; the name of its file is never used again."""
    faulthandler.disable()  # joblib would have a crash tell its stack on the screen
    opened = pickle.loads(Path(handed).read_bytes())
    gc.freeze()  # nothing of this ends before the process: it need not be looked through again and again
    return opened
