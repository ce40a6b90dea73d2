"""When a question, margin or rule was fixed, held against the first harvest it is used with.

Rows have first_harvest, known_by and is_late, as reports.comparisons, reports.claims and reports.rainfall_rule do;
the first two have declared and first_printed too.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import EXPLORATORY, NOT_DECLARED
from pipeline.display.words.numbers import day, listed, text

PROPERTY = {"n_source": "N source", "coated_n_fraction": "coated share", "n_rate_kg_ha": "N rate"}


def timing(row: Mapping) -> str:
    """'before the first harvest it uses (2 October 2101)', or after it and therefore exploratory."""
    if pd.isna(row["first_harvest"]):
        return "before any yield it could use"
    when = day(row["first_harvest"])
    after, known = {
        "harvested": (f"after the first harvest it uses ({when})", when),
        "planted": (
            f"after the first trial it uses was planted ({when}; its harvest date is not given)",
            f"planted {when}",
        ),
        "season": (
            f"after the season of the first trial it uses began ({row['first_harvest'].year}; no dates are given)",
            f"of the season {row['first_harvest'].year}",
        ),
    }[row["known_by"]]
    return f"{after}: {EXPLORATORY}" if row["is_late"] else f"before the first harvest it uses ({known})"


def declared(comparison: Mapping) -> str:
    """'declared on 15 November 2090, before the first harvest it uses (2 October 2091)'."""
    return f"declared on {day(comparison['declared'])}, {timing(comparison)}{_though_printed(comparison)}"


def _though_printed(comparison: Mapping) -> str:
    """That a trial with published means only was there to be read before; empty where none was."""
    printed = comparison["first_printed"]
    if comparison["is_late"] or pd.isna(printed) or comparison["declared"] <= printed:
        return ""
    return f", though after that of a trial with published means only ({printed.year})"


def fixed_on(comparisons: pd.DataFrame) -> list[str]:
    """When comparisons were fixed: one sentence on those fixed in time, one on each that was not.

    Args:
        comparisons: rows of reports.comparisons.
    """
    in_time = comparisons[~comparisons["is_late"].astype(bool)]
    told = [f"Of {row.says}: {declared(row._asdict())}." for row in comparisons.itertuples() if row.is_late]
    if len(in_time):
        days = listed(day(each) for each in sorted(in_time["declared"].unique()))
        before = "any yield they could use" if in_time["first_harvest"].isna().all() else "the first harvest they use"
        fixed = f"Comparisons, rates and targets were fixed on {days}, before {before}{_though_any_printed(in_time)}."
        told = [fixed, *told]
    return told


def changed_rules(rows: pd.DataFrame) -> list[str]:
    """What each rule was before it was changed, and which run had it: a day in program.yml proves nothing by itself.

    Args:
        rows: of reports.settings_changes.
    """
    return [_changed_rule(row) for row in rows.to_dict("records")]


def _changed_rule(row: Mapping) -> str:
    run = f"the run of {day(row['until_day'])}"
    of = f"{row['comparison_id']}: " if row["comparison_id"] else ""
    if row["key"]:
        return f"{of}{row['key']} was {row['before']} until {run}, which had read its yields. It is {row['now']} now."
    if row["now"] == NOT_DECLARED:
        return f"{of}declared until {run}, which had read its yields. It is declared no more."
    return f"{of}not declared yet in {run}, which had read yields of {row['crop']}."


def _though_any_printed(comparisons: pd.DataFrame) -> str:
    """The same of several comparisons: of the earliest such trial that any of them was declared after."""
    by_print = comparisons.sort_values("first_printed", na_position="last")
    return next(filter(None, (_though_printed(row) for _, row in by_print.iterrows())), "")


def rainfall_rule(rule: Mapping) -> str:
    """That a rainfall rule was fixed too late; empty where it was not."""
    if not rule["is_late"]:
        return ""
    return f"The rule was fixed on {day(rule['fixed_on'])}, {timing(rule)}."


def blind(rules: pd.DataFrame, crop: str) -> str:
    """Which classes are set without looking at yields: not those of a rainfall rule that is missing or was fixed too
    late.
    """
    is_late = rules.loc[rules["crop"] == crop, "is_late"]
    return f"{'Drainage groups' if is_late.empty or is_late.any() else 'Both'} are set without looking at yields."


def properties(names: object) -> str:
    """Names of treatment columns in words: 'N source, coated share'."""
    return ", ".join(PROPERTY.get(name, name.replace("_", " ")) for name in text(names).split(", "))
