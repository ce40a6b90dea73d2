"""All that a site-year's page is made from: its own rows, and what of the program stands beside them.

The page is given nothing else, so that two pages of the same material are the same page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from pipeline.contract.vocabulary import TESTED
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
NO_REPORTS = pd.DataFrame(columns=["kind", "crop", "path"])  # a page for one cooperator leads to none


@dataclass(frozen=True)
class Material:
    """Frames are rows of reports.* views.

    here: those of the site-year, by view.
    findings: on its trials and sites.
    program: its name and display_units.
    last_season: up to which the averages go.
    averages: leading ones over all site-years in the seasons tested, of its comparisons.
    every_gain: gains of all site-years in its comparisons.
    break_even: the gain from which each pays, in its unit, by comparison_id.
    curves: response curves of its crops.
    reports: the crops' reports in the list of pages.
    """

    here: dict[str, pd.DataFrame]
    findings: pd.DataFrame
    program: pd.Series
    last_season: int | None
    comparisons: pd.DataFrame
    averages: pd.DataFrame
    every_gain: pd.DataFrame
    break_even: pd.Series
    curves: pd.DataFrame
    reports: pd.DataFrame


def material(views: Mapping[str, pd.DataFrame], own: Mapping[str, pd.DataFrame], site_year_id: str) -> Material:
    """views: the reports schema by view; own: of each view of OWN the rows of the site-year.

    Raises UserError where no trial is of this site-year.
    """
    trials, answered = own["trials"], own["site_year_gains"]["comparison_id"]
    if trials.empty:
        raise UserError(f'No trial is of site-year "{site_year_id}".')
    gains = views["gains"]
    leading = gains[(gains["moderator"] == "all") & (gains["target"] == TESTED) & gains["is_headline"].eq(True)]
    pays = _of(views["money"], "comparison_id", answered)
    return Material(
        here={name: rows.reset_index(drop=True) for name, rows in own.items()},
        findings=findings_here(views["findings"], trials).reset_index(drop=True),
        program=views["program"].iloc[0][["program", "display_units"]],
        last_season=views["season_inputs"]["season"].max(),
        comparisons=_of(views["comparisons"], "crop", trials["crop"])[
            ["comparison_id", "crop", "treatment_in_short", "comparator_in_short"]
        ],
        averages=_of(leading, "comparison_id", answered),
        every_gain=_of(views["site_year_gains"], "comparison_id", answered)[["comparison_id", "gain"]],
        break_even=pays.set_index("comparison_id")["break_even_display"],
        curves=_of(views["response_curves"], "crop", trials["crop"]),
        reports=_of(views.get("pages", NO_REPORTS), "kind", ["season"])[list(NO_REPORTS)],
    )


def _of(rows: pd.DataFrame, column: str, values: Iterable) -> pd.DataFrame:
    """The rows with one of the values in a column, numbered anew: where else a view has rows does not count."""
    return rows[rows[column].isin(list(values))].reset_index(drop=True)
