"""Claims in words and as a table: what was stated, what the trials show, the verdict, and what may be said instead.

Rows are rows of reports.claims and reports.gains. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import pandas as pd

from pipeline import verdicts as rules
from pipeline.contract.vocabulary import AS_GOOD, GAIN
from pipeline.display.words import answers, firmness, money, passes, weather
from pipeline.display.words.answers import TARGET
from pipeline.display.words.declarations import declared
from pipeline.display.words.numbers import MINUS, between, capital, count, number, text
from pipeline.display.words.tables import Markdown, escaped, grey, joined, pipe_table
from pipeline.display.words.where import DRAINAGE
from pipeline.settings.claims import NET_CHANGE, ON_WEATHER, YIELD_UNITS

NOTHING_OF = {
    AS_GOOD: "Nothing can be said: there is no average to hold against the margin on this target.",
    NET_CHANGE: "Nothing can be said of money on this target.",
}
NOTHING_OF_WEATHER = "Nothing can be said: no site-year has this comparison."
MAY_BE_SAID, SETTLES = "May be said.", "What would settle it."
NONE_MADE = "program.yml states no claims, so none is judged here."


def claims_table(claims: pd.DataFrame, *, label: str = "claims") -> Markdown:
    """Every claim with its verdict, one row each."""
    rows = [
        {
            "No.": number(row["position"]),
            "Claim": joined([f"\u201c{row['sentence']}\u201d", grey(f"({row['printed_in']})")], by=" "),
            "About": about(row),
            "States": stated(row),
            "Shown": _shown(row),
            "Verdict": Markdown(f"**{capital(row['verdict'])}**"),
        }
        for _, row in claims.iterrows()
    ]
    caption = (
        "What has been claimed, and whether the trials bear it out on the target it speaks of. Shown: average with its"
        " 95% interval."
    )
    widths = {"No.": 5, "Claim": 36, "About": 18, "States": 12, "Shown": 22, "Verdict": 18}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def short_table(claims: pd.DataFrame) -> Markdown:
    """Sentence, verdict and what is shown, for the index; the sentence leads to the review file."""
    rows = [
        {
            "Claim": Markdown(f"[{escaped(row['sentence'])}](review.html#claims)"),
            "Verdict": Markdown(f"**{capital(row['verdict'])}**"),
            "Shown": f"{_shown(row)}. {about(row)}.",
        }
        for _, row in claims.iterrows()
    ]
    caption = "What has been claimed, and whether the trials bear it out. Shown: average with its 95% interval."
    return pipe_table(
        pd.DataFrame(rows), caption=caption, label="claims", widths={"Claim": 50, "Verdict": 18, "Shown": 32}
    )


def about(row: Mapping) -> str:
    """Which target and class a claim speaks of."""
    only = text(row["only_in"])
    return capital(TARGET[row["target"]]) + (f", {_class(only)} only" if only else "")


def _class(level: str) -> str:
    """'P x wet' as 'drainage group P (somewhat poorly drained and wetter), wet'."""
    return ", ".join(_part(part) for part in level.split(" x "))


def _part(level: str) -> str:
    if level not in DRAINAGE:
        return level
    letter, words = DRAINAGE[level].split(": ")
    return f"drainage group {letter} ({words})"


def stated(row: Mapping) -> str:
    """What a claim states, in its own unit; a percentage also in the unit of the evidence: '3% (5.1 bu/ac)'."""
    if row["states"] == AS_GOOD:
        return "as good" if pd.isna(row["stated"]) else f"as good (no worse than {_in_unit(row, 'stated')})"
    if row["states"] in ON_WEATHER:
        return f"a gain that is {row['states'].split()[0]} with more {row['weather']}"
    if row["states"] == NET_CHANGE:
        return f"{money.amount(row['stated_gain'], _currency(row))} per acre"
    size = f"{row['stated_gain']:g}".replace("-", MINUS)
    own = f"{size}{'' if row['stated_unit'] == '%' else ' '}{row['stated_unit']}"
    converted = row["states"] == GAIN and row["stated_unit"] not in YIELD_UNITS and pd.notna(row["stated"])
    return f"{own} ({number(row['stated'], row['digits'])} {row['unit']})" if converted else own


def _shown(row: Mapping) -> str:
    where = f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
    if row["states"] == NET_CHANGE and pd.notna(row["estimate"]) and pd.isna(row["conf_low"]):
        size = money.dollars(row["estimate"], _currency(row))
        return f"{size} per acre; whether it pays is {money.untold(row)}; {where}"
    if row["states"] == NET_CHANGE and pd.isna(row["estimate"]):
        return "no net change is worked out on this target"
    if pd.isna(row["estimate"]) or pd.isna(row["conf_low"]):
        return f"no {'slope' if row['states'] in ON_WEATHER else 'average'}; {where}"
    if row["states"] == NET_CHANGE:
        size, low, high = (money.dollars(row[name], _currency(row)) for name in ("estimate", "conf_low", "conf_high"))
        return f"{size} ({low} to {high}) per acre; {where}"
    limits = between(row["conf_low"], row["conf_high"], row["digits"])
    if row["unit"] == "ratio":
        return f"{_in_unit(row, 'estimate')} ({limits}); {where}"
    return f"{number(row['estimate'], row['digits'])} ({limits}) {row['unit']}; {where}"


def _in_unit(row: Mapping, column: str) -> str:
    """'−3.0 bu/ac', 'a ratio of 0.980'."""
    size = number(row[column], row["digits"])
    return f"a ratio of {size}" if row["unit"] == "ratio" else f"{size} {row['unit']}"


@dataclass(frozen=True)
class Evidence:
    """What supported sentences are made of: rows of reports.gains, reports.as_good, reports.robustness, reports.money,
    weather_slopes and weather_covariates.
    """

    gains: pd.DataFrame
    as_good: pd.DataFrame
    robustness: pd.DataFrame
    money: pd.DataFrame
    weather_slopes: pd.DataFrame
    weather_covariates: pd.DataFrame


EVIDENCE = tuple(each.name for each in fields(Evidence))


def evidence_in(views: Mapping[str, pd.DataFrame]) -> Evidence:
    """views: reports.* by name."""
    return Evidence(**{name: views[name] for name in EVIDENCE})


def _currency(row: Mapping) -> str:
    return row["stated_unit"].removesuffix("/ac")


def supported(row: Mapping, evidence: Evidence) -> str:
    """The sentence that the evidence does support, in the reader's units."""
    only = text(row["only_in"])
    if row["states"] in ON_WEATHER:
        return _said_of_weather(row, evidence)
    if row["states"] != GAIN:
        return _said_of_test(row, evidence) if pd.notna(row["estimate"]) else NOTHING_OF[row["states"]]
    averages = evidence.gains[evidence.gains["estimate_id"] == row["estimate_id"]]
    if averages.empty:
        return (
            f"Nothing can be said: there is no site-year of this class, {_class(only)}."
            if only
            else "Nothing can be said: no site-year has this comparison."
        )
    said = answers.answer(averages.iloc[0])
    if only:
        return f"Of {_class(only)} site-years only, {_inside(said)}"
    return _joined(said, firmness.how_firm(averages.iloc[0], _moved(row, evidence)))


