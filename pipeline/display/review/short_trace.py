"""The walk from an estimate to its plots in at most ten lines, for the screen."""

from __future__ import annotations

from pipeline.display.review import worked_out
from pipeline.display.review.trace import along_strips, is_not_behind, not_behind, plots_counted
from pipeline.display.words.numbers import count, listed, number
from pipeline.trace import Trace

MOST_NAMED = 3  # trials left out
MOST_OPENING = 5  # of the lines that say what the estimate is and how it was worked out


def lines(trace: Trace) -> list[str]:
    """What an estimate is, and how many site-years, plots, files and corrections it rests on."""
    behind = (_site_years(trace), _left_out(trace), _plots(trace), _corrections(trace))
    whole = f"Every plot with its file and row: make trace ID={trace.estimate['estimate_id']} WHOLE=yes"
    return [*worked_out.in_short(trace, MOST_OPENING), *filter(None, behind), whole]


def _site_years(trace: Trace) -> str:
    rows = trace.site_years
    if rows.empty:
        return ""
    low, high = (rows.loc[end] for end in (rows["gain"].idxmin(), rows["gain"].idxmax()))
    ends = " to ".join(f"{number(row['gain'], row['digits'])} at {row['place']} {row['season']}" for row in (low, high))
    return f"Rests on {count(len(rows), 'site-year')}: gains of {ends} ({low['unit']})"


def _left_out(trace: Trace) -> str:
    names = list(trace.left_out["trial_id"])
    named = names if len(names) <= MOST_NAMED else [*names[:MOST_NAMED], f"{len(names) - MOST_NAMED} more"]
    return f"Left out: {count(len(names), 'trial')} ({listed(named)})" if names else ""


def _plots(trace: Trace) -> str:
    plots = trace.plots
    if plots.empty:
        return ""
    behind = plots[~is_not_behind(plots)]
    n_trials, n_files = behind["trial_id"].nunique(), behind["file"].nunique()
    whole = f"{plots_counted(behind)} of {count(n_trials, 'trial')}, delivered in {count(n_files, 'file')}"
    told = [f"Computed from {whole}", along_strips(plots), *not_behind(plots, "more plot")]
    return "; ".join(filter(None, told))


def _corrections(trace: Trace) -> str:
    return f"Corrections to these plots: {len(trace.corrections) or 'none'}"
