from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.site_years.rainfall import classify_rainfall, is_near_cut, next_class, rainfall_class, spi, wmo_class

CUTS = {"dry_at_or_below": -1.0, "wet_at_or_above": 1.0, "max_missing_days": 3, "min_reference_years": 20}
# Thirty evenly spread quantiles of a gamma distribution: a reference period without luck in it.
RAIN_MM = stats.gamma.ppf((np.arange(30) + 0.5) / 30, 13.7, scale=23.3)


def window(**changes) -> pd.DataFrame:
    row = {
        "site_year_id": "Quillmoor Flats 2093",
        "place": "Quillmoor Flats",
        "season": 2093,
        "crop": "corn",
        "window_from": "04-01",
        "window_to": "06-30",
        "rain_mm": 320.0,
        "n_days": 91,
        "n_days_missing": 0,
    }
    return pd.DataFrame([row | changes])


def reference(totals=RAIN_MM, *, n_days_missing=0, place="Quillmoor Flats", crop="corn") -> pd.DataFrame:
    years = 1991 + np.arange(len(totals))
    return pd.DataFrame(
        {"place": place, "crop": crop, "year": years, "rain_mm": totals, "n_days_missing": n_days_missing}
    )


def classify(windows: pd.DataFrame, history: pd.DataFrame) -> pd.Series:
    return classify_rainfall(windows, history, cut_points=CUTS).iloc[0]


@pytest.mark.parametrize(
    ("index", "expected"),
    [
        (np.nextafter(-1.0, -2), "dry"),
        (-1.0, "dry"),
        (np.nextafter(-1.0, 0), "normal"),
        (np.nextafter(1.0, 0), "normal"),
        (1.0, "wet"),
        (np.nextafter(1.0, 2), "wet"),
        (-math.inf, "dry"),
        (math.nan, None),
    ],
)
def test_class_below_at_and_above_each_cut(index, expected):
    assert rainfall_class(index, CUTS) == expected


def test_cut_points_are_the_ones_given():
    cuts = CUTS | {"dry_at_or_below": -0.5, "wet_at_or_above": 0.5}
    assert [rainfall_class(index, cuts) for index in (-0.5, 0.0, 0.5)] == ["dry", "normal", "wet"]


@pytest.mark.parametrize(
    ("cut", "below", "at_or_above"),
    [
        (2.0, "very wet", "extremely wet"),
        (1.5, "moderately wet", "very wet"),
        (1.0, "near normal", "moderately wet"),
    ],
)
def test_wmo_words_mirror_each_other(cut, below, at_or_above):
    mirror = {"very": "severely", "wet": "dry"}
    inside, outside = np.nextafter(cut, 0), np.nextafter(cut, 9)
    for index, word in ((inside, below), (cut, at_or_above), (outside, at_or_above)):
        assert wmo_class(index) == word
        assert wmo_class(-index) == " ".join(mirror.get(part, part) for part in word.split())


def test_wmo_word_of_an_unknown_index():
    assert wmo_class(math.nan) is None


@pytest.mark.parametrize(
    ("index", "near"),
    [(0.8, True), (0.7999, False), (1.2, True), (1.2001, False), (-0.8, True), (-1.2, True), (0.0, False)],
)
def test_near_cut_within_a_fifth(index, near):
    assert is_near_cut(index, CUTS) is near


def test_index_ignores_the_unit_of_depth():
    assert spi(12.0, RAIN_MM / 25.4) == pytest.approx(spi(12.0 * 25.4, RAIN_MM), rel=1e-9)


def test_index_of_far_totals_stays_finite_and_ordered():
    low, high, higher = (spi(total, RAIN_MM) for total in (1.0, 2000.0, 4000.0))
    assert -math.inf < low < -5 and 5 < high < higher < math.inf


@pytest.mark.parametrize("totals", [[], [0.0] * 30, [55.0] * 30, [0.0] * 29 + [4.0], [math.nan] * 30])
def test_index_is_unknown_without_spread_in_the_reference(totals):
    assert math.isnan(spi(10.0, np.array(totals)))


def test_zero_rain_is_the_share_of_zeros_or_beyond_all():
    assert spi(0.0, np.append(RAIN_MM, [0.0] * 10)) == pytest.approx(stats.norm.ppf(0.25))
    assert spi(0.0, RAIN_MM) == -math.inf


