"""Where the figures of a slide come from."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.display.slides.beside import CAUTIONS, source_line, write_words

PROGRAM = {"program": "Elm County trials", "started": date(2094, 12, 1)}
YEARS = (2091, 2092, 2093)


@pytest.mark.parametrize(
    ("site_years", "n_seasons", "says"),
    [
        ([9], (), "9 site-years in 3 seasons (2091 to 2093)."),
        ([9], [2], "9 site-years in 2 seasons."),
        ([8, 9], [2, 3], "8 to 9 site-years in 2 to 3 seasons."),
        ([0, 1], (), "at most 1 site-year in "),
    ],
)
def test_seasons_are_named_where_all_stand_behind_the_figure(site_years, n_seasons, says):
    """Money at the long-run rainfall has fewer site-years than the average; its slide named the average's seasons."""
    assert says in source_line(PROGRAM, site_years, YEARS, is_provisional=False, n_seasons=n_seasons)


def test_where_no_trial_has_answered_no_seasons_are_counted():
    said = source_line(PROGRAM, [0, 0], (), is_provisional=False)
    assert said == "Source: Elm County trials, no site-year yet. Edition of December 1, 2094."
    assert source_line(PROGRAM, [0, 0], (), is_provisional=True) == f"Provisional. {said}"


def test_the_words_beside_a_figure(tmp_path):
    source = source_line(PROGRAM, [9], YEARS, is_provisional=True)
    for provisional, cautions in (("", CAUTIONS), ("1 trial is held.", f"Provisional: 1 trial is held. {CAUTIONS}")):
        file = tmp_path / "corn-yields.txt"
        write_words(file, title="Corn", caption="Gains.", alt="Dots.", source=source, provisional=provisional)
        assert file.read_text(encoding="utf-8-sig").split("\n\n") == [
            "Title: Corn", "Caption: Gains.", "Alternative text: Dots.",
            "Source: Elm County trials, 9 site-years in 3 seasons (2091 to 2093). Edition of December 1, 2094.",
            f"Cautions: {cautions}", "Files: corn-yields.svg, corn-yields.png\n",
        ]  # fmt: skip
