"""Runs a drawn program through every verb and every page's weave, in this process, and keeps all that was said.

HTML, PDF and DOCX are not drawn: what stands on a page is decided when it is woven. Pictures are drawn where asked.
"""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import pandas as pd
from matplotlib.figure import Figure
from plotnine import ggplot

from pipeline import trace as tracing
from pipeline.errors import UserError
from pipeline.publishing import pages
from pipeline.verbs import answers, calibrating, next_trials, run
from tests.drawn_programs.draw import Drawn, write_drawn


@dataclass(frozen=True)
class Said:
    """What a program's run left: woven pages by path, what each verb said, the published tables, and the exit code of claims."""

    drawn: Drawn
    pages: dict[str, str]
    messages: dict[str, str]
    views: dict[str, pd.DataFrame]
    claims_code: int


def run_drawn(seed: int, folder: Path, *, pictures: bool = False) -> Said | None:
    """Writes and runs the program of a seed; None where it was refused as it deserves. Any other failure is raised."""
    drawn = write_drawn(seed, folder)
    woven: dict[str, str] = {}
    messages: dict[str, str] = {}
    try:
        with only_woven(woven, pictures=pictures):
            messages["report"] = _told(run.report, folder)
            if drawn.held_back:
                messages["season"] = _told(run.add_season, drawn.held_back, folder)
    except UserError as problem:
        if drawn.refusal and problem.__cause__ is None:
            return None
        raise
    if drawn.refusal:
        raise AssertionError(f"not refused though it deserves it: {drawn.refusal}")
    if drawn.chosen.calibrated and (folder / "warehouse.duckdb").exists():
        messages["calibrate"] = _calibrated(folder)
    views = {path.stem: pd.read_parquet(path) for path in (folder / "published" / "data").glob("*.parquet")}
    code, messages["claims"] = _with_result(answers.claims, folder)
    messages["plan"] = _told(next_trials.plan, folder)
    messages |= {f"trace {each}": _told(answers.trace, each, folder) for each in ids_of(views)}
    messages |= _layout(views, folder)
    return Said(drawn, woven, messages, views, code)


@contextmanager
def only_woven(woven: dict[str, str], *, pictures: bool) -> Iterator[None]:
    """While it lasts pages are woven and kept by name, not drawn; pictures are blank unless they are asked for."""

    def keep(group, *, formats, write, progress):
        for page in group:
            write(page)
            woven[page.name] = page.markdown.read_text(encoding="utf-8")
        return []

    blank = patch.object(ggplot, "draw", lambda self, show=False: Figure(figsize=(0.2, 0.2)))
    with patch.object(pages, "draw", keep):
        if pictures:
            yield
            return
        with blank:
            yield


def ids_of(views: dict[str, pd.DataFrame]) -> list[str]:
    """Some ids of every kind of estimate, those without a figure too."""
    kinds = (*tracing.AVERAGES, *tracing.WORKED_OUT, *tracing.OF_CURVES, tracing.TRAITS)
    found = [views[kind]["estimate_id"].dropna().iloc[[0, -1]] for kind in kinds if views[kind]["estimate_id"].notna().any()]
    return list(dict.fromkeys(pd.concat(found))) if found else []


def _told(verb, *words) -> str:
    return _with_result(verb, *words)[1]


def _with_result(verb, *words) -> tuple[object, str]:
    said = io.StringIO()
    with redirect_stdout(said):
        result = verb(*words)
    return result, said.getvalue()


def _calibrated(folder: Path) -> str:
    try:
        return _told(calibrating.calibrate_program, folder, 2)
    except UserError as problem:
        if "there is no layout to simulate" not in str(problem):
            raise
        return str(problem)


def _layout(views: dict[str, pd.DataFrame], folder: Path) -> dict[str, str]:
    """A plan like the first accepted trial that has treatments; none where no trial was accepted."""
    accepted = views["trials"][views["trials"]["status"] == "accepted"]
    if accepted.empty:
        return {}
    wanted = next_trials.Wanted(accepted["trial_id"].iloc[0], None, None, "RCBD", 4, 1, "timing")
    told = _told(next_trials.layout, folder, wanted)
    shutil.rmtree(folder / "plans")
    return {"layout": told}
