"""What a run says on the screen: progress, counts that add up, findings by file and row, headlines."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

import pandas as pd
from rich.console import Console
from rich.markup import escape
from rich.progress import (
    BarColumn,
    Progress,
    SpinnerColumn,
    TaskProgressColumn,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)
from rich.table import Table

from pipeline.display.index import editions
from pipeline.display.words import declarations
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import MOST_EXTRA_DIGITS, between, number
from pipeline.display.words.trials import FILE_NOT_READ
from pipeline.errors import printable
from pipeline.progress import NowAndThen, how_far
from pipeline.stopping import Stopped

MOST_FINDINGS_SHOWN, MOST_FILES_SHOWN = 3, 4


class _Screen(Console):
    def on_broken_pipe(self) -> None:
        """Who read what is printed is gone, as after `| head -1`: the command stops, as other commands do."""
        with suppress(SystemExit):
            super().on_broken_pipe()
        raise Stopped(signal.SIGPIPE)


_screen = _Screen(highlight=False, soft_wrap=False)


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
def pages() -> Iterator[Callable[[str, float, float], None]]:
    """A bar over the pages to draw, with the time still to go: tell(what, done, of); where no screen is, a line now and
    then.
    """
    if not _screen.is_terminal:
        now_and_then, start = NowAndThen(say), time.monotonic()
        yield lambda what, done, of: now_and_then(how_far(what, done / of, time.monotonic() - start))
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=_screen, transient=True) as bar:
        task = bar.add_task("pages", total=None)
        yield lambda what, done, of: bar.update(task, description=escape(printable(what)), completed=done, total=of)


def arrivals(arrived: list[str], withdrawn: list[str], *, is_all: bool = True) -> None:
    """Which files came and went; is_all: none of them is told elsewhere."""
    if is_all and not arrived and not withdrawn:
        say("No file is new or changed since the last run.")
    if arrived:
        say(f"{count(len(arrived), 'new or changed file')}: {_first_of(arrived)}")
    if withdrawn:
        said = f": {withdrawn[0]}" if len(withdrawn) == 1 else f", {len(withdrawn):,} files: {_first_of(withdrawn)}"
        say(f"No longer in the season folders, so no longer counted{said}")


def _first_of(files: list[str]) -> str:
    return f"{', '.join(files[:MOST_FILES_SHOWN])}{' ...' if len(files) > MOST_FILES_SHOWN else ''}"


def row_counts(counts: pd.DataFrame) -> None:
    """Delivered rows by table over all seasons: used + set aside + held + superseded."""
    table = Table(
        "table", "delivered", "used", "set aside", "held", "superseded", title="Delivered rows", title_justify="left"
    )
    for column in table.columns[1:]:
        column.justify = "right"
    columns = ["delivered", "used", "set_aside", "held", "superseded"]
    totals = counts.groupby("table_name")[[*columns, "title_rows"]].sum()
    for name, row in totals.iterrows():
        told = {column: f"{row[column]:,}" for column in columns}
        if row["title_rows"]:
            told["set_aside"] += f" (title rows: {row['title_rows']:,})"
        table.add_row(name, *told.values())
    _screen.print(table)


def findings(found: pd.DataFrame, trials: pd.DataFrame) -> None:
    """Each kind of finding with its first places."""
    for heading, lines in _findings(found):
        _screen.print(f"[bold]{escape(heading)}[/bold]", soft_wrap=True)
        for line in lines[:MOST_FINDINGS_SHOWN]:
            say(line)
        if len(lines) > MOST_FINDINGS_SHOWN:
            say(f"   ... and {len(lines) - MOST_FINDINGS_SHOWN} more")
    say(_what_is_open(found, trials))


def findings_text(found: pd.DataFrame, trials: pd.DataFrame) -> str:
    """Every finding, in the words of the screen."""
    told = [line for heading, lines in _findings(found) for line in (heading, *lines, "")]
    return printable("\n".join([*told, _what_is_open(found, trials), ""]))


def _findings(found: pd.DataFrame) -> Iterator[tuple[str, list[str]]]:
    """The kinds of findings, worst first, each with a line for every place."""
    for (severity, check), group in found.groupby(["severity", "check_name"], sort=False):
        what = "row" if group["row_number"].notna().any() else "file"
        heading = printable(f"{severity}: {check} ({count(len(group), what)})")
        yield heading, [f"   {_place(row)}: {_told(row)}" for row in group.itertuples()]


def _what_is_open(found: pd.DataFrame, trials: pd.DataFrame) -> str:
    held = sorted(trials.loc[trials["status"] == "held", "trial_id"])
    n_unread = found.loc[found["check_name"] == FILE_NOT_READ, "file"].nunique()
    if not held and not n_unread:
        return "No trial is held." if len(found) else "No findings."
    told = [
        f"{count(len(held), 'trial')} held and out until this is settled: {', '.join(held)}." if held else "",
        f"{count(n_unread, 'file')} not read, and nothing of what it holds is used." if n_unread == 1 else "",
        f"{count(n_unread, 'file')} not read, and nothing of what they hold is used." if n_unread > 1 else "",
        "The reports say provisional.",
    ]
    return " ".join(filter(None, told))


def _told(row) -> str:
    """What was found and expected, and how to mend it; a note of the reader stands alone."""
    if pd.isna(row.expected):
        said = row.mend.removeprefix(f"{row.file}: ")  # which the place says already
        return f"{said}{f' Found: {row.found}' if pd.notna(row.found) else ''}"
    return f"found {row.found}; expected {row.expected}; {row.mend}"


def _place(row) -> str:
    sheet = f' sheet "{row.sheet}"' if row.sheet else ""
    line = f" row {int(row.row_number)}" if pd.notna(row.row_number) else ""
    theirs = f' ("{row.headed}")' if pd.notna(row.headed) else ""
    column = f", {row.column_name}{theirs}" if row.column_name else ""
    return f"{row.file}{sheet}{line}{column}"


def headlines(gains: pd.DataFrame) -> None:
    """One line per comparison: the average gain on its declared target."""
    shown = gains[gains["is_headline"] & gains["is_declared"] & (gains["moderator"] == "all")]
    say("\nAverage gains, each on the target it declares (95% interval)")
    for row in shown.sort_values("position").itertuples():
        why = f". {row.rule}" if pd.isna(row.estimate) else ""
        say(
            f"   {row.comparison_id}: {_figure(row)}; {TARGET_NAMES[row.target]},"
            f" {count(row.n_site_years, 'site-year')}, {count(row.n_seasons, 'season')}{why}"
        )


def changed_rules(rows: pd.DataFrame) -> None:
    """Rules that were changed after their yields were read, as the reports say it."""
    if len(rows):
        say("\nRules that were changed after a run had read their yields")
    for sentence in declarations.changed_rules(rows):
        say(f"   {sentence}")


def changes(found: pd.DataFrame, verdicts: pd.DataFrame, run_id: str) -> None:
    """Every headline and verdict that moved, before and after, as the index says it; nothing where no cause changed."""
    if found[found["run_id"] == run_id].empty and verdicts.empty:
        return
    say("\nHeadlines before and after, and what moved them")
    for sentence in editions.changes(found, verdicts, run_id):
        say(f"   {sentence}")


def count(n: int, what: str) -> str:
    return f"{n:,} {what}" if n == 1 else f"{n:,} {what}s"


def _figure(row) -> str:
    """'+5.7 bu/ac (−1.0 to 12.4)'."""
    if pd.isna(row.estimate):
        return "no average"
    digits = int(row.digits)
    sign = "+" if round(row.estimate, digits + MOST_EXTRA_DIGITS) > 0 else ""
    return f"{sign}{number(row.estimate, digits)} {row.unit} ({between(row.conf_low, row.conf_high, digits)})"
