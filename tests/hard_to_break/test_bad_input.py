"""Bad input through the command itself: a message that names the place and the mend, exit code 1, no traceback, and
a warehouse and season folders that are as they were. Every run here is refused before R is started."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import openpyxl
import pytest

from pipeline.__main__ import main
from pipeline.display.words import trials as trial_words
from pipeline.errors import UserError
from pipeline.incoming.deliveries import find_files
from pipeline.simulation import demo
from tests.tiny_program import TinyProgram, write_tiny_program


@pytest.fixture
def tiny(loaded_tiny) -> TinyProgram:
    return loaded_tiny


def reached(*_):
    raise AssertionError("the run went on to the estimates")


def refused(tiny: TinyProgram, capsys, *words: str) -> str:
    """Runs the command, checks that it refuses and changes nothing, and gives its message."""
    before, files = tiny.contents(), _files(tiny)
    code = main([*(words or ["report"]), "--program", str(tiny.folder)], estimate=reached)
    message = capsys.readouterr().err
    assert code == 1, message
    assert "Traceback" not in message and message.strip()
    assert tiny.contents() == before and before, "the warehouse changed"
    assert _files(tiny) == files, "the season folders changed"
    return message


def _files(tiny: TinyProgram) -> dict[str, str]:
    paths = (p for p in tiny.folder.rglob("*") if p.is_file() and "warehouse" not in p.name)
    return {p.relative_to(tiny.folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}


def _bytes(table: str, content: bytes):
    return lambda tiny, where=2091: tiny.path(table, where).write_bytes(content)


def _as_text(table: str, encoding: str, change=lambda text: text):
    def spoil(tiny, where=2091):
        path = tiny.path(table, where)
        path.write_bytes(change(path.read_text(encoding="utf-8")).encode(encoding))

    return spoil


def _workbook(name: str, *sheets: str):
    def spoil(tiny):
        book = openpyxl.Workbook()
        book.remove(book.active)
        for title in sheets:
            sheet = book.create_sheet(title)
            for row in tiny.rows("plots"):
                sheet.append(row)
        book.save(tiny.folder / "seasons/2091" / name)

    return spoil


def _file(name: str, content: bytes):
    return lambda tiny: (tiny.folder / "seasons/2091" / name).write_bytes(content)


def _prices(*lines: str):
    text = "prices:\n" + "".join(f"  {line}\n" for line in lines)
    return lambda tiny: tiny.settings("comparisons:\n", f"{text}comparisons:\n")


def _margin(text: str):
    return lambda tiny: tiny.settings(
        "    declared: 2090-11-15", f"    noninferiority: {text}\n    declared: 2090-11-15"
    )


def _remove_season(tiny):
    for path in (tiny.folder / "seasons/2092").iterdir():
        path.unlink()


BAD = {
    "an empty program folder": (lambda tiny: (shutil.rmtree(tiny.folder / "seasons"), tiny.settings_file.unlink()),
                                "program.yml is not there", "make demo"),
    "no seasons": (lambda tiny: shutil.rmtree(tiny.folder / "seasons"), "seasons is not there",
                   "Put each season's deliveries"),
    "an empty season folder": (_remove_season, "seasons/2092 holds no .csv, .xlsx or other table", ""),
    "a missing table": (lambda tiny: tiny.path("treatments").unlink(),
                        "seasons/2091: no treatments table was delivered", "a file treatments.csv"),
    "a folder that is no year": (lambda tiny: (tiny.folder / "seasons/corn").mkdir(),
                                 "seasons/corn: expected a folder named by its harvest year", "like seasons/2093"),
    "no program.yml": (lambda tiny: tiny.settings_file.unlink(), "program.yml is not there", "make demo writes one"),
    "a typo in a name": (lambda tiny: tiny.settings("fixed_on:", "fixd_on:"),
                         'program.yml, line 3: "fixed_on" is missing', ""),
    "a name too many": (lambda tiny: tiny.settings("fixed_on:", "wet_above: 1\n  fixed_on:"),
                        'program.yml, line 8: "wet_above" is not known in "rainfall"', "did you mean"),
    "a tab": (lambda tiny: tiny.settings("  fixed_on:", "\tfixed_on:"), "program.yml, line 8: a tab",
              "begin the line with spaces"),
    "a wrong word": (lambda tiny: tiny.settings("target: seasons tested", "target: seasons testd"),
                     "program.yml, line 13", 'did you mean "seasons tested"?'),
    "a doubled name": (lambda tiny: tiny.settings("    crop: corn\n", "    crop: corn\n    crop: cotton\n"),
                       'program.yml, line 13: "crop" stands here twice', "keep one"),
    "an unknown column of an arm": (lambda tiny: tiny.settings("{n_source: urea}", "{source: urea}"),
                                    'program.yml, line 15: "source" cannot pick treatments', "n_source"),
    "a date that is none": (lambda tiny: tiny.settings("declared: 2090-11-15", "declared: 2090-15-11"),
                            'program.yml, line 19: "declared" is "2090-15-11"', "a date as year-month-day"),
    "prices without a date": (_prices("crops: {corn: {price_per_bu: 4.50}}"),
                              'program.yml, line 10: "fixed_on" is missing in "prices"', "add fixed_on: 2094-11-01"),
    "a negative price": (_prices("fixed_on: 2094-11-01", "nitrogen_per_lb_n: {urea: -0.5}",
                                 "crops: {corn: {price_per_bu: 4.50}}"), 'program.yml, line 11: "urea" is "-0.5"',
                                 "a number, zero or more"),
    "a product without N content": (_prices("fixed_on: 2094-11-01", "nitrogen_per_ton: {uan: {price_per_ton: 280}}",
                                            "crops: {corn: {price_per_bu: 4.50}}"),
                                            'program.yml, line 11: "n_pct" is missing in "uan"', "guaranteed analysis"),
    "a crop without its price": (_prices("fixed_on: 2094-11-01", "crops: {corn: {hauling_per_bu: 0.10}}"),
                                 'program.yml, line 11: "price_per_bu" is missing in "corn"',
                                 "without it nothing is said of money for corn"),
    "a margin without unit": (_margin('{margin: 3, basis: "half an LSD", fixed_on: 2090-11-15}'),
                              'program.yml, line 19: "unit" is missing in "noninferiority"',
                              "add unit: bu/ac; without it the report cannot say"),
    "a margin without date": (_margin('{margin: 3, unit: bu/ac, basis: "half an LSD"}'),
                              'program.yml, line 19: "fixed_on" is missing in "noninferiority"',
                              "add fixed_on: 2090-11-15"),
    "a binary program.yml": (lambda tiny: tiny.settings_file.write_bytes(b"\xff\xfe\x00"),
                             "program.yml, line 1: not UTF-8 text", "save the file as UTF-8"),
}  # fmt: skip


# A season whose only table of plots is one of these stops the run; each in a season of its own.
BAD_PLOTS = {
    "a file without rows": (_bytes("plots", b""), "plots.csv: the file is empty", "Deliver it with its headings"),
    "a binary file named .csv": (_bytes("plots", bytes(range(256)) * 8), "plots.csv: line 1: a NUL byte",
                                 "save it as 'CSV UTF-8"),
    "an older workbook named .csv": (_bytes("plots", b"\xd0\xcf\x11\xe0 x"), "plots.csv: this is an older",
                                     "Save it as an unprotected .xlsx"),
    "UTF-32": (_as_text("plots", "utf-32"), "plots.csv: the file is UTF-32", "CSV UTF-8"),
    "UTF-16 without a mark": (_as_text("plots", "utf-16-le"), "plots.csv: line 1: a NUL byte", "CSV UTF-8"),
    "doubled headings": (lambda tiny, where: tiny.rename("plots", "cause", "Plot", where),
                         "plots.csv: row 1: columns C and L are all headed 'plot'", "Give each column its own heading"),
    "a missing column": (lambda tiny, where: tiny.rename("plots", "outcome", "ending", where),
                         "plots.csv: lacks the column outcome", "rename the heading if one of these is it: ending"),
}  # fmt: skip


# The file is held and so are the trials of its folder; the run goes on with the rest. Each in a sender's folder.
HELD = {
    "a row that is too long": (_as_text("sites", "utf-8", lambda t: t.replace(" Bench,", ", Bench,")),
                               "sites.csv: row 2, column E", "double quotes"),
    "quotes that do not pair up": (_as_text("sites", "utf-8", lambda t: t.replace("Alder ", '"Alder" ')),
                                   "sites.csv: row 2: the double quotes do not pair up", "Look for a cell"),
    "cells under a heading that shows nothing": (
        lambda tiny, where: tiny.fill("sites", "\u200b\u00a0", "2.4", where),
        "sites.csv: row 2, column E: '2.4' stands under no heading", "Type a heading in cell E1"),
    "a file that holds no table": (
        lambda tiny, where: shutil.copy(tiny.path("plots", where), tiny.path("my notes", where)),
        'my notes.csv: "my_notes" is no table of ours', "name the file for what it holds"),
}  # fmt: skip
# A workbook outside a sender's folder is a delivery of its own: no other trial is held.
ALONE = {
    "corrupt.xlsx": (_file("corrupt.xlsx", b"PK\x03\x04 not a zip"), "seasons/2091/corrupt.xlsx", ""),
    "wrong.xlsx": (_workbook("wrong.xlsx", "plots", "plot"),
                   'seasons/2091/wrong.xlsx: sheet "plot": "plot" is no table of ours', 'did you mean "plots"?'),
    "more.ods": (_file("more.ods", b"x"), "seasons/2091/more.ods: the workbook is damaged", "save it as .xlsx"),
}  # fmt: skip


@pytest.fixture(scope="module")
def held(tmp_path_factory) -> dict:
    """One program with all of them: in each sender's folder a trial of its name at a site of its own."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("held") / "program")
    for name, (spoil, *_) in HELD.items():
        where, site = f"2091/{name}", f"Alder {name} Bench"
        tiny.add_delivery(name)
        tiny.change("trials", 2, "site_id", site, where)
        tiny.write("sites", [tiny.rows("sites")[0], [site, *tiny.rows("sites")[1][1:]]], where)
        spoil(tiny, where)
    for spoil, *_ in ALONE.values():
        spoil(tiny)
    return tiny.checked()


