"""The walk in words: plots, printed means and corrections by file and row; collapsed in HTML."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.review import short_trace
from pipeline.display.review import trace as words
from pipeline.estimates.trials import block_gains
from pipeline.trace import Trace
from tests.unit.display.rows import NONE, gain_row

PLOT = {
    "trial_id": "2091-A-corn", "site_year_id": "alder-2091", "arm": "comparator", "treatment_code": "U-120",
    "block": "1", "plot": "101", "yield": 182.34,
    "yield_origin": "weighed", "harvest_weight_lb": 44.7 * 0.999999999, "harvest_weight_kg": 20.2756,
    "moisture_pct": 17.9, "gin_turnout_fraction": NONE,
    "harvest_area_ft2": 150.0, "harvest_area_m2": 13.9355, "unit": "bu/ac", "digits": 1, "fate": "used", "reason": None,
    "file": "seasons/2091/plots.csv", "sheet": None, "row_number": 5, "sha256": "ab" * 32,
}  # fmt: skip

ALONE = {"fate": "not compared", "reason": "the other arm has no yield beside it", "trial_id": "2091-C-corn"}
PICK = {
    "trial_id": "2093-QF-cotton",
    "plot": "104",
    "pick": 2,
    "picked": pd.Timestamp("2093-10-09"),
    "harvest_weight_kg": 5.08,
    "harvest_weight_lb": 11.2,
    "display_units": "us",
    "gin_turnout_fraction": 0.392,
    "file": "seasons/2093/harvests.csv",
    "sheet": None,
    "row_number": 7,
    "sha256": "cd" * 32,
}
RAIN = {
    "site_year_id": "alder-2091", "crop": "corn", "used_for": "window", "n_days": 61,
    "first_date": pd.Timestamp("2091-05-01"), "last_date": pd.Timestamp("2091-06-30"),
    "rain_mm": 188.4, "rain_inch": 7.42, "display_units": "us", "file": "seasons/2091/weather_daily.csv", "sheet": None,
    "first_row": 2, "last_row": 62, "sha256": "ef" * 32,
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({}, "row 5: plot 101, block 1, U-120 (comparator), 182.3 bu/ac from 44.7 lb at 17.9% moisture on 150 sq ft"),
        ({"unit": "kg/ha", "yield": 11444.0, "digits": 0},
         "row 5: plot 101, block 1, U-120 (comparator), 11,444 kg/ha from 20.276 kg at 17.9% moisture "
         "on 13.935 m\u00b2"),
        ({"gin_turnout_fraction": 0.392, "moisture_pct": NONE, "unit": "lb lint/ac"},
         "row 5: plot 101, block 1, U-120 (comparator), 182.3 lb lint/ac from 44.7 lb at turnout 0.392 on 150 sq ft"),
        ({"yield_origin": "delivered as a yield"},
         "row 5: plot 101, block 1, U-120 (comparator), 182.3 bu/ac, delivered as a yield"),
        ({"yield": NONE, "yield_origin": None, "fate": "set aside", "reason": "lost: deer"},
         "row 5: plot 101, block 1, U-120 (comparator), no yield; set aside: lost: deer"),
        ({"plot": None, "block": None, "yield_origin": None, "fate": "known by print",
          "reason": "mean of 4 blocks; a report"},
          "row 5: U-120 (comparator), 182.3 bu/ac; known by print: mean of 4 blocks; a report"),
    ],
)  # fmt: skip
def test_a_plot(changes, says):
    assert words.plot_line(PLOT | changes) == says


@pytest.mark.parametrize(("weight", "says"), [(0.031, "weight 3.1%"), (NONE, "not weighed here")])
def test_a_site_year(weight, says):
    row = pd.Series(
        {"place": "Alder", "season": 2091, "gain": -1.26, "digits": 1, "unit": "bu/ac", "weight": weight, "n_blocks": 4}
    )
    assert words.site_year_line(row) == f"Alder 2091: \u22121.3 bu/ac, {says}, 4 blocks"
    over_zero = words.site_year_line(pd.concat([row, pd.Series({"zero_n_in_error": True})]))
    assert over_zero.endswith("4 blocks, error from all plots, zero-N ones too")
    published = words.site_year_line(pd.concat([row, pd.Series({"n_plots": 0})]))
    assert published.endswith(", published means"), "its one row is no block"


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({}, "harvest_weight_lb '41.6' to '41.9'; ticket misread (A, 2091-11-02)"),
        ({"moved_to": "plot"}, "harvest_weight_lb moved to plot; ticket misread (A, 2091-11-02)"),
    ],
)
def test_a_correction(changes, says):
    row = {"file": "s.xlsx", "sheet": "plots", "row_number": 6, "heading": "harvest_weight_lb", "moved_to": None,
           "old": "41.6", "new": "41.9",
           "cause": "ticket misread", "who": "A", "date": pd.Timestamp("2091-11-02")}  # fmt: skip
    assert words.correction_line(pd.Series(row | changes)) == f's.xlsx sheet "plots" row 6: {says}'


def test_in_a_page_the_walk_is_for_html_alone_and_names_cannot_act_as_html():
    site_year = {
        "site_year_id": "alder-2091",
        "place": "<b>Alder",
        "season": 2091,
        "gain": 5.0,
        "digits": 1,
        "unit": "bu/ac",
        "weight": 1.0,
        "n_blocks": 4,
    }
    run = pd.Series({"inputs_sha256": "i", "settings_sha256": "s", "code_commit": "c"})
    estimate = pd.Series(gain_row() | {"formula": "f", "df_method": "d", "warnings": ""})
    picks, rain = pd.DataFrame([PICK | {"trial_id": "2091-A-corn"}]), pd.DataFrame([RAIN])
    none = pd.DataFrame(columns=["box", "item"])
    found = Trace(
        "gains", estimate, rests_on=(), site_years=pd.DataFrame([site_year]), means=none, items=none, left_out=none,
        plots=pd.DataFrame([PLOT, *[PLOT | {"fate": "set aside", "reason": "deer"}] * 2, PLOT | ALONE]),
        picks=picks, rain=rain, corrections=none, run=run,
    )  # fmt: skip
    page = words.in_page([found])
    assert page.startswith('::: {.content-visible when-format="html"}') and page.rstrip().endswith(":::")
    assert page.count("<details>") == page.count("</details>") == 3
    assert "The 1 plot or printed mean behind it, 2 plots set aside and 1 plot not compared, with file" in page
    assert "<summary>&lt;b&gt;Alder 2091</summary>" in page and "No correction touches these plots." in page
    assert r"seasons/2091/plots.csv, sha256 " in page
    assert "harvests.csv row 7" in page and "rows 2 to 62" in page


def test_a_pick():
    says = (
        "2093-QF-cotton plot 104, pick 2 (2093-10-09): 11.2 lb (5.08 kg), turnout 0.392; seasons/2093/harvests.csv row"
        " 7, sha256 " + "cd" * 32
    )
    assert words.pick_line(PICK) == says
    assert "pick 2: 11.2 lb" in words.pick_line(PICK | {"picked": pd.NaT})
    assert "): 5.08 kg, turnout" in words.pick_line(PICK | {"display_units": "metric"})


def test_rain():
    says = (
        "61 days from 2091-05-01 to 2091-06-30, 7.4 in (188 mm); seasons/2091/weather_daily.csv rows 2 to 62, sha256 "
        + "ef" * 32
    )
    assert words.rain_line(RAIN) == f"alder-2091, window: {says}"
    assert "weather_daily.csv row 2, sha256" in words.rain_line(RAIN | {"last_row": 2})
    assert "2091-06-30, 188 mm; " in words.rain_line(RAIN | {"display_units": "metric"})
    assert words.rain_line(RAIN | {"used_for": "reference years"}).startswith(
        "alder-2091, reference years: 61 days from 2091-05-01 to 2091-06-30; "
    )


def test_the_walk_in_ten_lines_counts_what_the_whole_one_lists():
    row = gain_row(estimate_id="61e5b691-fc07") | {"formula": "gain ~ 1", "df_method": None, "rate_kg_ha": NONE}
    sites = pd.DataFrame(
        [
            {"place": p, "season": 2091, "gain": g, "digits": 1, "unit": "bu/ac"}
            for p, g in (("Alder", 3.0), ("Birch", -1.2))
        ]
    )
    left = pd.DataFrame({"trial_id": list("abcde")})
    lost = PLOT | {"fate": "set aside", "reason": "lost: deer"}
    plots = pd.DataFrame([PLOT, lost, PLOT | ALONE, PLOT | {"plot": None, "trial_id": "2091-B-corn"}])
    none = pd.DataFrame()
    said = short_trace.lines(
        Trace("gains", pd.Series(row), (), none, sites, none, left, plots, none, none, none, pd.Series(dtype=object))
    )
    assert said[-5:] == [
        "Rests on 2 site-years: gains of \u22121.2 at Birch 2091 to 3.0 at Alder 2091 (bu/ac)",
        "Left out: 5 trials (a, b, c and 2 more)",
        "Computed from 2 plots or printed means of 2 trials, delivered in 1 file; 1 more plot set aside;"
        " 1 more plot not compared",
        "Corrections to these plots: none",
        "Every plot with its file and row: make trace ID=61e5b691-fc07 WHOLE=yes",
    ]


SITE_YEAR = {"place": "Alder", "season": 2091, "gain": 5.0, "digits": 1, "unit": "bu/ac", "weight": 1.0, "n_blocks": 4}


def test_plots_that_are_not_behind_an_estimate_are_counted():
    plots = pd.DataFrame([PLOT, PLOT | ALONE, PLOT | ALONE])
    assert list(words.is_not_behind(plots)) == [False, True, True]
    assert words.not_behind(plots, "plot") == ["2 plots not compared"]


def test_a_measured_plot_without_a_partner_says_so():
    row = PLOT | {"trait": "plant height", "value": 40.5, "unit": "in"}
    said = "row 5: plot 101, block 1, U-120 (comparator), plant height 40.5 in"
    assert words.plot_line(row) == said
    alone = {"fate": "not compared", "reason": "the other arm was not measured beside it"}
    assert words.plot_line(row | alone) == f"{said}; not compared: the other arm was not measured beside it"


@pytest.mark.parametrize(
    ("warnings", "says"),
    [
        (None, "so their gains are corrected by blocks with all named rates, of this or other site-years"),
        (block_gains.NOT_ADJUSTED, "and no block has all named rates: not corrected"),
    ],
)
def test_a_site_year_whose_blocks_lack_a_rate_says_what_else_its_gain_rests_on(warnings, says):
    row = pd.Series(SITE_YEAR | {"lacks_rates": "80, 120 lb/ac", "warnings": warnings})
    told = words.site_year_line(row)
    assert told == f"Alder 2091: 5.0 bu/ac, weight 100.0%, 4 blocks; without 80, 120 lb/ac in some blocks, {says}"
    assert words.site_year_line(pd.Series(SITE_YEAR | {"lacks_rates": None})).endswith("4 blocks")


def test_points_along_strips_are_told_from_plots():
    """Two strips of two points each, one point lost, beside a plot of another trial."""
    strip = PLOT | {"trial_id": "2091-S-corn", "is_strip_point": True}
    rows = [strip, strip | {"plot": "102"}, strip | {"treatment_code": "C-120"}]
    plots = pd.DataFrame([PLOT | {"is_strip_point": False}, *rows, strip | ALONE | {"block": "2"}])
    assert words.along_strips(plots) == "3 are points along 2 strips: the mean of a strip counts once"
    assert words.along_strips(plots.iloc[:1]) == words.along_strips(pd.DataFrame([PLOT])) == ""


CORRECTION = {
    "file": "seasons/2091/plots.csv", "sheet": None, "row_number": 5, "heading": "yield", "moved_to": None, "old": "1",
    "new": "2", "cause": "typo", "who": "lead", "date": pd.Timestamp("2091-12-01"),
}  # fmt: skip
MEAN = {
    "season": 2091, "place": "Alder", "trial_id": "2091-A-corn", "family": "urea", "variant": "", "n_rate": 80.0,
    "n_unit": "lb/ac", "mean": 160.24, "n_plots": 4, "std_error": 5.66, "unit": "bu/ac", "digits": 1,
}  # fmt: skip
LEFT_OUT = {"trial_id": "2091-B-corn", "place": "Birch", "season": 2091, "reason": "held: yields"}
NOWHERE = LEFT_OUT | {"trial_id": "2091-C-corn", "place": None}
WHOLE = {
    "site_years": [SITE_YEAR], "left_out": [LEFT_OUT, NOWHERE], "means": [MEAN | {"n_rate": 0.0, "mean": 92.06}, MEAN],
    "plots": [PLOT], "corrections": [CORRECTION], "picks": [PICK], "rain": [RAIN],
    "weather": [{"place": "Alder", "season": 2091, "value": 4.06, "unit": "in.", "digits": 1}],
}  # fmt: skip
SITE_YEARS_TOLD = ["1 site-year behind it. " + words.WEIGHED + ":", "  Alder 2091: 5.0 bu/ac, weight 100.0%, 4 blocks",
                   "Left out of this comparison: 2 trials", "  2091-B-corn (Birch 2091): held: yields",
                   "  2091-C-corn (place not known, 2091): held: yields"]  # fmt: skip
MEANS_TOLD = ["Mean yield at each N rate of each trial, blocks adjusted for:",
              "  Alder 2091 (2091-A-corn), urea: 0 lb/ac 92.1, 80 lb/ac 160.2 bu/ac"]  # fmt: skip
PLOTS_TOLD = ["Plots (or printed means), with the file and row each was delivered in:",
              "  2091-A-corn: seasons/2091/plots.csv, sha256 " + "ab" * 32]  # fmt: skip
WEATHER_TOLD = ["Rain after application of each site-year:", "  Alder 2091: 4.1 in."]


@pytest.mark.parametrize(
    ("without", "begins"),
    [
        ((), [*SITE_YEARS_TOLD, *MEANS_TOLD, "Corrections applied to these plots: 1", None, *PLOTS_TOLD, None,
              "Picks behind plots picked more than once: 1", None, *WEATHER_TOLD,
              "Days of these windows, as delivered:", None]),
        (("site_years", "left_out", "weather"), [
            *MEANS_TOLD, "Corrections applied to these plots: 1", None, *PLOTS_TOLD, None,
            "Picks behind plots picked more than once: 1", None, "Rain behind the rainfall classes:", None]),
        (("means", "corrections", "picks", "rain", "weather"), [
            *SITE_YEARS_TOLD, "Corrections applied to these plots: none", *PLOTS_TOLD, None,
            "Picks behind plots picked more than once: none"]),
    ],
)  # fmt: skip
def test_the_whole_walk_lists_what_there_is_and_names_nothing_else(monkeypatch, without, begins):
    """None stands for a line that another test reads: a correction, a plot, a pick, days of rain."""
    monkeypatch.setattr(words.worked_out, "opening", lambda found: ["Opening."])
    monkeypatch.setattr(words.weather, "value", lambda row: f"{row['value']:.1f} {row['unit']}")
    frames = {name: pd.DataFrame(rows[:0] if name in without else rows, columns=list(rows[0]))
              for name, rows in WHOLE.items()}  # fmt: skip
    estimate, run = pd.Series({"covariate": "rain after application"}), pd.Series(dtype=object)
    found = Trace("gains", estimate, (), pd.DataFrame(), run=run, **frames)
    opening, *told = filter(None, words.lines(found))
    assert opening == "Opening." and len(told) == len(begins)
    assert [line for line, wanted in zip(told, begins, strict=True) if wanted not in (None, line)] == []


def test_a_printed_mean_is_told_with_its_standard_error_where_there_is_one():
    rows = [MEAN | {"n_plots": 0, "variant": "split"}, MEAN | {"n_plots": 0, "std_error": NONE, "n_rate": 120.0}]
    rows[1]["variant"] = "split"
    (said,) = words.mean_lines(pd.DataFrame(rows))
    assert said == (
        "Alder 2091 (2091-A-corn), urea, split: 80 lb/ac 160.2 (printed, SE 5.7), 120 lb/ac 160.2 (printed) bu/ac"
    )


def test_the_means_of_curves_are_counted_with_their_rows():
    plots = pd.DataFrame([PLOT | {"row_number": 9}, PLOT, PLOT | {"trial_id": "2091-B-corn", "plot": None}])
    found = Trace("response_curves", pd.Series({"family": "urea"}), (), *[pd.DataFrame()] * 2, pd.DataFrame([MEAN]),
                  *[pd.DataFrame()], plots, *[pd.DataFrame()] * 3, pd.Series(dtype=object))  # fmt: skip
    page = words.curves_in_page([found])
    assert "<summary>urea: means of 2 trials from 3 plots or printed means</summary>" in page
    assert "<li>2091-A-corn: 2 plots in rows 5 to 9 of seasons/2091/plots.csv, sha256 abab" in page
    assert "<li>2091-B-corn: 1 plot or printed mean in row 5 of seasons" in page
    assert "<li>Alder 2091 (2091-A-corn), urea: 80 lb/ac 160.2 bu/ac</li>" in page
