"""A first program.yml: one question per crop, every key explained, what to fill in marked."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path

from pipeline.contract.units import METRIC
from pipeline.contract.words import reference_column

TEMPLATES = Path(__file__).parent / "program_file"
FILL_IN = "FILL IN"
REFERENCE_YEARS = 30
# When rain decides over nitrogen, as month-day; a start for the lead to look at (common practice, no source)
WINDOWS = {"corn": ("05-01", "06-30"), "cotton": ("05-15", "07-31"), "soybean": ("05-15", "07-15")}
OTHER_WINDOW = ("05-01", "07-31")
# named N rates by display unit
RATES = {"us": ("rates_lb_ac", (80, 120, 160)), METRIC: ("rates_kg_ha", (90, 135, 180))}


def program_file(name: str, crops: Iterable[str], display_units: str, season: int, today: date) -> str:
    """The text of program.yml. crops: words; one that no reference table knows gets a stub under `crops`.

    What a crop not known needs stands there with values that distort nothing: yields in lb/ac, as dry matter, any size.
    """
    crops = list(crops)
    parts = [
        _part("head", program=name, display_units=display_units, today=today),
        _part(
            "rainfall", first_year=season - REFERENCE_YEARS, last_year=season - 1, today=today, windows=_windows(crops)
        ),
        *(
            ["crops:\n" + "\n".join(_part("crop", crop=crop) for crop in unknown)]
            if (unknown := unknown_crops(crops))
            else []
        ),
        _part("comparisons"),
        *(_part("comparison", crop=crop, today=today, rates=_rates(display_units)) for crop in crops),
        _part(
            "optional",
            today=today,
            crop=crops[0],
            rate=_usual_rate(display_units),
            unit=_yield_unit(display_units),
            **_price(crops[0]),
        ),
    ]
    return "\n".join(parts)


def unknown_crops(crops: Iterable[str]) -> list[str]:
    return [crop for crop in crops if crop not in reference_column("crops", "product")]


def _part(name: str, **values: object) -> str:
    return (TEMPLATES / f"{name}.yml").read_text(encoding="utf-8").format(**values)


def _windows(crops: list[str]) -> str:
    lines = []
    for crop in crops:
        first, last = WINDOWS.get(crop, OTHER_WINDOW)
        lines.append(f"    {crop}: {{first_day: {first}, last_day: {last}}}  # {FILL_IN}")
    return "\n".join(lines)


def _rates(display_units: str) -> str:
    key, rates = RATES[display_units]
    return f"{key}: {{{', '.join(f'{rate}: 1' for rate in rates)}}}"


def _usual_rate(display_units: str) -> str:
    return "rate_kg_ha: 180" if display_units == METRIC else "rate_lb_ac: 160"


def _yield_unit(display_units: str) -> str:
    return "kg/ha" if display_units == METRIC else "lb/ac"


def _price(crop: str) -> dict[str, object]:
    """An invented price of the size that a crop of its kind has."""
    if reference_column("crops", "display_unit").get(crop) == "bu/ac":
        return {"price": "price_per_bu", "amount": "4.50"}
    is_lint = reference_column("crops", "product").get(crop) == "lint"
    return {"price": "price_per_lb", "amount": "0.70" if is_lint else "0.10"}