def test_a_full_record_is_classed_without_reserve():
    got = classify(window(rain_mm=450.0), reference())
    assert (got.rainfall_class, got.reference_years, got.reason) == ("wet", 30, None)
    assert got.normal_mm == pytest.approx(RAIN_MM.mean())
    assert got.percent_of_normal == pytest.approx(100 * 450 / RAIN_MM.mean())
    assert got.spi == pytest.approx(spi(450.0, RAIN_MM)) and got.spi_class == wmo_class(got.spi)


def test_the_three_classes_in_order_of_rain():
    rows = pd.concat([window(rain_mm=mm) for mm in (180.0, 320.0, 480.0)], ignore_index=True)
    got = classify_rainfall(rows, reference(), cut_points=CUTS)
    assert got["rainfall_class"].tolist() == ["dry", "normal", "wet"]
    assert got[rows.columns].equals(rows)


@pytest.mark.parametrize(
    ("n_years", "has_class", "reason"),
    [
        (19, False, "19 reference years with enough rain recorded; at least 20 are needed"),
        (20, True, "20 reference years with enough rain recorded, where 30 are asked for"),
        (29, True, "29 reference years with enough rain recorded, where 30 are asked for"),
        (30, True, None),
    ],
)
def test_years_of_reference(n_years, has_class, reason):
    got = classify(window(), reference(RAIN_MM[:n_years]))
    assert ((got.rainfall_class is not None), got.reason) == (has_class, reason)


@pytest.mark.parametrize(
    ("n_days_missing", "has_class", "reason"),
    [
        (0, True, None),
        (3, True, "3 of 91 days missing in the window"),
        (4, False, "4 of 91 days missing in the window"),
        (9, False, "9 of 91 days missing in the window"),
    ],
)
def test_days_missing_in_the_window(n_days_missing, has_class, reason):
    got = classify(window(n_days_missing=n_days_missing), reference())
    assert ((got.rainfall_class is not None), got.reason) == (has_class, reason)
    assert math.isnan(got.spi) is not has_class and math.isnan(got.percent_of_normal) is not has_class


def test_both_reserves_are_named():
    got = classify(window(n_days_missing=1), reference(RAIN_MM[:25]))
    assert (
        got.reason
        == "1 of 91 days missing in the window; 25 reference years with enough rain recorded, where 30 are asked for"
    )


def test_reference_years_with_gaps_do_not_count():
    history = reference(n_days_missing=[0] * 22 + [3] * 2 + [4] * 6)
    assert classify(window(), history).reference_years == 24


def test_each_place_and_crop_has_its_own_reference():
    history = pd.concat(
        [reference(), reference(RAIN_MM * 2, place="Dunnavel Ridge"), reference(RAIN_MM / 2, crop="soybean")]
    )
    places = [
        window(),
        window(place="Dunnavel Ridge"),
        window(crop="soybean"),
        window(place="Brackholm Bench"),
    ]
    got = classify_rainfall(pd.concat(places, ignore_index=True), history, cut_points=CUTS)
    assert got["rainfall_class"].tolist() == ["normal", "dry", "wet", None]
    assert got["reason"].tolist()[3] == "0 reference years with enough rain recorded; at least 20 are needed"


def test_an_unknown_total_has_no_class():
    got = classify(window(rain_mm=math.nan), reference())
    assert (got.rainfall_class, got.spi_class, got.reason) == (None, None, "no rain record for the window")
    assert not got.near_cut and got.normal_mm == pytest.approx(RAIN_MM.mean())


def test_a_desert_reference_gives_a_reason_not_an_error():
    got = classify(window(rain_mm=0.0), reference(np.zeros(30)))
    assert got.rainfall_class is None and "no spread" in got.reason
    assert math.isnan(got.percent_of_normal)


def test_no_site_years_give_an_empty_frame_with_all_columns():
    got = classify_rainfall(window().iloc[:0], reference(), cut_points=CUTS)
    assert got.empty and {"spi", "spi_class", "rainfall_class", "near_cut", "reason"} <= set(got.columns)


@pytest.mark.parametrize(
    ("index", "expected"),
    [(-1.1, "normal"), (-1.0, "normal"), (-0.9, "dry"), (0.9, "wet"), (1.0, "normal"), (1.15, "normal")],
)
def test_near_a_cut_the_next_class_lies_on_its_other_side(index, expected):
    assert next_class(index, {"dry_at_or_below": -1.0, "wet_at_or_above": 1.0}) == expected
