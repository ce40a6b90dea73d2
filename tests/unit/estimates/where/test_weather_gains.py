from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.contract.vocabulary import TESTED
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where import weather_gains, weather_lines
from pipeline.estimates.where.weather_lines import Line
from tests.weather_covariates import values

X = np.array([10.0, 20, 30, 40, 50, 60, 10, 20, 30, 40, 50, 60])
GIVEN = values(X, 100 + 2 * X, 2091 + np.arange(12) % 3, np.array([0] * 6 + [1] * 3 + [2] * 3))
LINE = Line(Mean(170.0, 8.0, 9.0), Mean(2.0, 0.5, 4.0), 0.0, 1.0, 0.0, "", "")


def reference(rows) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["place", "drainage_group", "year", "value"])


def rows_of(years, line=LINE, tested=None) -> pd.DataFrame:
    return pd.DataFrame(weather_gains.gain_rows(GIVEN, line, tested, years)).set_index("level")


YEARS = reference(
    [
        ("p0", "W", 2001, 20.0),
        ("p0", "W", 2002, 40.0),
        ("p1", "P", 2001, 50.0),
        ("p1", "P", 2002, 50.0),
        ("p9", "W", 2001, 999.0),
    ]
)


def test_the_line_is_averaged_over_the_years_of_each_place():
    """Center 35; p0 has 6 site-years and p1 3, so all places stand at (2 x 30 + 50) / 3. A place without trials counts
    for nothing.
    """
    rows = rows_of(YEARS)
    assert list(rows.index) == ["all", "P", "W", "p0", "p1"]
    at = {"all": (2 * 30 + 50) / 3, "W": 30.0, "P": 50.0, "p0": 30.0, "p1": 50.0}
    for level, x in at.items():
        assert rows.loc[level, "estimate"] == pytest.approx(170 + 2 * (x - 35))
    assert rows["n_years"].to_list() == [4, 2, 2, 2, 2]


def test_a_place_named_as_a_group_has_a_row_of_its_own():
    named = {"p0": "W", "p1": "p1"}
    given = replace(GIVEN, site_years=GIVEN.site_years.assign(place=GIVEN.site_years["place"].replace(named)))
    rows = weather_gains.gain_rows(given, LINE, None, YEARS.assign(place=YEARS["place"].replace(named)))
    assert [row["level"] for row in rows] == ["all", "P", "W", "W (place)", "p1"]


def test_the_errors_of_average_and_slope_enter_together():
    row = rows_of(YEARS).loc["p1"]
    of_mean, of_slope = 8.0**2, (15 * 0.5) ** 2
    assert row["std_error"] == pytest.approx(np.sqrt(of_mean + of_slope))
    assert row["df"] == pytest.approx((of_mean + of_slope) ** 2 / (of_mean**2 / 9 + of_slope**2 / 4))
    half = stats.t.ppf(0.975, row["df"]) * row["std_error"]
    assert (row["conf_low"], row["conf_high"]) == pytest.approx((row["estimate"] - half, row["estimate"] + half))


def test_the_error_on_the_line_is_that_of_the_model():
    """Unguarded, with unequal weights: the delta method on the fixed effects, at every point."""
    rng = np.random.default_rng(2)
    x = rng.normal(size=30)
    given = values(x, x + rng.normal(size=30), 2091 + np.arange(30) % 5, np.arange(30) % 10)
    line, model = weather_lines.mixed_line(given, TESTED), weather_lines.slope_model(given, TESTED)
    for distance in (-1.0, 0.3, 2.0):
        contrast = np.array([1, distance / given.scale])
        expected = np.sqrt(contrast @ model.fit.covariance @ contrast)
        assert weather_gains.on_line(line, distance).std_error == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("n_outside, share", [(1, 0.1), (2, 0.2)])
def test_years_outside_count_as_the_nearest_value_met(n_outside, share):
    years = reference([("p0", "W", 2000 + n, 500.0 if n < n_outside else 30.0) for n in range(10)])
    row = rows_of(years).loc["all"]
    assert row["share_outside"] == pytest.approx(share)
    assert row["estimate"] == pytest.approx(170 + 2 * (share * 60 + (1 - share) * 30 - 35))
    assert f"{100 * share:.0f}% of reference years" in row["warnings"] and row["reason"] == ""


def test_more_than_a_fifth_outside_gives_no_figure():
    years = reference([("p0", "W", 2000 + n, 5.0 if n < 3 else 30.0) for n in range(10)])
    row = rows_of(years).loc["all"]
    assert row["estimate"] is None and row["share_outside"] == pytest.approx(0.3)
    assert (
        row["reason"] == "30% of reference years lie outside the values of rain after application that the trials met."
    )


def test_no_reference_years_are_said():
    row = rows_of(reference([("p9", "W", 2001, 30.0)])).loc["all"]
    assert row["n_years"] == 0 and "weather history" in row["reason"]
    assert rows_of(YEARS.assign(value=np.nan)).loc["all", "reason"] == row["reason"]


def test_seasons_to_come_are_told_no_more_surely():
    wide = Line(Mean(170.0, 20.0, 9.0), Mean(2.0, 3.0, 4.0), 0.0, 1.0, 0.0, "", "")
    assert rows_of(YEARS, LINE, wide).loc["p1", "std_error"] == pytest.approx(np.sqrt(20**2 + 45**2))
    points = pd.DataFrame(weather_gains.line_rows(GIVEN, LINE, wide))
    assert len(points) == 21 and (points["at"].iloc[0], points["at"].iloc[-1]) == (10, 60)
    assert points["estimate"].iloc[-1] == pytest.approx(170 + 2 * 25)
    assert points["conf_high"].iloc[-1] - points["estimate"].iloc[-1] > 2 * np.sqrt(20**2 + 75**2)
