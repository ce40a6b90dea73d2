"""The rainfall section of program.yml: by which rule site-years are classed dry, normal or wet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline.settings.by_crop import read_by_crop
from pipeline.settings.file import Section, count, day, month_day, number, year
from pipeline.settings.keys import A_DAY, Key, Reader, entries, section_of, stated


@dataclass(frozen=True)
class Years:
    """The fixed reference period, both years in it."""

    first_year: int = stated(Key("year", year, like="2061"))
    last_year: int = stated(Key("year", year, like="2090"))


@dataclass(frozen=True)
class Window:
    """Days of the harvest year, as month-day; where the last is before the first, the window begins in the year
    before.
    """

    first_day: str = stated(Key("month-day, like 05-01", month_day, like="05-01"))
    last_day: str = stated(
        Key(
            "month-day; before first_day, and the window begins in the year before harvest (10-01 to 06-30)",
            month_day,
            like="06-30",
        )
    )


@dataclass(frozen=True)
class Rainfall:
    """How site-years are classed: a window per crop, the fixed reference period and the cut points on the SPI."""

    reference: Years = stated(section_of("the fixed years that rain is held against", Years))
    windows: dict[str, Window] = stated(
        section_of(
            "by crop, the days of the year over which rain is summed",
            entries("crop", "a window for each crop that is compared", Window),
            like="{corn: {first_day: 05-01, last_day: 06-30}}",
        )
    )
    dry_at_or_below: float = stated(Key("standardized precipitation index; default -1.0", number, -1.0))
    wet_at_or_above: float = stated(Key("the same; default 1.0", number, 1.0))
    most_missing_days: int = stated(Key("days of a window that may lack rain; default 3", count, 3))
    fewest_reference_years: int = stated(Key("reference years that a place must have; default 20", count, 20))
    fixed_on: date = stated(Key(f"the day on which this was fixed, {A_DAY}", day, like="2090-11-15"))


def read_rainfall(section: Section, known_crops: tuple[str, ...]) -> Rainfall:
    """The rainfall section; UserError names the line of a mistake."""
    found = Rainfall(
        **Reader(section, Rainfall).values(reference=_years, windows=lambda windows: _windows(windows, known_crops))
    )
    n_years = found.reference.last_year - found.reference.first_year + 1
    if found.fewest_reference_years > n_years:
        raise section.error(
            f"fewest_reference_years is {found.fewest_reference_years}, but the reference period has {n_years} years"
        )
    if found.dry_at_or_below >= found.wet_at_or_above:
        raise section.error("dry_at_or_below must be less than wet_at_or_above")
    return found


def _years(section: Section) -> Years:
    found = Years(**Reader(section, Years).values())
    if found.last_year < found.first_year:
        raise section.error("the reference period ends before it begins")
    return found


def _windows(section: Section, known_crops: tuple[str, ...]) -> dict[str, Window]:
    return read_by_crop(section, known_crops, _window)


def _window(section: Section) -> Window:
    return Window(**Reader(section, Window).values())
