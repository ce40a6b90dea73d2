"""The folder of pages that each cooperator gets: their own trials, and nothing of another's."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.file_names import page_names
from pipeline.publishing import for_cooperators, in_place, pages
from pipeline.publishing.for_cooperators import FOLDER, publish_for_cooperators
from pipeline.verbs import cooperators
from pipeline.verbs.cooperators import pages_for_cooperators
from tests.peopled import People, told_in, who_tells, write_peopled
from tests.tiny_program import TinyProgram
from tests.unit.publishing.woven import figures_left_blank

THIRD = "Ulla Third"


@pytest.fixture(scope="module")
def peopled(fitted_by_own_code, tmp_path_factory) -> tuple[Path, dict[str, pd.DataFrame], People]:
    """A program, its report views, and its people: one has 2091 at two places but shares the first's corn with a
    third.
    """
    tiny, people = write_peopled(tmp_path_factory.mktemp("peopled") / "program", seed=5)
    first, corn, cotton = (tiny.rows("trials")[row] for row in (0, 1, 2))
    shared = [cell if head != "trial_id" else "shared-corn" for head, cell in zip(first, corn, strict=True)]
    shared[first.index("cooperator")] = THIRD
    tiny.write("trials", [first, corn, cotton, shared])
    for table in ("treatments", "nitrogen_applications", "plots"):
        heads, *rows = tiny.rows(table)
        tiny.write(table, [heads, *rows, *(["shared-corn", *row[1:]] for row in rows if row[0] == corn[0])])
    return tiny.folder, dict(tiny.load_and_estimate()), people


def published(peopled, folder: Path, who: str) -> dict[str, Path]:
    _, tables, _ = peopled
    tables = tables | {"reports.program": tables["reports.program"].assign(may_be_named=who)}
    return publish_for_cooperators(tables, program_folder=folder, tell=lambda *_: None)


@pytest.fixture(scope="module")
def with_places(peopled, tmp_path_factory) -> tuple[Path, dict[str, Path]]:
    """A folder with pages that name places only, their figures blank, and whose is which of it; copy it, never change
    it.
    """
    folder = tmp_path_factory.mktemp("made")
    with figures_left_blank():
        return folder, published(peopled, folder, "place only")


@pytest.fixture
def made(with_places, tmp_path) -> dict[str, Path]:
    """A copy of it in tmp_path: each cooperator's folder."""
    folder, made = with_places
    shutil.copytree(folder, tmp_path, dirs_exist_ok=True)
    return {cooperator: tmp_path / of.relative_to(folder) for cooperator, of in made.items()}


@pytest.mark.parametrize("who", ["nobody", "cooperator"])
def test_each_gets_their_own_pages_and_nothing_of_another(peopled, tmp_path, who):
    _, tables, people = peopled
    made = published(peopled, tmp_path, who)
    first, second = people.cooperators
    assert set(made) == {first, second, THIRD}
    trials = tables["reports.trials"]
    for cooperator, folder in made.items():
        told = told_in(folder)
        own = trials[trials["cooperator"] == cooperator]
        assert {Path(file).stem for file in told} == {page_names([each])[each] for each in own["site_year_id"].dropna()}
        assert all(who_tells({file: text}, (cooperator,)) for file, text in told.items())
        others = {*people.persons, THIRD} - {cooperator, people.surname if cooperator == first else ""}
        others |= set(trials["trial_id"]) - set(own["trial_id"])
        assert who_tells(told, tuple(others)) == []
        assert set(own.dropna(subset=["site_year_id"])["place"]) <= {
            said.partition(": ")[2] for said in who_tells(told, tuple(trials["place"].dropna()))
        }


def test_a_page_leads_nowhere_and_needs_nothing(made):
    links = [
        link
        for folder in made.values()
        for page in folder.glob("*.html")
        for link in re.findall(r'(?:href|src)="([^"]*)"', page.read_text(encoding="utf-8"))
    ]
    assert any(link.startswith("data:image/") for link in links)  # its figures
    assert [link for link in links if not link.startswith(("data:", "#"))] == []


