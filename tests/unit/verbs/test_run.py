"""The flow: what arrives, what is withdrawn, what is the same again, and what a run hands on."""

from __future__ import annotations

import shutil
from datetime import date
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline import console
from pipeline.__main__ import main
from pipeline.errors import UserError
from pipeline.estimates.engines import mixed
from pipeline.estimates.where import breakdown
from pipeline.incoming.deliveries import find_files
from pipeline.provenance import start_run
from pipeline.publishing import pages
from pipeline.settings.program import read_program
from pipeline.steps import loading
from pipeline.verbs import answers, run
from pipeline.warehouse import open_warehouse
from tests.tiny_program import Stored, TinyProgram, no_estimates


def loaded(tiny) -> SimpleNamespace:
    """What a run without estimates leaves, with the paths that arrived and that were withdrawn."""
    told = []
    card = tiny.rebuild(no_estimates, told.append)
    tables = Stored(tiny.folder / "warehouse.duckdb")
    return SimpleNamespace(card=card, tables=tables, arrived=told[0].arrived, withdrawn=told[0].withdrawn)


def without_pages(outcome) -> None:
    """For runs that are to stop before the pages."""


def plots_used(outcome) -> int:
    counts = outcome.tables["reports.row_counts"]
    return counts.loc[counts["table_name"] == "plots", "used"].sum()


@pytest.fixture(scope="module")
def first_run(sound_program, tmp_path_factory) -> tuple[Path, SimpleNamespace]:
    """The folder of the tiny program after its first run, to be copied and never changed; and what the run left."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("run") / "program"))
    return tiny.folder, loaded(tiny)


@pytest.fixture
def first(first_run) -> SimpleNamespace:
    """What a first run left, which tests only read."""
    return first_run[1]


@pytest.fixture
def known(first_run, tmp_path) -> TinyProgram:
    """A tiny program of the test's own after its first run."""
    return TinyProgram(shutil.copytree(first_run[0], tmp_path / "program"))


def test_everything_arrives_once(first, known):
    again = loaded(known)
    assert first.arrived == [f.file for f in find_files(known.folder)] and first.withdrawn == []
    assert again.arrived == again.withdrawn == []
    assert plots_used(first) == plots_used(again) == 18
    assert first.card.inputs_sha256 == again.card.inputs_sha256 and first.card.run_id != again.card.run_id


def test_what_is_edited_while_a_run_reads_is_other_than_the_run_notes(first, known, monkeypatch):
    """Else the next run would take the pages for current."""

    def edited_meanwhile(*given, **named):
        (known.folder / "seasons/2091/headings.yml").write_text("words: {}\n")
        known.settings("program: Tiny trials", "program: Tiny")
        return load(*given, **named)

    load = run.load
    monkeypatch.setattr(run, "load", edited_meanwhile)
    card = known.rebuild()
    assert card.inputs_sha256 == first.card.inputs_sha256 and card.settings_sha256 == first.card.settings_sha256
    assert card.deciding_texts == first.card.deciding_texts


def test_raw_holds_every_cell_as_it_came(tiny):
    tiny.change("plots", 2, "harvest_weight_lb", " 22.30 ")
    with tiny.staged() as warehouse:
        kept = warehouse.read("""
            select r.row_number, f.file, r.cells ->> 'harvest_weight_lb' as weight
            from raw.rows as r inner join raw.current_files as f using (sha256)
            where r.table_name = 'plots' and f.season = 2091 order by r.row_number""")
    at = tiny.rows("plots")[0].index("harvest_weight_lb")
    assert kept["weight"].tolist() == [row[at] for row in tiny.rows("plots")[1:]]
    assert kept["row_number"].tolist() == list(range(2, 14)) and set(kept["file"]) == {"seasons/2091/plots.csv"}


def test_a_changed_file_takes_the_place_of_the_one_before_which_stays_in_raw(first, known):
    tiny = known
    tiny.change("plots", 2, "outcome", "lost")
    outcome = loaded(tiny)
    assert outcome.arrived == ["seasons/2091/plots.csv"]
    assert plots_used(outcome) == 17
    with open_warehouse(tiny.folder / "warehouse.duckdb") as warehouse:
        assert len(warehouse.read("select * from raw.rows where table_name = 'plots'")) == 12 + 12 + 6
    tiny.change("plots", 2, "outcome", "harvested")
    taken_back = loaded(tiny)
    assert taken_back.arrived == ["seasons/2091/plots.csv"] and plots_used(taken_back) == 18
    assert taken_back.card.inputs_sha256 == first.card.inputs_sha256 != outcome.card.inputs_sha256


def test_a_season_that_is_taken_out_no_longer_counts_and_may_come_back(loaded_tiny, tmp_path):
    tiny = loaded_tiny
    shutil.move(tiny.folder / "seasons/2092", tmp_path / "2092")
    outcome = loaded(tiny)
    assert len(outcome.withdrawn) == 5 and plots_used(outcome) == 12
    assert set(outcome.tables["reports.row_counts"]["season"]) == {2091}
    shutil.move(tmp_path / "2092", tiny.folder / "seasons/2092")
    outcome = loaded(tiny)
    assert len(outcome.arrived) == 5 and plots_used(outcome) == 18


