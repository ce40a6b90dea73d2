"""The verbs claims and trace: what they say of a program's last report, and with which exit code.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import re
import shutil

import pandas as pd
import pytest

from pipeline import trace
from pipeline.__main__ import main
from pipeline.display.review import trace as trace_words
from pipeline.errors import UserError
from pipeline.provenance import sha256_of
from pipeline.verbs import answers
from tests.tiny_program import HEADS_OF_PRINTED_MEANS, TinyProgram
from tests.unit.settings.test_claims import CLAIM


@pytest.fixture(scope="module")
def reported(sound_program, fitted_by_own_code, tmp_path_factory) -> TinyProgram:
    """The tiny program with a claim, a lost plot and a correction, loaded and estimated."""
    folder = tmp_path_factory.mktemp("reported") / "program"
    shutil.copytree(sound_program, folder)
    tiny = TinyProgram(folder)
    tiny.settings_file.write_text("fewest_blocks: 1\n" + tiny.settings_file.read_text() + CLAIM)
    tiny.change("plots", 4, "outcome", "lost")
    tiny.change("plots", 4, "cause", "deer")
    for season, crop in ((2091, "soybean"), (2092, "cotton")):
        tiny.fill("trials", "previous_crop", crop, season)
    (folder / "seasons/2091/corrections.yml").write_text(CORRECTION)
    tiny.load_and_estimate()
    return tiny


CORRECTION = """- table: plots
  where: {trial_id: 2091-A-corn, plot: 202}
  change: {harvest_weight_lb: {old: 41.6, new: 41.9}}
  cause: scale ticket misread
  who: A. Field Office
  date: 2091-11-02
  treatment_known: no
"""


@pytest.fixture
def views(reported) -> dict[str, pd.DataFrame]:
    return answers.stored_views(reported.folder, trace.VIEWS)


def headline(views) -> pd.Series:
    gains = views["gains"]
    return gains[gains["is_headline"].eq(True) & gains["is_declared"] & (gains["moderator"] == "all")].iloc[0]


def test_a_plot_is_traced_to_the_row_it_was_delivered_in(reported, views):
    found = trace.walk(views, headline(views)["estimate_id"])
    assert set(found.plots["trial_id"]) == {"2091-A-corn", "2092-A-corn"} and set(found.plots["arm"]) == {
        "treatment",
        "comparator",
    }
    for plot in found.plots.to_dict("records"):
        rows = reported.rows("plots", plot["file"].split("/")[1])
        cells = dict(zip(rows[0], rows[int(plot["row_number"]) - 1], strict=True))
        assert (cells["trial_id"], cells["plot"], cells["treatment_code"]) == (
            plot["trial_id"],
            plot["plot"],
            plot["treatment_code"],
        )
        assert len(plot["sha256"]) == 64
    alone, lost = found.plots[found.plots["fate"] != "used"].to_dict("records")
    assert (lost["plot"], lost["fate"]) == ("103", "set aside") and "deer" in lost["reason"]
    assert (alone["plot"], alone["fate"]) == ("102", "not compared") and alone["block"] == lost["block"]
    assert found.site_years["n_plots"].sum() == len(found.plots) - 2


def test_a_correction_stands_in_the_walk(views):
    (found,) = trace.walk(views, headline(views)["estimate_id"]).corrections.to_dict("records")
    assert (found["old"], found["new"], found["cause"]) == ("41.6", "41.9", "scale ticket misread")


def test_rain_is_traced_to_the_files_it_came_from(reported, views):
    rain = trace.walk(views, headline(views)["estimate_id"]).rain
    files = dict(zip(rain["file"], rain["sha256"], strict=True))
    assert set(rain["used_for"]) == {"window", "reference years"} and set(rain["site_year_id"]) == {
        "alder-2091",
        "alder-2092",
    }
    assert all(sha256_of(reported.folder / file) == sha256 for file, sha256 in files.items())
    window = rain[rain["used_for"] == "window"].set_index("site_year_id").loc["alder-2091"]
    rows = reported.rows("weather_daily")
    between = [
        dict(zip(rows[0], row, strict=True)) for row in rows[int(window["first_row"]) - 1 : int(window["last_row"])]
    ]
    assert sum(float(row["rain_in"]) for row in between if row["place"] == "Alder") == pytest.approx(
        window["rain_inch"]
    )


def test_every_id_there_is_leads_to_its_site_years(views):
    assert set(views["explored"]["moderator"]) == {"previous crop"}
    for row in pd.concat([views["gains"], views["explored"]]).itertuples():
        found = trace.walk(views, row.estimate_id)
        assert found.estimate["estimate_id"] == row.estimate_id and len(found.site_years) == row.n_site_years
        assert set(found.plots["site_year_id"]) == set(found.site_years["site_year_id"])


def test_an_average_at_one_rate_leads_to_the_plots_of_that_rate_alone(views):
    """Rows as a second rate in the same site-years would give them."""
    row, sources = views["explored"].iloc[:1], views["sources"]
    at = {"moderator": "N rate", "level": "89.6681", "rate_kg_ha": 89.66809}
    both = pd.concat([sources, sources.assign(rate_kg_ha=at["rate_kg_ha"])])
    site_years = views["explored_site_years"].assign(**at)
    found = trace.walk(
        views | {"explored": row.assign(estimate_id="r", **at), "explored_site_years": site_years, "sources": both}, "r"
    )
    assert len(found.site_years) == len(site_years) and len(found.plots) > 0
    assert set(found.plots["rate_kg_ha"]) == {at["rate_kg_ha"]}


def test_a_traced_yield_is_recomputed_from_its_line(views):
    """Pounds at 15.5% moisture, 56 lb a bushel, 43,560 square feet an acre (Ohio State AGF-502)."""
    plots = trace.walk(views, headline(views)["estimate_id"]).plots
    bushels = plots["harvest_weight_lb"] * (100 - plots["moisture_pct"]) / (100 - 15.5) / 56
    assert plots["yield"].tolist() == pytest.approx((bushels / (plots["harvest_area_ft2"] / 43_560)).tolist(), rel=1e-9)
    assert plots["harvest_weight_kg"].tolist() == pytest.approx((plots["harvest_weight_lb"] * 0.45359237).tolist())
    line = trace_words.plot_line(plots[plots["fate"].eq("used")].iloc[0])
    told = re.search(r", ([\d.]+) bu/ac from ([\d.]+) lb at ([\d.]+)% moisture on ([\d.]+) sq ft$", line)
    printed, lb, moisture, area = map(float, told.groups())
    assert lb * (100 - moisture) / 84.5 / 56 / (area / 43_560) == pytest.approx(printed, abs=0.05)


CORRECTION_OF_A_PICK = """- table: harvests
  where: {{trial_id: {trial_id}, plot: {plot}, pick: 2}}
  change: {{harvest_weight_lb: {{old: 11, new: 11.4}}}}
  cause: scale ticket misread
  who: A. Field Office
  date: 2091-11-02
  treatment_known: no