def not_read(tables, path: str):
    """What is said of the one file that is not read, and the mark that pages bear for it."""
    findings = tables["reports.findings"].query("check_name == 'file not read'")
    mine = findings[findings["file"].str.startswith(path)]
    (finding,) = mine.itertuples()
    assert finding.severity == "holds the trial"
    mark = trial_words.provisional(tables["reports.trials"], mine)
    assert mark.endswith(f"1 delivered file could not be read, and nothing in it is counted: {finding.file}.")
    return finding


@pytest.mark.parametrize("name", HELD)
def test_a_strange_file_holds_what_its_sender_delivered_and_not_the_run(held, name):
    _, place, mend = HELD[name]
    finding = not_read(held, f"seasons/2091/{name}/")
    assert place in finding.mend and mend in finding.mend
    trials = held["reports.trials"].set_index("trial_id")["status"]
    assert trials[name] == "held"
    if not finding.file.endswith("sites.csv"):  # a trial without its site is held for that
        reasons = held["reports.plots"].query("trial_id == @name")["reason"]
        assert len(reasons) and reasons.str.contains("file not read").all()


@pytest.mark.parametrize("name", ALONE)
def test_a_strange_workbook_outside_a_folder_holds_no_trial(held, name):
    _, place, mend = ALONE[name]
    finding = not_read(held, f"seasons/2091/{name}")
    assert place in finding.mend and mend in finding.mend
    trials = held["reports.trials"].set_index("trial_id")["status"]
    assert trials.drop(list(HELD)).to_dict() == dict.fromkeys(
        ("2091-A-corn", "2091-B-cotton", "2092-A-corn"), "accepted"
    )
    reasons = held["reports.plots"].query("trial_id == '2091-A-corn'")["reason"].astype(str)
    assert not reasons.str.contains("file not read").any()


