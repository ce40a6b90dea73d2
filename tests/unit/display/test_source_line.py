"""Where the figures of a slide come from."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.display.slides.beside import source_line

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
