"""What moved a headline: each cause alone, several at once, and a trials layer that ends as if it were built anew.

In place of the estimates stands a number that can be worked out by hand: the used corn plots, plus a thousand times the
fewest blocks of the settings, plus what "the software" adds. The tiny program has 6 corn plots in each of two seasons.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pandas as pd
import pytest

from pipeline import provenance
from pipeline.estimates.engines import mixed
from pipeline.incoming.deliveries import beside_files
from pipeline.steps import changes, estimating, loading
from pipeline.steps.loading import build_checked
from pipeline.verbs import run
from pipeline.warehouse import open_warehouse
from tests.declared_shapes import whole
from tests.tiny_program import Stored, TinyProgram

SOFTWARE, DATA, SETTINGS, NEW_SEASON = changes.SOFTWARE, changes.DATA, changes.SETTINGS, changes.NEW_SEASON
CORRECTION = """\
- table: plots
  where: {trial_id: 2091-A-corn, plot: 102}
  change: {outcome: {old: harvested, new: lost}, cause: {old: "", new: deer}}
  cause: the field book says deer
  who: analyst 2
  date: 2091-12-01
  treatment_known: no
"""
LEAST_BORNE_OUT = 2012  # what the tiny program gives before a plot is lost
SECOND_COMPARISON = """\
  - id: corn-urea-vs-zero-n
    says: urea against no nitrogen
    crop: corn
    target: seasons tested
    treatment: {n_source: urea}
    comparator: {role: zero-N}
    match: none
    may_differ: [n_source, n_rate_lb_ac, timing, passes, placement]
    declared: 2090-11-15
"""


class Software:
    """The software at hand: what it adds to every estimate, and the hash of its lock file."""

    adds, lock = 0, "lock 1"

    def renewed(self) -> None:
        self.adds, self.lock = 0.5, "lock 2"


@pytest.fixture
def software(monkeypatch) -> Software:
    return stand_in(monkeypatch)


@pytest.fixture(scope="module")
def run_already(sound_program, tmp_path_factory) -> Path:
    """The folder of the tiny program after a first run; copy it, never change it."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("run") / "program"))
    with pytest.MonkeyPatch.context() as monkeypatch:
        stand_in(monkeypatch)
        assert steps(tiny) == []
    return tiny.folder


@pytest.fixture(scope="module")
def run_without_2092(sound_program, tmp_path_factory) -> Path:
    """The folder of the tiny program after a run without its second season, which lies in seasons-2092; copy it, never
    change it.
    """
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("one-season") / "program"))
    shutil.move(tiny.folder / "seasons/2092", tiny.folder / "seasons-2092")
    with pytest.MonkeyPatch.context() as monkeypatch:
        stand_in(monkeypatch)
        steps(tiny)
    return tiny.folder


@pytest.fixture
def one_season(run_without_2092, tmp_path) -> TinyProgram:
    """That program, a test's own."""
    return TinyProgram(shutil.copytree(run_without_2092, tmp_path / "one-season"))


def second_season_comes(tiny) -> None:
    shutil.move(tiny.folder / "seasons-2092", tiny.folder / "seasons/2092")


@pytest.fixture(scope="module")
def lost_and_the_same_again(run_already, tmp_path_factory) -> list[Outcome]:
    """Two more runs of that program: the first after a plot was lost, the second after nothing."""
    tiny = TinyProgram(shutil.copytree(run_already, tmp_path_factory.mktemp("lost") / "program"))
    one_plot_lost(tiny)
    with pytest.MonkeyPatch.context() as monkeypatch:
        stand_in(monkeypatch)
        return [rerun(tiny), rerun(tiny)]


@pytest.fixture
def known(run_already, tmp_path) -> TinyProgram:
    """A tiny program of the test's own that was run once."""
    return TinyProgram(shutil.copytree(run_already, tmp_path / "program"))


def stand_in(monkeypatch: pytest.MonkeyPatch) -> Software:
    """Puts the number worked out by hand in place of the estimates."""
    at_hand = Software()

    def headlines(warehouse, program) -> pd.DataFrame:
        plots = warehouse.read("select * from trials.plots where crop = 'corn' and fate = 'used'")
        value = len(plots) + 1000 * program.fewest_blocks + at_hand.adds
        rows = [
            {
                "comparison_id": c.id,
                "target": c.target,
                "estimate": value,
                "conf_low": value - 1.0,
                "conf_high": value + 1.0,
                "n_site_years": plots["site_year_id"].nunique(),
                "n_seasons": plots["season"].nunique(),
                "method": "by hand",
            }
            for c in program.comparisons
        ]
        return pd.DataFrame(rows)

    start = run.start_run
    monkeypatch.setattr(
        run, "start_run", lambda *words: replace(start(*words), lock_sha256=at_hand.lock, code_commit="one")
    )
    monkeypatch.setattr(estimating, "headlines", headlines)
    monkeypatch.setattr(loading, "build_checked", without_weather)
    return at_hand


