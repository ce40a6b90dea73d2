"""After a first run that was refused, every verb that answers from the last report says that there is none."""

from __future__ import annotations

import shutil

import pytest

from pipeline.__main__ import main

VERBS = {
    "claims": ["claims"],
    "trace": ["trace", "0123abcd"],
    "plan": ["plan"],
    "preview": ["preview", "corn"],
    "layout": ["layout", "2091-A-corn"],
    "check-fits": ["check-fits"],
    "calibrate": ["calibrate"],
}


@pytest.fixture(scope="module")
def refused(sound_program, tmp_path_factory):
    """A program whose first and only run was refused."""
    folder = shutil.copytree(sound_program, tmp_path_factory.mktemp("refused") / "program")
    (folder / "seasons/2091/plots.csv").write_text("nothing,of,ours\n1,2,3\n")
    assert main(["report", "--program", str(folder)]) == 1
    assert (folder / "warehouse.duckdb").exists()
    return folder


@pytest.mark.parametrize("words", VERBS.values(), ids=VERBS)
def test_no_verb_takes_a_refused_run_for_an_older_version(refused, capsys, words):
    assert main([*words, "--program", str(refused)]) == 1
    said = capsys.readouterr().err
    assert "holds no report yet" in said and "make report" in said
