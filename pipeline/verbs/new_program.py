"""How a program begins: a program.yml to fill in, a season folder, and the workbook for its cooperators."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from shlex import quote

from pipeline import console
from pipeline.contract.units import METRIC, US
from pipeline.contract.words import reference_column
from pipeline.errors import UserError, one_of
from pipeline.planning.program_file import FILL_IN, program_file, unknown_crops
from pipeline.settings.file import year
from pipeline.settings.program import Program, read_program

UNITS = (US, METRIC)
A_CROP = re.compile(r"[a-z][a-z0-9_-]*")
SOWN = re.compile(r"\b(winter|spring|summer)\s+(?=[a-z])")  # no crop by itself: it belongs to the word that follows


def new(folder: Path, crops: str = "corn", units: str = US, season: str | None = None) -> None:
    """Writes program.yml, seasons/<season>/ and the trial workbook into a folder, and says what comes next.

    crops: words separated by spaces or commas; winter wheat becomes winter-wheat. season: a harvest year; this year
    where none is given. UserError where something of it is there already, which is never overwritten, or where a word
    cannot be.
    """
    today = date.today()
    words, harvest = _crops(crops), _season(season, today)
    if units not in UNITS:
        raise UserError(f'The units are "{units}". They may be {" or ".join(UNITS)}.')
    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file. Name a new folder.")
    file, into = folder / "program.yml", folder / "seasons" / str(harvest)
    for path in (file, folder / "seasons", _workbook_path(folder, harvest)):
        if path.exists():
            raise UserError(f"{path} is there already, and is never overwritten. Name a new folder.")
    into.mkdir(parents=True)
    text = program_file(_name(folder), words, units, harvest, today)
    file.write_text(text, encoding="utf-8")
    workbook = _write_workbook(read_program(folder), harvest)
    for crop in unknown_crops(words):
        near = one_of(list(reference_column("crops", "product")), crop)
        hint = f" ({near})" if near.startswith("did") else ""
        console.say(
            f'"{crop}" is not known here{hint}. Its bushel, moisture and ranges are to be filled in under crops: in'
            f" {file}."
        )
    console.say(_next_steps(file, workbook, into, text.count(f"# {FILL_IN}")))


def workbook(folder: Path, season: str | None = None) -> None:
    """Writes the trial workbook of one more season. UserError where it is there already."""
    harvest = _season(season, date.today())
    path = _workbook_path(folder, harvest)
    if path.exists():
        raise UserError(f"{path} is there already, and is never overwritten. Move it away, or name another season.")
    console.say(f"The workbook to send to your cooperators: {_write_workbook(read_program(folder), harvest)}")


def _crops(text: str) -> list[str]:
    words = list(dict.fromkeys(SOWN.sub(r"\1-", text.lower()).replace(",", " ").split()))
    if not words:
        raise UserError('No crop is named. Name one or several, like CROPS="corn cotton".')
    for word in words:
        if not A_CROP.fullmatch(word):
            raise UserError(f'The crop "{word}" must be one word of letters, like corn or spring-wheat.')
    return words


def _season(text: str | None, today: date) -> int:
    try:
        return year(text) if text else today.year
    except ValueError as expected:
        raise UserError(f'The season is "{text}"; expected {expected}.') from None


def _name(folder: Path) -> str:
    """The folder's name as a first name of the program, without what YAML would read as its own."""
    return re.sub(r"[^\w ]+", " ", folder.resolve().name.replace("_", " ")).strip() or "New program"


def _workbook_path(folder: Path, season: int) -> Path:
    return folder / f"trial-workbook-{season}.xlsx"


def _write_workbook(program: Program, season: int) -> Path:
    from pipeline.planning.trial_workbook import write_trial_workbook

    products = reference_column("crops", "product") | {crop.word: crop.product for crop in program.crops}
    path = _workbook_path(program.folder, season)
    write_trial_workbook(
        path,
        program=program.name,
        season=season,
        crops={comparison.crop: products[comparison.crop] for comparison in program.comparisons},
        display_units=program.display_units,
    )
    return path


def _next_steps(file: Path, workbook: Path, into: Path, n_marked: int) -> str:
    program = f"PROGRAM={quote(str(file.parent))}"
    return f"""A program to fill in: {file.parent}
1. Before anyone looks at a yield: fill in {file}, {n_marked} lines marked {FILL_IN}, and keep the day you did.
2. Say in the first sheet of {workbook} where to send it. Send it to your cooperators.
   What comes back goes into {into} as it is, in a folder per sender.
3. make findings {program} says what to correct; make report {program} makes the report."""
