"""The figures of the weather: gains against a covariate, and what a site-year's nitrogen met."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.figures import theme, weather_gains
from pipeline.display.site_year import season_figure
from tests import figure_words
from tests.unit.display.rows import NONE
from tests.unit.display.weather_rows import line_rows, season_day_rows, slope_row

WHAT = "rain in the month after application"


def points(seasons=(2091, 2092)) -> pd.DataFrame:
    rows = [
        {"place": place, "season": season, "gain": gain + i, "std_error": error, "value": 2.0 + i}
        for i, season in enumerate(seasons)
        for place, gain, error in (("Alder", 4.0, 2.0), ("Birch", -1.0, 4.0), ("Cedar", 6.0, NONE))
    ]
    return pd.DataFrame(rows)


@pytest.fixture
def drawn(monkeypatch):
    """Every plot handed to theme.figure, which then gives back the words instead of drawing."""
    plots = []
    monkeypatch.setattr(weather_gains.theme, "figure", lambda plot, **words: plots.append(plot()) or words)
    return plots


def geoms(plot) -> list[str]:
    return [type(layer.geom).__name__ for layer in plot.layers]


def test_the_picture_of_gains_against_the_weather(tmp_path):
    shown = weather_gains.weather_gains(
        points(), pd.DataFrame(line_rows()), slope_row(), WHAT, folder=tmp_path, name="w"
    )
    assert (tmp_path / "w.png").is_file()
    assert "gain at 6 site-years against rain in the month after application" in shown
    assert "(1 in. = 25.4 mm; 1 bu/ac = 62.8 kg/ha)" in shown
    assert "2091, 3 site-years: on average 2.0 in. and 3.0 bu/ac." in shown.alt
    assert shown.alt.endswith(
        "The line runs from 3.1 bu/ac (1.2 to 5.2) at 1.2 in. to 9.8 bu/ac (8.4 to 12.4) at 8.4 in."
    )


@pytest.mark.parametrize("n_seasons", [1, 4, 5, 6, 12])
def test_a_long_name_of_what_was_measured_is_whole_and_so_is_the_legend(monkeypatch, tmp_path, n_seasons):
    found = figure_words.seen_in(monkeypatch)
    what = "rain in the wettest 12 days in the 120 days after application"
    for sheet in (theme.PAGE, theme.PHONE):
        weather_gains.weather_gains(
            points(range(2091, 2091 + n_seasons)),
            pd.DataFrame(line_rows()),
            slope_row(),
            what,
            folder=tmp_path,
            name="w",
            sheet=sheet,
        )
    assert found == []


def test_the_words_of_one_day(tmp_path):
    of_days = slope_row(covariate_unit="days", covariate_digits=0)
    line = pd.DataFrame(line_rows()).assign(at=[1.0] * len(line_rows()))
    shown = weather_gains.weather_gains(points().assign(value=1.0), line, of_days, WHAT, folder=tmp_path, name="w")
    assert "2091, 3 site-years: on average 1 day and 3.0 bu/ac." in shown.alt
    assert "at 1 day to " in shown.alt and "1 days" not in shown.alt.replace("to 1 days", "")


def test_a_line_is_drawn_only_where_it_is_shown(drawn, tmp_path):
    for is_shown in (True, False):
        words = weather_gains.weather_gains(
            points(), pd.DataFrame(line_rows()), slope_row(is_shown=is_shown), WHAT, folder=tmp_path, name="w"
        )
        assert ("geom_ribbon" in geoms(drawn[-1])) == ("geom_line" in geoms(drawn[-1])) == is_shown
        assert ("No line is drawn" in words["caption"]) == ("The line runs" not in words["alt"]) == (not is_shown)


def test_a_more_precise_gain_has_a_larger_mark_and_one_of_unknown_error_the_smallest():
    marked = weather_gains._marked(points()).set_index("place")["size"].groupby(level=0).first()
    assert marked["Alder"] > marked["Birch"] > marked["Cedar"] == weather_gains.SMALLEST
    alike = weather_gains._marked(points().assign(std_error=NONE))
    assert set(alike["size"]) == {weather_gains.EVEN_SIZE}


def test_each_season_has_a_shape_of_its_own_until_there_are_too_many(drawn, tmp_path):
    few, many = (tuple(range(2090, 2090 + n)) for n in (len(weather_gains.SHAPES), len(weather_gains.SHAPES) + 1))
    for seasons in (few, many):
        weather_gains.weather_gains(
            points(seasons), pd.DataFrame(line_rows()), slope_row(), WHAT, folder=tmp_path, name="w"
        )
    assert "geom_point" in geoms(drawn[0]) and "geom_text" not in geoms(drawn[0])
    assert "geom_text" in geoms(drawn[1]) and "geom_point" not in geoms(drawn[1])


APPLIED = pd.DataFrame(
    {"applied_on": pd.to_datetime(["2092-05-03", "2092-05-06", "2092-06-10", "2092-05-06", None, "2091-05-03"])}
)


def met(days: pd.DataFrame, unit: str = "inch") -> season_figure.SeasonFigure:
    return season_figure.SeasonFigure(days, APPLIED, unit)


def test_the_picture_of_what_nitrogen_met(tmp_path):
    shown = season_figure.season(
        season_day_rows(),
        APPLIED,
        title="Alder in 2092",
        inputs=["Worked out from rain."],
        unit="inch",
        folder=tmp_path,
    )
    assert (tmp_path / "season.png").is_file()
    for words in (
        "rain (bars)",
        "applications (upright lines)",
        "(gray bands)",
        "released (dashed)",
        "Worked out from rain.",
    ):
        assert words in shown.caption
    assert "6.0 inches, most on May 7, 2092, 1.0 inches" in shown.alt
    assert "Nitrogen went out on May 3, 2092, May 6, 2092 and June 10, 2092." in shown.alt
    assert "6 wet spells, 6 days in all. By the end 100% of the coated nitrogen was out." in shown.alt


def test_what_days_without_data_cut_off_is_not_told_of_the_whole_season(tmp_path):
    """Where weather is missing the water balance and the release end, which is no dry and no slow season."""
    days = season_day_rows()
    cut = days["date"] > "2092-05-17"
    days.loc[cut, ["excess_mm", "excess_inch"]] = NONE
    days.loc[days["date"] > "2092-05-20", "released_pct"] = NONE
    shown = season_figure.season(days, APPLIED, title="A", inputs=[], unit="inch", folder=tmp_path)
    assert "Bands are known up to May 17 only. The share released is known up to May 20 only." in shown.caption
    assert "By May 20, 2092, 34% of the coated nitrogen was out." in shown.alt
    assert "known up to" not in season_figure._caption(met(season_day_rows()), "A", [])


def test_dates_that_would_touch_stand_in_rows_of_their_own():
    marks = met(season_day_rows()).marks()
    assert marks["words"].str.strip().tolist() == ["May 3", "May 6", "Jun 10"]
    assert marks["y"].iloc[0] == marks["y"].iloc[2] < marks["y"].iloc[1]


def test_wet_days_in_a_row_are_one_spell():
    days = season_day_rows(5, excess_mm=[0.0, 2.0, 3.0, NONE, 1.0])
    assert met(days).spells.to_dict("list") == {"x_from": [0.5, 3.5], "x_to": [2.5, 4.5]}


def test_what_is_modeled_is_dashed_and_what_is_not_known_is_not_drawn(drawn, tmp_path, monkeypatch):
    monkeypatch.setattr(season_figure.theme, "figure", weather_gains.theme.figure)
    season_figure.season(season_day_rows(), APPLIED, title="A", inputs=[], unit="mm", folder=tmp_path)
    (line,) = [layer for layer in drawn[0].layers if type(layer.geom).__name__ == "geom_line"]
    assert line.geom.aes_params["linetype"] == "dashed"
    days = season_day_rows(released_pct=NONE, excess_mm=NONE)
    days.loc[3, ["rain_mm", "rain_inch"]] = NONE
    words = season_figure.season(days, APPLIED, title="A", inputs=[], unit="mm", folder=tmp_path)
    assert "geom_line" not in geoms(drawn[1]) and "geom_rect" not in geoms(drawn[1])
    assert "released" not in words["caption"] and "The rain of 1 day is not known." in words["caption"]


def test_irrigation_is_told_from_rain():
    days = season_day_rows(10, irrigation_mm=[0.0] * 9 + [25.4])
    of = met(days)
    assert of.is_irrigated and of.panels[0] == "Rain and irrigation, in. a day"
    assert of.water.groupby("kind")["depth"].sum().to_dict() == pytest.approx({"rain": 1.0, "irrigation": 1.0})
    assert "Irrigation: 1.0 inches" in season_figure._alt(of)
    assert not met(season_day_rows()).is_irrigated
