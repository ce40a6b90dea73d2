"""How a quantity is written: decimals, signs and ranges, in one place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import pandas as pd

MINUS = "\u2212"
NBSP = "\u00a0"
JOINED = "\u2060"  # word joiner: no line breaks here (Unicode Standard Annex 14)
UNKNOWN = "not known"
MOST_EXTRA_DIGITS = 2


def number(value: float, digits: int = 0) -> str:
    """A value with fixed decimals. One that is not zero is not printed as zero: up to two decimals are added."""
    if pd.isna(value):
        return UNKNOWN
    shown = digits
    while value != 0 and round(value, shown) == 0 and shown < digits + MOST_EXTRA_DIGITS:
        shown += 1
    text = f"{abs(value):,.{shown}f}"
    return f"{MINUS}{text}" if value < 0 and float(text.replace(",", "")) != 0 else text


def between(low: float, high: float, digits: int = 0) -> str:
    """A range in words, so that no dash can be read as a minus."""
    return f"{number(low, digits)} to {number(high, digits)}"


def with_metric(row: Mapping, column: str) -> str:
    """A value of a row in its display unit, kg/ha in parentheses: '5.8 bu/ac (364 kg/ha)'."""
    value = f"{number(row[column], row['digits'])} {row['unit']}"
    return value if row["unit"] == "kg/ha" else f"{value} ({number(row[column + '_kg_ha'])} kg/ha)"


def metric(row: Mapping) -> str:
    """' (1 bu/ac = 62.8 kg/ha)', for a caption over values in a unit of row; empty where that is kg/ha."""
    return "" if row["unit"] == "kg/ha" else f" (1 {row['unit']} = {row['kg_ha_per_unit']:.3g} kg/ha)"


def n_rate(row: Mapping) -> str:
    """'80 lb/ac (90 kg/ha)'; '90 kg/ha' where yields are in kg/ha."""
    metric = f"{number(row['rate_kg_ha'])} kg/ha"
    return metric if row["unit"] == "kg/ha" else f"{number(row['rate_lb_ac'])} lb/ac ({metric})"


def p_value(value: float) -> str:
    """Two digits that matter, and never zero: 'p = 0.024', 'p < 0.001'."""
    if value < 0.001:
        return "p < 0.001"
    return f"p = {value:.3f}" if value < 0.1 else f"p = {value:.2f}"


def percent(value: float, digits: int = 0) -> str:
    return f"{number(value, digits)}%"


def count(n: int, one: str, many: str = "") -> str:
    """'1 site-year', '33 site-years'."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def counts(several: Sequence[int], what: str) -> str:
    """'9 site-years' where all are alike, '8 to 9 site-years' where they are not."""
    low, high = min(several), max(several)
    if low == high:
        return count(high, what)
    return f"at most {count(high, what)}" if high == 1 else f"{between(low, high)} {what}s"


def crossed(level: str) -> str:
    """'R x dry' as 'R \u00d7 dry'."""
    return level.replace(" x ", " \u00d7 ")


def text(value: object) -> str:
    """A text, empty where it is missing in whatever way a frame marks that."""
    return value if isinstance(value, str) else ""


def day(value: date | None) -> str:
    """'May 2, 2093', or that it is not known."""
    return UNKNOWN if pd.isna(value) else f"{value:%B} {value.day}, {value.year}"


def month_day(value: str) -> str:
    """'05-01' as 'May 1'."""
    month, day_of_month = value.split("-")
    return f"{date(2000, int(month), 1):%B} {int(day_of_month)}"


def listed(words: Iterable[str], joint: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'."""
    words = list(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}" if len(words) > 1 else "".join(words)


def seasons(text: str) -> str:
    """'2086, 2091, 2092, 2093' as '2086 and 2091 to 2093'; 'no season yet' where there is none."""
    if not text:
        return "no season yet"
    told = []
    for first, last in _runs(int(year) for year in text.split(", ")):
        told += [f"{first} to {last}"] if last > first + 1 else map(str, sorted({first, last}))
    return listed(told)


def row_numbers(numbers: Iterable[int]) -> str:
    """Row numbers of a file, runs drawn together: 'row 5', 'rows 5 to 8, 12'."""
    runs = _runs(numbers)
    texts = [str(first) if first == last else f"{first} to {last}" for first, last in runs]
    return f"row{'' if len(runs) == 1 and runs[0][0] == runs[0][1] else 's'} {', '.join(texts)}"


def _runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """First and last of each run of neighbors."""
    runs: list[tuple[int, int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], n)
        else:
            runs.append((n, n))
    return runs


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]
