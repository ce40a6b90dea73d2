"""The crops of program.yml beyond those the tables know."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from pipeline.contract.words import reference_words
from pipeline.settings.file import Section, above_zero, count_to, number, word_of
from pipeline.settings.keys import LIST, Key, Reader, stated
from pipeline.settings.mistakes import all_of

MOST_MOISTURE_PCT = 90  # silage is reported as wet as this or less (common practice, no source)
MOST_DIGITS = 6
DISPLAY_UNIT = {"grain": "bu/ac", "lint": "lb/ac"}


def _moisture(text: str) -> float:
    value = number(text)
    if value != 0 and not 1 <= value <= MOST_MOISTURE_PCT:  # below 1 it is a fraction typed as percent
        raise ValueError(f"0 (dry matter) or a percent from 1 to {MOST_MOISTURE_PCT}, like 15.5 (not 0.155)")
    return value


@dataclass(frozen=True)
class Crop:
    """A crop beyond those the tables know. Ranges are in the display unit."""

    word: str
    product: str = stated(Key("`grain` (default) or `lint`", word_of("grain", "lint"), "grain"))
    bushel_lb: float | None = stated(Key("pounds in a bushel; of grain", above_zero, like="56"))
    standard_moisture_pct: float | None = stated(
        Key("the moisture that yields are brought to, in percent; 0 for dry matter; of grain", _moisture, like="14")
    )
    display_unit: str = stated(Key("`bu/ac` or `lb/ac`", default=None))
    display_digits: int = stated(Key("decimals that pages print; default 1", count_to(MOST_DIGITS), default=1))
    typical: tuple[float, float] = stated(
        Key("[low, high] in the display unit; outside it a yield is noted", number, kind=LIST, like="[60, 280]")
    )
    hard: tuple[float, float] = stated(
        Key("[low, high]; outside it a yield is refused", number, kind=LIST, like="[0, 400]")
    )


def read_crops(section: Section) -> tuple[Crop, ...]:
    """The crops section; UserError names the line of a mistake, and of a crop that is known without it."""
    return tuple(
        all_of(partial(lambda word: _crop(word, section.take_section(word)), word) for word, _ in section.take_each())
    )


def _crop(word: str, section: Section) -> Crop:
    if word.lower() in reference_words("crops"):
        raise section.error(f'"{word}" is known already with its bushel and ranges; leave it out here')
    asked = Reader(section, Crop)
    product = asked.take("product", otherwise="grain")
    if product != "grain":
        asked.take("bushel_lb", default=None)
        asked.take("standard_moisture_pct", default=None)
    units = ("bu/ac", "lb/ac") if product == "grain" else ("lb/ac",)
    asked.take("display_unit", word_of(*units), default=DISPLAY_UNIT[product])
    crop = Crop(word.lower(), **asked.values())
    for name in ("typical", "hard"):
        values = getattr(crop, name)
        if len(values) != 2 or values[0] >= values[1]:
            raise section.error(f'"{name}" must be [low, high], two numbers, the lower one first')
    if not crop.hard[0] <= crop.typical[0] <= crop.typical[1] <= crop.hard[1]:
        raise section.error(f"the typical range must lie in its hard range: [{crop.hard[0]:g}, {crop.hard[1]:g}]")
    return crop
