"""The verb preview: what it hands to the drawing, and what it says (tests/unit/publishing/test_pages.py draws)."""

from __future__ import annotations

import pandas as pd

from pipeline.__main__ import main
from pipeline.verbs import previewing


def test_the_last_report_goes_in_and_the_files_are_named(tiny, monkeypatch, capsys):
    trials = pd.DataFrame({"trial_id": ["2091-A-corn"]})
    given = {}

    def draw(name, tables, **folders):
        given.update(folders, name=name, tables=tables)
        return [folders["folder"] / "corn.html"]

    monkeypatch.setattr(previewing, "stored_views", lambda folder: {"trials": trials})
    monkeypatch.setattr("pipeline.publishing.pages.preview", draw)
    assert main(["preview", "corn", "--program", str(tiny.folder)]) == 0
    assert given == {
        "name": "corn",
        "tables": {"reports.trials": trials},
        "published": tiny.folder / "published",
        "folder": tiny.folder / "preview",
    }
    assert capsys.readouterr().out.strip() == str(tiny.folder / "preview" / "corn.html")


def test_before_the_first_report_there_is_nothing_to_draw_from(tiny, capsys):
    assert main(["preview", "corn", "--program", str(tiny.folder)]) == 1
    assert "is not there yet. Run make report first." in capsys.readouterr().err