def without_weather(*given, is_estimated: bool = True) -> None:
    """Neither rainfall classes nor covariates, on which the number worked out by hand does not rest."""
    build_checked(*given, is_estimated=False)


def estimate(warehouse, program, card, tell):
    found = estimating.headlines(warehouse, program).assign(run_id=card.run_id, unit="kg/ha")
    crops = pd.DataFrame(
        {"comparison_id": c.id, "position": i, "crop": c.crop} for i, c in enumerate(program.comparisons)
    )
    runs = pd.DataFrame([card.as_row()])
    borne_out = found["estimate"].iloc[0] >= LEAST_BORNE_OUT
    verdicts = pd.DataFrame(
        [
            {
                "run_id": card.run_id,
                "kind": "claim",
                "what": "A claim",
                "target": "seasons tested",
                "verdict": "borne out" if borne_out else "not shown",
            }
        ]
    )
    tables = {"runs": runs, "run_headlines": found, "comparisons": crops, "run_verdicts": verdicts}
    return {f"estimates.{name}": whole(name, rows) for name, rows in tables.items()}, card


def steps(tiny) -> list[tuple]:
    """(cause, before, after) of the last run, in order; one comparison."""
    return told(rerun(tiny))


def told(outcome: Outcome) -> list[tuple]:
    """The same of a run that was made."""
    found = outcome.changes
    mine = found[found["run_id"] == outcome.run_id].sort_values("step")
    return list(mine[["cause", "before_kg_ha", "after_kg_ha"]].itertuples(index=False, name=None))


class Outcome(NamedTuple):
    """What a run says of the one before."""

    run_id: str
    changes: pd.DataFrame
    verdict_changes: pd.DataFrame


def rerun(tiny) -> Outcome:
    card = tiny.rebuild(estimate)
    tables = Stored(tiny.folder / "warehouse.duckdb")
    return Outcome(card.run_id, tables["reports.changes"], tables["reports.verdict_changes"])


def one_plot_lost(tiny) -> None:
    tiny.change("plots", 3, "outcome", "lost")
    tiny.change("plots", 3, "cause", "deer")


def corrected(tiny) -> None:
    (tiny.folder / "seasons/2091/corrections.yml").write_text(CORRECTION, encoding="utf-8")


def one_more_trial(tiny) -> None:
    tiny.add_delivery("2091-C-corn")


def fewest_blocks_1(tiny) -> None:
    tiny.settings("program: Tiny trials", "program: Tiny trials\nfewest_blocks: 1")


def test_a_first_run_and_the_same_again_change_nothing(known, software):
    assert steps(known) == []


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (one_more_trial, (DATA, 2012, 2018)),
        (corrected, (DATA, 2012, 2011)),
        (lambda tiny: shutil.rmtree(tiny.folder / "seasons/2092"), (DATA, 2012, 2006)),
        (fewest_blocks_1, (SETTINGS, 2012, 1012)),
    ],
    ids=["late delivery", "correction", "season taken out", "settings"],
)
def test_one_cause_alone(known, software, change, expected):
    change(known)
    assert steps(known) == [expected]


def test_a_corrected_delivery_alone_is_told_once(lost_and_the_same_again):
    assert [told(outcome) for outcome in lost_and_the_same_again] == [[(DATA, 2012, 2011)], []]


@pytest.mark.thorough
@pytest.mark.parametrize("change", [corrected, one_more_trial, fewest_blocks_1])
def test_nor_is_anything_else_told_again(known, software, change):
    change(known)
    assert len(steps(known)) == 1
    assert steps(known) == []


def test_software_alone(known, software):
    software.renewed()
    assert steps(known) == [(SOFTWARE, 2012, 2012.5)]


def test_a_new_season_alone(one_season, software):
    second_season_comes(one_season)
    assert steps(one_season) == [(NEW_SEASON, 2006, 2012)]


def test_a_correction_and_a_setting_are_told_apart(known, software):
    corrected(known)
    fewest_blocks_1(known)
    assert steps(known) == [(DATA, 2012, 2011), (SETTINGS, 2011, 1011)]


def all_four(tiny, software) -> list[tuple]:
    second_season_comes(tiny)
    software.renewed()
    one_plot_lost(tiny)
    fewest_blocks_1(tiny)
    return steps(tiny)


