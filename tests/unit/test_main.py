"""The verbs: words in, exit code and plain words out."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from pipeline.__main__ import _parser, main
from pipeline.errors import UserError, one_of
from pipeline.verbs import run


@pytest.mark.parametrize("words", [[], ["rport"], ["report"], ["season", "2094"], ["demo"]])
def test_words_that_are_none_of_ours_get_the_usage(words, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert "usage: manyfields" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["layout", "2091-A-corn", "--season", "99999"], '"99999" is no year'),
        (["layout", "2091-A-corn", "--season", "-5"], "--season"),
        (["calibrate", "--programs", "0"], '"0" is no number of one or more'),
        (["calibrate", "--programs", "many"], '"many" is no number of one or more'),
    ],
)
def test_a_number_out_of_reason_is_refused_before_anything_is_opened(words, said, capsys, tmp_path):
    with pytest.raises(SystemExit) as left:
        main([*words, "--program", str(tmp_path)])
    assert left.value.code == 2 and said in capsys.readouterr().err


@pytest.mark.parametrize("words", [["--help"], ["report", "--help"], ["season", "--help"], ["demo", "--help"]])
def test_help(words, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 0 and "usage: manyfields" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("problem", "code", "says"),
    [
        (UserError("plots.csv, row 3: mend it"), 1, "plots.csv, row 3: mend it"),
        (UserError("plots.csv: found \x1b[2J\x9b"), 1, "plots.csv: found <U+001B>[2J<U+009B>"),
        (
            PermissionError(13, "Permission denied", "/somewhere/published"),
            1,
            "/somewhere/published: Permission denied. Check the path, who owns it",
        ),
        (
            OSError(28, "No space left on device"),
            1,
            "is full. Free some space and run this again; the warehouse is as it was before, or complete.",
        ),
        (
            ImportError("_x.so: failed to map segment from shared object"),
            1,
            "There is too little free memory for this.",
        ),
        (KeyboardInterrupt(), 130, "Stopped. The warehouse is as it was before, or complete."),
    ],
)
def test_what_goes_wrong_is_said_without_a_traceback(monkeypatch, capsys, tmp_path, problem, code, says):
    def fail(folder, fresh):
        raise problem

    monkeypatch.setattr(run, "report", fail)
    assert main(["report", "--program", str(tmp_path)]) == code
    message = capsys.readouterr().err
    assert says in message and "Traceback" not in message


def test_a_fault_of_ours_is_one_line_whatever_its_text_and_wherever_it_can_be_kept(monkeypatch, capsys, tmp_path):
    def fail(folder, fresh):
        raise RuntimeError("a file called \udcff")

    monkeypatch.setattr(run, "report", fail)
    for folder, says in ((tmp_path, "The details are in "), (tmp_path / "gone", "The details could not be written")):
        monkeypatch.setattr(tempfile, "tempdir", str(folder))
        assert main(["report", "--program", str(tmp_path)]) == 3
        said = capsys.readouterr().err
        assert says in said and said.count("\n") == 2 and "Traceback" not in said
    (log,) = tmp_path.glob("*.log")
    assert "RuntimeError: a file called \\udcff" in log.read_text()


def test_a_demo_program_is_written_and_its_place_said(monkeypatch, capsys, tmp_path):
    from pipeline.simulation import demo

    monkeypatch.setattr(demo, "write_demo", lambda folder: folder.mkdir())
    assert main(["demo", "--to", str(tmp_path / "new")]) == 0
    assert "The demo program is in" in capsys.readouterr().out


def test_the_nearest_known_word():
    assert one_of(["corn", "cotton"], "Cron") == 'did you mean "corn"?'
    assert one_of(["corn", "cotton"], "barley") == "known: corn, cotton"


def test_every_word_that_a_verb_takes_is_explained():
    (verbs,) = [action.choices for action in _parser()._actions if action.choices]
    words = {(verb, action.dest): action.help for verb, parser in verbs.items() for action in parser._actions}
    assert ("season", "season") in words and [word for word, says in words.items() if not says] == []


def test_of_a_long_list_the_nearest_few_are_named():
    trials = [f"2091-{letter}{other}-corn" for letter in "ABCDEFG" for other in "ABCDEFG"]
    assert one_of(trials, "zzz-AB").startswith("49 are known; nearest: ")
    assert one_of(trials, "zzz-AB").count(",") == 2 and one_of(trials[:3], "zzz") == f"known: {', '.join(trials[:3])}"


WRITES = """
import sys
from pipeline.__main__ import main
main(["findings", "--program", sys.argv[1]])
print("\\u22122.4\\u00a0bu/ac \\u4e00")
"""


def test_a_terminal_that_knows_ascii_only_is_written_to_all_the_same(loaded_tiny):
    """A minus stays a minus: a question mark before a number would hide a loss."""
    said = subprocess.run(
        [sys.executable, "-c", WRITES, str(loaded_tiny.folder)],
        env=os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
    )
    assert said.returncode == 0 and said.stdout.endswith("-2.4 bu/ac ?\n") and "Delivered rows" in said.stdout


HOLDS = """
import os, sys
from pipeline.__main__ import main
code = main()
told = [os.readlink(f"/proc/self/fd/{number}") for number in (0, 1, 2)]
told += [str(all(map(os.get_inheritable, (0, 1, 2))))]
open(os.environ["TOLD"], "w").write("\\n".join([str(code), *told]))
"""


@pytest.mark.parametrize("closed", [">&-", "<&- >&- 2>&-"])
def test_a_stream_that_is_closed_takes_nothing_and_is_no_other_file(loaded_tiny, tmp_path, closed):
    command = f'exec "$0" -c "$1" findings --program "$2" {closed}'
    told = tmp_path / "told"
    said = subprocess.run(
        ["sh", "-c", command, sys.executable, HOLDS, str(loaded_tiny.folder)],
        env=os.environ | {"TOLD": str(told)},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
    )
    assert (said.returncode, said.stderr) == (0, "")
    code, *streams, goes_on = told.read_text().splitlines()
    assert (code, goes_on) == ("0", "True") and streams.count(os.devnull) >= len(closed.split())
    assert all(stream == os.devnull or stream.startswith(("pipe:", "/dev/")) for stream in streams)


WARNS = """
import sys, warnings
from pipeline.__main__ import main
from pipeline.verbs import run
run.make_demo = lambda folder: warnings.warn("glyph missing from a face")
sys.exit(main())
"""


@pytest.mark.parametrize("asked, is_told", [([], False), (["-W", "default"], True)])
def test_what_a_library_warns_of_is_told_to_those_who_ask(asked, is_told, tmp_path):
    said = subprocess.run(
        [sys.executable, *asked, "-c", WARNS, "demo", "--to", str(tmp_path)],
        env={name: value for name, value in os.environ.items() if name != "PYTHONWARNINGS"},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
    )
    assert said.returncode == 0 and ("glyph missing" in said.stderr) == is_told