"""


@pytest.fixture(scope="module")
def otherwise(sound_program, fitted_by_own_code, tmp_path_factory) -> dict[str, pd.DataFrame]:
    """Views of the tiny program with a plot picked twice, one pick corrected, and with a trial known by print."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path_factory.mktemp("otherwise") / "program"))
    pick_twice(tiny)
    add_printed(tiny)
    tiny.load_and_estimate()
    return answers.stored_views(tiny.folder, trace.VIEWS)


def pick_twice(tiny: TinyProgram) -> None:
    row = tiny.rows("plots")[2]
    plot = dict(zip(tiny.rows("plots")[0], row, strict=True))
    tiny.change("plots", 3, "harvest_weight_lb", "")
    tiny.write(
        "harvests",
        [
            ["trial_id", "plot", "pick", "harvest_weight_lb"],
            *([plot["trial_id"], plot["plot"], pick, lb] for pick, lb in (("1", "30"), ("2", "11"))),
        ],
    )
    (tiny.folder / "seasons/2091/corrections.yml").write_text(CORRECTION_OF_A_PICK.format(**plot))


def add_printed(tiny: TinyProgram) -> None:
    tiny.add_delivery("old-report")
    assert len(tiny.rows("trials", "2091/old-report")) == 2
    tiny.change("trials", 2, "site_id", "Birch Flats", "2091/old-report")
    tiny.path("plots", "2091/old-report").unlink()
    means = [
        ["old-report", code, mean, "4", "LSD", "9.0", "0.05", "annual report 2091, p. 14"]
        for code, mean in (("U-120", "171"), ("C-120", "176"))
    ]
    tiny.write("printed_means", [HEADS_OF_PRINTED_MEANS, *means], "2091/old-report")


def test_a_plot_picked_twice_is_traced_to_each_pick(otherwise):
    found = trace.walk(otherwise, headline(otherwise)["estimate_id"])
    assert found.picks[["pick", "row_number", "file"]].to_numpy().tolist() == [
        [1, 2, "seasons/2091/harvests.csv"],
        [2, 3, "seasons/2091/harvests.csv"],
    ]
    assert found.picks["harvest_weight_lb"].tolist() == pytest.approx([30, 11.4]) and found.picks[
        "sha256"
    ].str.len().tolist() == [64, 64]
    assert found.corrections[["table_name", "row_number"]].to_numpy().tolist() == [["harvests", 3]]


def test_an_id_whose_data_changed_leads_to_the_id_it_has_now(reported, views, capsys):
    now = headline(views)["estimate_id"]
    assert main(["trace", f"{now.split('-')[0]}-0000", "--program", str(reported.folder)]) == 1
    assert f"it is now {now}" in " ".join(capsys.readouterr().err.split())


