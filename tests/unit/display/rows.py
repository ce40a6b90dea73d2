"""Rows of reports views, as small as the tests need them."""

from __future__ import annotations

import pandas as pd

NONE = float("nan")
# of a comparison that was declared in time
DECLARED = {
    "declared": pd.Timestamp("2090-11-15"),
    "first_harvest": pd.Timestamp("2091-10-02"),
    "known_by": "harvested",
    "first_printed": pd.NaT,
    "is_late": False,
}


def gain_row(**changed) -> dict:
    """A row of reports.gains: corn, 33 site-years in 4 seasons, all fields at sound values."""
    row = {
        "estimate_id": "b78c8b79", "comparison_id": "blend", "position": 0, "crop": "corn", "unit": "bu/ac",
        "digits": 1,
        "says": "half-coated blend, one application, against urea", "target": "seasons tested", "is_declared": True,
        "method": "mixed model", "moderator": "all", "level": "all", "estimate": 5.77, "conf_level": 0.95,
        "conf_low": 3.37,
        "conf_high": 8.16, "pred_low": -5.84, "pred_high": 17.37, "observed_low": -8.91, "observed_high": 20.28,
        "estimate_kg_ha": 362.0, "pred_low_kg_ha": -366.4, "pred_high_kg_ha": 1090.4, "n_site_years": 33,
        "n_seasons": 4,
        "seasons": "2091, 2092, 2093, 2094", "shown_as": "sentence", "is_headline": True,
        "rule": "With 6 or more the model leads.",
        "n_unknown": 0, "n_places": 12, "warnings": "",
    }  # fmt: skip
    assert not set(changed) - set(row), set(changed) - set(row)
    return row | changed


def site_year_row(place: str, season: int, gain: float, **changed) -> dict:
    """A row of reports.site_year_gains with its limits."""
    row = {
        "comparison_id": "blend", "position": 0, "crop": "corn", "unit": "bu/ac", "digits": 1, "place": place,
        "season": season,
        "says": "half-coated blend, one application, against urea", "drainage_group": "P", "rainfall_class": "wet",
        "gain": gain,
        "half_width": 9.0, "conf_low": gain - 9, "conf_high": gain + 9, "site_year_id": f"{place.lower()}-{season}",
    }  # fmt: skip
    return row | changed
