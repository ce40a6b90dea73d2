"""The tables of a cooperator's page."""

from __future__ import annotations

import json

import pandas as pd

from pipeline.contract.tables import HOLDS_TRIAL, NOTED, SETS_ASIDE
from pipeline.contract.words import source_said
from pipeline.display.words import trials
from pipeline.display.words.checks import check_column
from pipeline.display.words.numbers import (
    UNKNOWN,
    capital,
    count,
    day,
    listed,
    number,
    percent,
    row_numbers,
    text,
)
from pipeline.display.words.tables import Markdown, pipe_table

SEVERITY = {
    HOLDS_TRIAL: "keeps the trial out until resolved",
    SETS_ASIDE: "sets the row aside",
    NOTED: "noted; the row is used as it is",
}
AS_DELIVERED = "Its yields below are worked out from the cells as delivered: they may be wrong until then."
NOT_RANDOMIZED = "This trial is in no average and shows no gain: its treatments were not randomized."
MOST_FOUND = 3
MOST_BLOCKS = 5  # columns of plots that fit a printed page


def trial_words(trial: pd.Series) -> str:
    """One trial's layout and field in one sentence each."""
    layout = trials.DESIGN.get(trial["design"], text(trial["design"])) or "design not known"
    n_blocks = 0 if pd.isna(trial["n_blocks"]) else int(trial["n_blocks"])
    # a completely random layout has its plots in no block; they are delivered as one
    blocks = f", {count(n_blocks, 'block')}" if n_blocks and trial["design"] != "CRD" else ""
    field = [
        capital(text(trial["drainage_class"]) or "drainage not reported"),
        {"surface": "ditched", "subsurface": "tiled"}.get(text(trial["artificial_drainage"]), ""),
        text(trial["texture"]),
        "irrigated" if pd.notna(trial["irrigated"]) and trial["irrigated"] else "",
        f"after {trial['previous_crop']}" if text(trial["previous_crop"]) else "",
        text(trial["tillage"]),
        f"cultivar {trial['cultivar']}" if text(trial["cultivar"]) else "",
    ]
    return f"{capital(layout)}{blocks}; {_dates(trial)}. {', '.join(word for word in field if word)}."


def _dates(trial: pd.Series) -> str:
    """When it was planted and harvested, as far as that was delivered."""
    known = {"planted": trial["planted"], "harvested": trial["harvested"]}
    told = [f"{what} {day(when)}" for what, when in known.items() if pd.notna(when)]
    nouns = {"planted": "planting", "harvested": "harvest"}
    lacking = [nouns[what] for what, when in known.items() if pd.isna(when)]
    if lacking:
        told.append(f"{' and '.join(lacking)} {'date' if len(lacking) == 1 else 'dates'} not reported")
    return ", ".join(told)


def plots_used(trial: pd.Series) -> str:
    if trial["n_plots_delivered"] == 0:
        return (
            "Printed means only: no plots were delivered."
            if trial["status"] == "accepted"
            else "No plots were delivered."
        )
    used, delivered = trial["n_plots_used"], trial["n_plots_delivered"]
    if used == delivered:
        return f"All {delivered} plots delivered are used." if delivered > 1 else "The one plot delivered is used."
    return f"Of {count(delivered, 'plot')} delivered, {used} {trials.are(used)} used."


def plots_caption(trial: pd.Series, *, has_means: bool) -> str:
    """What a trial's table holds: of one that is in no estimate, its plots alone."""
    return f"{'Treatments, means and plots' if has_means else 'Plots'} of {trial['crop']} trial {trial['trial_id']}"


def status_words(trial: pd.Series, *, has_yields: bool = False) -> str:
    """Why a trial is not in the estimates, empty where it may be; has_yields: its plots are printed all the same."""
    if trial["status"] == "held":
        held = "This trial is held: it stays out of every estimate until what the checks flagged is resolved."
        return f"{held} {AS_DELIVERED}" if has_yields else held
    if trial["status"] == "accepted":
        return NOT_RANDOMIZED if trial["design"] == "not randomized" else ""
    if trial["status"] == "planned":
        return f"This trial is planned, not yet harvested: {trial['status_reason']}."
    return f"This trial is not in the estimates: {text(trial['status_reason']) or trial['status']}."


