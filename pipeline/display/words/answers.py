"""One row of results to one plain sentence. No sentence claims more than its interval shows.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import NOT_SHOWN, TESTED, TO_COME
from pipeline.display.words.numbers import between, capital, count, percent, seasons, text, with_metric
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS, FEWEST_PLACES, places_are_few

PARENTHESES = re.compile(r"\s*\([^()]*\)")
FEW_SEASONS = ADJUSTMENTS["season zero, classes"]
TARGET = {TESTED: "in the seasons tested", TO_COME: "in future seasons"}
TARGET_NAMES = {TESTED: "seasons tested", TO_COME: "future seasons"}


def arms(says: str) -> tuple[str, str] | None:
    """The two sides of 'half-coated blend, against urea'; None where it is not said in that form."""
    parts = [side.strip(" ,") for side in says.split(" against ")]
    return (parts[0], parts[1]) if len(parts) == 2 else None


def sides(row: Mapping) -> tuple[str, str]:
    """What is compared, in few words: the treatment and what it is held against. row: of reports.comparisons, or with
    its names.
    """
    if pd.notna(row["treatment_in_short"]):
        return row["treatment_in_short"], row["comparator_in_short"]
    return arms(PARENTHESES.sub("", row["says"])) or ("the treatment", "the comparator")


def closed(side: str) -> str:
    """A side that goes on in a sentence: a comma closes what a comma opened."""
    return f"{side}," if "," in side else side


def verdict(row: Mapping) -> str:
    """What a pooled row allows to be said: 'none', 'few', 'gain', 'loss' or 'not shown'."""
    if pd.isna(row["estimate"]) or pd.isna(row["conf_low"]):
        return "none"
    if row["shown_as"] != "sentence":
        return "few"
    if row["conf_low"] > 0:
        return "gain"
    return "loss" if row["conf_high"] < 0 else NOT_SHOWN


def is_told(row: Mapping) -> bool:
    """Whether enough trials stand behind a pooled row for a sentence, and a picture, of it alone."""
    return verdict(row) not in ("none", "few")


def answer(row: Mapping) -> str:
    """The average gain in plain sentences: size, target, interval, whether it is shown at all, and where it was
    tested.
    """
    shown = verdict(row)
    if shown == "none":
        return f"No average for {row['says']} {_target(row)}. {row['rule']}"
    where = f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
    tested = f"Tested at {where}{_at_few_places(row)}."
    if shown == NOT_SHOWN:
        word = "gain" if row["estimate"] >= 0 else "loss"
        return (
            f"The trials do not show a {word} {_target(row)}. On average, {_averaged(row, 'yielded')}, "
            f"but the true difference could be zero ({interval(row)}). {tested}"
        )
    verb = "is expected to yield" if row["target"] == TO_COME else "yielded"
    both = arms(row["says"])
    average = _averaged(row, verb) + ("," if both and "," in both[1] else "")
    said = f"{capital(average)} {_target(row)}, on average ({interval(row)})."
    if shown == "few":
        return f"{said} {tested[:-1]}: too few to claim anything."
    return f"{said} {tested}"


def _at_few_places(row: Mapping) -> str:
    at = these_places(row["n_places"])
    return f", {at} only" if at else ""


def _target(row: Mapping) -> str:
    """The target in words; the seasons tested are named."""
    words = TARGET[row["target"]]
    return f"{words} ({seasons(row['seasons'])})" if row["target"] == TESTED and row["seasons"] else words


def _averaged(row: Mapping, verb: str) -> str:
    size = {column: abs(row[column]) for column in ("estimate", "estimate_kg_ha")} | {
        "unit": row["unit"],
        "digits": row["digits"],
    }
    direction = "more" if row["estimate"] >= 0 else "less"
    sides = arms(row["says"])
    if sides is None:
        return f"the difference ({row['says']}) was {with_metric(size, 'estimate')} {direction}"
    return f"{closed(sides[0])} {verb} {with_metric(size, 'estimate')} {direction} than {sides[1]}"


def interval(row: Mapping) -> str:
    return (
        f"{percent(100 * row['conf_level'])} interval {between(row['conf_low'], row['conf_high'], row['digits'])}"
        f" {row['unit']}"
    )


def other_target(row: Mapping) -> str:
    """The average of the other target in one shorter sentence; what it is of has been said."""
    shown = verdict(row)
    if shown not in ("gain", "loss", NOT_SHOWN):
        return answer(row)
    size = {column: abs(row[column]) for column in ("estimate", "estimate_kg_ha")} | {
        "unit": row["unit"],
        "digits": row["digits"],
    }
    average = f"{with_metric(size, 'estimate')} {'more' if row['estimate'] >= 0 else 'less'} ({interval(row)})"
    doubt = ", which could be zero" if shown == NOT_SHOWN else ""
    return f"{capital(_target(row))} the average is {average}{doubt}."


def these_places(n_places: int) -> str:
    """'at these 2 places', where so few places stand for no others; else ''."""
    if not 0 < n_places < FEWEST_PLACES:
        return ""
    return "at this one place" if n_places == 1 else f"at these {n_places} places"


def few_places(row: Mapping) -> str:
    """What few places mean for an average; empty where there are more, or no site-year at all."""
    n = row["n_places"]
    if n == 1:
        return "All site-years come from one place. The average holds for that place: how places differ is not shown."
    if at := these_places(n):
        return f"All site-years come from {n} places, too few to show how places differ. The average holds {at}."
    if places_are_few(n):
        return f"The site-years come from only {n} places, and one place more could move the average and its interval."
    return ""


def one_field(row: Mapping, tested: Mapping) -> str:
    """How far one field can lie from the average: `row` of the declared target, `tested` of the seasons tested.

    Where the declared target has no range, that of the seasons tested stands in its place.
    """
    row = tested if pd.isna(row["pred_low"]) else row
    if not pd.isna(row["pred_low"]):
        when = "in a future season" if row["target"] == TO_COME else "in seasons like those tested"
        metric = "" if row["unit"] == "kg/ha" else f" ({between(row['pred_low_kg_ha'], row['pred_high_kg_ha'])} kg/ha)"
        field = these_places(row["n_places"]) or "like these"
        return (
            f"{capital(when)}, the true gain of one more field {field} is expected "
            f"from {between(row['pred_low'], row['pred_high'], row['digits'])} {row['unit']}{metric}, 19 times in 20."
        )
    if not pd.isna(tested["observed_low"]):
        return (
            f"{_no_range(tested)}; the result of one more trial like these, plot noise included, is expected from"
            f" {between(tested['observed_low'], tested['observed_high'], tested['digits'])} {tested['unit']}, 19 times"
            " in 20 (around the plain mean of the site-years)."
        )
    return "By how much one field differs is not estimable from so few site-years."


def _no_range(tested: Mapping) -> str:
    """Why the true gain of one field has no range."""
    if ADJUSTMENTS["disagreement"] in text(tested["rule"]):
        return "The range for the true gain of one field comes from the mixed model, which does not lead here"
    return "How much the true gain differs between fields is not estimable from these site-years"


SHOWN = {
    "gain": "a gain",
    "loss": "a loss",
    NOT_SHOWN: "could be zero",
    "few": "too few to claim",
    "none": "no average",
}


def what_is_shown(rows: pd.DataFrame, agreement: pd.DataFrame, hangs_on: str = "") -> str:
    """What a comparison shows on one target, what that hangs on, and whether other methods say the same: 'a gain;
    methods agree'.

    Args:
        rows: one comparison and target of reports.gains.
        agreement: its row of reports.agreement; agreeing is decided there, by the written rule.
        hangs_on: the words of display.firmness.
    """
    leading = rows[rows["is_headline"]].iloc[0]
    others = rows[~rows["is_headline"] & rows["estimate"].notna()]
    shown = verdict(leading)
    if shown == "none" or others.empty:
        return SHOWN[shown]
    methods = "methods disagree" if agreement["agrees"].eq(False).any() else "methods agree"
    if any(verdict(row) != shown for _, row in others.iterrows()):
        methods = "another method differs"
    first = f"{SHOWN[shown]}, but it {hangs_on}" if hangs_on and shown != "few" else SHOWN[shown]
    return f"{first}; {methods}"


def leading(gains: pd.DataFrame, target: str, moderator: str = "all", level: str = "all") -> pd.Series | None:
    """The row that leads for a target and a class; None where the class holds no site-year."""
    rows = gains[
        (gains["target"] == target)
        & (gains["moderator"] == moderator)
        & (gains["level"] == level)
        & gains["is_headline"].eq(True)
    ]
    return rows.iloc[0] if len(rows) else None
