"""A program that begins: what is written loads, says what to fill in, and takes the place of nothing."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from openpyxl import load_workbook

from pipeline.__main__ import main
from pipeline.contract.vocabulary import TESTED
from pipeline.contract.words import reference_words
from pipeline.incoming.deliveries import find_files
from pipeline.planning.program_file import program_file
from pipeline.settings.program import read_program
from pipeline.verbs.new_program import new


def made(folder: Path, *words: str) -> Path:
    assert main(["new", "--program", str(folder), *words]) == 0
    return folder


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("crops", ["corn", "cotton", "corn, soybean", "sorghum", "corn spring-wheat"])
def test_what_is_written_loads_as_it_is(tmp_path, capsys, crops, units):
    folder = made(tmp_path / "north-east_trials", "--crops", crops, "--units", units, "--season", "2095")
    program = read_program(folder)
    words = crops.replace(",", "").split()
    assert [comparison.crop for comparison in program.comparisons] == words
    assert set(program.rainfall.windows) == set(words)
    assert [crop.word for crop in program.crops] == [w for w in words if w not in reference_words("crops")]
    assert (program.name, program.display_units) == ("north east trials", units)
    assert (folder / "seasons" / "2095").is_dir() and (folder / "trial-workbook-2095.xlsx").is_file()
    said = capsys.readouterr().out.replace("\n", " ")
    assert [f'"{crop.word}" is not known here' in said for crop in program.crops] == [True] * len(program.crops)
    assert re.search(r"1\. .* 2\. .* 3\. make findings", said)


@pytest.mark.parametrize("crops", ["winter wheat", "corn winter wheat", "Spring  barley, corn"])
def test_a_crop_may_be_named_by_when_it_is_sown(tmp_path, crops):
    named = {comparison.crop for comparison in read_program(made(tmp_path / "new", "--crops", crops)).comparisons}
    assert named - {"corn"} in ({"winter-wheat"}, {"spring-barley"})


def test_the_first_question_is_one_that_a_first_season_can_answer(tmp_path):
    (comparison,) = read_program(made(tmp_path / "new")).comparisons
    assert comparison.target == TESTED, "1 or 2 seasons give no average over future seasons"


def test_the_last_words_count_the_lines_to_fill_in(tmp_path, capsys):
    text = (made(tmp_path / "new") / "program.yml").read_text()
    assert f"{text.count('# FILL IN')} lines marked FILL IN" in capsys.readouterr().out.replace("\n", " ")


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("crops", [["corn"], ["cotton"], ["sorghum"]])
def test_what_is_optional_loads_once_it_is_asked_for(tmp_path, crops, units):
    text = program_file("New", crops, units, 2095, date(2095, 2, 1))
    asked = re.sub(r"^(    )?# (?=( |noninf|prices:|growers|claims:))", r"\1", text, flags=re.M)
    asked = asked.replace("question: gain ", "question: as good ")
    if crops == ["sorghum"]:
        asked = asked.replace("bushel_lb: 1 ", "bushel_lb: 56 ")
    (tmp_path / "program.yml").write_text(asked)
    program = read_program(tmp_path)
    assert program.prices and program.claims and program.growers_rates and program.comparisons[0].margin


@pytest.mark.parametrize("there", ["program.yml", "seasons/2090/plots.csv", "trial-workbook-2095.xlsx"])
def test_nothing_is_overwritten(tmp_path, capsys, there):
    kept = tmp_path / there
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text("mine")
    before = sorted(tmp_path.rglob("*"))
    assert main(["new", "--program", str(tmp_path), "--season", "2095"]) == 1
    assert "is there already, and is never overwritten" in capsys.readouterr().err
    assert kept.read_text() == "mine" and sorted(tmp_path.rglob("*")) == before


def test_a_file_is_no_new_folder(tmp_path, capsys):
    (tmp_path / "new").write_text("mine")
    assert main(["new", "--program", str(tmp_path / "new")]) == 1
    assert f"{tmp_path / 'new'} is a file. Name a new folder." in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--crops", " "], "No crop is named"),
        (["--crops", "corn {x}"], 'The crop "{x}" must be one word of letters'),
        (["--units", "imperial"], "They may be us or metric"),
        (["--season", "next"], 'The season is "next"; expected a year'),
    ],
)
def test_what_cannot_be_is_said_and_leaves_nothing(tmp_path, capsys, words, says):
    folder = tmp_path / "new"
    assert main(["new", "--program", str(folder), *words]) == 1
    assert says in capsys.readouterr().err and not folder.exists()


def test_the_commands_can_be_pasted(tmp_path, capsys):
    folder = made(tmp_path / "two words")
    assert f"make report PROGRAM='{folder}' makes" in capsys.readouterr().out.replace("\n", " ")


def test_a_mistyped_crop_is_guessed_at(tmp_path, capsys):
    made(tmp_path / "new", "--crops", "soybeen")
    assert 'did you mean "soybean"?' in capsys.readouterr().out


def test_the_workbook_of_the_next_season_follows_program_yml(tmp_path, capsys):
    folder = made(tmp_path / "new", "--crops", "cotton", "--units", "metric", "--season", "2095")
    assert main(["workbook", "--program", str(folder), "--season", "2096"]) == 0
    book = load_workbook(folder / "trial-workbook-2096.xlsx")
    heads = [cell.value for cell in book["plots"][1]]
    assert "harvest weight\nkg" in heads and "gin turnout\nfraction" in heads
    assert "harvest year 2096" in book["Read me"]["A2"].value
    assert main(["workbook", "--program", str(folder), "--season", "2096"]) == 1
    assert "never overwritten" in capsys.readouterr().err


def test_a_season_without_a_delivery_says_so(tmp_path):
    new(tmp_path / "new", season="2095")
    with pytest.raises(Exception, match="nothing was delivered for 2095. Put what came into it, or take"):
        find_files(tmp_path / "new")


def test_what_is_invented_is_of_the_size_and_unit_of_its_crop():
    lint = program_file("a", ["cotton"], "us", 2095, date(2095, 1, 1))
    assert "cotton: {price_per_lb: 0.70}" in lint and "unit: lb/ac" in lint
    grain = program_file("a", ["corn"], "metric", 2095, date(2095, 1, 1))
    assert "corn: {price_per_bu: 4.50}" in grain and "unit: kg/ha" in grain and "unit: lb/ac" not in grain