@pytest.mark.parametrize("name", ["a row that is too long", "a file that holds no table"])
def test_a_strange_file_of_a_whole_season_holds_its_trials(tiny, name):
    spoil, place, mend = HELD[name]
    spoil(tiny, 2091)
    tables = tiny.checked()
    finding = not_read(tables, "seasons/2091/")
    assert place in finding.mend and mend in finding.mend
    trials = tables["reports.trials"]
    assert set(trials.loc[trials["season"] == 2091, "status"]) == {"held"}
    if not finding.file.endswith("sites.csv"):  # that one describes the site of every trial
        assert list(trials.loc[trials["season"] == 2092, "status"]) == ["accepted"]
        reasons = tables["reports.plots"].query("season == 2091")["reason"].astype(str)
        assert reasons.str.contains("file not read").all()


def test_a_held_file_is_read_again_each_run_and_is_used_once_headings_yml_says_what_it_is(tiny):
    tiny.path("plots").rename(tiny.path("harvest"))
    rows = tiny.rows("plots", 2092)
    tiny.write("plots", [[c.replace("2092-A", "2091-C") for c in row] for row in rows])
    held = tiny.checked()
    assert held["reports.row_counts"].query("table_name == 'files not read'")["held"].tolist() == [12]
    (tiny.folder / "seasons/2091/headings.yml").write_text("tables: {harvest: plots}\n")
    tables = tiny.checked()
    counts = tables["reports.row_counts"].query("season == 2091 and table_name == 'plots'")
    assert counts["used"].tolist() == [12] and "file not read" not in set(tables["reports.findings"]["check_name"])
    (tiny.folder / "seasons/2091/headings.yml").unlink()
    assert list(tiny.checked()["reports.trials"]["status"]) == list(held["reports.trials"]["status"])


