"""Figures by what they draw and say: positions from the built plot, files, captions and alternative text."""

from __future__ import annotations

import matplotlib.image
import pandas as pd
import plotnine as p9
import pytest

from pipeline.display.figures import n_response, site_year_gains, theme
from pipeline.display.site_year import monthly_rain_figure as monthly_rain
from pipeline.display.site_year import own_gains_figure as own_gains
from tests import figure_words
from tests.unit.display.rows import NONE, gain_row, site_year_row


@pytest.fixture
def site_years() -> pd.DataFrame:
    return pd.DataFrame(
        [
            site_year_row("Birch", 2092, 12.0),
            site_year_row("Alder", 2092, -3.0),
            site_year_row("Birch", 2091, 4.0, rainfall_class=None),
        ]
    )


@pytest.fixture
def averages() -> pd.DataFrame:
    return pd.DataFrame(
        [
            gain_row(),
            gain_row(target="seasons to come", is_declared=False, estimate=5.69, conf_low=-1.04, conf_high=12.41),
        ]
    )


def test_site_years_stand_by_season_and_by_size_within_it(site_years):
    placed = site_year_gains._placed(site_years, 1)
    assert list(zip(placed["season"], placed["place"], placed["y"], strict=True)) == [
        (2091, "Birch", 1),
        (2092, "Birch", 3),
        (2092, "Alder", 4),
    ]


def test_the_picture_of_site_year_gains(site_years, averages, tmp_path):
    shown = site_year_gains.site_year_gains(site_years, averages, folder=tmp_path, name="gains", break_even=2.3)
    assert matplotlib.image.imread(tmp_path / "gains.png").shape[1] == theme.WIDTH_INCH * theme.DPI
    assert "{#fig-gains fig-alt=" in shown and "width=6.5in}" in shown
    assert "gain at each of 3 site-years" in shown
    assert "Gains run from \u22123.0 at Alder 2092 to 12.0 bu/ac at Birch 2092; 2 of 3 are above zero." in shown
    assert (
        "Average in the seasons tested: 5.8, interval 3.4 to 8.2. Average in future seasons: 5.7, interval \u22121.0 to"
        " 12.4." in shown
    )
    assert (
        "One more field in the seasons tested: \u22125.8 to 17.4. A dashed line marks 2.3 bu/ac, from which it pays at"
        " the planning prices." in shown
    )
    assert "Band: the average in the seasons tested." in shown and "intervals that include plot noise" in shown


@pytest.mark.parametrize(
    ("known", "says"),
    [
        (3, "gain at each of 3 site-years, with 95% intervals that include plot noise."),
        (2, "gain at each of 3 site-years, 2 of them with 95% intervals that include plot noise."),
        (1, "gain at each of 3 site-years, 1 of them with a 95% interval that includes plot noise."),
        (0, "gain at each of 3 site-years, without intervals, as their plot noise is not known."),
    ],
)
def test_intervals_are_told_of_those_site_years_alone_that_have_one(site_years, averages, tmp_path, known, says):
    """A published mean without a standard error has a gain and no interval."""
    site_years.loc[known:, ["conf_low", "conf_high"]] = NONE
    shown = site_year_gains.site_year_gains(site_years, averages, folder=tmp_path, name="gains")
    assert says in shown and says.removeprefix("gain at each of 3 site-years, ") in shown.split("fig-alt=")[1]


def test_one_site_year_is_not_each_of_several(site_years, averages, tmp_path):
    shown = site_year_gains.site_year_gains(site_years.iloc[:1], averages, folder=tmp_path, name="gains")
    assert "gain at 1 site-year, with" in shown