def test_a_file_that_moves_within_its_season_is_used_once(loaded_tiny):
    tiny = loaded_tiny
    (tiny.folder / "seasons/2091/north").mkdir()
    tiny.path("plots").rename(tiny.path("plots", "2091/north"))
    outcome = loaded(tiny)
    assert (outcome.arrived, outcome.withdrawn) == (["seasons/2091/north/plots.csv"], ["seasons/2091/plots.csv"])
    assert plots_used(outcome) == 18 and outcome.tables["reports.findings"].empty


def test_the_same_file_in_two_places_is_used_once(tiny):
    (tiny.folder / "seasons/2091/copy").mkdir()
    shutil.copy(tiny.path("plots"), tiny.path("plots", "2091/copy"))
    tables = tiny.checked()
    counts = tables["reports.row_counts"].set_index(["season", "table_name"]).loc[(2091, "plots")]
    assert (counts["delivered"], counts["used"], counts["set_aside"]) == (24, 12, 12)
    (finding,) = tables["reports.findings"].itertuples()
    assert finding.severity == "noted" and "12 rows" in finding.found + finding.mend


def test_a_program_in_kilograms_and_hectares_gives_the_same_yields(first, tiny):
    before = first.tables["reports.plots"]
    tiny.settings("program: Tiny trials", "program: Tiny trials\ndisplay_units: metric")
    after = tiny.checked()["reports.plots"]
    assert set(before["unit"]) == {"bu/ac", "lb/ac"} and set(after["unit"]) == {"kg/ha"}
    assert after["yield"].tolist() == after["yield_kg_ha"].tolist() == before["yield_kg_ha"].tolist()


def test_a_crop_of_the_programs_own(tiny):
    crops = "crops:\n  barley: {bushel_lb: 48, standard_moisture_pct: 14.5, typical: [15, 300], hard: [0, 400]}\n"
    tiny.settings("comparisons:", crops + "comparisons:")
    tiny.change("trials", 2, "crop", "Barley")
    plot = tiny.checked()["reports.plots"].query("trial_id == '2091-A-corn' and plot == '103'").iloc[0]
    # 42.9 lb at 18.2% on 150 square feet, a bushel of 48 lb at 14.5%
    assert plot["yield"] == pytest.approx(42.9 * 81.8 / 85.5 / 48 / (150 / 43_560))


def test_settings_reach_the_queries(tiny):
    tables = loading.settings_tables(read_program(tiny.folder))
    windows = tables["reference.rainfall_windows"]
    assert windows.to_dict("records")[0] == {
        "crop": "corn",
        "first_day": "05-01",
        "last_day": "05-05",
        "first_year": 2071,
        "last_year": 2074,
        "fewest_years": 3,
        "fixed_on": date(2090, 11, 15),
    }
    assert tables["reference.program"].to_dict("records") == [
        {"program": "Tiny trials", "display_units": "us", "may_be_named": "place only"}
    ]
    known = tables["reference.known_headings"]
    assert set(known.loc[known["is_pattern"], "heading"]) == {"factor_"}


def test_the_whole_command_says_what_it_did(tiny, capsys):
    tiny.change("plots", 4, "moisture_pct", "0.182")
    assert main(["report", "--program", str(tiny.folder)], estimate=no_estimates, publish=without_pages) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "12 new or changed files" in said
    assert "│ plots │ 18 │ 12 │ 0 │ 6 │ 0 │" in said
    assert "holds the trial: plots.moisture outside its hard range (1 row)" in said
    assert "seasons/2091/plots.csv row 4, moisture_pct: found 0.182; expected 8 to 45% (corn)" in said
    assert "1 trial held and out until this is settled: 2091-A-corn." in said
    assert main(["report", "--program", str(tiny.folder)], estimate=no_estimates, publish=without_pages) == 0
    assert "No file is new or changed since the last run." in capsys.readouterr().out


def test_a_season_from_elsewhere_and_the_same_again(tiny, capsys, tmp_path):
    shutil.move(tiny.folder / "seasons/2092", tmp_path / "2092")
    loaded(tiny)
    words = ["season", str(tmp_path / "2092"), "--program", str(tiny.folder)]
    assert main(words, estimate=no_estimates, publish=without_pages) == 0
    assert "5 new or changed files" in capsys.readouterr().out
    kept = tiny.contents()
    assert main(words, estimate=no_estimates, publish=without_pages) == 0
    assert "No file is new or changed" in capsys.readouterr().out
    assert tiny.contents() == kept


