"""What the weather explains, in plain sentences: a gain went with the weather; nothing here says that the weather
caused it.

Rows are rows of reports.weather_slopes, reports.weather_covariates and reports.weather_gains. Sentences are plain text;
the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import (
    BETWEEN_SEASONS,
    DECLARED,
    EXCESS_WATER,
    HEAVY_RAIN_DAYS,
    NITROGEN_RELEASED,
    RAIN_AFTER,
    SOIL_WARMTH,
    WET_DAYS,
    WETTEST_5_DAYS,
    WITHIN_SEASONS,
)
from pipeline.display.words.numbers import between, capital, count, number, text
from pipeline.estimates.where.weather_rules import BOTH_PARTS, HARDLY, NEITHER_PART

AFTER, MONTH = "after application", range(28, 32)
# what is said of a covariate; {}: the days that count
SAID = {
    RAIN_AFTER: "rain {}",
    WETTEST_5_DAYS: "rain in the wettest 5 days {}",
    HEAVY_RAIN_DAYS: "heavy rain {}",
    WET_DAYS: "soaking rain {}",
    EXCESS_WATER: "excess water {}",
    SOIL_WARMTH: "soil warmth {}",
    NITROGEN_RELEASED: "coated nitrogen released {}",
}
EXPLAINED = {
    HEAVY_RAIN_DAYS: "A day of heavy rain has {} or more.",
    WET_DAYS: "A day of soaking rain has {} or more.",
    EXCESS_WATER: (
        "Excess water is what the soil could not hold, by a daily water balance. It is not nitrogen lost: "
        "losses were not measured."
    ),
    NITROGEN_RELEASED: (
        "How much was released is worked out from the product's own test and the soil's warmth, not measured."
    ),
}
RAIN_OF_DAY = {HEAVY_RAIN_DAYS: ("0.8 inch (20 mm)", "20 mm"), WET_DAYS: ("0.4 inch (10 mm)", "10 mm")}  # US, metric
ONE_MORE = {
    "in.": "extra inch of",
    "mm": "extra 10 mm of",
    "days": "extra day of",
    "%": "extra 10% of",
    "°F": "extra degree Fahrenheit of",
    "°C": "extra degree Celsius of",
}
AXIS = {"days": "days of "}  # what stands before the name on an axis
CONTRASTS = {SOIL_WARMTH: ("warm", "cool"), NITROGEN_RELEASED: ("fast-release", "slow-release")}
WET_AND_DRY = ("wet", "dry")
METRIC = {"in.": "1 in. = 25.4 mm", "°F": "50 °F = 10 °C"}


def declared_headlines(slopes: pd.DataFrame) -> pd.DataFrame:
    """The slopes that pages for growers speak of: declared covariates, the leading method, the target that is
    declared.
    """
    leads = slopes["is_declared"].eq(True) & slopes["is_headline"].eq(True)
    return slopes[leads & slopes["kind"].eq(DECLARED)]


def of_slope(rows: pd.DataFrame, slope: Mapping) -> pd.DataFrame:
    """The rows of a view that are of a slope's comparison and covariate, and of its target where they have one."""
    mine = rows["comparison_id"].eq(slope["comparison_id"]) & rows["covariate"].eq(slope["covariate"])
    return rows[mine & rows["target"].eq(slope["target"])] if "target" in rows else rows[mine]


def said(covariate: str, values: pd.DataFrame) -> str:
    """'rain in the month after application'.

    Args:
        values: the covariate's rows of reports.weather_covariates, whose windows say which days count.
    """
    known = values.loc[values["value"].notna(), "n_days"]
    return SAID[covariate].format(_when(known.dropna().unique()))


def _when(n_days) -> str:
    if len(n_days) != 1:
        return AFTER
    (days,) = n_days
    return f"in the month {AFTER}" if days in MONTH else f"in the {count(int(days), 'day')} {AFTER}"


def slope_sentence(slope: Mapping, what: str) -> str:
    """What the trials say of one covariate: its slope where it is shown, else that it is not, and within which limits.

    Args:
        slope: a leading row of reports.weather_slopes.
        what: the covariate as `said` has it.
    """
    if pd.isna(slope["estimate"]):
        return f"We can't yet say whether {what} explains the gain. {capital(text(slope['reason']))}".strip()
    if not slope["is_shown"]:
        return f"We can't yet say that {what} explains the gain."
    ends = slope["conf_low"], slope["conf_high"]
    low, high = ends if slope["estimate"] >= 0 else (-ends[1], -ends[0])
    limits = between(low, high, slope["slope_digits"])
    return f"Each {ONE_MORE[slope['covariate_unit']]} {what} went with {_change(slope, 'estimate')} gain ({limits})."