def test_the_beginning_of_an_id_leads_to_the_whole_one(reported, views):
    now = headline(views)["estimate_id"]
    for begun in (now.split("-")[0], now[:-2]):
        assert trace.walk(views, begun).estimate["estimate_id"] == now


def test_the_walk_on_the_screen(reported, views, capsys):
    words = ["trace", headline(views)["estimate_id"], "--program", str(reported.folder)]
    assert main(words) == 0
    short = capsys.readouterr().out
    assert len(short.splitlines()) <= 10 and "delivered in 2 files" in short and "WHOLE=yes" in short
    assert main([*words, "--whole"]) == 0
    said = capsys.readouterr().out
    assert "2091-A-corn: seasons/2091/plots.csv, sha256 " in said
    assert "row 3: plot 102, block 1, U-120 (comparator)" in " ".join(said.split())
    assert "scale ticket misread (A. Field Office, 2091-11-02)" in " ".join(said.split())
    assert "deer" in said and "Rule: " in said and "Inputs " in said


def test_a_trial_known_by_print_is_traced_to_its_printed_means(otherwise):
    found = trace.walk(otherwise, headline(otherwise)["estimate_id"])
    printed = found.plots[found.plots["fate"] == "known by print"]
    assert printed["file"].unique().tolist() == ["seasons/2091/old-report/printed_means.csv"]
    assert dict(zip(printed["arm"], printed["row_number"], strict=True)) == {"comparator": 2, "treatment": 3}
    assert (
        printed["yield"].tolist() == pytest.approx([171, 176])
        and "annual report 2091, p. 14" in printed["reason"].iloc[0]
    )
    assert "birch-2091" in set(found.site_years["site_year_id"])


def test_an_id_that_is_none_of_ours(reported, capsys):
    assert main(["trace", "nothing", "--program", str(reported.folder)]) == 1
    assert 'no estimate has the id "nothing": ids stand in gray' in capsys.readouterr().err


def test_claims_of_two_site_years_are_too_few_and_do_not_stop_a_publication(reported, capsys):
    assert main(["claims", "--program", str(reported.folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Five bushels more." in said and "Too few: fewer than 6 site-years" in said


@pytest.mark.parametrize(
    ("verdict", "code"),
    [("contradicted", 2), ("says more than shown", 2), ("not shown", 0), ("borne out", 0), ("too few", 0)],
)
def test_the_exit_code_guards_a_publication(reported, monkeypatch, capsys, verdict, code):
    read = answers.stored_views

    def judged(folder, names):
        views = read(folder, names)
        return views | {"claims": views["claims"].assign(verdict=verdict)}

    monkeypatch.setattr(answers, "stored_views", judged)
    assert main(["claims", "--program", str(reported.folder)]) == code
    said = capsys.readouterr().out
    assert ("must not be printed" in said) == (code == 2)
    assert ("Not shown by any result yet: claim 1." in said) == (verdict in ("not shown", "too few"))


@pytest.mark.parametrize("what", ["program.yml", "the season folders"])
def test_a_verdict_on_old_data_is_refused(reported, tmp_path, what):
    shutil.copytree(reported.folder, tmp_path / "changed")
    changed = TinyProgram(tmp_path / "changed")
    if what == "program.yml":
        changed.settings("gain: 5", "gain: 6")
    else:
        changed.change("plots", 2, "harvest_weight_lb", "23.0")
    with pytest.raises(UserError, match=f"^{what} changed since the last report. Run make report"):
        answers.claims(changed.folder)


def test_without_a_report_there_is_nothing_to_ask(tiny):
    with pytest.raises(UserError, match="Run make report first"):
        answers.claims(tiny.folder)


def test_a_block_that_its_sender_calls_all_is_not_taken_for_the_whole_trial(
    sound_program, fitted_by_own_code, tmp_path
):
    """One plot of block 2 is lost: what is left in it is compared with nothing, in yield as in another trait."""
    tiny = TinyProgram(shutil.copytree(sound_program, tmp_path / "program"))
    tiny.settings_file.write_text("fewest_blocks: 1\n" + tiny.settings_file.read_text())
    for row in (2, 3, 4):
        tiny.change("plots", row, "block", "all")
    for column, value in (("outcome", "lost"), ("cause", "deer")):
        tiny.change("plots", 7, column, value)
    heads = ["trial_id", "plot", "trait", "value", "unit"]
    heights = [["2091-A-corn", plot, "plant height", "40", "in"] for plot in ("101", "102", "103", "201", "202")]
    tiny.write("measurements", [heads, *heights])
    tiny.load_and_estimate()
    views = answers.stored_views(tiny.folder, ("sources", "trait_sources"))
    for view in views.values():
        told = view[view["trial_id"].eq("2091-A-corn")].set_index("plot")
        assert told.loc[["102", "103", "202"], "fate"].tolist() == ["used", "used", "not compared"]
        assert set(told["arm"]) == {"treatment", "comparator"}
