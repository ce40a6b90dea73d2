"""The tables of a cooperator's page."""

from __future__ import annotations

import pandas as pd

from pipeline.display import trial_wording
from pipeline.display.numbers import UNKNOWN, between, count, day, listed, number, percent, row_numbers, text
from pipeline.display.tables import Markdown, pipe_table
from pipeline.display.wording import capital

SEVERITY = {
    "holds the trial": "holds the trial until settled",
    "sets the row aside": "sets the row aside",
    "noted": "noted, changes nothing",
}
MOST_FOUND = 3
MOST_BLOCKS = 6  # columns of plots that fit a printed page


def trial_words(trial: pd.Series) -> str:
    """One trial's layout and field in one sentence each."""
    layout = trial_wording.DESIGN.get(trial["design"], trial["design"])
    blocks = f", {count(int(trial['n_blocks']), 'block')}" if pd.notna(trial["n_blocks"]) else ""
    field = [
        capital(text(trial["drainage_class"]) or "drainage not known"),
        {"surface": "ditched", "subsurface": "tiled"}.get(text(trial["artificial_drainage"]), ""),
        text(trial["texture"]),
        "irrigated" if pd.notna(trial["irrigated"]) and trial["irrigated"] else "",
        f"after {trial['previous_crop']}" if text(trial["previous_crop"]) else "",
        text(trial["tillage"]),
        f"cultivar {trial['cultivar']}" if text(trial["cultivar"]) else "",
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
    return f"This trial is not in the estimates: {text(trial['status_reason']) or trial['status']}."


def findings_here(findings: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Findings on these trials, and those on their sites that name no trial."""
    of_site = findings["trial_id"].isna() & findings["site_id"].isin(trials["site_id"].dropna())
    return findings[findings["trial_id"].isin(trials["trial_id"]) | of_site]


def results_table(gains: pd.DataFrame, averages: pd.DataFrame) -> Markdown:
    """Gains of one site-year beside what one trial is expected to show.

    Args:
        gains: rows of reports.site_year_gains with conf_low, conf_high and half_width.
        averages: leading rows of reports.gains over all site-years, in the seasons tested.
    """
    pooled = averages.set_index("comparison_id")
    rows = []
    for _, row in gains.iterrows():
        average = pooled.loc[row["comparison_id"]] if row["comparison_id"] in pooled.index else None
        rows.append(_result(row, average))
    caption = (
        "Gains here with their 95 % intervals. A true gain under the smallest visible one could not be told from plot noise "
        "in this trial. The range is that of the results of 19 trials in 20, plot noise included."
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label="results", widths=dict(zip(rows[0], (38, 24, 16, 26), strict=True)))


def _result(row: pd.Series, average: pd.Series | None) -> dict[str, str]:
    digits, unit = row["digits"], row["unit"]
    known = pd.notna(row["half_width"])
    interval = f" ({between(row['conf_low'], row['conf_high'], digits)})" if known else ""
    low, high = (average["observed_low"], average["observed_high"]) if average is not None else (None, None)
    place = trial_wording.place_in_range(row["gain"], low, high)
    return {
        "Comparison": f"{capital(row['crop'])}: {row['says']}",
        "Gain here": f"{number(row['gain'], digits)} {unit}{interval}",
        "Smallest visible": f"{number(row['half_width'], digits)} {unit}" if known else UNKNOWN,
        "Range expected of one trial": place if place == UNKNOWN else f"{between(low, high, digits)}: {place}",
    }


def treatments_table(means: pd.DataFrame, *, unit: str, rate: str, label: str, caption: str) -> Markdown:
    """Treatments of one trial with their means; `rate` is 'lb/ac' or 'kg/ha'."""
    of_rate = means[f"n_rate_{rate.replace('/', '_')}"]
    frame = pd.DataFrame(
        {
            "Code": means["treatment_code"],
            "N source": means["n_source"],
            "Coated share": [percent(100 * share) if share > 0 else "none" for share in means["coated_n_fraction"]],
            f"Planned N, {rate}": [number(value) for value in of_rate],
            "Timing": means["timing"],
            "Passes": means["passes"].map(str),
            "Role": [_role(row) for row in means.itertuples()],
            f"Mean, {unit}": [number(row.mean, row.digits) for row in means.itertuples()],
            "Plots": means["n_plots"].map(str),
        }
    )
    right = (f"Planned N, {rate}", "Passes", f"Mean, {unit}", "Plots")
    widths = dict(zip(frame.columns, (10, 17, 9, 10, 14, 9, 12, 9, 7), strict=True))
    return pipe_table(frame, caption=caption, label=label, right=right, widths=widths)


def _role(row) -> str:
    return listed(word for word, holds in (("zero-N", row.is_zero_n), ("grower standard", row.is_grower_standard)) if holds)


def plots_tables(plots: pd.DataFrame, *, unit: str, label: str, caption: str) -> Markdown:
    """Every delivered plot of one trial, a row per treatment and a column per block: yield, plot number in brackets."""
    told = plots.assign(told=[_plot(plot) for plot in plots.itertuples()])
    cells = told.groupby(["treatment_code", "block"])["told"].agg("; ".join).unstack("block", fill_value="")
    blocks = sorted(cells.columns, key=lambda block: (len(block), block))
    tables = []
    for i in range(0, len(blocks), MOST_BLOCKS):
        part = cells[blocks[i : i + MOST_BLOCKS]].add_prefix("Block ").rename_axis("Treatment").reset_index()
        widths = {column: 20 for column in part.columns}
        tables.append(pipe_table(part, caption=f"{caption}, {unit} (plot number).", label=f"{label}-{i + 1}", widths=widths))
    return Markdown("\n".join(tables))


def _plot(plot) -> str:
    value = "none" if pd.isna(plot.yield_shown) else number(plot.yield_shown, plot.digits)
    mark = "" if plot.fate in ("used", "held") else ", set aside"
    return f"{value} ({plot.plot}{mark})"


def set_aside_table(plots: pd.DataFrame, *, label: str, caption: str) -> Markdown:
    """Plots of one trial that no estimate rests on, each with its reason and where it was delivered."""
    frame = pd.DataFrame(
        {
            "Block": plots["block"],
            "Plot": plots["plot"],
            "Treatment": plots["treatment_code"],
            "Why": [capital(text(reason)) for reason in plots["reason"]],
            "Delivered in": [f"{row.file}, row {row.row_number}" for row in plots.itertuples()],
        }
    )
    return pipe_table(frame, caption=caption, label=label, widths=dict(zip(frame.columns, (8, 8, 14, 42, 28), strict=True)))


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
                "What to do": f"{capital(text(mend))} ({SEVERITY[severity]})",
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