@pytest.mark.parametrize(
    ("n_standing", "said"),
    [(0, ""), (1, "Left as published: 1 site-year page. "), (2, "Left as published: 2 site-year pages. ")],
)
def test_pages_that_a_run_leaves_as_they_are_are_counted(
    n_standing, said, estimated_program, tmp_path, monkeypatch, capsys
):
    folder = Path(shutil.copytree(estimated_program, tmp_path / "program"))
    tables = {f"reports.{name}": frame for name, frame in answers.stored_views(folder).items()}
    (folder / "published" / "data").mkdir(parents=True)
    files = [pages.Published(Path(f"{i}.{kind}"), kind, i < n_standing) for i in range(3) for kind in ("html", "pdf")]
    monkeypatch.setattr(pages, "publish", lambda *given, **more: files)
    run.publish(run.Outcome(read_program(folder), start_run("report", folder / "program.yml"), tables))
    out = capsys.readouterr().out
    assert said in out and ("Left as published" in out) == bool(n_standing)


def test_one_site_year_alone_is_counted_and_not_averaged(tiny):
    """The whole run with R: nothing is claimed from one site-year, and nothing breaks."""
    tiny.remove("plots", *range(8, 14))
    tiny.change("trials", 3, "outcome", "lost")
    shutil.rmtree(tiny.folder / "seasons/2092")
    tables = tiny.load_and_estimate()
    (flow,) = tables["reports.flow"].itertuples()
    assert (flow.n_listed, flow.n_used, flow.n_site_years) == (1, 1, 1)
    overall = tables["reports.gains"].query("moderator == 'all'")
    assert set(overall["n_site_years"]) == {1} and set(overall["shown_as"]) == {"count"}
    assert overall[["conf_low", "conf_high"]].isna().all(axis=None)
    # blend 42.6 lb against urea 41.0 lb in both blocks
    (gain,) = tables["reports.site_year_gains"]["gain"]
    assert gain == pytest.approx(1.6 * 81.8 / 84.5 / 56 / (150 / 43_560))


def test_seasons_that_answer_no_comparison_are_loaded_and_said_to(tiny, capsys):
    tiny.settings("comparator: {n_source: urea}", "comparator: {n_source: manure}")
    made = []
    assert main(["report", "--program", str(tiny.folder)], publish=lambda outcome: made.append(outcome.tables)) == 0
    said = capsys.readouterr()
    assert "Traceback" not in said.err and ": no average; " in said.out
    (tables,) = made
    assert (
        tables["reports.left_out"]["reason"].tolist()
        == ["the trial has no comparator at an N rate of this comparison"] * 2
    )
    (flow,) = tables["reports.flow"].itertuples()
    assert (flow.n_listed, flow.n_not_eligible, flow.n_used) == (2, 2, 0)
    assert tables["reports.comparisons"]["n_site_years"].tolist() == [0]
    assert tables["reports.row_counts"]["used"].sum() == tables["reports.row_counts"]["delivered"].sum()


@pytest.mark.parametrize(
    ("variable", "word", "mend"),
    [("DRAW_BY", "pandocs", 'did you mean "pandoc"?'), ("FIT_BY", "lmer", "It may be lme4 or own")],
)
def test_a_wrong_word_for_what_draws_or_fits_is_said_before_any_work(tiny, monkeypatch, capsys, variable, word, mend):
    monkeypatch.setenv(variable, word)
    assert main(["report", "--program", str(tiny.folder)]) == 1
    assert mend in capsys.readouterr().err
    assert not (tiny.folder / "warehouse.duckdb").exists()


def test_the_averages_are_said_as_soon_as_they_stand(tiny, monkeypatch, capsys):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    said = []

    def stopped(*_, **more):
        said.append(capsys.readouterr().out)
        raise UserError("stopped after the averages")

    monkeypatch.setattr(breakdown, "breakdowns", stopped)
    assert main(["report", "--program", str(tiny.folder)]) == 1
    assert "\nAverage gains, each on the target it declares (95% interval)\n   corn-blend-vs-urea: " in said[0]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_averages_that_are_said_early_are_those_of_the_reports(tiny, monkeypatch, capsys, units):
    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    if units == "metric":
        tiny.settings_file.write_text(tiny.settings_file.read_text() + "display_units: metric\n")
    for season in (2091, 2092):
        name = f"{season}-B-corn"
        tiny.add_delivery(name, like=f"{season}-A-corn", season=season)
        tiny.change("trials", 2, "site_id", "Birch Flats", f"{season}/{name}")
        tiny.change("plots", 4, "harvest_weight_lb", f"{season - 2048}.5", f"{season}/{name}")
    tables = tiny.load(partial(run.estimate_all, tell_averages=console.headlines))
    said_early = capsys.readouterr().out
    console.headlines(tables["reports.gains"])
    assert capsys.readouterr().out == said_early
    assert {"us": " bu/ac (", "metric": " kg/ha ("}[units] in said_early


def test_what_needs_mending_is_said_before_anything_is_estimated(tiny, capsys):
    tiny.change("plots", 4, "moisture_pct", "0.182")

    def stopped(*_):
        raise UserError("stopped while estimating")

    assert main(["report", "--program", str(tiny.folder)], estimate=stopped) == 1
    assert "plots.moisture outside its hard range" in capsys.readouterr().out
    assert "found 0.182" in (tiny.folder / "findings/all.txt").read_text()