def test_a_gain_that_two_cooperators_share_is_not_told(peopled, made):
    _, tables, people = peopled
    trials = tables["reports.trials"]
    shared = trials.loc[trials["trial_id"] == "shared-corn", "site_year_id"].item()
    gain = tables["reports.site_year_gains"].query("site_year_id == @shared")
    assert len(gain)
    for cooperator in (people.cooperators[0], THIRD):
        text = (made[cooperator] / f"{page_names([shared])[shared]}.html").read_text(encoding="utf-8")
        assert "Another cooperator has a trial of corn here in this season too." in re.sub(r"\s+", " ", text)
        assert f"{gain['gain'].iloc[0]:.1f} bu/ac" not in text


def test_what_is_gone_is_taken_away_and_what_is_not_ours_stays(peopled, made, tmp_path):
    _, tables, people = peopled
    mine = [made[THIRD] / "mine.txt", tmp_path / FOLDER / "kept" / "mine.txt"]
    mine[1].parent.mkdir()
    for path in mine:
        path.write_text("of the user")
    assert any(made[people.cooperators[1]].iterdir())
    fewer = tables["reports.trials"][tables["reports.trials"]["cooperator"] == people.cooperators[0]]
    with figures_left_blank():
        again = published((None, tables | {"reports.trials": fewer}, people), tmp_path, "place only")
    assert [path.name for path in made[THIRD].iterdir()] == ["mine.txt"] and mine[1].exists()
    assert not made[people.cooperators[1]].exists() and any(again[people.cooperators[0]].iterdir())


def test_a_run_that_fails_leaves_the_pages_there_are(peopled, made, tmp_path, monkeypatch):
    before = {path.name for path in made[THIRD].iterdir()}

    def stopped(*_, **__):
        raise UserError("the disk is full")

    monkeypatch.setattr(pages, "make", stopped)
    with pytest.raises(UserError, match="disk is full"):
        published(peopled, tmp_path, "place only")
    assert {path.name for path in made[THIRD].iterdir()} == before
    assert all(in_place.EARLIER in page.read_text(encoding="utf-8") for page in made[THIRD].glob("*.html"))
    assert sorted(path.name for path in (tmp_path / FOLDER).iterdir()) == sorted(
        ["data", *(f.name for f in made.values())]
    )


def test_the_command_says_where_they_are_and_whose_trials_nobody_gets(estimated_program, tmp_path, capsys):
    pages_for_cooperators(TinyProgram(estimated_program).folder)
    said = " ".join(capsys.readouterr().out.split())
    assert said == (
        "3 trials without a cooperator: nobody gets a page of them."
        " No folder is written: the column cooperator of trials names nobody."
    )


@pytest.mark.parametrize(
    ("named", "made", "says"),
    [
        (
            [None, "Anna"],
            ["Anna"],
            "1 trial without a cooperator: nobody gets a page of them. 1 folder, each",
        ),
        (["Anna", "Bo"], ["Anna", "Bo"], "2 folders, each to be sent to its cooperator alone: "),
        ([None, "Anna"], [], "nobody gets a page of them. No folder is written: no trial of theirs has a page."),
    ],
)
def test_folders_are_counted_as_they_are_made(monkeypatch, capsys, tmp_path, named, made, says):
    monkeypatch.setattr(cooperators, "stored_views", lambda folder: {"trials": pd.DataFrame({"cooperator": named})})
    monkeypatch.setattr(for_cooperators, "publish_for_cooperators", lambda *_, **__: dict.fromkeys(made))
    pages_for_cooperators(tmp_path)
    assert says in " ".join(capsys.readouterr().out.split())


def test_a_folder_never_passes_to_another(peopled):
    """Whoever is added, a folder is that of the same cooperator or is gone."""
    alone, both = page_names(["Anna"]), page_names(["Anna", "ANNA"])
    assert alone["Anna"] not in {both["ANNA"], both["Anna"]}