def _inside(sentence: str) -> str:
    """A sentence as the rest of another: its first letter small, unless it begins an abbreviation."""
    return sentence if sentence[1:2].isupper() else f"{sentence[:1].lower()}{sentence[1:]}"


def _said_of_test(row: Mapping, evidence: Evidence) -> str:
    """What the test against the margin, or the partial budget, lets be said."""
    frame = money.told(evidence.money) if row["states"] == NET_CHANGE else evidence.as_good
    mine = frame[(frame["comparison_id"] == row["comparison_id"]) & (frame["target"] == row["target"])].iloc[0]
    if row["states"] == NET_CHANGE:
        return f"For {mine['says']}, {_inside(money.answer(mine))} {money.rests_on(mine)}"
    firm = firmness.how_firm_as_good(mine, _moved(row, evidence))
    return _joined(passes.in_short(mine), firm, passes.assay(mine))


def _moved(row: Mapping, evidence: Evidence) -> pd.DataFrame:
    """The average that a claim is held against, with a part left out or by another estimator."""
    moved = evidence.robustness
    is_its = moved["comparison_id"].eq(row["comparison_id"]) & moved["target"].eq(row["target"])
    return moved[is_its & moved["moderator"].eq("all")]


def _joined(*sentences: str) -> str:
    return " ".join(filter(None, sentences))


