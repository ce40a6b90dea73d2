"""The handout's two pictures: every comparison in a row, and classes only where their interval tells something."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.figures import classes, theme, yields
from tests import figure_words
from tests.unit.display.rows import NONE, gain_row

BUSHEL = {"kg_ha_per_unit": 62.77}
PAIR = BUSHEL | {"treatment": "blend", "comparator": "urea", "comparator_mean": 180.2, "estimate_pct": 3.2}


def test_every_comparison_is_a_row_and_one_without_an_average_is_named(tmp_path):
    rows = pd.DataFrame(
        [
            gain_row() | PAIR | {"even": 2.3, "pays": "$19 an acre"},
            gain_row(comparison_id="none", estimate=NONE, conf_low=NONE, conf_high=NONE)
            | PAIR
            | {
                "even": NONE,
                "pays": "",
            },
        ]
    )
    known, none = ({**row, "label": "", "y": 0.0} for row in rows.to_dict("records"))
    beside = yields._words_beside(pd.DataFrame([known, none]), pd.DataFrame([known])).data
    assert list(beside["words"]) == ["+5.8 bu/ac (+3.2%)\n$19 an acre", "no average"]
    shown = yields.yields(rows, folder=tmp_path, name="yields")
    assert (tmp_path / "yields.png").is_file()
    assert "Blend against urea: 5.8 bu/ac, interval 3.4 to 8.2; $19 an acre." in shown
    assert "Blend against urea: no average." in shown and "2 comparisons" in shown
    assert "Starting yields, bu/ac: 180.2 for urea" in shown and "breaks even" in shown


def test_a_comparator_that_starts_from_two_yields_shows_both_so_that_the_percent_can_be_checked(tmp_path):
    rows = pd.DataFrame(
        [gain_row() | PAIR | {"even": 2.3, "pays": "", "comparator_mean": mean} for mean in (180.2, 175.7)]
    )
    assert "Starting yields, bu/ac: 175.7 to 180.2 for urea." in yields.yields(rows, folder=tmp_path, name="yields")


def rows_of_classes(**changed) -> pd.DataFrame:
    rows = [gain_row(moderator="drainage group", level=level, n_site_years=11) for level in ("P", "W", "R")]
    rows += [gain_row(moderator="rainfall class", level=level, n_site_years=11) for level in ("dry", "normal", "wet")]
    return pd.DataFrame([rows[0] | changed, *rows[1:]])


@pytest.mark.parametrize(
    ("changed", "lacking"),
    [
        ({}, ""),
        ({"shown_as": "grey", "n_seasons": 1}, "too few seasons, 11"),
        ({"shown_as": "count", "n_site_years": 2, "n_seasons": 2}, "too few trials, 2"),
        ({"estimate": NONE, "conf_low": NONE, "conf_high": NONE}, "too few seasons, 11"),
        ({"conf_low": -162.0, "conf_high": 176.0}, "too uncertain, 11"),
    ],
)
def test_a_class_whose_interval_tells_nothing_says_so_and_has_no_figure(tmp_path, changed, lacking):
    rows = rows_of_classes(**changed)
    assert list(classes.informative(rows, pd.Series(gain_row() | BUSHEL))) == [not lacking] + [True] * 5
    shown = classes.by_class(rows, pd.Series(gain_row() | BUSHEL), folder=tmp_path, name="land")
    assert f"Poorly drained: {lacking or '5.8 bu/ac, interval 3.4 to 8.2, 11'} site-years." in shown
    assert "Wet: 5.8 bu/ac, interval 3.4 to 8.2, 11 site-years." in shown and "176" not in shown


@pytest.mark.parametrize("n", [2, 11, 119, 1190, 11900])
def test_no_words_of_a_class_are_cut_off_however_many_site_years(monkeypatch, tmp_path, n):
    found = figure_words.seen_in(monkeypatch)
    rows = rows_of_classes(shown_as="grey", n_seasons=1, n_site_years=n)
    for sheet in (theme.PAGE, theme.PHONE, theme.SLIDE):
        classes.by_class(rows, pd.Series(gain_row() | BUSHEL), folder=tmp_path, name="land", sheet=sheet)
    assert found == []


def plotted(monkeypatch, draw) -> pd.DataFrame:
    """What a figure draws, as its parts take it; plotnine's own names of what is plotted."""
    made = []
    monkeypatch.setattr(theme, "figure", lambda plot, **words: made.append(plot()))
    draw()
    return made[0]


def test_dots_and_intervals_stand_at_the_average_and_its_limits(monkeypatch, tmp_path):
    average = pd.Series(gain_row() | BUSHEL)
    rows = rows_of_classes(level="P", shown_as="grey")
    drawn = plotted(monkeypatch, lambda: classes.by_class(rows, average, folder=tmp_path, name="land")).data
    known = drawn.set_index("level").drop("P")
    assert set(map(tuple, known[["gain", "low", "high"]].to_numpy())) == {(5.77, 3.37, 8.16)}
    assert drawn.set_index("level").loc["P", ["gain", "low", "high"]].isna().all()
    both = pd.DataFrame([gain_row() | PAIR | {"even": 2.3, "pays": ""}])
    plot = plotted(monkeypatch, lambda: yields.yields(both, folder=tmp_path, name="yields"))
    taken = [layer.mapping for layer in plot.layers]
    assert plot.mapping["x"] == "estimate" and {"x": "conf_low", "xend": "conf_high"}.items() <= taken[-3].items()
