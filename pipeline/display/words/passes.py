"""As good with fewer passes: verdicts against a margin in plain sentences.

Rows are rows of reports.as_good. Sentences are plain text, which the page escapes, but those that carry an id.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import DOES_NOT_APPLY, SHOWN
from pipeline.display.words.answers import TARGET, arms, closed
from pipeline.display.words.numbers import between, capital, count, day, number
from pipeline.display.words.tables import Markdown, escaped, joined, linked_id
from pipeline.estimates.passes.noninferiority import BETTER, NOT_SHOWN_AS_GOOD, WITHIN_MARGIN, WORSE
from pipeline.verdicts import is_few

UNABLE = "These trials are not shown to be able to show a loss, so finding none proves nothing."


def margin_said(row: Mapping) -> str:
    """The allowed loss: '2.5 bu/ac', or '5%' where yields are compared as a ratio."""
    if row["unit"] == "ratio":
        return f"{100 * row['margin']:.4g}%"
    return f"{number(row['margin'], row['digits'])} {row['unit']}"


def in_short(row: Mapping) -> str:
    """The verdict on one target with the interval and the margin it rests on, and which site-years a ratio leaves
    out.
    """
    return f"{_in_short(row)} {without_ratio(row)}".strip()


def _in_short(row: Mapping) -> str:
    margin = f"a margin of {margin_said(row)}"
    sides = arms(row["says"]) or ("the treatment", "the comparator")
    treatment = closed(sides[0])
    if pd.isna(row["estimate"]):
        return (
            f"{capital(TARGET[row['target']])}, whether {treatment} is as good as {sides[1]} within {margin} is not"
            f" known. {row['reason'].rstrip('.')}."
        )
    if is_few(row):
        return (
            f"{capital(TARGET[row['target']])}, {_where(row)} are too few to claim that {treatment} is as good as"
            f" {sides[1]} within {margin}: the {_difference(row)}."
        )
    words = {
        BETTER: f"{treatment} yields more than {sides[1]}",
        WITHIN_MARGIN: f"{treatment} is as good as {sides[1]} within {margin}",
        NOT_SHOWN_AS_GOOD: f"{treatment} is not shown to be as good as {sides[1]} within {margin}",
        WORSE: f"{treatment} yields less than {sides[1]}, and the loss {_exceeds(row)} {margin}",
    }[verdict(row)]
    unable = "" if verdict(row) == row["verdict"] else f" {UNABLE}"
    return f"{capital(TARGET[row['target']])}, {words}: the {_difference(row)}.{unable}"


def _exceeds(row: Mapping) -> str:
    return "exceeds" if row["upper_limit"] < row["margin_limit"] else "may exceed"


def without_ratio(row: Mapping) -> str:
    """Why a ratio is of fewer site-years than the average gain; empty where it is of all, or of none."""
    n = row["n_without_ratio"]
    if pd.isna(n) or n == 0 or row["n_site_years"] == 0:
        return ""
    return f"The ratio leaves out {count(int(n), 'site-year')} with only a published difference."


def verdict(row: Mapping) -> str:
    """The verdict that may be printed: trials that could not have shown a loss show nothing as good."""
    is_able = row["assay_sensitivity"] in (SHOWN, DOES_NOT_APPLY)
    return NOT_SHOWN_AS_GOOD if row["verdict"] == WITHIN_MARGIN and not is_able else row["verdict"]


def is_shown_as_good(row: Mapping) -> bool:
    """Whether 'as good' may be said, and nothing more than that was shown."""
    return not pd.isna(row["estimate"]) and not is_few(row) and verdict(row) == WITHIN_MARGIN


def other_target(row: Mapping) -> str:
    """The other target's verdict in one shorter sentence; what it is of has been said."""
    if pd.isna(row["estimate"]):
        return in_short(row)
    said = f"too few to claim, {_where(row)}" if is_few(row) else verdict(row)
    return f"{capital(TARGET[row['target']])}: {said}; the {_difference(row)}."


def _where(row: Mapping) -> str:
    return f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"


