"""All that a site-year's page is made from: its own rows, and what of the program stands beside them.

The page is given nothing else, so that two pages of the same material are the same page. What every other trial moves
a little is here as it is printed, so that the material stays the same while the page does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import TESTED
from pipeline.display.site_year import own_rates, own_results
from pipeline.display.site_year.results import findings_here
from pipeline.errors import UserError

# views of which a page has the rows of its site-year
OWN = (
    "trials", "site_years", "site_year_gains", "trial_curves", "monthly_rain", "weather_covariates", "season_days",
    "applications", "treatment_means", "plots",
)  # fmt: skip
# views of which it has the program's row, or those of its crops, comparisons, trials and sites
OF_PROGRAM = ("program", "season_inputs", "comparisons", "gains", "money", "response_curves", "findings")
VIEWS = (*OF_PROGRAM, *OWN)  # beside the list of pages
# Of a gain here and of an average: what a page prints as it is, and amounts with the decimals of the gain.
GAIN = (
    "comparison_id", "position", "says", "crop", "season", "unit", "digits", "currency", "has_interval", "lies", "rank",
)  # fmt: skip
GAIN_AMOUNTS = ("gain", "conf_low", "conf_high")
AVERAGE = ("comparison_id", "n_site_years", "kg_ha_per_unit")
AVERAGE_AMOUNTS = ("estimate", "conf_low", "conf_high", "observed_low", "observed_high")
NO_REPORTS = pd.DataFrame(columns=["kind", "crop", "path"])  # a page for one cooperator leads to none


@dataclass(frozen=True)
class Material:
    """Frames are rows of reports.* views.

    here: those of the site-year, by view; its gains with what own_results.ranked adds.
    findings: on its trials and sites.
    program: its name and display_units.
    last_season: up to which the averages go.
    averages: leading ones over all site-years in the seasons tested, of its comparisons.
    break_even: the gain from which each pays, in its unit, by comparison_id.
    common_optima: own_rates.common_optima of its crops.
    reports: the crops' reports in the list of pages.
    """

    here: dict[str, pd.DataFrame]
    findings: pd.DataFrame
    program: pd.Series
    last_season: int | None
    comparisons: pd.DataFrame
    averages: pd.DataFrame
    break_even: pd.Series
    common_optima: pd.DataFrame
    reports: pd.DataFrame


def material(views: Mapping[str, pd.DataFrame], own: Mapping[str, pd.DataFrame], site_year_id: str) -> Material:
    """views: the reports schema by view; own: of each view of OWN the rows of the site-year.

    Raises UserError where no trial is of this site-year.
    """
    trials, mine = own["trials"], own["site_year_gains"]
    if trials.empty:
        raise UserError(f'No trial is of site-year "{site_year_id}".')
    answered, gains = mine["comparison_id"], views["gains"]
    leading = gains[(gains["moderator"] == "all") & (gains["target"] == TESTED) & gains["is_headline"].eq(True)]
    averages, pays = (_of(rows, "comparison_id", answered) for rows in (leading, views["money"]))
    ranked = own_results.ranked(mine, averages, views["site_year_gains"])
    in_all = averages["comparison_id"].map(dict(zip(answered, mine["digits"], strict=True)))
    return Material(
        here={name: rows.reset_index(drop=True) for name, rows in own.items()} | {"site_year_gains": _gains(ranked)},
        findings=findings_here(views["findings"], trials).reset_index(drop=True),
        program=views["program"].iloc[0][["program", "display_units"]],
        last_season=views["season_inputs"]["season"].max(),
        comparisons=_of(views["comparisons"], "crop", trials["crop"])[
            ["comparison_id", "crop", "treatment_in_short", "comparator_in_short"]
        ],
        averages=_as_printed(averages, AVERAGE, dict.fromkeys(AVERAGE_AMOUNTS, in_all)),
        break_even=pays.set_index("comparison_id")["break_even_display"],
        common_optima=own_rates.common_optima(_of(views["response_curves"], "crop", trials["crop"])),
        reports=_of(views.get("pages", NO_REPORTS), "kind", ["season"])[list(NO_REPORTS)],
    )


def _gains(ranked: pd.DataFrame) -> pd.DataFrame:
    decimals = dict.fromkeys(GAIN_AMOUNTS, ranked["digits"]) | {"net_change": [0] * len(ranked)}  # to the whole dollar
    return _as_printed(ranked, GAIN, decimals).reset_index(drop=True)


def _as_printed(rows: pd.DataFrame, names: Iterable[str], decimals: Mapping[str, Iterable[int]]) -> pd.DataFrame:
    """Of the rows what a page prints. decimals: of each row, by the name of the amount."""
    amounts = {
        name: np.array([_printed(*each) for each in zip(rows[name], digits, strict=True)], dtype=float)
        for name, digits in decimals.items()
    }
    return rows[list(names)].assign(**amounts)


def _printed(value: float, digits: int) -> float:
    """The amount with so many decimals, where all that a page does with it is then the same: more of them are printed
    where these make it zero, and numpy rounds some halves otherwise, to which figures are drawn.
    """
    printed = round(float(value), int(digits))
    return printed if printed and printed == np.round(value, int(digits)) else value


def _of(rows: pd.DataFrame, column: str, values: Iterable) -> pd.DataFrame:
    """The rows with one of the values in a column, numbered anew: where else a view has rows does not count."""
    return rows[rows[column].isin(list(values))].reset_index(drop=True)