def findings_here(findings: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Findings on these trials, and those on their sites that name no trial."""
    of_site = findings["trial_id"].isna() & findings["site_id"].isin(trials["site_id"].dropna())
    return findings[findings["trial_id"].isin(trials["trial_id"]) | of_site]


def trial_tables(
    means: pd.DataFrame, plots: pd.DataFrame, applied: pd.DataFrame, *, unit: str, rate: str, label: str, caption: str
) -> Markdown:
    """Treatments of one trial with their means and, block by block, every delivered plot.

    Args:
        means: rows of reports.treatment_means of the trial; a held trial has none.
        plots: rows of reports.plots of the trial with yield_shown and digits; a trial of printed means has none.
        applied: rows of reports.applications of the trial.
        rate: 'lb/ac' or 'kg/ha'.
    """
    plots = plots.fillna({"treatment_code": UNKNOWN, "block": UNKNOWN})  # of a held trial, or set aside
    table = _treatments(means, applied, rate=rate) if len(means) else pd.DataFrame({"Code": []})
    without_mean = sorted(set(plots["treatment_code"]) - set(table["Code"]))
    table = pd.concat([table, pd.DataFrame({"Code": without_mean})], ignore_index=True)
    told = plots.assign(told=[_plot(plot) for plot in plots.itertuples()])
    cells = told.groupby(["treatment_code", "block"])["told"].agg("; ".join).unstack("block", fill_value="")
    blocks = sorted(cells.columns, key=lambda block: (len(block), block))
    said = f"{caption}, {unit}{' (plot number)' if blocks else ''}."
    tables = []
    for i in range(0, max(len(blocks), 1), MOST_BLOCKS):
        part = table.merge(
            cells[blocks[i : i + MOST_BLOCKS]].add_prefix("Block "),
            left_on="Code",
            right_index=True,
            how="left",
        )
        widths = {"Code": 10, "Treatment": 34, "Mean (plots)": 14} | {
            column: 16 for column in part.columns if column.startswith("Block ")
        }
        tables.append(pipe_table(part, caption=said, label=f"{label}-{i + 1}", widths=widths))
        table = table[["Code"]]
    return Markdown("\n".join(tables))


def _treatments(means: pd.DataFrame, applied: pd.DataFrame, *, rate: str) -> pd.DataFrame:
    when_and_how = applied[["treatment_code", "applied_on", "placement"]]
    when = {code: applied_words(rows) for code, rows in when_and_how.groupby("treatment_code")}
    rates = means[f"n_rate_{rate.replace('/', '_')}"]
    return pd.DataFrame(
        {
            "Code": means["treatment_code"],
            "Treatment": [
                "; ".join(filter(None, [_treatment(row, f"{number(value)} {rate}"), when.get(row.treatment_code, "")]))
                for row, value in zip(means.itertuples(), rates, strict=True)
            ],
            "Mean (plots)": [f"{number(row.mean, row.digits)} ({row.n_plots})" for row in means.itertuples()],
        }
    )


def _treatment(row, rate: str) -> str:
    """'Urea, 120 lb/ac, split, 2 passes (grower standard)'."""
    coated = f" ({percent(100 * row.coated_n_fraction)} coated)" if row.coated_n_fraction > 0 else ""
    if not row.is_zero_n and not text(row.n_source):  # a trial that is not about nitrogen
        return capital(
            ", ".join(f"{name.removeprefix('factor_')} {word}" for name, word in json.loads(row.factors).items())
        )
    what = "no nitrogen" if row.is_zero_n else f"{source_said(row.n_source)}{coated}, {rate}, {row.timing}"
    passes = f", {row.passes} passes" if row.passes > 1 else ""
    return f"{capital(what)}{passes}{' (grower standard)' if row.is_grower_standard else ''}"


def applied_words(applied: pd.DataFrame) -> str:
    """'April 28 and May 31, broadcast'; empty where no date was delivered. applied: of one treatment."""
    told = zip(applied["applied_on"], map(text, applied["placement"]), strict=True)
    dated = sorted(((when, way) for when, way in told if pd.notna(when)), key=lambda each: each[0])
    ways = {way for _, way in dated}
    if len(ways) == 1:
        days = dict.fromkeys(_in_year(when) for when, _ in dated)
        return ", ".join(filter(None, [listed(days), *ways]))
    return listed(dict.fromkeys(f"{_in_year(when)} {way}".strip() for when, way in dated))


def _in_year(when: pd.Timestamp) -> str:
    return f"{when:%B} {when.day}"


def background_words(applied: pd.DataFrame, *, rate: str) -> str:
    """What all plots of a trial got beside their treatments; empty where nothing was."""
    column = f"n_rate_{rate.replace('/', '_')}"
    told = [
        ", ".join(
            filter(None, [f"{number(row[column])} {rate} of N as {row['product']}", applied_words(pd.DataFrame([row]))])
        )
        for _, row in applied[applied["counts_toward"] == "background"].iterrows()
    ]
    return f"All plots also got {listed(told)}." if told else ""


def _plot(plot) -> str:
    value = "none" if pd.isna(plot.yield_shown) else number(plot.yield_shown, plot.digits)
    mark = "" if plot.fate in ("used", "held") else ", set aside"
    return f"{value} ({text(plot.plot) or 'number not known'}{mark})"


def set_aside_table(plots: pd.DataFrame, *, label: str, caption: str) -> Markdown:
    """Plots of one trial that no estimate rests on, each with its reason and where it was delivered."""
    frame = pd.DataFrame(
        {
            "Block": plots["block"],
            "Plot": plots["plot"],
            "Treatment": plots["treatment_code"],
            "Why": [capital(_why(text(reason))) for reason in plots["reason"]],
            "Delivered in": [f"{row.file}, row {row.row_number}" for row in plots.itertuples()],
        }
    )
    return pipe_table(
        frame, caption=caption, label=label, widths=dict(zip(frame.columns, (8, 8, 14, 42, 28), strict=True))
    )


def _why(reason: str) -> str:
    """A plot's reason, a check's name in words: 'block is empty' of 'plots.block is empty: (empty)'."""
    if not reason.startswith("plots."):
        return reason
    _, fault = reason.split(" ", 1)
    return f"{check_column(reason)} {fault}".removesuffix(": (empty)")


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
    caption = "What the checks flagged in these data."
    return pipe_table(
        pd.DataFrame(rows),
        caption=caption,
        label="findings",
        widths=dict(zip(rows[0], (20, 16, 16, 20, 26), strict=True)),
    )


def _found(values: pd.Series) -> str:
    different = [str(text) for text in values.dropna().unique()]
    more = f" and {len(different) - MOST_FOUND} more" if len(different) > MOST_FOUND else ""
    return ", ".join(different[:MOST_FOUND]) + more or UNKNOWN
