"""The sentences that answer a grower, each of at most twenty words with the names of a usual comparison.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract import vocabulary
from pipeline.contract.vocabulary import DOES_NOT_APPLY, SHOWN, TESTED, TO_COME
from pipeline.display.words import money
from pipeline.display.words.answers import closed, sides, these_places, verdict
from pipeline.display.words.firmness import loses_as_good
from pipeline.display.words.numbers import NBSP, between, capital, count, day, listed, number
from pipeline.display.words.passes import is_shown_as_good, margin_said
from pipeline.estimates.average.robustness import ESTIMATOR, NOTED, PLACE, PRINTED, SEASON, SITE_YEAR
from pipeline.estimates.money.inputs import LONG_RUN
from pipeline.estimates.passes.noninferiority import BETTER, NOT_SHOWN_AS_GOOD, WITHIN_MARGIN, WORSE
from pipeline.estimates.where.multiplicity import FAMILY_ALPHA
from pipeline.settings.program import PREVIOUS_CROP, TILES
from pipeline.verdicts import FEWEST_SITE_YEARS, is_few

FIRM, FRAGILE, NOT_SHOWN = "Firm", "Fragile", "Not shown"
EXPLORATORY = "Exploratory"
OF_TESTED = "(seasons tested)"  # marks a row of money that is of them, where others are of future seasons
NOT_ENOUGH = "At the planning prices, doing as well is not enough: it must gain to pay."
FEW_TO_LEAVE_OUT = {
    SEASON: "too few seasons to leave one out and look again",
    PLACE: "too few places to leave one out and look again",
}
# Further ways of looking at the same average that would make it fragile, as its reason tells them.
OTHER_LOOKS = {
    ESTIMATOR: "by another way of averaging",
    NOTED: "without the trials that checks flagged",
    PRINTED: "without the trials with published means only",
}
LOOKED_AT = {TILES: "tile drainage", PREVIOUS_CROP: "previous crop"}
MOST_NAMED = 2  # seasons or places that a reason names


def size(value: float, row: Mapping) -> str:
    return f"{number(abs(value), row['digits'])} {row['unit']}"


def yielded(row: Mapping) -> str:
    """What a comparison yielded, in one sentence; row: its leading average on the declared target."""
    shown, at_the_end = verdict(row), sides(row)[1]
    treatment, comparator = map(closed, sides(row))
    if shown == "none":
        if row["target"] == TO_COME and row["n_site_years"] >= FEWEST_SITE_YEARS:
            return f"There are too few seasons to say what {treatment} yields against {comparator} in future seasons."
        return f"There are too few trials for an average of {treatment} against {at_the_end}."
    if shown == "few":
        return f"There are too few {_lacking(row)} yet to say whether {treatment} out-yields {at_the_end}."
    if shown == vocabulary.NOT_SHOWN:
        return f"The trials do not show that {treatment} and {comparator} yield differently."
    is_ahead = row["target"] == TO_COME
    if shown == "gain":
        verb = "is expected to out-yield" if is_ahead else "out-yielded"
        return f"{capital(treatment)} {verb} {comparator} by {size(row['estimate'], row)} on average."
    verb = "is expected to yield" if is_ahead else "yielded"
    return f"{capital(treatment)} {verb} {size(row['estimate'], row)} less than {comparator} on average."


def how_sure(row: Mapping, robustness: pd.DataFrame, agreement: pd.DataFrame) -> tuple[str, str]:
    """(word, reason) for an average: how much it rests on one season, place, trial or method.

    Args:
        row: the leading average on the declared target.
        robustness: its rows of reports.robustness with moderator 'all'.
        agreement: its row of reports.agreement, if there is one.
    """
    shown = verdict(row)
    if shown in ("none", "few"):
        word = f"Too few {_lacking(row)}"
        if not row["n_site_years"]:
            return word, "no site-year yet"
        return word, f"only {count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
    if shown == vocabulary.NOT_SHOWN:
        limits = between(row["conf_low"], row["conf_high"], row["digits"])
        return NOT_SHOWN, f"the true average could be anywhere from {limits} {row['unit']}"
    if row["is_late"]:
        return EXPLORATORY, "it was set up only after the first harvest"
    if reason := _fragile(robustness, "it could be zero"):
        return FRAGILE, reason
    if agreement["agrees"].eq(False).any():
        return FRAGILE, "another method of averaging gives a different figure"
    return FIRM, "no single season, place or trial changes it"


def _lacking(row: Mapping) -> str:
    """What there is too little of: 'trials', or 'seasons' where there are site-years enough."""
    return "seasons" if row["n_site_years"] >= FEWEST_SITE_YEARS and is_few(row) else "trials"


def _fragile(robustness: pd.DataFrame, becomes: str) -> str:
    """Without what, or by which other look, the answer becomes another one, or that too little is there to leave a part
    out; empty where it does not.
    """
    known = robustness.loc[robustness["estimate"].notna(), "kind"]
    if lacking := [why for kind, why in FEW_TO_LEAVE_OUT.items() if not known.eq(kind).any()]:
        return lacking[0]
    if part := _carried_by(robustness):
        return f"{part}, and {becomes}"
    changing = robustness.loc[robustness["changes_conclusion"].eq(True).fillna(False), "kind"]
    kinds = [words for kind, words in OTHER_LOOKS.items() if changing.eq(kind).any()]
    return f"{becomes} {kinds[0]}" if kinds else ""


def _carried_by(robustness: pd.DataFrame) -> str:
    """The season, else the place, else the trial whose leaving out changes the answer; empty where none alone does."""
    changing = robustness[robustness["changes_conclusion"].eq(True).fillna(False)]
    for kind, word in ((SEASON, "season"), (PLACE, "place"), (SITE_YEAR, "trial")):
        names = [str(name) for name in changing.loc[changing["kind"] == kind, "left_out"]]
        if len(names) > MOST_NAMED:
            n_tried = int((robustness["kind"] == kind).sum())
            return f"drop any of {len(names)} of the {n_tried} {word}s"
        if names:
            return f"drop {listed(names, 'or')}"
    return ""


def one_field(declared: Mapping, tested: Mapping | None) -> str:
    """What one more field may see; the range in the seasons tested where seasons to come have none.

    declared: with the names of its sides.
    """
    row = declared if pd.notna(declared["pred_low"]) or tested is None else tested
    if pd.isna(row["pred_low"]):
        return "How far one field may be from the average is not known yet."
    limits = between(row["pred_low"], row["pred_high"], row["digits"])
    when = "in seasons like those tested" if row["target"] == TESTED else "in a future season"
    _, comparator = sides(declared)
    return f"Against {comparator}, one field may gain anywhere from {limits} {row['unit']} {when} (19 times in 20)."


def few_places(leading: pd.DataFrame) -> str:
    """Which averages are of one or two places only; empty where none is, or has no site-year yet.

    leading: leading averages with the names of their sides.
    """
    few = leading[leading["n_places"].map(these_places).ne("")]
    told = [
        f"Against {listed(rows['comparator'].drop_duplicates(), 'and')}, all trials were at {count(n, 'place')}."
        for n, rows in few.groupby("n_places")
    ]
    return " ".join([*told, "Other places may differ."]) if told else ""


def shown_return(row: Mapping, names: tuple[str, str]) -> str:
    """What a comparison returns on average, where its interval is told, does not include zero and is not of too few
    trials; else empty.

    Args:
        row: of reports.money.
        names: its sides.
    """
    if pd.isna(row["conf_low"]) or is_few(row) or row["conf_low"] <= 0 <= row["conf_high"]:
        return ""
    ends = sorted((abs(row["conf_low"]), abs(row["conf_high"])))
    limits = " to ".join(money.dollars(end, row["currency"]) for end in ends)
    size = money.dollars(abs(row["net_change"]), row["currency"])
    treatment, comparator = map(closed, names)
    behind = f"an acre on average against {comparator} at the planning prices ({limits})."
    if row["target"] == TO_COME:
        verb = "return" if row["net_change"] > 0 else "lose"
        return f"{capital(treatment)} is expected to {verb} {size} {behind}"
    verb = "returned" if row["net_change"] > 0 else "lost"
    return f"In the seasons tested, {treatment} {verb} {size} {behind}"


def money_gain(row: Mapping, average: Mapping) -> str:
    """Why money rests on another gain than the one printed above; empty where it is the same."""
    if number(row["gain"], row["digits"]) == number(average["estimate"], row["digits"]):
        return ""
    gain = f"{number(row['gain'], row['digits'])} {row['unit']}"
    if row["weather"] == LONG_RUN:
        years = f"{row['reference_first_year']:.0f} to {row['reference_last_year']:.0f}"
        return f"Dollars rest on a gain of {gain}: the gain at the rainfall of {years}, not that of the seasons tested."
    return (
        f"Dollars rest on a gain of {gain}, the average"
        f" {'for future seasons' if row['target'] == TO_COME else 'in the seasons tested'}."
    )


def gains_of_money(money: pd.DataFrame) -> str:
    """Which gains a crop's dollars rest on, and for which seasons; money: its rows of reports.money."""
    return f"{_which_gains(money)} {_which_seasons(money)}".strip()


