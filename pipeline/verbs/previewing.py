"""One page at a time, while its words or figures are worked on."""

from __future__ import annotations

from pathlib import Path

from pipeline import console
from pipeline.settings.program import read_program
from pipeline.verbs.answers import stored_views


def preview(name: str, folder: Path) -> None:
    """Draws one page into the program's preview/ from what the last report stored, and says where."""
    from pipeline.publishing import pages

    tables = {f"reports.{view}": frame for view, frame in stored_views(folder).items()}
    published = read_program(folder).published
    for path in pages.preview(name, tables, published=published, folder=folder / "preview"):
        console.say(str(path))
