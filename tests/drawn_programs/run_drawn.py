"""Runs a drawn program through every verb and every page's weave, in this process, and keeps all that was said.

HTML, PDF and DOCX are not drawn: what stands on a page is decided when it is woven. Pictures are drawn where asked.
A step that fails does not stop the others, so that one run tells all that is wrong with a program.
"""

from __future__ import annotations

import io
import shutil
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

import pandas as pd
from matplotlib.figure import Figure

from pipeline import trace as tracing
from pipeline.display.figures import theme
from pipeline.display.review import trace as trace_words
from pipeline.errors import UserError
from pipeline.estimates.engines import mixed
from pipeline.estimates.engines.mixed import Call
from pipeline.publishing import exports, pages
from pipeline.verbs import answers, calibrating, next_trials, run
from tests import figure_words
from tests.drawn_programs.draw import Drawn, write_drawn
from tests.unit.publishing.woven import figures_left_blank

# What a program may honestly be told when it asks for more than its trials hold.
DESERVED = {
    "calibrate": ("there is no layout to simulate", "there is no interval to try"),
    "trace": ("no estimate has the id",),
    "layout": ("1 treatment; a block holds 2", "is planned already"),
}


# pages that hardly depend on a program, and the CSV files, cost time: one seed in ten has them
WHOLE_EVERY = 10
ALIKE = ("methods", "data_dictionary")


@dataclass
class Said:
    """What a program's run left: woven pages by name, what each verb said, the published tables, the exit code of
    claims, every mixed model fitted.
    """

    drawn: Drawn
    pages: dict[str, str] = field(default_factory=dict)
    messages: dict[str, str] = field(default_factory=dict)
    views: dict[str, pd.DataFrame] = field(default_factory=dict)
    claims_code: int = 0
    was_refused: bool = False
    failures: list[str] = field(default_factory=list)
    fits: list[Call] = field(default_factory=list)

    def do(self, name: str, step: Callable[[], object]) -> object:
        """The step's result; what it prints is kept as a message, and its failure as a fault."""
        said, result = io.StringIO(), None
        try:
            with redirect_stdout(said):
                result = step()
        except UserError as problem:
            said.write(str(problem))
            if name in ("report", "season") and self.drawn.refusal and problem.__cause__ is None:
                self.was_refused = True
            elif not any(deserved in str(problem) for deserved in DESERVED.get(name, ())):
                self.failures.append(failure(name, problem))
        except Exception as problem:
            self.failures.append(failure(name, problem))
        self.messages[name] = said.getvalue()
        return result


def failure(step: str, problem: BaseException) -> str:
    """'TypeError in display/next_season.py:96 needed: ...', by the deepest line of the pipeline behind it."""
    while problem.__cause__ is not None:
        problem = problem.__cause__
    ours = [
        f
        for f in traceback.extract_tb(problem.__traceback__)
        if "/pipeline/" in f.filename or "/reports/" in f.filename
    ]
    where = f"{ours[-1].filename.rsplit('/pipeline/', 1)[-1]}:{ours[-1].lineno} {ours[-1].name}" if ours else "outside"
    page = next((f"{f.filename.rsplit('/', 1)[-1]}:{f.lineno}" for f in ours if f.filename.endswith(".qmd")), "")
    return f"{type(problem).__name__} in {where}: {step} {page}: {' '.join(str(problem).split())[:300]}"


def run_drawn(seed: int, folder: Path, *, pictures: bool = False) -> Said:
    """Writes the program of a seed into a new folder, runs it, and keeps what came of it."""
    drawn = write_drawn(seed, folder)
    said = Said(drawn)
    with only_woven(said, pictures=pictures) as publish, mixed.recorded() as said.fits:
        said.do("report", lambda: run.report(folder, publish=publish))
        if drawn.held_back and not said.was_refused and not said.failures:
            said.do("season", lambda: run.add_season(drawn.held_back, folder, publish=publish))
    if said.was_refused or not (folder / "published" / "data").exists():
        return said
    if not said.pages:
        said.failures.append("no page was woven")
    if drawn.refusal:
        said.failures.append(f"not refused: {drawn.refusal}")
    if drawn.chosen.calibrated:
        said.do("calibrate", lambda: calibrating.calibrate_program(folder, 2))
    said.views = {path.stem: pd.read_parquet(path) for path in (folder / "published" / "data").glob("*.parquet")}
    said.claims_code = said.do("claims", lambda: answers.claims(folder))
    said.do("plan", lambda: next_trials.plan(folder))
    said.do("trace", lambda: answers.trace("00000000", folder))
    for each in ids_of(said.views):
        said.do(f"trace {each}", lambda: print("\n".join(trace_words.lines(tracing.walk(said.views, each)))))
    _layout(said, folder)
    return said


@contextmanager
def only_woven(said: Said, *, pictures: bool) -> Iterator[Callable[[run.Outcome], None]]:
    """A way to publish by which pages are woven and kept by name, not drawn; pictures are blank unless they are asked
    for, and then their words are looked at.
    """

    def look(drawn: Figure, file: Path, sheet: theme.Sheet) -> None:
        said.failures += [f"words of a figure: {file.name}: {fault}" for fault in figure_words.faults(drawn)]
        save(drawn, file, sheet)

    def keep(group, *, formats, write, progress):
        for page in group:
            if page.name in ALIKE and said.drawn.seed % WHOLE_EVERY:
                continue
            said.do(f"page {page.name}", lambda: write(page))
            if page.markdown.exists():
                said.pages[page.name] = page.markdown.read_text(encoding="utf-8")
        return []

    def publish(outcome: run.Outcome) -> None:
        pages.publish(outcome.tables, folder=outcome.program.published, program_name=outcome.program.name, draw=keep)

    is_whole = said.drawn.seed % WHOLE_EVERY == 0
    without_csv = nullcontext() if is_whole else patch.object(exports, "write_csv", lambda frame, path: None)
    save = theme.save
    with patch.object(theme, "save", look) if pictures else figures_left_blank(), without_csv:
        yield publish


def ids_of(views: dict[str, pd.DataFrame]) -> list[str]:
    """Some ids of every kind of estimate, those without a figure too."""
    known = [views[kind]["estimate_id"].dropna() for kind in tracing.KINDS]
    return list(dict.fromkeys(each for ids in known if len(ids) for each in (ids.iloc[0], ids.iloc[-1])))


def _layout(said: Said, folder: Path) -> None:
    """A plan like the first accepted trial; none where no trial was accepted."""
    trials = answers.stored_views(folder, ("trials",))["trials"]  # what is published may have codes
    accepted = trials.loc[trials["status"] == "accepted", "trial_id"]
    if len(accepted):
        wanted = next_trials.Wanted(accepted.iloc[0], None, None, "RCBD", 4, 1, "timing")
        said.do("layout", lambda: next_trials.layout(folder, wanted))
        shutil.rmtree(folder / "plans", ignore_errors=True)
