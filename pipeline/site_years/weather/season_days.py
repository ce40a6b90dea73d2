"""What the nitrogen of each site-year met day by day, for the picture of its season."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.site_years.weather import daily
from pipeline.site_years.weather.covariates import Known, lacks_for_balance
from pipeline.site_years.weather.days import RAIN


def season_days(cases: pd.DataFrame, known: Known) -> pd.DataFrame:
    """From the first N to the end of the longest window, columns of season_days; of several trials the first by id.

    cases: as trial_cases gives them. A site-year without a day of its first N has no row.
    """
    dated = cases[cases["first_day"].notna() & cases["last_day"].notna() & (cases["last_day"] >= cases["first_day"])]
    longest = dated.sort_values(["comparison_id", "site_year_id", "trial_id", "last_day"], kind="stable")
    longest = longest.drop_duplicates(["comparison_id", "site_year_id", "trial_id"], keep="last")
    longest = longest.drop_duplicates(["comparison_id", "site_year_id"]).reset_index(drop=True)
    windows = daily.cut_windows(longest, known.weather, known.irrigations, lead=known.lead)
    soil, estimated = daily.soil_temperature(windows)
    excess = daily.excess(windows, known.soils)
    excess[[bool(lacks_for_balance(row, known)) for row in longest.itertuples()]] = np.nan
    watered = windows.irrigation.copy()
    watered[[row.irrigated is True and row.trial_id not in known.watered for row in longest.itertuples()]] = np.nan
    case, _ = np.nonzero(windows.inside)
    return frame_of(
        pd.DataFrame(
            {
                "comparison_id": longest["comparison_id"].to_numpy()[case],
                "site_year_id": longest["site_year_id"].to_numpy()[case],
                "date": pd.Series(windows.dates[windows.inside]).dt.date.astype(object),
                "rain_mm": windows.measured[RAIN][windows.inside],
                "irrigation_mm": watered[windows.inside],
                "excess_mm": excess[windows.inside],
                "soil_temp_c": soil[windows.inside],
                "is_soil_temp_modeled": pd.array(estimated[case], dtype="boolean"),
                "released_pct": daily.released(windows, soil, known.coated, known.tests)[windows.inside],
            }
        ),
        "season_days",
    )
