"""Who may be named in what is published: every byte of it is searched for the names of a drawn program."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.publishing import pages
from pipeline.publishing.codes import FILE
from pipeline.publishing.exports import write_exports
from pipeline.publishing.naming import named_as_allowed
from tests.examples import examples
from tests.peopled import LATITUDE, LONGITUDE, People, drawn_people, told_in, who_tells, write_peopled
from tests.tiny_program import TinyProgram
from tests.unit.publishing.woven import as_markdown, figures_left_blank

Peopled = tuple[dict[str, pd.DataFrame], People]


@pytest.fixture(scope="module")
def peopled(fitted_by_own_code, tmp_path_factory) -> Peopled:
    """The report views of a program with people, and who they are."""
    tiny, people = write_peopled(tmp_path_factory.mktemp("peopled") / "program", seed=1)
    return dict(tiny.load_and_estimate()), people


@pytest.fixture(scope="module")
def loaded_of(tmp_path_factory) -> Callable[[int], tuple[Path, dict[str, pd.DataFrame], People]]:
    """By seed: the folder of a program with people, its report views without estimates, and who they are; only to be
    read.
    """

    @cache
    def made(seed: int):
        tiny, people = write_peopled(tmp_path_factory.mktemp("drawn") / "program", seed)
        return tiny.folder, dict(tiny.load()), people

    return made


@pytest.fixture(scope="module")
def kept(tmp_path_factory) -> Path:
    """Where pages and figures are kept from one of the runs below to the next: none may come out again that tells what
    is now hidden.
    """
    return tmp_path_factory.mktemp("kept")


def allowing(tables: dict[str, pd.DataFrame], who: str) -> dict[str, pd.DataFrame]:
    """The tables as a run leaves them whose program.yml says so; without an estimate there is no run yet."""
    program = tables["reports.program"].reindex([0]) if tables["reports.program"].empty else tables["reports.program"]
    return tables | {"reports.program": program.assign(may_be_named=who)}


def named(tables: dict[str, pd.DataFrame], who: str, codes: Path) -> dict[str, pd.DataFrame]:
    return named_as_allowed(
        {name.removeprefix("reports."): frame for name, frame in allowing(tables, who).items()}, codes
    )


def published(tables, who: str, folder: Path, **how) -> dict[str, str]:
    pages.publish(allowing(tables, who), folder=folder / "published", program_name="Tiny", **how)
    return told_in(folder / "published")


def places_of(people: People) -> tuple[str, ...]:
    """Under `nobody`: names of places, sites and trials, site-years, positions."""
    of_seasons = tuple(f"{place} {season}" for place in people.places for season in (2091, 2092))
    return (*people.places, *of_seasons, LATITUDE, LONGITUDE)


@pytest.mark.parametrize("who", ["place only", "nobody"])
def test_no_byte_that_is_published_tells_a_name(peopled, kept, tmp_path, who):
    tables, people = peopled
    told = published(tables, who, tmp_path, kept=kept)
    assert {Path(file).suffix for file in told} >= {
        ".html",
        ".pdf",
        ".docx",
        ".pptx",
        ".svg",
        ".png",
        ".csv",
        ".parquet",
        ".txt",
        ".json",
    }
    assert who_tells(told, (*people.persons, *(places_of(people) if who == "nobody" else ()))) == []
    if who == "place only":
        seen = {Path(said.partition(":")[0]).suffix for said in who_tells(told, people.places)}
        assert seen >= {".html", ".pdf", ".csv", ".parquet"}


def test_all_are_named_where_a_cooperator_may_be(peopled, tmp_path):
    """So a name that is published is one that the search above finds, in tables and on pages."""
    tables, people = peopled
    with figures_left_blank():
        told = published(tables, "cooperator", tmp_path, draw=as_markdown)
    for name in (*people.persons, *people.places, LATITUDE):
        assert who_tells({file: text for file, text in told.items() if file.startswith("data/csv/")}, (name,)), name
    for name in (*people.cooperators, people.corrector, people.surname, *people.places[2:]):
        assert who_tells({file: text for file, text in told.items() if file.endswith(".html")}, (name,)), name
    assert not (tmp_path / FILE).exists()


@pytest.mark.parametrize("seed", range(3, 3 + examples(1, 60)))
def test_no_table_tells_a_drawn_name(loaded_of, tmp_path, seed):
    _, tables, people = loaded_of(seed)
    for who, hidden in (("place only", people.persons), ("nobody", (*people.persons, *places_of(people)))):
        shown = named(tables, who, tmp_path / FILE)
        write_exports(shown, tmp_path / who)
        assert who_tells(told_in(tmp_path / who), hidden) == []
        n_rows = {name: len(frame) for name, frame in shown.items() if name not in ("program", "places")}
        assert n_rows == {name: len(tables[f"reports.{name}"]) for name in n_rows}


def test_a_name_hidden_in_one_table_is_hidden_alike_in_all(peopled, tmp_path):
    """Codes stand for the same trial and place everywhere, and classes of soil and rain stay."""
    tables = peopled[0]
    shown = named(tables, "nobody", tmp_path / FILE)
    assert set(shown["plots"]["trial_id"]) <= set(shown["trials"]["trial_id"])
    assert set(shown["site_year_gains"]["site_year_id"]) <= set(shown["site_years"]["site_year_id"])
    for view, column in (
        ("site_years", "drainage_group"),
        ("site_years", "rainfall_class"),
        ("site_year_gains", "gain"),
    ):
        before = tables[f"reports.{view}"][column].dropna()
        assert sorted(shown[view][column].dropna()) == sorted(before) != []


def test_codes_hold_from_run_to_run_and_when_a_season_is_added(loaded_of, tmp_path):
    folder, of_both_seasons, _ = loaded_of(3)
    tiny = TinyProgram(shutil.copytree(folder, tmp_path / "program"))
    (tiny.folder / "warehouse.duckdb").unlink()
    shutil.rmtree(tiny.path("trials", 2092).parent)
    tables = dict(tiny.load())
    first, again = (named(tables, "nobody", tmp_path / FILE)["trials"]["trial_id"].tolist() for _ in range(2))
    trials = named(of_both_seasons, "nobody", tmp_path / FILE)["trials"]
    assert (
        first == again
        and trials.loc[trials["season"] == 2091, "trial_id"].tolist() == first
        and len(trials) > len(first)
    )


def test_own_pages_tell_own_names_whole_where_another_has_the_same_surname(tmp_path):
    """Brothers farm side by side: what is hidden of one must not cut the other's name and place in two."""
    said = "Anna Quist of Quist Farm says that Jon Quist and Mr. Quist sprayed it"
    trials = pd.DataFrame({
        "trial_id": ["T1", "T2"], "site_id": ["S1", "S2"], "site_year_id": ["quist-farm-2091", "elm-2091"],
        "place": ["Quist Farm", "Elm"], "season": 2091, "cooperator": ["Anna Quist", "Jon Quist"],
        "file": "seasons/2091/trials.csv",
    })  # fmt: skip
    names = [("person", "Anna Quist", None), ("person", "Jon Quist", None), ("place", "Quist Farm", "Quist Farm")]
    views = {
        "program": pd.DataFrame({"may_be_named": ["place only"]}),
        "names": pd.DataFrame(names, columns=["kind", "name", "stands_for"]),
        "files": trials[["file"]],
        "trials": trials,
        "site_years": trials[["site_year_id", "place", "season"]],
        "findings": pd.DataFrame({"file": [None], "found": [said]}),
    }
    shown = named_as_allowed(views, tmp_path / FILE, for_one={"Anna Quist", "Quist Farm", "S1", "T1"})
    assert shown["trials"]["cooperator"].tolist() == ["Anna Quist", "not named"]
    assert shown["findings"]["found"].tolist() == [
        "Anna Quist of Quist Farm says that [name withheld] and Mr. [name withheld] sprayed it"
    ]
    shown = named_as_allowed(views, tmp_path / FILE)
    assert "Quist" not in shown["findings"]["found"].str.cat() + shown["trials"].to_csv()


def test_a_warehouse_without_names_asks_for_a_report(peopled, tmp_path):
    tables = {name: frame for name, frame in peopled[0].items() if name != "reports.names"}
    with pytest.raises(UserError, match="older version. Run make report"):
        named(tables, "place only", tmp_path / FILE)


def test_drawn_people_share_no_word():
    people, changed = drawn_people(1)
    assert len({*people.persons, *people.places}) == 7 + len(changed)