def test_what_is_drawn_of_site_years_is_what_is_told(site_years, averages, tmp_path, monkeypatch):
    """Band and lines at the numbers of the caption; site-years with their names, and on a slide with their seasons."""
    drawn, words = [], []
    monkeypatch.setattr(theme, "figure", lambda plot, **told: drawn.append(plot()) or words.append(told))
    site_year_gains.site_year_gains(site_years, averages, folder=tmp_path, name="gains", break_even=2.3)
    site_year_gains.site_year_gains(site_years, averages, folder=tmp_path, name="gains", sheet=theme.SLIDE)
    page, slide = drawn
    band, below = page.layers[0]._data, page.layers[7]._data
    assert (band["xmin"].tolist(), band["xmax"].tolist()) == ([3.37], [8.16])
    assert (below["low"].tolist(), below["high"].tolist()) == ([3.37, -1.04, -5.84], [8.16, 12.41, 17.37])
    assert below["label"].tolist() == [
        "Average, seasons tested",
        "Average, future seasons",
        "One field, seasons tested",
    ]
    assert below["y"].tolist() == [6, 7, 8]
    assert labels(page) == ["Birch: poorly, no class", "Birch: poorly, wet", "Alder: poorly, wet", *below["label"]]
    assert [layer._data["xintercept"].tolist() for layer in (page.layers[1], page.layers[3])] == [[0.0], [2.3]]
    assert page.layers[9]._data["label"].tolist() == [" 2091", " 2092"]
    assert labels(slide)[:2] == ["2091", "2092"]
    assert page.labels.x.startswith("Gain, bu/ac\n\u2190 half-coated blend, one application: yielded less")
    assert "breaks even" in words[0]["caption"] and "breaks even" not in words[1]["caption"]
    assert "Beside each place: its drainage" in words[0]["caption"] and "Beside" not in words[1]["caption"]


def labels(plot: p9.ggplot) -> list[str]:
    return next(list(scale.labels) for scale in plot.scales if "y" in scale.aesthetics)


def test_a_class_stands_in_words_beside_its_place(site_years):
    rows = site_years.assign(drainage_group=["P", "W", None], drainage_classes=["poorly drained", "well drained", None])
    said = [site_year_gains._classes(row) for row in rows.itertuples()]
    assert said == ["poorly, wet", "well, wet", "not known, no class"]
    two = rows.iloc[[2]].assign(drainage_classes="poorly drained, well drained")
    assert [site_year_gains._classes(row) for row in two.itertuples()] == ["mixed, no class"]


def test_few_site_years_are_drawn_without_band_or_average(site_years, tmp_path):
    nothing = pd.DataFrame([gain_row(estimate=NONE, conf_low=NONE, conf_high=NONE, pred_low=NONE, pred_high=NONE)])
    shown = site_year_gains.site_year_gains(
        site_years.assign(conf_low=NONE, conf_high=NONE), nothing, folder=tmp_path, name="gains"
    )
    assert "Band" not in shown and (tmp_path / "gains.png").is_file()
    assert "verage" not in shown and "One more field" not in shown
    assert site_year_gains._averages_placed(nothing, 6, 1).empty and not site_year_gains._band(nothing.iloc[0])


def test_many_site_years_stay_on_one_page(averages, tmp_path):
    many = pd.DataFrame([site_year_row(f"Place{i}", 2091 + i % 10, i - 60.0) for i in range(120)])
    site_year_gains.site_year_gains(many, averages, folder=tmp_path, name="gains")
    assert matplotlib.image.imread(tmp_path / "gains.png").shape[0] <= round(site_year_gains.TALLEST_INCH * theme.DPI)


def test_own_gains(site_years, averages, tmp_path):
    own, averages = site_years.iloc[:1], averages.assign(kg_ha_per_unit=62.77)
    shown = own_gains.own_gains(own, averages.iloc[:1], pd.Series({"blend": 2.3}), folder=tmp_path, name="own")
    assert "in the seasons tested, over 33 site-years (thick)" in shown and "(1 bu/ac = 62.8 kg/ha)" in shown
    assert "here 12.0 bu/ac, average 5.8, breaks even at 2.3." in shown and "Dashes: break-even." in shown
    without = own_gains.own_gains(own, averages.iloc[:1], pd.Series(dtype=float), folder=tmp_path, name="own")
    assert "breaks even" not in without and "break-even" not in without
    lines = own_gains._lines(own.merge(averages.iloc[:1], on="comparison_id", suffixes=("", "_average")).assign(y=0.0))
    assert list(lines["low"].round(1)) == [3.0, -8.9, 3.4]