def limits_sentence(slope: Mapping) -> str:
    """What a slope that is not shown may be; empty where it is, or where there is none."""
    if slope["is_shown"] or pd.isna(slope["conf_low"]):
        return ""
    each = ONE_MORE[slope["covariate_unit"]].removesuffix(" of")
    return (
        f"For each {each}, the trials fit anything from {_change(slope, 'conf_low')} to {_change(slope, 'conf_high')}"
        " gain."
    )


def _change(slope: Mapping, column: str) -> str:
    """'0.9 bu/ac more', '0.2 bu/ac less'."""
    more = "more" if slope[column] >= 0 else "less"
    return f"{number(abs(slope[column]), slope['slope_digits'])} {slope['unit']} {more}"


def carried(slope: Mapping) -> str:
    """Which differences between site-years carry a slope, in a sentence; empty where there is no slope."""
    if pd.isna(slope["estimate"]):
        return ""
    high, low = CONTRASTS.get(slope["covariate"], WET_AND_DRY)
    by = text(slope["carried_by"])
    if by == BETWEEN_SEASONS or slope["within_share"] < HARDLY:
        return f"This rests on {count(slope['n_seasons'], 'season')}: {high} seasons against {low} ones."
    if not slope["is_shown"]:
        return ""
    return {
        WITHIN_SEASONS: f"It shows within seasons: {high} places against {low} ones.",
        BOTH_PARTS: f"It shows between {high} and {low} seasons, and between places in the same season.",
        NEITHER_PART: "Neither seasons nor places within a season show it by themselves.",
    }.get(by, "")


def explained(slope: Mapping) -> str:
    """What the covariate's name means, where it does not say so itself."""
    us, metric = RAIN_OF_DAY.get(slope["covariate"], ("", ""))
    return EXPLAINED.get(slope["covariate"], "").format(metric if slope["unit"] == "kg/ha" else us)


def unknown(slope: Mapping, values: pd.DataFrame) -> str:
    """How many site-years are left out as their covariate is not known, and why; empty where none is."""
    n = int(slope["n_unknown"])
    lacking = values.loc[values["value"].isna(), "reason"].map(text)
    why = "; ".join(dict.fromkeys(filter(None, lacking))) or "the weather there is not known"
    return f"{count(n, 'site-year')} {'is' if n == 1 else 'are'} left out: {why}." if n else ""


def sentences(slope: Mapping, values: pd.DataFrame) -> list[str]:
    """All that the season page says of one covariate; what is empty is left out."""
    told = [
        slope_sentence(slope, said(slope["covariate"], values)),
        limits_sentence(slope),
        carried(slope),
        explained(slope),
        unknown(slope, values),
    ]
    return [sentence for sentence in told if sentence]


def value(row: Mapping) -> str:
    """'4.1 in.; 30 days from 2092-05-03 to 2092-06-01, 2 not known; from daily rain', and why there is none.

    Args:
        row: of reports.weather_covariates.
    """
    told = [amount(row["value"], row)]
    if pd.notna(row["n_days"]) and pd.notna(row["window_from"]):
        missing = f", {number(row['n_days_missing'])} not known" if row["n_days_missing"] > 0 else ""
        days = count(int(row["n_days"]), "day")
        told.append(f"{days} from {row['window_from']:%Y-%m-%d} to {row['window_to']:%Y-%m-%d}{missing}")
    if text(row["inputs"]):
        told.append(f"{'modeled from' if row['is_modeled'] else 'from'} {row['inputs']}")
    return "; ".join(filter(None, [*told, text(row["reason"])]))


def amount(value: float, row: Mapping) -> str:
    """'4.1 in.', '1 day': a value of the covariate whose unit and digits the row has."""
    if pd.isna(value):
        return "no value"
    size = number(value, row["covariate_digits"])
    return f"{size} {'day' if size == '1' and row['covariate_unit'] == 'days' else row['covariate_unit']}"


def best_shown(slopes: pd.DataFrame) -> pd.Series | None:
    """The declared slope of one comparison that is shown best; None where none is shown."""
    shown = declared_headlines(slopes)
    shown = shown[shown["is_shown"].eq(True)].sort_values(["p_value_holm", "covariate"])
    return None if shown.empty else shown.iloc[0]


def stood_out(slope: Mapping, values: pd.DataFrame) -> str:
    """The one line of a sheet for growers, beside what it says of soil and of the season's rain."""
    return f"One thing stood out: {_lower(slope_sentence(slope, said(slope['covariate'], values)))}"


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