def test_mistakes_in_all_files_beside_the_deliveries_are_named_at_once(tiny, capsys):
    for season, name, text in (
        (2091, "headings.yml", "tables: {a: b}"),
        (2092, "headings.yml", "word: {}"),
        (2092, "corrections.yml", "x: 1"),
    ):
        (tiny.folder / f"seasons/{season}/{name}").write_text(text)
    message = refused(tiny, capsys)
    assert all(
        f"seasons/{place}" in message
        for place in ("2091/headings.yml, line 1", "2092/headings.yml, line 1", "2092/corrections.yml")
    )


BOMBS = {
    "depth": "a: " + "[" * 10_000,
    "length": "a: b\n" * 2_000_000,
    "aliases": "a0: &a0 [x, x]\n" + "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]\n" for i in range(1, 30)),
    "aliases in sections": (
        "a0: &a0 {x: y}\n"
        + "".join(f"a{i}: &a{i} {{p: *a{i - 1}, q: *a{i - 1}}}\n" for i in range(1, 40))
        + "words: *a39\n"
    ),
}


# every one in program.yml; in the other files, which are read by the same reader, one at least
BOMBED = [
    pytest.param(bomb, name, marks=[pytest.mark.thorough] * (name != "program.yml" and bomb != "aliases in sections"))
    for name in ("program.yml", "seasons/2091/headings.yml", "seasons/2091/corrections.yml")
    for bomb in BOMBS
]


@pytest.mark.parametrize(("bomb", "name"), BOMBED)
def test_settings_of_any_depth_and_length_are_refused(tiny, capsys, name, bomb):
    (tiny.folder / name).write_text(BOMBS[bomb])
    message = refused(tiny, capsys)
    assert name in message and len(message) < 10_000


def test_settings_that_may_not_be_read(tiny, capsys, monkeypatch):
    (tiny.folder / "seasons/2091/headings.yml").write_text("tables: {}")
    whole = Path.read_text

    def forbidden(path, *arguments, **named):
        if path.name == "headings.yml":
            raise PermissionError(13, "Permission denied")
        return whole(path, *arguments, **named)

    monkeypatch.setattr(Path, "read_text", forbidden)
    assert "seasons/2091/headings.yml: cannot be opened (Permission denied)" in refused(tiny, capsys)


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_refused_with_its_place_and_its_mend(tiny, capsys, name):
    spoil, place, mend = BAD[name]
    spoil(tiny)
    message = refused(tiny, capsys)
    assert place in message
    assert mend in message


def test_bad_plots_of_each_season_are_refused_with_their_place_and_their_mend(tiny, capsys):
    seasons = dict(enumerate(BAD_PLOTS, start=2080))
    for season, name in seasons.items():
        shutil.copytree(tiny.folder / "seasons/2091", tiny.folder / f"seasons/{season}")
        BAD_PLOTS[name][0](tiny, season)
    message = refused(tiny, capsys)
    for season, name in seasons.items():
        _, place, mend = BAD_PLOTS[name]
        _, said = message.split(f"seasons/{season}/{place}")
        assert mend in said.split(f"seasons/{season + 1}/")[0], name
        assert f"seasons/{season}: no plots table was delivered" in message


def test_a_season_is_refused_for_one_bad_file(tiny, capsys):
    tiny.path("plots").write_bytes(b"")
    message = refused(tiny, capsys)
    assert "seasons/2091/plots.csv: the file is empty" in message and "Deliver it with its headings" in message


def test_all_bad_files_are_named_at_once_and_good_ones_are_not_loaded(tiny, capsys):
    tiny.change("weather_daily", 2, "rain_in", "0.9")
    tiny.path("plots").write_bytes(b"")
    tiny.rename("treatments", "n_source", "source", season=2092)
    message = refused(tiny, capsys)
    assert "seasons/2091/plots.csv" in message and "seasons/2092/treatments.csv" in message
    assert message.rstrip().endswith("Nothing was loaded. Fix the problems above and run this again.")


@pytest.mark.parametrize("season", ["nowhere/2094", "harvest"])
def test_a_season_that_is_no_season(tiny, capsys, tmp_path, season):
    (tmp_path / "harvest").mkdir()
    message = refused(tiny, capsys, "season", str(tmp_path / season))
    assert str(tmp_path / season) in message and "like" in message