def test_own_gains_where_there_is_no_average(site_years, tmp_path):
    nothing = pd.DataFrame(
        [gain_row(estimate=NONE, conf_low=NONE, conf_high=NONE, observed_low=NONE, observed_high=NONE)]
    )
    nothing = nothing.assign(kg_ha_per_unit=62.77)
    shown = own_gains.own_gains(site_years.iloc[:1], nothing, pd.Series(dtype=float), folder=tmp_path, name="own")
    assert "too few site-years for an average" in shown


def ladder(**changed) -> pd.DataFrame:
    """Points of one family; the highest rate was tested in few site-years."""
    rows = [(0.0, 105.0, 34, True), (160.0, 183.0, 34, True), (200.0, 175.4, 9, False)]
    means = pd.DataFrame(rows, columns=["n_rate", "yield", "n_site_years", "has_all_site_years"])
    return means.assign(family="urea", unit="bu/ac", n_unit="lb/ac", **changed)


def test_rates_that_few_site_years_have_are_told_and_not_drawn(tmp_path, monkeypatch):
    """A point from other site-years below the curve looks as if nitrogen cut yield."""
    drawn = []
    monkeypatch.setattr(n_response.theme, "figure", lambda plot, **words: drawn.append(plot()) or words)
    lines = ladder().iloc[:2][["family", "n_rate", "yield", "unit", "n_unit"]]
    words = n_response.n_response(ladder(), lines, folder=tmp_path, name="response")
    assert words["caption"].endswith(" 200 lb/ac: tried at 9 of 34 site-years only, so not drawn.")
    assert "Urea: from 105 bu/ac without N to 183 at 160 lb/ac. 200 lb/ac: tried at 9 of 34" in words["alt"]
    assert max(drawn[0].layers[1]._data["n_rate"]) == 160
    words = n_response.n_response(ladder().iloc[:2], lines, folder=tmp_path, name="response")
    assert "tried" not in words["caption"] + words["alt"]


def test_more_treatments_than_can_be_told_apart_are_named(tmp_path, monkeypatch):
    found = figure_words.seen_in(monkeypatch)
    means = pd.concat([ladder().iloc[:2].assign(family=f"source {i}, 1 pass") for i in range(6)])
    lines = means[["family", "n_rate", "yield", "unit", "n_unit"]]
    shown = n_response.n_response(means, lines, folder=tmp_path, name="response")
    for told in (shown.caption, shown.alt):
        assert told.endswith(" Not drawn: source 4, 1 pass and source 5, 1 pass.")
    assert found == []


def rain() -> pd.DataFrame:
    rows = [(5, 3.9, 2.0, 1.0, 3.0), (6, 0.4, 2.0, 1.0, 3.0), (7, 2.1, 2.0, 1.0, 3.0)]
    frame = pd.DataFrame(rows, columns=["month", "rain_inch", "mean_inch", "low_inch", "high_inch"])
    return frame.assign(place="Alder", season=2093, n_years=30, n_days=[31, 30, 31])


def test_monthly_rain(tmp_path):
    shown = monthly_rain.monthly_rain(rain(), unit="inch", folder=tmp_path)
    assert "against 30 reference years" in shown and "1 inch is 25.4 mm" in shown
    metric = rain().rename(columns=lambda name: name.replace("_inch", "_mm"))
    assert "inch" not in monthly_rain.monthly_rain(metric, unit="mm", folder=tmp_path)
    assert "May 3.9, June 0.4, July 2.1. It lay above the range of 8 years in 10 in May and below it in June." in shown


def test_a_month_with_days_unknown_is_told_as_part_of_one_and_never_as_dry(tmp_path, monkeypatch):
    drawn = []
    monkeypatch.setattr(monthly_rain.theme, "figure", lambda plot, **words: drawn.append(plot()) or words)
    words = monthly_rain.monthly_rain(rain().assign(n_days=[31, 21, 30]), unit="inch", folder=tmp_path)
    hollow = "Hollow: at least so much, as days are not known of June (9 days) and July (1 day)."
    assert words["caption"].endswith(f" {hollow}")
    assert "May 3.9, June at least 0.4, July at least 2.1." in words["alt"] and "never below it" in words["alt"]
    white = [layer for layer in drawn[0].layers if layer.geom.aes_params.get("color") == "white"]
    assert [layer._data["month"].tolist() for layer in white] == [[6, 7]]


