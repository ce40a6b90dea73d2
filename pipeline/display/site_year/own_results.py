"""A cooperator's own gains beside the program's average: in a table, and in words where one is odd.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.words import money
from pipeline.display.words.answers import sides
from pipeline.display.words.numbers import UNKNOWN, between, capital, count, listed, number
from pipeline.display.words.tables import Markdown, pipe_table

ABOVE, BELOW, INSIDE = "above", "below", "inside"
WHY_ODD = (
    "About 1 trial in 20 lies that far out by chance alone. It can also be your field, or a slip in the data: check the"
    " plots below."
)
NO_RANGE = "The program has too few site-years to say what range one trial is expected in."
MOST_EXTREME = 3  # results that are 'one of the largest'


def place_in_range(gain: float, low: float, high: float) -> str:
    """Where a site-year's result lies in the range expected of one trial."""
    if pd.isna(low) or pd.isna(gain):
        return UNKNOWN
    return INSIDE if low <= gain <= high else ABOVE if gain > high else BELOW


def ranked(gains: pd.DataFrame, averages: pd.DataFrame, every_gain: pd.DataFrame) -> pd.DataFrame:
    """A site-year's gains with `lies`, where each lies in the range expected of one trial, `rank`, of one outside it
    among all site-years, in words, and `has_interval`.

    Args:
        gains: its rows of reports.site_year_gains, with half_width.
        averages: leading rows of reports.gains over all site-years, in the seasons tested.
        every_gain: reports.site_year_gains of all site-years.
    """
    ranges = {row.comparison_id: (row.observed_low, row.observed_high) for row in averages.itertuples()}
    unknown = float("nan"), float("nan")
    of_each = list(zip(gains["comparison_id"], gains["gain"], strict=True))
    lies = [place_in_range(gain, *ranges.get(comparison_id, unknown)) for comparison_id, gain in of_each]
    ranks = [
        _rank(gain, each, every_gain.loc[every_gain["comparison_id"] == comparison_id, "gain"])
        for (comparison_id, gain), each in zip(of_each, lies, strict=True)
    ]
    return gains.assign(lies=lies, rank=ranks, has_interval=gains["half_width"].notna())


def told(gains: pd.DataFrame, averages: pd.DataFrame) -> list[str]:
    """How a site-year's results lie in the ranges expected of one trial: a sentence for each that is odd, one for the
    others.

    Args:
        gains: as `ranked` gives them, with the names of reports.comparisons.
        averages: as for `ranked`.
    """
    both = gains.merge(averages[["comparison_id", "estimate"]], on="comparison_id", how="left")
    odd, unknown = both[both["lies"].isin([ABOVE, BELOW])], both[both["lies"] == UNKNOWN]
    if len(unknown) == len(both):
        return [NO_RANGE]
    said = [_odd(row) for _, row in odd.iterrows()]
    said += [WHY_ODD] if len(odd) else []
    if n_inside := len(both) - len(odd) - len(unknown):
        which = _which(n_inside, others=len(odd) > 0, all_known=unknown.empty)
        said.append(f"{which} in the range expected of one trial.")
    if len(unknown):
        said.append(f"Too few site-years to say what range is expected: {listed(unknown['says'])}.")
    return said


def _which(n: int, *, others: bool, all_known: bool) -> str:
    if others:
        return "Your other result lies" if n == 1 else "Your other results lie"
    return (
        "Every result of yours lies"
        if all_known
        else f"{capital(count(n, 'result'))} of yours {'lies' if n == 1 else 'lie'}"
    )


def _odd(row: Mapping) -> str:
    """'Your corn trial gained 34.4 bu/ac with A against B, one of the largest of 35. The average is 7.3.'"""
    treatment, comparator = sides(row)
    digits, unit = row["digits"], row["unit"]
    what = "gained" if row["gain"] > 0 else "lost"
    return (
        f"Your {row['crop']} trial {what} {number(abs(row['gain']), digits)} {unit} with {treatment} against"
        f" {comparator}, {row['rank']}. The average is {number(row['estimate'], digits)}."
    )


def _rank(gain: float, lies: str, every: pd.Series) -> str:
    """'one of the largest gains of 35 site-years'; empty for what lies in the range."""
    if lies not in (ABOVE, BELOW):
        return ""
    largest = lies == ABOVE
    n_beyond = int((every > gain).sum() if largest else (every < gain).sum())
    size = "largest" if largest == (gain > 0) else "smallest"
    name = f"{size} {'gain' if gain > 0 else 'loss'}"
    if n_beyond == 0:
        rank = f"the {name}"
    else:
        rank = f"one of the {name}{'e' if name.endswith('s') else ''}s" if n_beyond < MOST_EXTREME else "far from most"
    return f"{rank} of {count(len(every), 'site-year')}"


def results_table(gains: pd.DataFrame, averages: pd.DataFrame) -> Markdown:
    """Gains of one site-year beside the average, what they return, and what one trial is expected to show.

    Args:
        gains: as `ranked` gives them, with conf_low and conf_high.
        averages: as for `ranked`.
    """
    pooled = averages.set_index("comparison_id")
    rows = []
    for _, row in gains.iterrows():
        average = pooled.loc[row["comparison_id"]] if row["comparison_id"] in pooled.index else None
        rows.append(_result(row, average))
    n_known = int(gains["has_interval"].sum())
    has_money = gains["net_change"].notna().any()
    paid = (
        "Net: at the planning prices, what the gain here adds, less what the treatment adds in costs. "
        if has_money
        else ""
    )
    caption = (
        f"{_intervals_said(n_known, len(gains))} {paid}Range of one trial: where the results of 19 in 20 are expected,"
        " plot noise included, around the plain mean of all site-years."
    )
    frame = pd.DataFrame(rows) if has_money else pd.DataFrame(rows).drop(columns=NET)
    widths = {name: width for name, width in zip(rows[0], (34, 24, 12, 12, 20), strict=True) if name in frame}
    return pipe_table(frame, caption=caption, label="results", widths=widths)


NET = "Net an acre"


def _intervals_said(n_known: int, n: int) -> str:
    """What the gains of a table stand with: all, some or none of them have an interval."""
    if not n_known:
        return "Gains here, without intervals: these trials do not show how large plot noise is."
    without = "" if n_known == n else "; without one, plot noise is not known"
    return (
        "Gains here with their 95% intervals: if an interval includes zero, the gain cannot be separated from plot"
        f" noise in this trial{without}."
    )


def _result(row: pd.Series, average: pd.Series | None) -> dict[str, str]:
    digits, unit = row["digits"], row["unit"]
    interval = f" ({between(row['conf_low'], row['conf_high'], digits)})" if row["has_interval"] else ""
    low, high = (average["observed_low"], average["observed_high"]) if average is not None else (None, None)
    has_average = average is not None and pd.notna(average["estimate"])
    lies = row["lies"]
    return {
        "Comparison": f"{capital(row['crop'])}: {row['says']}",
        "Gain here": f"{number(row['gain'], digits)} {unit}{interval}",
        "Average": number(average["estimate"], digits) if has_average else UNKNOWN,
        NET: UNKNOWN if pd.isna(row["net_change"]) else money.dollars(row["net_change"], row["currency"]),
        "Range of one trial": lies if lies == UNKNOWN else f"{between(low, high, digits)}: {lies}",
    }
