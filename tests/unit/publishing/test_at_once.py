"""Many pages woven by several processes: as by one, byte for byte, and no trace of them when one ends."""

from __future__ import annotations

import gc
import sys
from functools import partial
from pathlib import Path
from types import ModuleType

import pandas as pd
import pytest

from pipeline import jobs
from pipeline.errors import UserError
from pipeline.kept import kept_in
from pipeline.publishing import at_once, pages
from pipeline.publishing.at_once import Weaving, woven
from pipeline.verbs.answers import stored_views
from tests.unit.publishing.woven import as_markdown

PAGE = """---
title: "Page `{python} number`"
lang: en-US
---

```{python}
#| tags: [parameters]
number = 0
does = ""
```

```{python}
#| output: asis
import os, sys
import plotnine as p9
from pipeline.display.figures import theme

exec(does)
rows = views["gains"].assign(y=number / 2)
def pictured(rows):
    return lambda: p9.ggplot(rows, p9.aes("gain", "y")) + p9.geom_point() + theme.page_theme(1)
print(theme.figure(pictured(rows), folder=page_folder, name="gains", caption=f"Gains {number}", alt="Two dots."))
```
"""
VIEWS = {"gains": pd.DataFrame({"gain": [4.0, 6.0]})}
REFUSED = "raise ValueError('this page has no rows')"


@pytest.fixture
def by_two(monkeypatch):
    """Two processes, however few the pages and the cores."""
    monkeypatch.setattr(jobs, "cpu_count", lambda: 2)
    monkeypatch.setattr(at_once, "PAGES_A_PROCESS", 1)


def weavings(folder: Path, does: list[str]) -> list[Weaving]:
    folder.mkdir()
    (folder / "page.qmd").write_text(PAGE, encoding="utf-8")
    return [
        Weaving(folder / "page.qmd", {"number": number, "does": each}, folder / f"{number}")
        for number, each in enumerate(does)
    ]


def told(pages: list[Weaving], scratch: Path, views=VIEWS) -> list[str]:
    """Weaves them: why each cannot be woven, empty where it is there."""
    return [page.why_not for page in woven(pages, views, scratch)]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.*")}


@pytest.fixture
def nothing_frozen():
    """Nothing is kept from Python's search for garbage yet; afterwards what was."""
    was_frozen = gc.get_freeze_count() > 0
    gc.unfreeze()
    yield
    gc.freeze() if was_frozen else gc.unfreeze()


@pytest.mark.usefixtures("nothing_frozen")
@pytest.mark.parametrize("is_started", [False, True])
def test_what_r_left_frozen_stays_so_when_pages_are_woven(tmp_path, is_started):
    """Else Python looks through R's many objects for seconds when it ends."""
    if is_started:
        gc.freeze()
    assert told(weavings(tmp_path / "pages", [""]), tmp_path) == [""]
    assert (gc.get_freeze_count() > 0) == is_started


def test_as_with_one_process_in_order_and_a_page_that_fails_stops_no_other(tmp_path, request):
    does = ["", REFUSED, "", ""]
    here = weavings(tmp_path / "here", does)
    with_one = told(here, tmp_path)
    request.getfixturevalue("by_two")
    apart = weavings(tmp_path / "apart", does)
    assert told(apart, tmp_path) == with_one
    assert [bool(why) for why in with_one] == [False, True, False, False] and "this page has no rows" in with_one[1]
    made = contents(tmp_path / "apart")
    assert made == contents(tmp_path / "here") and {"0/page.md", "3/gains.png"} <= set(made)


def test_what_the_processes_took_and_kept_is_not_forgotten(tmp_path, by_two):
    def kept_after(run: str) -> dict[str, int]:
        with kept_in(tmp_path / "kept") as files:
            told(weavings(tmp_path / run, [""] * 3), tmp_path)
            files.forget_unused()
        return {path.name: path.stat().st_mtime_ns for path in (tmp_path / "kept").iterdir()}

    first = kept_after("first")
    assert len(first) == 3 and kept_after("again") == first


def test_a_figure_that_a_process_of_its_own_drew_is_not_drawn_anew_here(tmp_path, monkeypatch):
    """As where a first report has many pages and the next few: a frame that was handed over has types of its own."""
    weavings_of = partial(weavings, does=[""] * 2)
    with kept_in(tmp_path / "kept"):
        with monkeypatch.context() as two:
            two.setattr(jobs, "cpu_count", lambda: 2)
            two.setattr(at_once, "PAGES_A_PROCESS", 1)
            assert told(weavings_of(tmp_path / "apart"), tmp_path) == ["", ""]
        before = sorted(path.name for path in (tmp_path / "kept").iterdir())
        assert told(weavings_of(tmp_path / "here"), tmp_path) == ["", ""]
        assert sorted(path.name for path in (tmp_path / "kept").iterdir()) == before and len(before) == 2


def test_what_is_handed_to_the_processes_is_of_this_call(tmp_path, by_two):
    """The pages of each cooperator are woven in turn, from frames of their own."""
    for gain in (4.0, 5.0):
        views = {"gains": pd.DataFrame({"gain": [gain]})}
        does = f"assert set(views['gains']['gain']) == {{{gain}}}"
        assert told(weavings(tmp_path / f"{gain}", [does] * 3), tmp_path, views) == [""] * 3
    assert not list(tmp_path.glob("*.pickle"))


def test_the_processes_are_fresh_ones(tmp_path, by_two, monkeypatch):
    """One that was forked would have the R of this one in it, which hangs there."""
    monkeypatch.setitem(sys.modules, "alive_here", ModuleType("alive_here"))
    does = "assert 'alive_here' not in sys.modules and 'rpy2' not in sys.modules and os.getppid() != 1"
    assert told(weavings(tmp_path / "pages", [does] * 3), tmp_path) == [""] * 3


def test_few_pages_are_woven_here(tmp_path, monkeypatch):
    monkeypatch.setattr(jobs, "cpu_count", lambda: 2)
    monkeypatch.setitem(sys.modules, "alive_here", ModuleType("alive_here"))
    assert told(weavings(tmp_path / "pages", ["import alive_here"] * 3), tmp_path) == [""] * 3


def test_a_process_that_is_ended_from_outside_is_told_in_a_sentence(tmp_path, by_two, capfd):
    """As the system does where memory runs out."""
    does = ["", "os.kill(os.getpid(), 9)", "", ""]
    with pytest.raises(UserError) as caught:
        told(weavings(tmp_path / "pages", does), tmp_path)
    assert str(caught.value) == jobs.ENDED.format(doing=at_once.DOING) and capfd.readouterr().err == ""
    assert told(weavings(tmp_path / "later", [""] * 2), tmp_path) == ["", ""]


@pytest.mark.thorough
def test_a_whole_program_is_as_with_one_process(estimated_program, tmp_path, request):
    tables = {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}

    def published(folder: Path) -> dict[str, bytes]:
        pages.publish(tables, folder=folder / "published", program_name="Tiny", draw=as_markdown)
        return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    here = published(tmp_path / "here")
    request.getfixturevalue("by_two")
    assert published(tmp_path / "apart") == here
