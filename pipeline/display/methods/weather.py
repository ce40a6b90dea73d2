"""How weather covariates are worked out, how slopes are estimated, and when one counts as shown, for the methods
page.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.units import M_PER_FT, METRIC, US
from pipeline.contract.vocabulary import (
    EXCESS_WATER,
    HEAVY_RAIN_DAYS,
    NITROGEN_RELEASED,
    RAIN_AFTER,
    SOIL_WARMTH,
    WET_DAYS,
    WETTEST_5_DAYS,
)
from pipeline.display.words.numbers import capital, count, number, percent
from pipeline.display.words.tables import Markdown, escaped, listing, pipe_table
from pipeline.estimates.where import weather_rules as rules
from pipeline.estimates.where.long_run import MOST_UNMET
from pipeline.site_years.weather.daily import LEAD_DAYS
from pipeline.site_years.weather.soil_warmth import TRAILING_DAYS
from pipeline.site_years.weather.soil_water import ROOT_ZONE_M

# sizes as a program's readers are told them
TOLD = {
    US: {
        "heavy": "0.8 in. (20 mm)",
        "soaking": "0.4 in. (10 mm)",
        "test": "77 °F (25 °C)",
        "root_zone": f"{ROOT_ZONE_M / M_PER_FT * 12:.0f} in. ({100 * ROOT_ZONE_M:.0f} cm)",
    },
    METRIC: {"heavy": "20 mm", "soaking": "10 mm", "test": "25 °C", "root_zone": f"{100 * ROOT_ZONE_M:.0f} cm"},
}
COVARIATES = {
    RAIN_AFTER: ("Total rain of the days that count", "daily rain"),
    WETTEST_5_DAYS: ("Largest total of 5 days in a row among them (ETCCDI index RX5day)", "daily rain"),
    HEAVY_RAIN_DAYS: ("Days of {heavy} of rain or more (ETCCDI index R20mm)", "daily rain"),
    WET_DAYS: ("Days of {soaking} of rain or more (ETCCDI index R10mm)", "daily rain"),
    EXCESS_WATER: (
        (
            "Water that the root zone could not hold, by the daily balance of FAO-56: rain and irrigation, less crop"
            " use, less what the soil can store"
        ),
        "daily rain, highest and lowest temperature, latitude, soil texture, planting date",
    ),
    SOIL_WARMTH: (
        "Mean soil temperature; where it was not measured, a trailing mean of the air's, marked as modeled",
        "daily soil or air temperature",
    ),
    NITROGEN_RELEASED: (
        "Share of the coated nitrogen that is out at the end of the days that count",
        "daily soil temperature, days of application, the product's release test",
    ),
}
WORKED_OUT = (
    (
        "Days count from the comparator's first nitrogen of the season on, for as many days or until the date that"
        " program.yml declares. Covariates are worked out without looking at yields."
    ),
    (
        "Crop use is a crop coefficient times reference evapotranspiration, by Hargreaves from temperatures and"
        " latitude (Allen and others 1998, equation 52). What the soil holds follows from its texture (their Table"
        f" 19), in the top {{root_zone}}. The balance begins {LEAD_DAYS} days before the first nitrogen, with the soil"
        " full. Runoff is not known and left out."
    ),
    f"Soil temperature that was not measured is the mean air temperature of {TRAILING_DAYS} days.",
    (
        "Release follows the product's own test at {test}, as EN 13266 and ISO 18644 state it, and speeds up or slows"
        " down with soil temperature by the factor that program.yml declares with its source (Hara 2000). A product"
        " without a test has no value."
    ),
    "Where an input is lacking the covariate is missing and says why. No value is filled in.",
    "Excess water is not nitrogen lost. Losses were not measured, and nothing is claimed about the environment.",
)
ESTIMATED = (
    (
        "The slope comes from the model that leads for the average, with the covariate added: how much the gain differs"
        " where the covariate is one unit higher. A two-stage meta-regression (Knapp and Hartung 2003,"
        " their factor not below 1) stands as a check."
    ),
    (
        f"It needs at least {rules.FEWEST_SITE_YEARS} site-years, {rules.FEWEST_SEASONS} seasons and"
        f" {rules.FEWEST_VALUES} different values. With fewer the page shows the picture without a line."
    ),
    (
        "Weather differs most between seasons, and a few seasons are a few points. So the slope is also estimated"
        " within seasons and between seasons."
    ),
)
COUNTS = "A slope counts as shown only if its covariate was declared before yields were seen and each of these holds."
BESIDE = (
    (
        "Permuting the covariate within seasons, and a curve in place of the line, are told in the review file and"
        " decide nothing."
    ),
    "A slope says what the gain went with. Other things that changed with the weather may be behind it.",
    (
        "What to expect on your land averages the line over the reference years of each place. Years outside what the"
        f" trials met count as the nearest value met. With more than {percent(100 * MOST_UNMET)} of them outside there"
        " is no figure."
    ),
)
SOURCES = (
    "Allen, Pereira, Raes and Smith 1998, Crop evapotranspiration, FAO Irrigation and drainage paper 56. EN 13266 and"
    " ISO 18644, slow- and controlled-release fertilizers. Expert Team on Climate Change Detection and Indices"
    " (ETCCDI), indices RX5day, R20mm and R10mm. Hara 2000, Soil Science and Plant Nutrition 46:693."
)


def worked_out(display_units: str, soil_from_air: pd.DataFrame) -> list[str]:
    """soil_from_air: rows of reports.soil_from_air."""
    return [*(sentence.format(**TOLD[display_units]) for sentence in WORKED_OUT), *_error_of_air(soil_from_air)]


def _error_of_air(rows: pd.DataFrame) -> list[str]:
    """How far the soil temperature that is estimated from the air is off, over all places where soil was measured
    too.
    """
    if rows.empty:
        return []
    days, unit = rows["n_days"], rows["unit"].iloc[0]
    off = ((rows["rmse"] ** 2 * days).sum() / days.sum()) ** 0.5
    bias = (rows["bias"] * days).sum() / days.sum()
    places = count(len(rows), "place")
    return [
        f"Where soil was measured too, on {number(days.sum())} days at {places}, that estimate was off by"
        f" {number(off, 1)} {unit} (root mean square), on average {number(abs(bias), 1)} {unit} too"
        f" {'warm' if bias > 0 else 'cool'}."
    ]


def slopes() -> Markdown:
    """How slopes are estimated, what each rests on, and when one counts as shown, by the rules that were used."""
    stands = [
        *rules.RESTS_ON.values(),
        *(rules.ADJUSTMENTS[name] for name in ("seasons few", "places few", "model missing")),
    ]
    checks = [Markdown(f"    - {escaped(check.sentence)}") for check in rules.CHECKS]
    counts = Markdown("\n".join([f"- {COUNTS}", *checks]))
    return Markdown("\n".join([listing([*ESTIMATED, *stands]), counts, listing(BESIDE)]))


def covariates_table(used: pd.Series, display_units: str) -> Markdown:
    """The covariates that the program uses.

    Args:
        used: their names.
        display_units: of the program's readers, us or metric.
    """
    rows = [
        {"Covariate": capital(name), "What it is": what.format(**TOLD[display_units]), "Needs": needs}
        for name, (what, needs) in COVARIATES.items()
        if name in set(used)
    ]
    widths = {"Covariate": 22, "What it is": 46, "Needs": 32}
    return pipe_table(
        pd.DataFrame(rows),
        caption="What is taken from the weather of each site-year.",
        label="covariates",
        widths=widths,
    )