def _said_of_weather(row: Mapping, evidence: Evidence) -> str:
    """The sentence of the season report on this covariate."""
    slopes = evidence.weather_slopes
    mine = slopes[slopes["is_headline"].eq(True) & slopes["target"].eq(row["target"])]
    mine = weather.of_slope(
        mine, {"comparison_id": row["comparison_id"], "covariate": row["weather"], "target": row["target"]}
    )
    if mine.empty:
        return NOTHING_OF_WEATHER
    slope = mine.iloc[0]
    values = weather.of_slope(evidence.weather_covariates, slope)
    return weather.slope_sentence(slope, weather.said(slope["covariate"], values))


def settling(row: Mapping) -> str:
    """What would settle a claim that is not borne out; empty for one that is."""
    if pd.isna(row["more_site_years"]):
        return text(row["settling"])
    reserve = f" {text(row['settling'])}" if text(row["settling"]) else ""
    wanted = (
        money.amount(row["half_width_wanted"], _currency(row))
        if row["states"] == NET_CHANGE
        else f"{number(row['half_width_wanted'], row['digits'])} {row['unit']}"
    )
    if row["more_site_years"] == 0:
        return (
            f"The interval is as narrow already as {wanted} either side; "
            f"more trials would have to move the average.{reserve}"
        )
    return (
        f"About {count(int(row['more_site_years']), 'more site-year', 'more site-years')} over "
        f"{count(int(row['more_seasons']), 'season')} should narrow the interval to {wanted} either side.{reserve}"
    )


def why(row: Mapping) -> str:
    """The verdict with the rule behind it."""
    words = (
        rules.SLOPE_VERDICTS
        if row["states"] in ON_WEATHER
        else rules.AS_GOOD_VERDICTS
        if row["states"] == AS_GOOD
        else rules.VERDICTS
    )
    late = f" The comparison was {declared(row)}." if row["is_late"] else ""
    return f"{capital(row['verdict'])}: {words[row['verdict']]}.{late}"


def beneath(row: Mapping, evidence: Evidence) -> list[tuple[str, str]]:
    """What stands beneath a claim, each with its label: what may be said, and what would settle it."""
    told = [(MAY_BE_SAID, supported(row, evidence)), (SETTLES, settling(row))]
    return [(label, sentence) for label, sentence in told if sentence]


def lines(claims: pd.DataFrame, evidence: Evidence) -> list[str]:
    """Every claim for the screen: its sentence, its verdict, and what may be said."""
    told = []
    for _, row in claims.iterrows():
        told += [
            f"{row['position']}. \u201c{row['sentence']}\u201d ({row['printed_in']})",
            (
                f"   States {stated(row)}, {_inside(about(row))}; shown {_shown(row)}"
                f" [{text(row['estimate_id']) or 'no estimate'}]"
            ),
            f"   {why(row)}",
            *(f"   {label} {told}" for label, told in beneath(row, evidence)),
            "",
        ]
    return told or [NONE_MADE]


def blocking(claims: pd.DataFrame) -> pd.DataFrame:
    """Claims that must not be printed as they stand: contradicted, or saying more than is shown."""
    return claims[claims["verdict"].isin(rules.BLOCKING)]


def unshown(claims: pd.DataFrame) -> pd.DataFrame:
    """Claims that the trials neither bear out nor speak against: too few, or not shown."""
    return claims[claims["verdict"].isin((rules.TOO_FEW, rules.NOT_SHOWN))]
