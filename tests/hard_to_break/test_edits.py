"""After any edits in any order, a run that takes results of the last one stores what a run from nothing does, and each
page of a site-year is what a run from nothing makes of the seasons that it says it speaks for.
"""

from __future__ import annotations

import csv
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.results import declared_results
from pipeline.errors import UserError
from pipeline.estimates.engines import mixed
from pipeline.kept import DRAWN, FOLDER, kept_in
from pipeline.publishing import pages
from pipeline.verbs import run
from pipeline.warehouse import open_warehouse
from tests import examples
from tests.drawn_programs.draw import write_drawn
from tests.unit.publishing.woven import figures_left_blank

# They tell of the run and of the runs before it.
OF_RUNS = ("run_id", "started", "settings_sha256", "inputs_sha256")
OF_EARLIER_RUNS = {"run_changes", "settings_changes", "runs"}

BOTH_WAYS = (
    ("target: seasons tested", "target: seasons to come"),
    ("last_year: 2090", "last_year: 2089"),
    ("margin: 150", "margin: 90"),
    ("pass_cost_per_ac: 12", "pass_cost_per_ac: 7.5"),
    ("price_per_lb: 0.72", "price_per_lb: 0.5"),
    ("fewest_blocks: 2", "fewest_blocks: 3"),
)
RULES = [
    *BOTH_WAYS,
    *((now, was) for was, now in BOTH_WAYS),
    ("says: ", "says: Seen again, "),
    ("program:", "# seen\nprogram:"),
]


class Edited:
    """A drawn program and what may happen to it; each edit says what it did."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder, self.away = folder, folder.parent / "away"
        self.rng = np.random.default_rng(seed)
        write_drawn(seed, folder)

    def edit(self) -> str:
        edits = [self.correct, self.withdraw, self.change_settings, self.rename, self.nothing]
        if self.away.exists():
            edits += [self.go_back] * 3
        return self.rng.choice(edits)()

    def _files(self, name: str) -> list[Path]:
        return sorted(file for file in self.folder.glob("seasons/**/*.csv") if file.stem.lower() == name)

    def correct(self) -> str:
        """One yield or weight, a hundredth more."""
        file = self.rng.choice(self._files("plots"))
        with file.open(newline="", encoding="utf-8") as text:
            heads, *rows = csv.reader(text)
        at = next(i for i, head in enumerate(heads) if head.startswith(("harvest_weight", "yield")))
        filled = [i for i, row in enumerate(rows) if row[at]]
        if not filled:
            return self.nothing()
        row = self.rng.choice(filled)
        rows[row][at] = str(round(float(rows[row][at]) * 1.01, 3))
        with file.open("w", newline="", encoding="utf-8") as text:
            csv.writer(text).writerows([heads, *rows])
        return f"{file.name} corrected"

    def withdraw(self) -> str:
        """The last season, to come back some other time."""
        seasons = sorted((self.folder / "seasons").iterdir())
        if len(seasons) < 2 or self.away.exists():
            return self.nothing()
        self.away.mkdir()
        shutil.move(seasons[-1], self.away)
        return f"{seasons[-1].name} withdrawn"

    def go_back(self) -> str:
        for season in self.away.iterdir():
            shutil.move(season, self.folder / "seasons")
        self.away.rmdir()
        return "the season is back"

    def change_settings(self) -> str:
        """A rule or a price, there and back, a word alone, or what is no setting."""
        file = self.folder / "program.yml"
        text = file.read_text(encoding="utf-8")
        there = [(was, now) for was, now in RULES if was in text]
        was, now = there[self.rng.integers(len(there))]
        file.write_text(text.replace(was, now, 1), encoding="utf-8")
        return f"program.yml: {was!r} is {now!r}"

    def rename(self) -> str:
        file = self.rng.choice(self._files("plots"))
        file.rename(file.with_name(file.name.swapcase().replace(".CSV", ".csv")))
        return f"{file.name} renamed"

    def nothing(self) -> str:
        return "nothing"


def stored(folder: Path) -> dict[str, pd.DataFrame]:
    """Tables of a run by name, without what tells of runs."""
    with open_warehouse(folder / "warehouse.duckdb", read_only=True) as warehouse:
        names = [name for name, table in declared_results().items() if not table.kept and name not in OF_EARLIER_RUNS]
        tables = {name: warehouse.table(f"{declared_results()[name].schema}.{name}") for name in names}
    return {name: frame.drop(columns=[c for c in OF_RUNS if c in frame]) for name, frame in tables.items()}


def run_in(folder: Path) -> dict[str, pd.DataFrame]:
    """The report views of a run, by name with the schema."""
    return run.build_warehouse(folder, "report", lambda text: None).tables


def inputs(folder: Path, *, until: int = 9999) -> dict[str, bytes]:
    """By path, every file of a program but what runs left, without the seasons after `until`."""
    found = {}
    for file in folder.rglob("*"):
        first, *rest = file.relative_to(folder).parts
        is_left = first == FOLDER or first.startswith("warehouse.duckdb")
        if file.is_file() and not is_left and not (first == "seasons" and int(rest[0]) > until):
            found[file.relative_to(folder).as_posix()] = file.read_bytes()
    return found


class FromNothing:
    """What runs from nothing give, in copies of a program: one for the same inputs."""

    def __init__(self, scratch: Path) -> None:
        self._scratch, self._known = scratch, []

    def know(self, of: dict[str, bytes], found: dict) -> None:
        """A run from nothing that was made elsewhere."""
        self._known.append((of, found))

    def __call__(self, folder: Path, make: Callable[[Path], dict], *, until: int = 9999) -> dict:
        """What is made in a copy without what runs left, and without the seasons after `until`."""
        of = inputs(folder, until=until)
        if found := next((found for known, found in self._known if known == of), None):
            return found
        for path, content in of.items():
            (self._scratch / path).parent.mkdir(parents=True, exist_ok=True)
            (self._scratch / path).write_bytes(content)
        self.know(of, make(self._scratch))
        shutil.rmtree(self._scratch)
        return self._known[-1][1]


def run_and_stored(folder: Path) -> dict[str, pd.DataFrame]:
    run_in(folder)
    return stored(folder)


def run_and_pages(folder: Path) -> dict[str, str]:
    """Markdown of the site-years' pages by path, after a run; those that stand are not woven."""
    views = pages.views_of(run_in(folder), folder / "published")
    planned = [plan for plan in pages.plan_pages(views["pages"]) if plan.source == "site_year.qmd"]
    with TemporaryDirectory() as scratch, kept_in(folder / DRAWN) as files, figures_left_blank():
        made, failed = pages.make(planned, views, Path(scratch), lambda what, done, of: None, as_woven)
        files.forget_unused()
        assert not failed
        return {file.path.stem: file.path.read_text(encoding="utf-8") for file in made}