def _which_seasons(money: pd.DataFrame) -> str:
    tested = money["target"].eq(TESTED)
    if not tested.any():
        return ""
    which = "All are" if tested.all() else f"Those marked {OF_TESTED} are"
    return f"{which} for the seasons tested, not for future seasons."


def _which_gains(money: pd.DataFrame) -> str:
    long_run = money[money["weather"] == LONG_RUN]
    if long_run.empty:
        return "Those are the average gains."
    first = long_run.iloc[0]
    which = "Those are" if len(long_run) == len(money) else "Where it differs from the average, that is"
    return (
        f"{which} the gain{'s' if len(long_run) == len(money) else ''} at the rainfall of"
        f" {first['reference_first_year']:.0f} to {first['reference_last_year']:.0f}, not at that of the seasons"
        " tested."
    )


def passes(row: Mapping, sides: tuple[str, str], *, drops_a_pass: bool = True) -> str:
    """Whether a pass can be dropped, in one sentence; row: the declared target's row of reports.as_good.

    drops_a_pass: whether the treatment takes fewer passes at all; where not, no "yes" or "no" answers that question.
    """
    treatment, comparator = sides
    allowed = margin_said(row)
    if pd.isna(row["estimate"]) or is_few(row):
        return f"There are too few {_lacking(row)} yet to say whether {treatment} does as well as {comparator}."
    if row["margin_is_late"] and row["verdict"] in (WITHIN_MARGIN, NOT_SHOWN_AS_GOOD) and _is_within(row):
        return "Not shown: the allowed loss was set only after yields were known."
    if row["verdict"] == WITHIN_MARGIN and row["assay_sensitivity"] not in (SHOWN, DOES_NOT_APPLY):
        return "Not shown: it is not known that these trials could have shown a loss, so finding none proves nothing."
    if row["verdict"] == WITHIN_MARGIN and row["upper_limit"] < (1 if row["unit"] == "ratio" else 0):
        return f"{capital(treatment)} yields less than {comparator}, though on average by less than {allowed}."
    yes, no = ("On average, yes: ", "No: ") if drops_a_pass else ("This comparison drops no pass. On average, ",) * 2
    return {
        BETTER: f"{yes}{treatment} yields more than {comparator}.",
        WITHIN_MARGIN: f"{yes}{treatment} does as well as {comparator}, within {allowed}.",
        NOT_SHOWN_AS_GOOD: f"Not shown: {treatment} may lose more than {allowed} against {comparator}.",
        WORSE: f"{no}{treatment} yields less than {comparator}.",
    }[row["verdict"]]