def _difference(row: Mapping) -> str:
    size = f"{number(row['estimate'], row['digits'])}{'' if row['unit'] == 'ratio' else ' ' + row['unit']}"
    interval = f"95% interval {between(row['lower_limit'], row['upper_limit'], row['digits'])}"
    return f"{'ratio' if row['unit'] == 'ratio' else 'difference'} is {size} ({interval})"


def why_so(row: Mapping) -> str:
    """How the interval lies to the margin, and where the margin comes from."""
    fixed = f"{_margin_fixed(row)}: {row['margin_basis'].rstrip('.')}."
    return fixed if pd.isna(row["estimate"]) or is_few(row) else f"{row['reason']} {fixed}"


def _margin_fixed(row: Mapping) -> str:
    """Since when the margin stands, which an earlier run shows better than the day in program.yml."""
    if pd.isna(row["margin_before"]):
        return f"The margin was fixed on {day(row['margin_fixed_on'])}"
    return (
        f"The margin was {row['margin_before']} until the run of {day(row['margin_until'])}, which had read its yields"
    )


def equivalence(row: Mapping) -> str:
    """Two one-sided tests, beside the verdict."""
    if pd.isna(row["tost_low"]):
        return ""
    word = "lies" if row["is_equivalent"] else "does not lie"
    return (
        f"The 90% interval ({between(row['tost_low'], row['tost_high'], row['digits'])}) {word} between minus and plus"
        " the margin (two one-sided tests); as good asks only the lower side."
    )


def assay(row: Mapping) -> str:
    """Whether these trials could have shown a loss."""
    if row["assay_sensitivity"] == DOES_NOT_APPLY:
        return (
            "Whether these trials could have shown a loss cannot be judged by zero-N plots: it does not apply, since"
            f" {row['assay_reason']}."
        )
    ability = (
        "could have shown a loss" if row["assay_sensitivity"] == SHOWN else "are not shown to be able to show a loss"
    )
    return f"These trials {ability}: {row['assay_reason']}{_over_zero_n(row)}."


def _over_zero_n(row: Mapping) -> str:
    """How far the comparator out-yields zero-N, in parentheses; empty where that is not known."""
    if pd.isna(row["assay_estimate"]):
        return ""
    n, all_of_them = row["assay_n_site_years"], row["n_site_years"]
    where = f", at the {n:.0f} of {count(all_of_them, 'site-year')} with zero-N plots" if n < all_of_them else ""
    if row["unit"] == "ratio":
        return f" (on average {number(row['assay_estimate'], 2)} times the yield of zero-N{where})"
    return f" (on average {number(row['assay_estimate'], row['digits'])} {row['unit']} over zero-N{where})"


def economic(row: Mapping) -> str:
    """The loss that uses up the saving at the planning prices, or the gain that is needed."""
    if pd.isna(row["economic_margin"]):
        return f"Which loss would still pay is {row['economic_says']}."
    size = f"{number(abs(row['economic_margin']), row['economic_digits'])} {row['economic_unit']}"
    if row["economic_margin"] < 0:
        return f"At the planning prices it must gain at least {size} to pay: being as good is not enough."
    loses_more = row["unit"] != "ratio" and row["lower_limit"] < -row["economic_margin"]
    doubt = " A loss large enough to lose money cannot be ruled out." if loses_more else ""
    if loses_more and row["upper_limit"] < -row["economic_margin"]:
        doubt = " The whole interval lies beyond that loss."
    return f"At the planning prices it may yield up to {size} less and still pay.{doubt}"


def all_sentences(rows: pd.DataFrame, firm: str = "") -> list[Markdown]:
    """The declared target first, then what stands beside it, then the other target's verdict; each verdict with its
    id.

    firm: what the declared verdict depends on, in a sentence.
    """
    declared = rows[rows["is_declared"]].iloc[0]
    others = [_with_id(other_target(row), row) for _, row in rows[~rows["is_declared"]].iterrows()]
    told = " ".join(filter(None, (in_short(declared), firm, why_so(declared))))
    return [_with_id(told, declared), escaped(f"{assay(declared)} {economic(declared)}"), *others]


def _with_id(told: str, row: Mapping) -> Markdown:
    """A verdict with the id of its test; without an estimate the review file has nothing that the id could lead to."""
    return escaped(told) if pd.isna(row["estimate"]) else joined([told, linked_id(row["estimate_id"])], by=" ")
