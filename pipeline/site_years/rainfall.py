"""Window rainfall to a rainfall class, by the standardized precipitation index. Sees weather, never yields."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

# WMO-No. 1090 (2012), Standardized Precipitation Index User Guide: 30 years of record are asked for.
FULL_REFERENCE_YEARS = 30
# Within this distance of a cut point the class could as well be its neighbor (common practice, no source).
NEAR_CUT_SPI = 0.2
# WMO-No. 1090 (2012), table 1, from McKee, Doesken & Kleist 1993. The printed table leaves gaps between
# its classes (such as -0.995), so they are closed toward the extreme here and near normal is open.
WMO_DRY = ((-2.0, "extremely dry"), (-1.5, "severely dry"), (-1.0, "moderately dry"))
WMO_WET = ((2.0, "extremely wet"), (1.5, "very wet"), (1.0, "moderately wet"))


def spi(value: float, reference_totals: np.ndarray) -> float:
    """Standardized precipitation index of a total against totals of the same window in other years.

    A gamma distribution is fitted to the totals above zero by maximum likelihood, mixed with the
    share of zeros, and the probability of `value` is carried to the normal quantile (McKee,
    Doesken & Kleist 1993; WMO-No. 1090). Any one unit of depth. NaN where the value is unknown or
    the reference cannot be fitted (fewer than two different totals above zero); minus infinity
    for a total of zero where the reference never had one.
    """
    totals = np.asarray(reference_totals, dtype=float)
    totals = totals[~np.isnan(totals)]
    positive = totals[totals > 0]
    if np.isnan(value) or np.unique(positive).size < 2:
        return float("nan")
    share_of_zeros = 1 - positive.size / totals.size
    shape, _, scale = stats.gamma.fit(positive, floc=0)
    below = share_of_zeros + (1 - share_of_zeros) * stats.gamma.cdf(value, shape, scale=scale)
    if below < 0.5:
        return float(stats.norm.ppf(below))
    # From the upper tail, which keeps its digits where 1 - p is tiny.
    above = (1 - share_of_zeros) * stats.gamma.sf(value, shape, scale=scale)
    return float(stats.norm.isf(above))


def wmo_class(index: float) -> str | None:
    """The WMO-No. 1090 word for an index; None where it is unknown."""
    if np.isnan(index):
        return None
    for cut, word in WMO_DRY:
        if index <= cut:
            return word
    for cut, word in WMO_WET:
        if index >= cut:
            return word
    return "near normal"


def rainfall_class(index: float, cut_points: dict) -> str | None:
    """'dry' at or below the lower cut, 'wet' at or above the upper, 'normal' strictly between."""
    if np.isnan(index):
        return None
    if index <= cut_points["dry_at_or_below"]:
        return "dry"
    return "wet" if index >= cut_points["wet_at_or_above"] else "normal"


def is_near_cut(index: float, cut_points: dict) -> bool:
    """Whether another choice of cut point within NEAR_CUT_SPI would change the class."""
    cuts = np.array([cut_points["dry_at_or_below"], cut_points["wet_at_or_above"]])
    # The margin keeps a distance of exactly 0.2, which has no exact binary form, inside.
    return bool((np.abs(index - cuts) <= NEAR_CUT_SPI + 1e-12).any())


def next_class(index: float, cut_points: dict) -> str:
    """The class on the other side of the nearer cut point; asked only of an index near one."""
    dry, wet = cut_points["dry_at_or_below"], cut_points["wet_at_or_above"]
    if abs(index - dry) <= abs(index - wet):
        return "normal" if index <= dry else "dry"
    return "normal" if index >= wet else "wet"


def classify_rainfall(window_totals: pd.DataFrame, reference_totals: pd.DataFrame, *, cut_points: dict) -> pd.DataFrame:
    """Rainfall class of each site-year's window, one row per row of `window_totals`.

    window_totals: site_year_id, place, season, crop, window_from, window_to, rain_mm (NaN when
    unknown), n_days, n_days_missing. reference_totals: place, crop, year, rain_mm, n_days_missing,
    the same window in the years of the fixed reference period. cut_points: dry_at_or_below,
    wet_at_or_above (SPI), max_missing_days, min_reference_years.

    Adds normal_mm, percent_of_normal, spi, spi_class (WMO words), rainfall_class, reference_years,
    near_cut, and reason: why there is no class, or with what reserve it stands; None for neither.
    """
    usable = reference_totals[
        reference_totals["rain_mm"].notna() & (reference_totals["n_days_missing"] <= cut_points["max_missing_days"])
    ]
    references = {key: group["rain_mm"].to_numpy() for key, group in usable.groupby(["place", "crop"])}
    rows = [
        _classify(window, references.get((window.place, window.crop), np.array([])), cut_points)
        for window in window_totals.itertuples(index=False)
    ]
    columns = ["normal_mm", "percent_of_normal", "spi", "spi_class", "rainfall_class"]
    columns += ["reference_years", "near_cut", "reason"]
    classes = pd.DataFrame(rows, columns=columns, index=window_totals.index)
    types = dict.fromkeys(["normal_mm", "percent_of_normal", "spi"], float)
    types |= {"reference_years": int, "near_cut": bool}
    return pd.concat([window_totals, classes.astype(types)], axis=1)


def _classify(window, reference: np.ndarray, cut_points: dict) -> dict:
    """One window's new columns."""
    refusal, reserves = _reasons(window, reference, cut_points)
    rain = np.nan if refusal else window.rain_mm
    index = spi(rain, reference)
    if not refusal and np.isnan(index):
        refusal = "the totals of the reference period are all zero or all alike: no spread to compare with"
    normal = reference.mean() if reference.size else np.nan
    return {
        "normal_mm": normal,
        "percent_of_normal": 100 * rain / normal if normal > 0 else np.nan,
        "spi": index,
        "spi_class": wmo_class(index),
        "rainfall_class": rainfall_class(index, cut_points),
        "reference_years": reference.size,
        "near_cut": is_near_cut(index, cut_points),
        "reason": refusal or "; ".join(reserves) or None,
    }


def _reasons(window, reference: np.ndarray, cut_points: dict) -> tuple[str | None, list[str]]:
    """Why the window may not be classed (or None), and the reserves its class would stand with."""
    years = reference.size
    # of a period the program may have declared shorter, so no share of 30 years
    history = f"{years} reference year{'' if years == 1 else 's'} with enough rain recorded"
    gaps = f"{window.n_days_missing:.0f} of {window.n_days:.0f} days missing in the window"
    if window.n_days_missing > cut_points["max_missing_days"]:
        return gaps, []
    if np.isnan(window.rain_mm):
        return "no rain record for the window", []
    if years < cut_points["min_reference_years"]:
        return f"{history}; at least {cut_points['min_reference_years']} are needed", []
    reserves = [gaps] if window.n_days_missing > 0 else []
    return None, reserves + (
        [f"{history}, where {FULL_REFERENCE_YEARS} are asked for"] if years < FULL_REFERENCE_YEARS else []
    )
