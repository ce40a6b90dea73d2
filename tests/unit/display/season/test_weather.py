"""The season page's section on the weather: declared covariates only, and an expectation only where a slope is
shown.
"""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.contract.vocabulary import EXCESS_WATER, EXPLORATORY, TESTED
from pipeline.display.season import weather
from tests.unit.display.rows import NONE, site_year_row
from tests.unit.display.weather_rows import covariate_row, expected_row, line_rows, no_slope_row, slope_row

PLACES = ("Alder", "Birch", "Cedar")
LONG_RUN = {"comparison_id": "blend", "target": TESTED, "estimate": 5.4, "conf_low": 3.0, "conf_high": 7.8, "digits": 1}
LEFT_OUT = "What to expect over the reference years is left out. 40% of reference years lie outside."


def of_crop(*slopes: dict, expected=(), long_run=(LONG_RUN,), values=(1.5, 3.0, 6.0)) -> dict[str, pd.DataFrame]:
    gains = [
        site_year_row(place, 2091, gain, std_error=3.0, is_pooled=True)
        for place, gain in zip(PLACES, (2.0, 4.0, 9.0), strict=True)
    ]
    rows = {
        "weather_slopes": slopes or [slope_row()],
        "weather_covariates": [
            covariate_row(*of, value) for of, value in zip([(p, 2091) for p in PLACES], values, strict=True)
        ],
        "weather_lines": line_rows(),
        "weather_gains": (
            expected or [expected_row("all", 5.1, 0.07), expected_row("W", 4.4, 0.0), expected_row("Alder", 6.2, 0.2)]
        ),
        "long_run_gains": long_run,
        "site_year_gains": gains,
    }
    return {name: pd.DataFrame(list(found)) for name, found in rows.items()}


def test_nothing_declared_tells_nothing(tmp_path):
    explored = of_crop(slope_row(kind=EXPLORATORY, is_shown=False))
    none = of_crop() | {"weather_slopes": pd.DataFrame([slope_row()]).iloc[:0]}
    assert weather.explained(explored, tmp_path) == weather.explained(none, tmp_path) == ""
    assert not list(tmp_path.iterdir())


def test_a_slope_that_is_shown_has_its_picture_its_sentence_and_its_expectation(tmp_path):
    told = weather.explained(of_crop(), tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"weather-1-1.png", "weather-1-1-narrow.png"}
    assert "went with 0.9 bu/ac more gain (0.1 to 1.7)" in told and "caused" in told
    assert "(review.html#id-5109e001-aaaa)" in told
    table = told[told.index("### What to expect on your land") :]
    by_class, everywhere, well = [line for line in table.splitlines() if line.startswith("| ")][1:4]
    assert "5.4 (3.0 to 7.8)" in by_class and "rainfall class" in by_class
    assert "[5.1 (3.1 to 7.1)]{.grey" in everywhere and "7%" in everywhere, "what reaches beyond the trials is not firm"
    assert "4.4 (2.4 to 6.4) |" in well and "0%" in well
    assert table.index("Alder") > table.index('when-format="html"'), "places are for the screen"


@pytest.mark.parametrize(
    ("slope", "expected", "says"),
    [
        (slope_row(is_shown=False, conf_low=-0.5), [expected_row("all", 5.1, 0.0)], ""),
        (no_slope_row("Too few seasons."), [expected_row("all", 5.1, 0.0)], ""),
        (slope_row(), [expected_row("all", NONE, 0.4, reason="40% of reference years lie outside.")], LEFT_OUT),
        (slope_row(), [expected_row("all", 5.1, 0.0, covariate=EXCESS_WATER)], ""),
    ],
)
def test_no_expectation_without_a_line_or_years(tmp_path, slope, expected, says):
    told = weather.explained(of_crop(slope, expected=expected), tmp_path)
    assert says in told and ("What to expect on your land" in told) == bool(says) and "| All places" not in told


def test_a_covariate_that_nobody_knows_has_no_picture(tmp_path):
    told = weather.explained(of_crop(no_slope_row("Nothing is known."), values=(NONE, NONE, 1.0)), tmp_path)
    assert "Nothing is known." in told and not list(tmp_path.iterdir())


def test_a_picture_and_a_class_weighted_gain_are_of_the_slopes_own_comparison(tmp_path, monkeypatch):
    drawn = []
    monkeypatch.setattr(weather.theme, "on_both", lambda draw, name: drawn.append(draw.args[0]) or "")
    rows = of_crop(long_run=[LONG_RUN, LONG_RUN | {"comparison_id": "other", "estimate": 9.9},
                             LONG_RUN | {"target": "another", "estimate": 8.8}])  # fmt: skip
    gains = rows["site_year_gains"]
    others = [gains.assign(comparison_id="other"), gains.assign(is_pooled=False)]
    told = weather.explained(rows | {"site_year_gains": pd.concat([gains, *others])}, tmp_path)
    assert len(drawn[0]) == len(PLACES) and set(drawn[0]["comparison_id"]) == {"blend"}
    assert "5.4 (3.0 to 7.8)" in told and "9.9" not in told and "8.8" not in told


def test_without_a_class_weighted_gain_no_row_is_called_the_first(tmp_path):
    told = weather.explained(of_crop(long_run=[LONG_RUN | {"estimate": NONE}]), tmp_path)
    assert "| All places" in told and "First row" not in told and weather.CLASSES not in told
    assert "First row: dry, normal and wet seasons" in weather.explained(of_crop(), tmp_path)
    unknown = [expected_row("all", 5.1, NONE)]
    assert "| not known |" in weather.explained(of_crop(expected=unknown), tmp_path)
