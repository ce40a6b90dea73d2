"""What the weather explains, for a reviewer: every slope by part and method, what could upset it, and the values behind
it.

Rows are rows of reports.weather_* of one comparison, of one target where they have one. Sentences are plain text; the
page escapes them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from pipeline.contract.vocabulary import DECLARED, EXCESS_WATER, EXPLORATORY
from pipeline.display.review.trace import collapsed
from pipeline.display.words import weather as words
from pipeline.display.words.numbers import between, capital, count, number, p_value, percent, text
from pipeline.display.words.tables import (
    Markdown,
    anchored_id,
    grey,
    listing,
    on_screen,
    pipe_table,
    screen_listing,
    section,
)
from pipeline.display.words.where import DRAINAGE

HEADING = "What the weather explains"
KINDS = {
    DECLARED: "Declared before yields were seen: slopes of the gain on the weather",
    EXPLORATORY: "Exploratory, not declared in time: nothing is claimed from these slopes",
}
NOT_LOST = "Excess water is not nitrogen lost; nothing is claimed about the environment."


def evidence(
    slopes: pd.DataFrame,
    checks: pd.DataFrame,
    gains: pd.DataFrame,
    covariates: pd.DataFrame,
    site_years: pd.DataFrame,
    *,
    label: str,
) -> Markdown:
    """All of it with its heading: what is declared with what could upset it; collapsed, and on screen alone, the
    gains over reference years, what was explored, and the values of what is declared."""
    declared = slopes[slopes["kind"] == DECLARED]
    parts = [*_declared(declared, checks, label), *_beside(slopes, gains, covariates, site_years, label)]
    told = section(HEADING, *parts)
    return told if len(declared) else on_screen(told)


def _declared(slopes: pd.DataFrame, checks: pd.DataFrame, label: str) -> Iterator[Markdown | str]:
    if slopes.empty:
        return
    yield slopes_table(slopes, label=f"{label}-{DECLARED}")
    leading = slopes[slopes["is_headline"].eq(True)]
    yield listing(line for _, slope in leading.iterrows() for line in told(slope, checks))
    if (slopes["covariate"] == EXCESS_WATER).any():
        yield NOT_LOST


def _beside(
    slopes: pd.DataFrame, gains: pd.DataFrame, covariates: pd.DataFrame, site_years: pd.DataFrame, label: str
) -> Iterator[Markdown]:
    known = gains[gains["estimate"].notna()]
    if len(known):
        yield collapsed("Gains over the reference years", gains_table(known, label=f"{label}-gains"))
    explored = slopes[(slopes["kind"] == EXPLORATORY) & slopes["is_headline"].eq(True)]
    if len(explored):
        table = slopes_table(explored, label=f"{label}-{EXPLORATORY}")
        yield collapsed(KINDS[EXPLORATORY], table, "Their values are in data/weather_covariates.csv.")
    by_site_year = site_years.set_index("site_year_id")[["gain", "unit", "digits"]]
    for covariate, rows in covariates[covariates["kind"] == DECLARED].groupby("covariate"):
        n_known = int(rows["value"].notna().sum())
        summary = f"{capital(covariate)}: {n_known} of {count(len(rows), 'site-year')} with a value"
        yield collapsed(summary, screen_listing(value_line(row, by_site_year) for _, row in rows.iterrows()))


def calibration_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """How often a slope's interval caught the truth on this layout, and how often a slope was shown; rows of
    reports.slope_calibration.
    """
    lines = [
        {
            "Covariate": capital(row["covariate"]),
            "True state of affairs": capital(row["truth"]),
            "Caught": (
                "not known"
                if pd.isna(row["coverage"])
                else f"{percent(100 * row['coverage'])}, {row['verdict'].split(':')[0]}"
            ),
            "Shown where there is none": (
                "not known" if pd.isna(row["shown_falsely"]) else percent(100 * row["shown_falsely"])
            ),
            "Shown where there is one": (
                f"{percent(100 * row['shown_rightly'])} for {number(row['slope'], row['slope_digits'])}"
                f" {row['slope_unit']}"
            ),
        }
        for _, row in rows.iterrows()
    ]
    first = rows.iloc[0]
    caption = (
        "How often a 95% interval caught the true slope, and how often a slope was shown, in"
        f" {number(first['n_programs'])} simulated programs with these site-years and their weather (seed"
        f" {first['seed']}; simulation error of a share caught up to"
        f" {percent(100 * rows['coverage_mc_error'].max(), 1)}). Not known: where seasons differ, the true slope of"
        " these seasons is not zero."
    )
    widths = dict(zip(lines[0], (16, 28, 20, 16, 20), strict=True))
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, widths=widths)


def slopes_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """Every slope of one kind: which differences it rests on, by which method, with its test; bold leads."""
    lines = [
        {
            "Covariate": f"{capital(row['covariate'])}, {row['slope_unit']}",
            "Rests on": row["part"],
            "Method": Markdown(f"**{row['method']}**") if row["is_headline"] else row["method"],
            "Slope": _slope(row),
            "df": "" if pd.isna(row["df"]) else number(row["df"], 1),
            "p": "" if pd.isna(row["p_value"]) else p_value(row["p_value"]),
            "p, Holm": "" if pd.isna(row["p_value_holm"]) else p_value(row["p_value_holm"]),
            "Id": anchored_id(row["estimate_id"]),
        }
        for _, row in rows.iterrows()
    ]
    n_tests = int(rows["n_tests"].max())
    adjusted = f" Holm (1979) adjusts for {count(n_tests, 'covariate')}." if n_tests > 1 else ""
    caption = f"{KINDS[rows['kind'].iloc[0]]}. In parentheses: 95% intervals. Bold: the method that leads.{adjusted}"
    widths = dict(zip(lines[0], (22, 13, 15, 20, 6, 9, 9, 13), strict=True))
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, right=("df",), widths=widths)


def _slope(row: Mapping) -> str | Markdown:
    if pd.isna(row["estimate"]):
        return "none" if row["is_headline"] else f"none. {text(row['reason'])}"  # of a headline it stands below
    d = row["slope_digits"] + 1
    size = f"{number(row['estimate'], d)}{_limits(row, d)}"
    return size if row["kind"] == DECLARED else grey(size)


def _limits(row: Mapping, digits: int) -> str:
    return "" if pd.isna(row["conf_low"]) else f" ({between(row['conf_low'], row['conf_high'], digits)})"


def told(slope: Mapping, checks: pd.DataFrame) -> Iterator[str]:
    """A leading slope in lines: its verdict and rule, then each thing that could upset it.

    Args:
        checks: rows of reports.weather_slope_checks of the comparison and target.
    """
    if pd.isna(slope["estimate"]):
        yield f"{capital(slope['covariate'])}: no slope. {capital(text(slope['reason']).rstrip('.'))}."
        return
    verdict = "shown" if slope["is_shown"] else "not shown"
    carried = f"; carried by: {slope['carried_by']}" if text(slope["carried_by"]) else ""
    yield (
        f"{capital(slope['covariate'])}: {verdict}{carried}. {capital(text(slope['rule']))}"
        f" {count(slope['n_site_years'], 'site-year')} in {count(slope['n_seasons'], 'season')} at"
        f" {count(slope['n_places'], 'place')}, {count(slope['n_distinct'], 'different value')},"
        f" {number(slope['n_unknown'])} unknown{_within(slope)}."
    )
    if pd.notna(slope["p_permutation"]):
        yield (
            f"Permuted within seasons {number(slope['n_permutations'])} times: {p_value(slope['p_permutation'])} that a"
            " slope is at least as steep."
        )
    mine = checks[checks["covariate"] == slope["covariate"]]
    for kind, of_kind in mine[mine["estimate"].notna()].groupby("kind", sort=False):
        yield _left_out(kind, of_kind)
    if pd.notna(slope["tau_before"]) and pd.notna(slope["tau_after"]):
        sizes = [number(slope[name], slope["digits"] + 1) for name in ("tau_before", "tau_after")]
        yield (
            f"Standard deviation of true gains between site-years: {sizes[0]} {slope['unit']} without it, {sizes[1]}"
            " with it, of the same site-years."
        )
    if pd.notna(slope["aicc_line"]) and pd.notna(slope["aicc_curve"]):
        yield (
            f"AICc: {number(slope['aicc_line'], 1)} for a straight line, {number(slope['aicc_curve'], 1)} for a curve;"
            " told, never used to choose."
        )
    yield (
        f"Formula: {text(slope['formula']) or 'none'}; df: {text(slope['df_method']) or 'none'}. Warnings:"
        f" {text(slope['warnings']).rstrip('.') or 'none'}."
    )


def _within(slope: Mapping) -> str:
    share = slope["within_share"]
    return "" if pd.isna(share) else f"; {percent(100 * share)} of its sum of squares lies within seasons"


def _left_out(kind: str, rows: pd.DataFrame) -> str:
    """'Leave out one season: slopes from 0.5 to 1.1 bu/ac per in.; it moves by at most 0.8 standard errors (2093).'"""
    d = rows["slope_digits"].iloc[0] + 1
    most = rows.loc[rows["change_in_std_errors"].abs().idxmax()]
    return (
        f"Leave out one {kind}: slopes from {between(rows['estimate'].min(), rows['estimate'].max(), d)}"
        f" {most['slope_unit']}; it moves by at most {number(abs(most['change_in_std_errors']), 1)} standard errors"
        f" ({most['left_out']})."
    )


def gains_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """The gain over the reference years' values of a covariate, by place and drainage group, with ids."""
    lines = [
        {
            "Covariate": capital(row["covariate"]),
            "Where": "All places" if row["level"] == "all" else DRAINAGE.get(row["level"], row["level"]),
            "Gain": f"{number(row['estimate'], row['digits'])}{_limits(row, row['digits'])}",
            "Reference years": number(row["n_years"]),
            "Outside what was tested": "" if pd.isna(row["share_outside"]) else percent(100 * row["share_outside"]),
            "Id": anchored_id(row["estimate_id"]),
        }
        for _, row in rows.iterrows()
    ]
    caption = (
        f"Average gain in {rows['unit'].iloc[0]} on the line, over each covariate's values in the reference years; of"
        " several places each counts as often as it has site-years."
    )
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, right=("Reference years",))


def value_line(row: Mapping, gains: pd.DataFrame) -> str:
    """'Alder 2092, gain 7.1 bu/ac: 4.1 in.; 30 days from 2092-05-03 to 2092-06-01; measured: daily rain'.

    Args:
        row: of reports.weather_covariates.
        gains: by site_year_id: gain, unit, digits.
    """
    known = "not in the averages"
    if row["site_year_id"] in gains.index:
        gain = gains.loc[row["site_year_id"]]
        known = f"gain {number(gain['gain'], gain['digits'])} {gain['unit']}"
    return f"{row['place']} {row['season']}, {known}: {words.value(row)}"
