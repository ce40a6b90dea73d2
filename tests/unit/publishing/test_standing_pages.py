"""A site-year's page stands as it was made until its own rows or a season that it speaks for changes."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.kept import FOLDER, kept_in
from pipeline.publishing import pages
from pipeline.verbs.answers import stored_views
from tests.unit.publishing.woven import figures_left_blank

ALL = {"alder-2091", "alder-2092", "birch-2091"}


@pytest.fixture(scope="module")
def tables(estimated_program: Path) -> dict[str, pd.DataFrame]:
    """The report views of a tiny program: corn at Alder in two seasons, cotton at Birch in one."""
    return {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}


class Runs:
    """Runs of one program, one after the other; pages are drawn by writing what was woven, with blank figures."""

    def __init__(self, scratch: Path, n: int = 0, texts: dict[str, str] | None = None) -> None:
        self.scratch, self.n = scratch, n
        self.texts = texts or {}

    def copied(self, scratch: Path) -> Runs:
        return Runs(shutil.copytree(self.scratch, scratch), self.n, dict(self.texts))

    def __call__(self, tables: dict[str, pd.DataFrame], *, is_fresh: bool = False) -> set[str]:
        """The site-years whose pages are made anew."""
        self.n += 1
        folder, new = self.scratch / str(self.n), set()
        views = pages.views_of(tables, folder)
        planned = [plan for plan in pages.plan_pages(views["pages"]) if plan.source == "site_year.qmd"]

        def draw(group, *, formats, write, progress):
            made = []
            for page in group:
                write(page)
                new.add(page.name)
                page.folder.mkdir(parents=True, exist_ok=True)
                for format in formats:
                    path = page.folder / f"{page.name}.{format}"
                    path.write_text(page.markdown.read_text(encoding="utf-8"), encoding="utf-8")
                    made.append(pages.Drawn(page, format, path))
            return made

        with kept_in(self.scratch / FOLDER, is_fresh=is_fresh) as files, figures_left_blank():
            made, failed = pages.make(planned, views, folder, lambda what, done, of: None, draw)
            files.forget_unused()
        assert not failed
        assert not {file.page.name for file in made if file.is_standing} & new
        assert [file.page.name for file in made].count("alder-2091") == 2  # HTML and PDF
        self.standing = {file.page.name for file in made if file.is_standing}
        self.texts = {file.page.name: file.path.read_text(encoding="utf-8") for file in made}
        return new


@pytest.fixture(scope="module")
def first_run(tables, tmp_path_factory) -> Runs:
    """After one run of the tables; copy it, never go on with it."""
    runs = Runs(tmp_path_factory.mktemp("first") / "runs")
    assert runs(tables) == ALL
    return runs


@pytest.fixture
def runs(first_run, tmp_path) -> Runs:
    """Runs of a test's own, of which the first was of the tables as they are."""
    return first_run.copied(tmp_path / "runs")


def with_rows(tables: dict[str, pd.DataFrame], name: str, rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    return tables | {f"reports.{name}": rows}


def of_a_later_season(tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """One season more moves the average and every interval."""
    states, gains, own = (tables[f"reports.{name}"] for name in ("season_inputs", "gains", "site_year_gains"))
    later = pd.concat([states, pd.DataFrame({"season": [2093], "data_sha256": ["of 2093"]})], ignore_index=True)
    tables = with_rows(tables, "season_inputs", later)
    tables = with_rows(tables, "gains", gains.assign(estimate=gains["estimate"] + 1))
    return with_rows(tables, "site_year_gains", own.assign(half_width=own["half_width"] * 0.9))


def test_a_later_season_leaves_pages_as_they_are_and_they_say_so(tables, runs):
    before = dict(runs.texts)
    assert "seasons up to 2092;" in before["alder-2091"]
    assert runs(of_a_later_season(tables)) == set()
    assert runs.texts == before
    assert runs(of_a_later_season(tables)) == set()  # and the run after that
    assert runs(of_a_later_season(tables), is_fresh=True) == ALL
    assert "seasons up to 2093;" in runs.texts["alder-2091"]
    assert runs(of_a_later_season(tables)) == set() and "seasons up to 2093;" in runs.texts["alder-2091"]
    assert runs(tables) == ALL and runs.texts == before  # the season is withdrawn


def test_a_correction_reaches_every_page_that_speaks_for_its_season(tables, runs):
    runs(of_a_later_season(tables))
    states = of_a_later_season(tables)["reports.season_inputs"]
    of_last = states.assign(data_sha256=states["data_sha256"].where(states["season"] < 2093, "corrected"))
    assert runs(with_rows(of_a_later_season(tables), "season_inputs", of_last)) == set()
    of_all = states.assign(data_sha256=states["data_sha256"] + " corrected")
    assert runs(with_rows(of_a_later_season(tables), "season_inputs", of_all)) == ALL
    assert "seasons up to 2093;" in runs.texts["alder-2092"]


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("trials", {"place": "Alder Hill"}),
        ("plots", {"yield": 1.0}),
        ("applications", {"product": "another"}),
        ("treatment_means", {"mean": 3.0}),
    ],
)
def test_a_change_of_its_own_rows_makes_one_page_anew(name, change, tables, runs):
    view = tables[f"reports.{name}"]
    mine = view["site_year_id"] == "alder-2092"
    assert mine.any() and set(change) <= set(view.columns)
    changed = view.copy()
    for column, value in change.items():
        changed[column] = changed[column].mask(mine, value)
    assert runs(with_rows(tables, name, changed)) == {"alder-2092"}


def test_a_finding_on_its_trial_makes_one_page_anew(tables, runs):
    trials, findings = tables["reports.trials"], tables["reports.findings"]
    trial = trials.loc[trials["site_year_id"] == "birch-2091", "trial_id"].iloc[0]
    more = pd.DataFrame([{"trial_id": trial, "severity": "noted"}]).reindex(columns=findings.columns)
    assert runs(with_rows(tables, "findings", pd.concat([findings, more]))) == {"birch-2091"}


def test_other_settings_make_a_page_anew_where_they_tell_on_it(tables, runs):
    """A page that is the same is taken, as one that stands from then on."""
    before = dict(runs.texts)
    of_other_settings = with_rows(tables, "program", tables["reports.program"].assign(settings_sha256="changed"))
    assert runs(of_other_settings) == set() and runs.standing == set() and runs.texts == before
    assert runs(of_other_settings) == set() and runs.standing == ALL
    metric = of_other_settings["reports.program"].assign(settings_sha256="again", display_units="metric")
    assert runs(with_rows(tables, "program", metric)) == ALL


def test_a_new_crop_page_makes_all_anew_as_they_lead_to_it(tables, runs):
    comparisons = tables["reports.comparisons"]
    more = comparisons.iloc[[0]].assign(comparison_id="wheat-one", crop="wheat")
    assert runs(with_rows(tables, "comparisons", pd.concat([comparisons, more], ignore_index=True))) == ALL


def test_a_kept_page_that_was_damaged_is_made_anew(tables, runs):
    for file in (runs.scratch / FOLDER).iterdir():
        if "Alder, 2092" in file.read_text(encoding="utf-8", errors="replace"):
            file.write_text("cut short", encoding="utf-8")
    assert "alder-2092" in runs(tables)