def as_woven(group, *, formats, write, progress) -> list[pages.Drawn]:
    """Draws a page by writing its Markdown."""
    drawn = [pages.Drawn(page, format, page.folder / f"{page.name}.{format}") for page in group for format in formats]
    for page in group:
        write(page)
        page.folder.mkdir(parents=True, exist_ok=True)
    for file in drawn:
        shutil.copyfile(file.page.markdown, file.path)
    return drawn


@pytest.mark.parametrize("seed", [2352, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in (881, 4, 346))])
def test_a_run_after_any_edits_stores_what_one_from_nothing_does(seed, tmp_path, monkeypatch):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    edited, done, from_nothing = Edited(tmp_path / "program", seed), [], FromNothing(tmp_path / "scratch")
    from_nothing.know(inputs(edited.folder), run_and_stored(edited.folder))
    for edit in [edited.edit] * 8 if examples.is_thorough else [edited.correct]:
        done.append(edit())
        after, anew = run_and_stored(edited.folder), from_nothing(edited.folder, run_and_stored)
        assert [name for name in anew if not after[name].equals(anew[name])] == [], done


SPEAKS_FOR = re.compile(r"seasons\s+up\s+to\s+(\d{4})")


@pytest.mark.parametrize("seed", [881, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in (4, 907, 911))])
def test_each_page_is_as_from_nothing_when_the_season_it_names_was_the_last(seed, tmp_path, monkeypatch):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    edited, done, n_standing = Edited(tmp_path / "program", seed), [], 0
    from_nothing = FromNothing(tmp_path / "scratch")
    if examples.is_thorough:
        run_in(edited.folder)
    edits = iter([edited.withdraw, edited.go_back, edited.correct, *[edited.edit] * (6 * examples.is_thorough)])
    for edit in edits:
        done.append(edit())
        found, expected = run_and_pages(edited.folder), {}
        if len(done) == 1 and not examples.is_thorough:
            from_nothing.know(inputs(edited.folder), found)  # it is the first run
        for name, text in found.items():
            said = SPEAKS_FOR.search(text)
            season = int(said[1]) if said else 9999
            if season not in expected:
                expected[season] = from_nothing(edited.folder, run_and_pages, until=season)
            assert text == expected[season][name], (done, name, season)
        n_standing = max(n_standing, len({season for season in expected if season < 9999}))
    assert n_standing > 1, "no page spoke for fewer seasons than another"


def test_results_of_two_engines_are_never_mixed(tiny, monkeypatch):
    """R answered as at the last run, so that its results were taken, and then could not be started for the others."""
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    answers = iter([{"R": "4.2.2"}, *[{"own_fits": "of this code"}] * 1000])
    monkeypatch.setattr(mixed, "fitted_by", lambda: next(answers))
    with pytest.raises(UserError, match="add FRESH=yes"):
        run.build_warehouse(tiny.folder, "report", lambda text: None)
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        assert warehouse.read("select 1 from duckdb_tables() where schema_name = 'estimates'").empty