def test_a_refused_season_is_taken_out_again(tiny, capsys, tmp_path):
    season = shutil.copytree(tiny.folder / "seasons/2092", tmp_path / "post" / "2093")
    (season / "plots.csv").write_bytes(b"")
    assert "seasons/2093/plots.csv: the file is empty" in refused(tiny, capsys, "season", str(season))
    assert not (tiny.folder / "seasons/2093").exists()


def test_another_season_of_a_year_that_is_there(tiny, capsys, tmp_path):
    season = shutil.copytree(tiny.folder / "seasons/2091", tmp_path / "post" / "2092")
    assert "2092 is there already, with other files" in refused(tiny, capsys, "season", str(season))


def test_a_demo_is_not_written_over_a_program(tiny, capsys):
    assert main(["demo", "--to", str(tiny.folder)]) == 1
    assert "already holds a program" in capsys.readouterr().err


@pytest.mark.parametrize("there", ["notes.txt", "seasons/2091/plots.csv", ""])
def test_a_demo_is_not_mixed_with_what_is_there(tmp_path, capsys, there):
    folder = tmp_path / "mine"
    kept = folder / there
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    assert main(["demo", "--to", str(folder)]) == 1
    assert f"{folder} is there already and is no empty folder. Name a new folder" in capsys.readouterr().err
    assert kept.read_text() == "mine" and sorted(tmp_path.rglob("*")) == before


def test_a_demo_that_is_stopped_leaves_no_part_of_itself(tmp_path, monkeypatch):
    """Its program.yml alone would be taken for a program."""

    def stopped(folder):
        folder.mkdir()
        (folder / "program.yml").write_text("program: half of it")
        raise KeyboardInterrupt

    monkeypatch.setattr(demo, "write_demo", stopped)
    (tmp_path / "new").mkdir()
    assert main(["demo", "--to", str(tmp_path / "new")]) == 130
    assert list(tmp_path.rglob("*")) == [tmp_path / "new"]
    monkeypatch.setattr(demo, "write_demo", lambda folder: folder.mkdir() or (folder / "program.yml").write_text("x"))
    assert main(["demo", "--to", str(tmp_path / "new")]) == 0
    assert list(tmp_path.rglob("*")) == [tmp_path / "new", tmp_path / "new" / "program.yml"]


def test_a_program_that_is_not_there_or_is_a_file(tmp_path, capsys):
    (tmp_path / "file").write_text("x")
    for folder in ("nowhere", "file"):
        assert main(["report", "--program", str(tmp_path / folder)]) == 1
        assert "program.yml is not there" in capsys.readouterr().err


@pytest.mark.parametrize(
    "content",
    [
        ",".join(["plot", "x" * 100_000, "q"]) + "\n1,2,3\n",
        "\n".join([",".join(["a"] * 3), ",".join(["1,5"] * 900)]),
        "\u00e9" * 90_000 + ",b\n1,2\u0081",
    ],
    ids=["a heading as long as a book", "hundreds of cells under no heading", "a long heading in no encoding"],
)
def test_a_refusal_can_be_read_whatever_is_refused(tiny, capsys, content):
    tiny.path("plots").write_bytes(content.encode("latin-1"))
    message = refused(tiny, capsys)
    assert "seasons/2091/plots.csv" in message and len(message) < 5_000


def test_a_file_that_is_too_large_is_told_by_its_size_and_not_read(tiny, monkeypatch):
    monkeypatch.setattr("pipeline.incoming.deliveries.MOST_BYTES", 500)
    monkeypatch.setattr("pipeline.incoming.readers.MOST_BYTES", 500)
    whole = Path.open

    def opened(path, *arguments, **named):
        assert not (path.name == "rain_history.csv" and path.stat().st_size > 500), "it was read"
        return whole(path, *arguments, **named)

    monkeypatch.setattr(Path, "open", opened)
    found = {each.file: each.sha256 for each in find_files(tiny.folder)}
    assert found["seasons/2091/rain_history.csv"] == "" != found["seasons/2091/sites.csv"]


@pytest.mark.usefixtures("trials_as_they_are")
@pytest.mark.parametrize(
    "problem",
    [MemoryError(), OSError(12, "Cannot allocate memory"), RuntimeError("Out of Memory Error: failed to allocate")],
)
def test_too_little_memory_is_said_in_one_sentence(tiny, capsys, problem):
    def hungry(*_):
        try:
            raise problem
        except Exception as cause:
            raise UserError("a page cannot be made") from cause

    before = tiny.contents()
    tiny.add_delivery("east")
    assert main(["report", "--program", str(tiny.folder)], estimate=hungry) == 1
    assert capsys.readouterr().err.strip().startswith("There is too little free memory for this.")
    assert tiny.contents() == before
