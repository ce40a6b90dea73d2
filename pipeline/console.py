"""What a run says on the screen: progress, counts that add up, findings by file and row, headlines."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pandas as pd
from rich.console import Console
from rich.markup import escape
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    SpinnerColumn,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)
from rich.table import Table

from pipeline.display.index import editions
from pipeline.display.season import next_season
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import MOST_EXTRA_DIGITS, between, capital, number
from pipeline.errors import printable
from pipeline.progress import NowAndThen, how_far

# of the plan; a place is visited at most once a season
FEWER_PLACES = (
    "Over more seasons as many site-years come back to fewer places; these differ, so the interval can be wider."
)
MOST_FINDINGS_SHOWN = 3
_screen = Console(highlight=False, soft_wrap=False)


def say(text: str) -> None:
    _screen.print(escape(printable(text)), soft_wrap=True)


@contextmanager
def steps() -> Iterator[Callable[[str], None]]:
    """A line that names the step at work and the time since it all began; where no screen is, a line now and then."""
    if not _screen.is_terminal:
        yield NowAndThen(say)
        return
    with Progress(
        SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(), console=_screen, transient=True
    ) as bar:
        task = bar.add_task("starting", total=None)
        yield lambda text: bar.update(task, description=escape(printable(text)))


@contextmanager
def pages() -> Iterator[Callable[[str, int, int], None]]:
    """A bar over the pages to draw, with the time still to go: tell(what, done, of); where no screen is, a line now and then."""
    if not _screen.is_terminal:
        now_and_then, start = NowAndThen(say), time.monotonic()
        yield lambda what, done, of: now_and_then(how_far(what, done / of, time.monotonic() - start))
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=_screen, transient=True) as bar:
        task = bar.add_task("pages", total=None)
        yield lambda what, done, of: bar.update(task, description=escape(printable(what)), completed=done, total=of)


def arrivals(arrived: list[str], withdrawn: list[str]) -> None:
    if not arrived and not withdrawn:
        say("No file is new or changed since the last run.")
    if arrived:
        say(
            f"{_count(len(arrived), 'new or changed file')}: {', '.join(arrived[:4])}{' ...' if len(arrived) > 4 else ''}"
        )
    if withdrawn:
        say(f"No longer in the season folders, so no longer counted: {', '.join(withdrawn)}")


def row_counts(counts: pd.DataFrame) -> None:
    """Delivered rows by table over all seasons: used + set aside + held + superseded."""
    table = Table(
        "table", "delivered", "used", "set aside", "held", "superseded", title="Delivered rows", title_justify="left"
    )
    for column in table.columns[1:]:
        column.justify = "right"
    totals = counts.groupby("table_name")[["delivered", "used", "set_aside", "held", "superseded"]].sum()
    for row in totals.itertuples():
        table.add_row(row.Index, *(f"{value:,}" for value in row[1:]))
    _screen.print(table)


def findings(found: pd.DataFrame, trials: pd.DataFrame) -> None:
    """Each kind of finding with its first places; the whole list is in reports.findings."""
    if found.empty:
        say("No findings.")
        return
    for (severity, check), group in found.groupby(["severity", "check_name"], sort=False):
        _screen.print(
            f"[bold]{escape(severity)}[/bold]: {escape(printable(check))} ({len(group)} {'row' if len(group) == 1 else 'rows'})"
        )
        for row in group.head(MOST_FINDINGS_SHOWN).itertuples():
            say(f"   {_place(row)}: {_told(row)}")
        if len(group) > MOST_FINDINGS_SHOWN:
            say(f"   ... and {len(group) - MOST_FINDINGS_SHOWN} more")
    held = sorted(trials.loc[trials["status"] == "held", "trial_id"])
    if held:
        say(
            f"{_count(len(held), 'trial')} held and out until this is settled: {', '.join(held)}. The reports say provisional."
        )


def _told(row) -> str:
    """What was found and expected, and how to mend it; a note of the reader stands alone."""
    if pd.isna(row.expected):
        return f"{row.mend}{f' Found: {row.found}' if pd.notna(row.found) else ''}"
    return f"found {row.found}; expected {row.expected}; {row.mend}"


def _place(row) -> str:
    sheet = f' sheet "{row.sheet}"' if row.sheet else ""
    line = f" row {int(row.row_number)}" if pd.notna(row.row_number) else ""
    column = f", {row.column_name}" if row.column_name else ""
    return f"{row.file}{sheet}{line}{column}"


def headlines(gains: pd.DataFrame) -> None:
    """One line per comparison: the average gain on its declared target."""
    shown = gains[gains["is_headline"] & gains["is_declared"] & (gains["moderator"] == "all")]
    say("\nAverage gains, each on the target it declares (95% interval)")
    for row in shown.sort_values("position").itertuples():
        why = f". {row.rule}" if pd.isna(row.estimate) else ""
        say(
            f"   {row.comparison_id}: {_figure(row)}; {TARGET_NAMES[row.target]}, {_count(row.n_site_years, 'site-year')}, {_count(row.n_seasons, 'season')}{why}"
        )


def changes(found: pd.DataFrame, run_id: str) -> None:
    """Every headline that moved, before and after, with its causes, as the index says it; nothing where no cause changed."""
    if found[found["run_id"] == run_id].empty:
        return
    say("\nHeadlines before and after, and what moved them")
    for sentence in editions.changes(found, run_id):
        say(f"   {sentence}")


def _count(n: int, what: str) -> str:
    return f"{n:,} {what}" if n == 1 else f"{n:,} {what}s"


def _figure(row) -> str:
    """'+5.7 bu/ac (−1.0 to 12.4)'."""
    if pd.isna(row.estimate):
        return "no average"
    digits = int(row.digits)
    sign = "+" if round(row.estimate, digits + MOST_EXTRA_DIGITS) > 0 else ""
    return f"{sign}{number(row.estimate, digits)} {row.unit} ({between(row.conf_low, row.conf_high, digits)})"


def plan(
    outlook: pd.DataFrame, evidence: pd.DataFrame, proposed_trials: pd.DataFrame, comparisons: pd.DataFrame
) -> None:
    """For each crop what to add first; for each comparison the half-widths to expect on its declared target and its empty
    cells; for each crop the proposed trials."""
    outlook = outlook[outlook["is_declared"]]
    leads = comparisons.sort_values(["is_against_standard", "position"], ascending=[False, True])
    for lead in leads.drop_duplicates("crop").sort_values("position").itertuples():
        of_lead = outlook[outlook["comparison_id"] == lead.comparison_id]
        if len(of_lead):
            say(f"{capital(lead.crop)}, {lead.says}. {next_season.advice(of_lead)}")
    for _, of_comparison in outlook.groupby("position"):
        first = of_comparison.iloc[0]
        say(
            f"\n{first['comparison_id']}, {first['target']}: half-width of the 95% interval to expect ({first['unit']})"
        )
        known = of_comparison[of_comparison["half_width"].notna()]
        if len(known):
            say(f"   the interval printed now: {first['printed_half_width']:.{int(first['digits'])}f}")
        for (more, seasons), rows in known.groupby(["more_site_years", "more_seasons"]):
            widths = "   ".join(_expected(row) for row in rows.itertuples())
            grown = (
                "as now, by the plan"
                if more == 0
                else f"{more} more site-years in {seasons} more {'season' if seasons == 1 else 'seasons'}"
            )
            say(f"   {grown}: {widths}")
        if _widens_with_seasons(known):
            say(f"   {FEWER_PLACES}")
        for reason in dict.fromkeys(reason for reason in of_comparison["reason"] if reason):
            say(f"   {reason}")
        empty = evidence[(evidence["comparison_id"] == first["comparison_id"]) & (evidence["n_site_years"] == 0)]
        cells = ", ".join(f"{row.drainage_group} x {row.rainfall_class}" for row in empty.itertuples())
        say(f"   empty cells of drainage x rainfall: {cells or 'none'}")
    for crop, of_crop in proposed_trials.groupby("crop", sort=False):
        lead = of_crop[of_crop["position"] == of_crop["position"].min()]
        say(f"\nProposed {crop} trials for {lead['comparison_id'].iloc[0]}, the most useful first")
        for row in lead.itertuples():
            say(f"   {row.rank}. {row.site_id} ({row.drainage_group}): {row.why}")
    say("\nThese are expectations from what was loaded, not promises. Next: make layout TRIAL=...")


def _widens_with_seasons(known: pd.DataFrame) -> bool:
    """Whether, as printed, the same number of site-years gives a wider interval over more seasons."""
    grown = known[known["more_site_years"] > 0].sort_values("more_seasons")
    printed = grown["half_width"].round(int(grown["digits"].max())) if len(grown) else grown["half_width"]
    steps = printed.groupby([grown["more_site_years"], grown["n_blocks"]]).diff()
    return bool((steps > 0).any())


def _expected(row) -> str:
    blocks = "" if pd.isna(row.n_blocks) else f" ({row.n_blocks:.0f} blocks)"
    return f"{row.half_width:.{int(row.digits)}f}{blocks}"
