"""The pages that each cooperator gets alone."""

from __future__ import annotations

from pathlib import Path

from pipeline import console
from pipeline.verbs.answers import stored_views


def pages_for_cooperators(folder: Path) -> None:
    """Draws them from what the last report stored, and says where they are and whose trials nobody gets."""
    from pipeline.publishing.for_cooperators import FOLDER, publish_for_cooperators

    tables = {f"reports.{view}": frame for view, frame in stored_views(folder).items()}
    with console.pages() as tell:
        made = publish_for_cooperators(tables, program_folder=folder, tell=tell)
    is_unnamed = tables["reports.trials"]["cooperator"].isna()
    unnamed = int(is_unnamed.sum())
    if unnamed:
        console.say(f"{console.count(unnamed, 'trial')} without a cooperator: nobody gets a page of them.")
    if not made:
        why = "the column cooperator of trials names nobody" if is_unnamed.all() else "no trial of theirs has a page"
        console.say(f"No folder is written: {why}.")
        return
    console.say(f"{console.count(len(made), 'folder')}, each to be sent to its cooperator alone: {folder / FOLDER}")
