"""What is said on the screen, or in plain lines where there is none."""

from __future__ import annotations

import io

import pandas as pd
from rich.console import Console

from pipeline import console
from pipeline.display.index import editions


def test_without_a_screen_a_plain_line_is_said_now_and_then(clock, capsys):
    with console.steps() as tell:
        for seconds, text in (
            (1, "reading a.csv"),
            (6, "reading [b].csv"),
            (7, "reading c.csv"),
            (12, "checking every row"),
        ):
            clock(seconds)
            tell(text)
    assert capsys.readouterr().out == "6 s: reading [b].csv\n12 s: checking every row\n"
    with console.pages() as tell:
        for seconds, done in ((12, 0), (22, 1), (42, 3)):
            clock(seconds)
            tell("drawing corn", done, 4)
    said = capsys.readouterr().out
    assert "10 s: drawing corn ━━━━━╌╌╌╌╌╌╌╌╌╌╌╌╌╌╌ 25%, about 30 s to go\n" in said
    assert said.endswith("30 s: drawing corn ━━━━━━━━━━━━━━━╌╌╌╌╌ 75%, about 10 s to go\n")
    assert not set(said) & {"\r", "\x1b", "\b"}


def test_on_a_screen_the_share_of_the_work_is_told_and_no_count(monkeypatch):
    screen = Console(file=io.StringIO(), force_terminal=True, width=100)
    monkeypatch.setattr(console, "_screen", screen)
    with console.pages() as tell:
        tell("writing corn", 2.25, 9.0)
    said = screen.file.getvalue()
    assert "writing corn" in said and "25%" in said and "2/9" not in said


def test_what_a_terminal_would_obey_is_shown_by_its_code(capsys):
    """Escape sequences, C1 controls and marks that turn text around, from a cell; lines, tabs and letters stay."""
    console.say("\x1b]0;title\x07 a\u202eb \x9b2J \r\tyield\u00e9 \u2212 [bold]\nnext")
    said = capsys.readouterr().out
    assert said.startswith("<U+001B>]0;title<U+0007> a<U+202E>b <U+009B>2J <U+000D>")
    assert said.endswith("yield\u00e9 \u2212 [bold]\nnext\n") and not set(said) & set("\x1b\x07\x9b\u202e\r")


def test_a_headline_without_an_average_says_why(capsys):
    row = {"is_headline": True, "is_declared": True, "moderator": "all", "position": 0, "comparison_id": "soy",
           "estimate": None, "unit": "bu/ac",
           "digits": 1, "conf_low": None, "conf_high": None, "target": "seasons to come", "n_site_years": 2,
           "n_seasons": 1,
           "rule": "Too few for an average: fewer than 3 site-years, so the trials are only listed."}  # fmt: skip
    known = row | {"comparison_id": "corn", "position": 1, "estimate": 5.7, "conf_low": -1.0, "conf_high": 12.4}
    none = known | {
        "comparison_id": "cotton",
        "position": 2,
        "estimate": -3e-13,
        "conf_low": -4e-13,
        "conf_high": 2e-13,
    }
    console.headlines(pd.DataFrame([row, known, none]))
    said = capsys.readouterr().out
    assert "soy: no average; future seasons, 2 site-years, 1 season. Too few for an average: fewer than 3" in said
    assert "corn: +5.7 bu/ac (\u22121.0 to 12.4); future seasons, 2 site-years, 1 season\n" in said
    assert "cotton: 0.000 bu/ac (0.000 to 0.000);" in said  # no sign before a zero


def test_the_screen_says_of_headlines_what_the_index_says(capsys):
    row = {"run_id": "r", "position": 1, "comparison_id": "c", "cause": "new season", "unit": "bu/ac", "digits": 1,
           "target": "seasons tested",
           "before": 9.5, "after": 9.1, "n_before": 1, "n_after": 8, "conf_low_before": None, "conf_high_before": None,
           "conf_low_after": 2.0, "conf_high_after": 16.2,
           "n_seasons_before": 1, "n_seasons_after": 3, "method_before": "plain mean",
           "method_after": "plain mean"}  # fmt: skip
    turned = pd.DataFrame(columns=["run_id", "kind", "what", "target", "before", "after"])
    console.changes(pd.DataFrame([row]), turned, "r")
    said = capsys.readouterr().out
    assert f"   {editions.changes(pd.DataFrame([row]), turned, 'r')[0]}\n" in said
    console.changes(pd.DataFrame([row]), turned, "later run")
    assert capsys.readouterr().out == ""


