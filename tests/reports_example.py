"""What stands in reports/example beside the pictures, written anew: python -m tests.reports_example"""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from pipeline import folders
from pipeline.planning.trial_workbook import trial_workbook_fields, write_trial_workbook
from pipeline.planning.worked_example import worked_example
from pipeline.publishing.dictionary import dictionary_tables
from pipeline.publishing.weave import weave

FOLDER = folders.REPORTS / "example"
WORKBOOK, DICTIONARY = "trial-workbook.xlsx", "data_dictionary.md"
CROP, SEASON = "corn", 2093
PROGRAM = "Orrenvale Lowlands nitrogen trials (invented)"
CAPTION = re.compile(r"^: (.*?)\s*\{#[\w-]+\}$", re.M)


def write(folder: Path) -> None:
    """The filled trial workbook and the data dictionary of a program in US units."""
    crops = {CROP: "grain"}
    rows = worked_example(trial_workbook_fields(crops, SEASON, "us"), CROP)
    write_trial_workbook(folder / WORKBOOK, program=PROGRAM, season=SEASON, crops=crops, display_units="us", rows=rows)
    (folder / DICTIONARY).write_text(_dictionary(), encoding="utf-8")


def _dictionary() -> str:
    """The page as plain Markdown, without what only a drawn page has."""
    views = dictionary_tables() | {
        "program": pd.DataFrame([{"program": PROGRAM, "display_units": "us"}]),
        "pages": pd.DataFrame(columns=["kind", "crop", "path"]),
    }
    with TemporaryDirectory() as scratch:
        page = weave(
            folders.REPORTS / "data_dictionary.qmd", parameters={}, names={"views": views}, folder=Path(scratch)
        )
        _, _, body = page.read_text(encoding="utf-8").split("---\n", 2)
    body = CAPTION.sub(r"*\1*", body).strip()
    return f"# Data dictionary\n\n{body}\n"


if __name__ == "__main__":
    write(FOLDER)