def _is_within(row: Mapping) -> bool:
    """Whether even the lower limit loses less than is allowed, whenever that was set."""
    return bool(row["lower_limit"] > row["margin_limit"])


def passes_fragile(row: Mapping, robustness: pd.DataFrame) -> str:
    """What "as good" depends on, in one sentence; empty where nothing alone changes it, or it is not shown.

    Args:
        row: the declared target's row of reports.as_good.
        robustness: the rows of reports.robustness of this comparison and target with moderator 'all'.
    """
    if not is_shown_as_good(row):
        return ""
    rows = robustness.assign(changes_conclusion=loses_as_good(row, robustness))
    reason = _fragile(rows, "it is no longer shown")
    return f"That is fragile: {reason}." if reason else ""


def passes_behind(row: Mapping) -> str:
    """The difference behind the answer, with its interval, and what a pass saved allows for in yield.

    row: of reports.as_good, with first_printed of its comparison.
    """
    if pd.isna(row["estimate"]):
        return ""
    unit = "" if row["unit"] == "ratio" else f" {row['unit']}"
    what = "ratio" if row["unit"] == "ratio" else "difference"
    limits = between(row["lower_limit"], row["upper_limit"], row["digits"])
    must_gain = row["economic_margin"] < 0 and is_shown_as_good(row)
    return (
        f"The average {what} was {number(row['estimate'], row['digits'])}{unit} (95%{NBSP}interval {limits}). "
        f"The allowed loss{_set_when(row)} {margin_said(row)}.{f' {NOT_ENOUGH}' if must_gain else ''}"
    )