@pytest.mark.parametrize(("last", "words"), [(2.1, ["mean", "2093"]), (1.9, ["2093", "mean"]), (0.2, ["2093", "mean"])])
def test_the_words_beside_the_last_month_stand_apart(tmp_path, monkeypatch, last, words):
    drawn = []
    monkeypatch.setattr(monthly_rain.theme, "figure", lambda plot, **words: drawn.append(plot()))
    months = rain()
    months.loc[2, "rain_inch"] = last
    monthly_rain.monthly_rain(months, unit="inch", folder=tmp_path)
    told = drawn[0].layers[3]._data
    assert told["words"].tolist() == words
    assert told["rain"].diff().iloc[1] >= monthly_rain.WORD_SHARE * 3.9 - 1e-9


def test_monthly_rain_without_reference(tmp_path):
    shown = monthly_rain.monthly_rain(
        rain().assign(mean_inch=NONE, low_inch=NONE, high_inch=NONE, n_years=NONE),
        unit="inch",
        folder=tmp_path,
    )
    assert "Of reference years no whole month was delivered" in shown
    # 'never above the range' would say that it was held against one
    assert "July 2.1. There is no reference year to hold it against." in shown


@pytest.mark.parametrize(
    ("n_years", "against", "it_lay"),
    [
        ([1, 1, 1], "(dots) against 1 reference year (dash); 1 inch", "One reference year has no range."),
        ([30, 28, 30], "against 28 to 30 reference years: their mean", "above the range of 8 years in 10 in May"),
        ([30, NONE, 30], "against 30 reference years: their mean", "below it. No reference year has all of June."),
    ],
)
def test_monthly_rain_says_how_many_reference_years_stand_behind_it(tmp_path, n_years, against, it_lay):
    months = rain().assign(n_years=n_years)
    months.loc[months["n_years"].isna(), ["mean_inch", "low_inch", "high_inch"]] = NONE
    shown = monthly_rain.monthly_rain(months, unit="inch", folder=tmp_path)
    assert against in shown and it_lay in shown and "Monthly rain in inches: May 3.9" in shown


def test_a_quote_in_a_name_does_not_end_the_alternative_text(site_years, averages, tmp_path):
    odd = site_years.assign(place='A "b" \\c')
    shown = site_year_gains.site_year_gains(odd, averages, folder=tmp_path, name="gains")
    assert shown.count('"') == 2


def test_colors_differ_in_lightness():
    """So that they are told apart in grey print; weights are those of ITU-R BT.601."""

    def lightness(color: str) -> float:
        red, green, blue = (int(color[i : i + 2], 16) for i in (1, 3, 5))
        return 0.299 * red + 0.587 * green + 0.114 * blue

    levels = sorted(lightness(color) for color in (theme.INK, theme.AVERAGE, theme.RANGE, theme.BAND))
    assert all(b - a > 25 for a, b in zip(levels, levels[1:]))


def test_lines_are_named_on_their_outer_sides():
    names = [
        layer
        for layer in theme.named_lines([(2.3, "pays", "dashed"), (0.0, "no gain", "solid")], y=0)
        if isinstance(layer, p9.annotate)
    ]
    found = [(name._annotation_geom.aes_params["label"], name._annotation_geom.aes_params["ha"]) for name in names]
    assert found == [("no gain ", "right"), (" pays", "left")]


@pytest.mark.parametrize("n_seasons", [1, 4, 20])
@pytest.mark.parametrize("n", [3, 38, 41, 42, 120, 1200])
def test_no_words_lie_on_others_however_many_site_years(n, n_seasons, averages, tmp_path, monkeypatch):
    found = figure_words.seen_in(monkeypatch)
    many = pd.DataFrame([site_year_row(f"Place{i}", 2091 + i % n_seasons, (i * 37) % 60 - 30.0) for i in range(n)])
    for sheet in (theme.PAGE, theme.PHONE, theme.SLIDE):
        site_year_gains.site_year_gains(many, averages, folder=tmp_path, name="gains", break_even=2.3, sheet=sheet)
    assert found == []
