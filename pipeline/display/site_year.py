"""The tables of a cooperator's page."""

from __future__ import annotations

import pandas as pd

from pipeline.display import wording
from pipeline.display.numbers import UNKNOWN, count, day, listed, number, percent, row_numbers
from pipeline.display.tables import Markdown, pipe_table
from pipeline.display.wording import capital

SEVERITY = {
    "holds the trial": "holds the trial until settled",
    "sets the row aside": "sets the row aside",
    "noted": "noted, changes nothing",
}
MOST_FOUND = 3


def trial_words(trial: pd.Series) -> str:
    """One trial's layout and field in one sentence each."""
    layout = wording.DESIGN.get(trial["design"], trial["design"])
    blocks = f", {count(int(trial['n_blocks']), 'block')}" if pd.notna(trial["n_blocks"]) else ""
    field = [
        capital(trial["drainage_class"] or "drainage not known"),
        {"surface": "ditched", "subsurface": "tiled"}.get(trial["artificial_drainage"]),
        trial["texture"],
        "irrigated" if trial["irrigated"] is True else None,
        f"after {trial['previous_crop']}" if trial["previous_crop"] else None,
        trial["tillage"],
        f"cultivar {trial['cultivar']}" if trial["cultivar"] else None,
    ]
    return (
        f"{capital(layout)}{blocks}; planted {day(trial['planted'])}, harvested {day(trial['harvested'])}. "
        f"{', '.join(word for word in field if word)}."
    )


def plots_used(trial: pd.Series) -> str:
    return f"Of {count(trial['n_plots_delivered'], 'plot')} delivered, {trial['n_plots_used']} are used."


def status_words(trial: pd.Series) -> str:
    """Why a trial is not in the estimates."""
    if trial["status"] == "held":
        return "This trial is held: it stays out of every estimate until what the checks found is settled."
    return f"This trial is not in the estimates: {trial['status_reason'] or trial['status']}."


def findings_here(findings: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Findings on these trials, and those on their sites that name no trial."""
    of_site = findings["trial_id"].isna() & findings["site_id"].isin(trials["site_id"].dropna())
    return findings[findings["trial_id"].isin(trials["trial_id"]) | of_site]


def treatments_table(means: pd.DataFrame, *, unit: str, rate: str, label: str, caption: str) -> Markdown:
    """Treatments of one trial with their means; `rate` is 'lb/ac' or 'kg/ha'."""
    of_rate = means[f"n_rate_{rate.replace('/', '_')}"]
    frame = pd.DataFrame(
        {
            "Code": means["treatment_code"],
            "N source": means["n_source"],
            "Coated share of N": [percent(100 * share) if share > 0 else "none" for share in means["coated_n_fraction"]],
            f"Planned N, {rate}": [number(value) for value in of_rate],
            "Timing": means["timing"],
            "Passes": means["passes"].map(str),
            "Role": [_role(row) for row in means.itertuples()],
            f"Mean, {unit}": [number(row.mean, row.digits) for row in means.itertuples()],
            "Plots": means["n_plots"].map(str),
        }
    )
    right = (f"Planned N, {rate}", "Passes", f"Mean, {unit}", "Plots")
    widths = dict(zip(frame.columns, (11, 13, 9, 9, 12, 8, 16, 9, 7), strict=True))
    return pipe_table(frame, caption=caption, label=label, right=right, widths=widths)


def _role(row) -> str:
    return listed(word for word, holds in (("zero-N", row.is_zero_n), ("grower standard", row.is_grower_standard)) if holds)


def plots_table(plots: pd.DataFrame, *, unit: str, label: str, caption: str) -> Markdown:
    """Every delivered plot of one trial, its yield and what became of it."""
    frame = pd.DataFrame(
        {
            "Block": plots["block"],
            "Plot": plots["plot"],
            "Treatment": plots["treatment_code"],
            f"Yield, {unit}": ["none" if pd.isna(value) else number(value, 1) for value in plots["yield"]],
            "Used": [capital(fate) + (f": {reason}" if isinstance(reason, str) else "") for fate, reason in _fates(plots)],
        }
    )
    widths = dict(zip(frame.columns, (8, 8, 14, 14, 50), strict=True))
    return pipe_table(frame, caption=caption, label=label, right=(f"Yield, {unit}",), widths=widths)


def _fates(plots: pd.DataFrame) -> list[tuple[str, str | None]]:
    """A held trial says why once, above its plots, and not again at each of them."""
    return [(fate, None if fate == "held" else reason) for fate, reason in zip(plots["fate"], plots["reason"], strict=True)]


def findings_table(findings: pd.DataFrame) -> Markdown:
    """What the checks found, alike ones drawn together, worst first; rows of reports.findings."""
    keys = ["severity", "check_name", "file", "sheet", "column_name", "expected", "mend"]
    rows = []
    for (severity, _, file, sheet, column, expected, mend), alike in findings.groupby(keys, dropna=False, sort=False):
        place = f"{file}{f', sheet {sheet}' if isinstance(sheet, str) else ''}"
        numbered = alike["row_number"].dropna().astype(int)
        rows.append(
            {
                "Where": f"{place}, {row_numbers(numbered)}" if len(numbered) else place,
                "Column": column,
                "Found": _found(alike["found"]),
                "Expected": expected,
                "What to do": f"{capital(mend or '')} ({SEVERITY[severity]})",
            }
        )
    caption = "What the checks found in these data."
    return pipe_table(
        pd.DataFrame(rows), caption=caption, label="findings", widths=dict(zip(rows[0], (20, 16, 16, 20, 26), strict=True))
    )


def _found(found: pd.Series) -> str:
    different = [str(text) for text in found.dropna().unique()]
    more = f" and {len(different) - MOST_FOUND} more" if len(different) > MOST_FOUND else ""
    return ", ".join(different[:MOST_FOUND]) + more or UNKNOWN