def test_all_four_causes_each_on_top_of_the_one_before_and_then_the_trials_of_a_fresh_build(
    one_season, software, monkeypatch
):
    monkeypatch.setattr(loading, "build_checked", build_checked)
    tiny = one_season
    assert all_four(tiny, software) == [
        (SOFTWARE, 2006, 2006.5),
        (DATA, 2006.5, 2005.5),
        (SETTINGS, 2005.5, 1005.5),
        (NEW_SEASON, 1005.5, 1011.5),
    ]
    stored = layers(tiny)
    (tiny.folder / "warehouse.duckdb").unlink()
    steps(tiny)
    fresh = layers(tiny)
    assert len(stored) > 40 and stored.keys() == fresh.keys()
    for name, rows in fresh.items():
        pd.testing.assert_frame_equal(stored[name], rows, obj=name)
    assert len(fresh["trials.plots"]) == 18


def test_a_comparison_that_is_added_has_no_before(known, software):
    settings = known.settings_file
    settings.write_text(settings.read_text(encoding="utf-8") + SECOND_COMPARISON, encoding="utf-8")
    old, new = sorted(steps(known), key=lambda row: pd.isna(row[1]))
    assert old == (SETTINGS, 2012, 2012)
    assert new[0] == SETTINGS and pd.isna(new[1]) and new[2] == 2012


def layers(tiny) -> dict[str, pd.DataFrame]:
    """Every table between raw and the estimates, rows in order of their text."""
    query = (
        "select table_schema || '.' || table_name as name from information_schema.tables where table_schema in"
        " ('reference', 'staging', 'trials')"
    )
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        names = sorted(warehouse.read(query)["name"])
        return {
            name: warehouse.read(f"select cast(t as varchar) as row from {name} as t order by row") for name in names
        }


def test_earlier_settings_that_this_version_cannot_read_do_not_stop_the_run(known, software):
    with open_warehouse(known.folder / "warehouse.duckdb") as warehouse:
        warehouse.execute(
            """update estimates.runs set deciding_texts = '{"program.yml": "wished: by an older version"}'"""
        )
    one_plot_lost(known)
    fewest_blocks_1(known)
    assert steps(known) == [(changes.NOT_TOLD_APART, 2012, 1011)]


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16"])
def test_files_beside_that_are_no_utf_8_are_told_and_come_back_as_they_were(tiny, encoding):
    """A manifest as a spreadsheet program saves it, and a headings.yml beside no delivery, which nobody reads."""
    (tiny.folder / "seasons/2091/notes").mkdir()
    (tiny.folder / "seasons/2091/notes/headings.yml").write_bytes("# Größe\n".encode(encoding))
    line = f"plots.csv;{'0' * 64};Jörg;2091-12-01"
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    manifest.write_bytes(f"file;sha256;sender;received\n{line}\n".encode(encoding))
    text = changes.deciding_texts(tiny.folder, beside_files(tiny.folder))
    earlier = changes.Earlier({"deciding_texts": text}, pd.DataFrame(), 0, ("seasons/2091", "seasons/2092"))
    program, accompanying = changes._restored(tiny.folder.parent / "restored", earlier)
    assert program.name == "Tiny trials" and text.isascii()
    assert [(each.file, each.sender) for each in accompanying.received] == [("seasons/2091/plots.csv", "Jörg")]


def test_a_verdict_that_turned_is_told_by_the_run_that_turned_it(lost_and_the_same_again):
    turned, again = (outcome.verdict_changes for outcome in lost_and_the_same_again)
    assert turned[["kind", "what", "before", "after"]].values.tolist() == [
        ["claim", "A claim", "borne out", "not shown"]
    ]
    assert again.empty


def test_with_the_real_estimates_the_steps_join_the_two_headlines(tiny, monkeypatch):
    """The first step begins at the headline before, the last ends at the present one, whatever fits the models."""
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    monkeypatch.setattr(provenance, "_commit", lambda: "one")
    for season in (2091, 2092):
        name = f"{season}-B-corn"
        tiny.add_delivery(name, like=f"{season}-A-corn", season=season)
        tiny.change("trials", 2, "site_id", "Birch Flats", f"{season}/{name}")
        tiny.change("plots", 4, "harvest_weight_lb", f"{season - 2048}.5", f"{season}/{name}")
    before = headline_of(tiny.load_and_estimate())
    tiny.change("plots", 4, "harvest_weight_lb", "44.0")
    fewest_blocks_1(tiny)
    run_id = tiny.rebuild(run.estimate_all).run_id
    tables = Stored(tiny.folder / "warehouse.duckdb")
    after = headline_of(tables)
    found = tables["reports.changes"].query("run_id == @run_id and target == 'seasons tested'").sort_values("step")
    assert found["cause"].tolist() == [DATA, SETTINGS]
    assert found["before_kg_ha"].tolist() == pytest.approx([before, after], rel=1e-9)
    assert found["after_kg_ha"].tolist() == pytest.approx([after, after], rel=1e-9), "fewest blocks moves nothing here"
    assert abs(after - before) > 10


def headline_of(tables) -> float:
    gains = tables["reports.gains"]
    return gains.query("is_headline == True and moderator == 'all' and target == 'seasons tested'")[
        "estimate_kg_ha"
    ].item()