def test_a_note_of_the_reader_stands_alone(capsys):
    place = {
        "severity": "noted",
        "check_name": "noticed while reading",
        "file": "plots.csv",
        "sheet": None,
        "row_number": 2,
    }
    note = place | {"column_name": None, "headed": None, "expected": None}
    notes = [
        note | {"found": "lb | %", "mend": "The row beneath the headings holds their units."},
        note | {"found": None, "mend": "The sheet is hidden and was read all the same."},
        note | {"found": None, "mend": "plots.csv: lacks the column block."},
    ]
    console.findings(pd.DataFrame(notes), pd.DataFrame({"status": [], "trial_id": []}))
    said = capsys.readouterr().out
    assert "plots.csv row 2: The row beneath the headings holds their units. Found: lb | %\n" in said
    assert "plots.csv row 2: The sheet is hidden and was read all the same.\n" in said
    assert "plots.csv row 2: lacks the column block.\n" in said


def test_of_many_places_the_first_are_told_and_the_others_counted(capsys):
    place = {"severity": "noted", "check_name": "odd", "file": "plots.csv", "sheet": None, "column_name": "plot"}
    place |= {"headed": None, "found": "x", "expected": "y", "mend": "z"}
    trials = pd.DataFrame({"status": ["held", "accepted"], "trial_id": ["B", "A"]})
    for n, more in ((3, False), (5, True)):
        console.findings(pd.DataFrame([place | {"row_number": row} for row in range(2, 2 + n)]), trials)
        said = capsys.readouterr().out.splitlines()
        assert said[0] == f"noted: odd ({n} rows)"
        assert said[1:4] == [f"   plots.csv row {row}, plot: found x; expected y; z" for row in (2, 3, 4)]
        assert said[4:] == ["   ... and 2 more"] * more + [
            "1 trial held and out until this is settled: B. The reports say provisional."
        ]


def test_rows_are_counted_by_table_over_all_seasons(capsys):
    one = {"table_name": "plots", "delivered": 1200, "used": 1190, "set_aside": 10, "held": 0, "superseded": 0}
    console.row_counts(pd.DataFrame([one | {"title_rows": 2}, one | {"title_rows": 1}, one | {"table_name": "sites",
                                     "title_rows": 0}]))  # fmt: skip
    rows = [line.strip("\u2502 ").split("\u2502") for line in capsys.readouterr().out.splitlines() if "\u2502" in line]
    assert [[cell.strip() for cell in row] for row in rows] == [
        ["plots", "2,400", "2,380", "20 (title rows: 3)", "0", "0"],
        ["sites", "1,200", "1,190", "10", "0", "0"],
    ]


def test_that_nothing_is_new_is_said_only_where_nothing_is_told(capsys):
    nothing = "No file is new or changed since the last run.\n"
    for arrived, withdrawn, is_all, is_said in (
        ([], [], True, True), ([], [], False, False), (["a"], [], True, False), ([], ["a"], True, False)
    ):  # fmt: skip
        console.arrivals(arrived, withdrawn, is_all=is_all)
        assert (nothing in capsys.readouterr().out) == is_said


def test_one_file_is_a_file(capsys):
    console.arrivals(["seasons/2091/plots.csv"], ["seasons/2091/sites.csv"])
    assert (
        capsys.readouterr().out == "1 new or changed file: seasons/2091/plots.csv\n"
        "No longer in the season folders, so no longer counted: seasons/2091/sites.csv\n"
    )


def test_of_many_files_the_first_are_named_and_all_are_counted(capsys):
    files = [f"seasons/2091/{letter}.csv" for letter in "abcdef"]
    first = "seasons/2091/a.csv, seasons/2091/b.csv, seasons/2091/c.csv, seasons/2091/d.csv"
    console.arrivals(files[:4], files)
    assert capsys.readouterr().out.splitlines() == [
        f"4 new or changed files: {first}",
        f"No longer in the season folders, so no longer counted, 6 files: {first} ...",
    ]


def test_a_file_that_is_not_read_is_counted_as_a_file_and_told_at_the_end(capsys):
    """Where no trial stands for its rows, 'No trial is held' alone would hide them."""
    place = {"severity": "holds the trial", "check_name": "file not read", "sheet": None, "row_number": None}
    place |= {
        "column_name": None,
        "headed": None,
        "found": "8 rows, none of them used",
        "expected": None,
        "mend": "empty",
    }
    found = pd.DataFrame([place | {"file": name} for name in ("a.csv", "b.csv")])
    console.findings(found, pd.DataFrame({"status": ["held"], "trial_id": ["2091-A"]}))
    said = capsys.readouterr().out
    assert "holds the trial: file not read (2 files)\n" in said
    assert "1 trial held and out until this is settled: 2091-A. 2 files not read, and nothing of what they hold" in said
    console.findings(found.head(1), pd.DataFrame({"status": [], "trial_id": []}))
    said = capsys.readouterr().out
    assert said.endswith("\n1 file not read, and nothing of what it holds is used. The reports say provisional.\n")
