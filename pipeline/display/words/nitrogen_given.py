"""What nitrogen the two sides of a crop's comparisons got, in sentences a grower can read. Plain text; the page escapes
it.
"""

from __future__ import annotations

import pandas as pd

from pipeline.display.words.numbers import capital, listed, number, percent

MOST_NAMED = 3  # blends in one sentence


def nitrogen_given(rows: pd.DataFrame, display_units: str) -> str:
    """At which N rates the sides are compared, and how much of a blend's N is coated.

    Args:
        rows: of reports.comparisons of one crop, with treatment and comparator (their names in short).
        display_units: 'us' or 'metric'.
    """
    return " ".join([*_same_rates(rows, display_units), *_coated(rows)])


def _same_rates(rows: pd.DataFrame, display_units: str) -> list[str]:
    """Most comparisons' rates first, the others by name; where some do not match rates, every one that does is
    named.
    """
    column, unit = ("rates_lb_ac", "lb/ac") if display_units == "us" else ("rates_kg_ha", "kg/ha")
    alike: dict[str, list[str]] = {}
    for _, row in rows.iterrows():
        if len(row[column]):
            rates = f"{listed(number(rate) for rate in sorted(row[column]))} {unit}"
            alike.setdefault(rates, []).append(f"{row['treatment']} against {row['comparator']}")
    if sum(map(len, alike.values())) < len(rows):
        return [
            f"{capital(name)}: both got the same nitrogen, {rates}." for rates, names in alike.items() for name in names
        ]
    usual = max(alike, key=lambda rates: len(alike[rates]))
    others = [f"{capital(name)}: {rates}." for rates, names in alike.items() for name in names if rates != usual]
    return [f"Both sides got the same nitrogen: {usual}.", *others]


def _coated(rows: pd.DataFrame) -> list[str]:
    """Names in short may be the same for blends that are not: then each share is told."""
    shares: dict[str, list[str]] = {}
    for _, row in rows.iterrows():
        for side in ("treatment", "comparator"):
            told_of, share = shares.setdefault(row[side], []), row[f"{side}_coated_n"]
            if share > 0 and percent(100 * share) not in told_of:
                told_of.append(percent(100 * share))
    told = [f"{listed(of_name, 'or')} in {name}" for name, of_name in shares.items() if of_name]
    groups = [told[i : i + MOST_NAMED] for i in range(0, len(told), MOST_NAMED)]
    said = [f"Coated part of the nitrogen: {listed(group)}." for group in groups]
    return [*said, "Coated nitrogen comes out slowly."] if said else []