def _set_when(row: Mapping) -> str:
    """When a margin was set, as far as that may be said: not where an earlier run had another one."""
    if pd.notna(row["margin_before"]):
        return f" was {row['margin_before']} until {day(row['margin_until'])}, with the yields at hand. It now is"
    if row["margin_is_late"]:
        return " was"
    printed = row["first_printed"]  # its means could be read before the margin was set, no plot's yield could
    if pd.notna(printed) and pd.Timestamp(row["margin_fixed_on"]) > pd.Timestamp(printed):
        return f", set before harvest (but after that of a published trial, {printed.year}), was"
    return ", set before harvest, was"


def growers_rate(usual: Mapping, curve: Mapping) -> list[str]:
    """What growers usually apply, and where that lies against the range of the economic optimum at the planning prices.

    Args:
        usual: a row of reports.growers_rates.
        curve: the row of reports.response_curves that the optimum is told of.
    """
    rate, unit = usual["n_rate"], usual["n_unit"]
    told = f"Growers usually apply {number(rate)} {unit} ({usual['source']})."
    if pd.isna(curve["eonr_low"]) or pd.isna(curve["eonr_high"]):
        return [told]
    rate, low, high = (round(value) for value in (rate, curve["eonr_low"], curve["eonr_high"]))  # as printed
    where = "below" if rate < low else "above" if rate > high else "within"
    return [told, f"At the planning prices, that is {where} the range of the optimum."]


def on_my_land(planned: str, explored: pd.DataFrame) -> list[str]:
    """Whether the gain differs by soil, rain, or what was only explored; one sentence for all that is open.

    Args:
        planned: that the gain differs by soil or by rain, in a sentence; empty where that is not shown.
        explored: rows of reports.interaction_tests of one comparison and target whose moderator is in LOOKED_AT.
    """
    tested = explored[explored["p_value_holm"].notna()]
    differs = tested["p_value_holm"] < FAMILY_ALPHA
    alike, unlike = (list(tested.loc[which, "moderator"].map(LOOKED_AT)) for which in (~differs, differs))
    if planned:
        told = [planned, *([f"We found no difference by {listed(alike, 'or')}."] if alike else [])]
    else:
        told = [f"We can't yet say whether {listed(['soil', 'rain', *alike], 'or')} changes the gain."]
    return told + ([f"It differed by {listed(unlike)}: a hint only, since we looked afterwards."] if unlike else [])
