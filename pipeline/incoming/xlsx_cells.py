"""One workbook cell to the text a person would read off it, without losing digits."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

# Parts of a number format that are literal text, colors or escapes, and so say nothing about percent.
_LITERAL = re.compile(r'"[^"]*"|\[[^\]]*\]|\\.|_.|\*.')
_PADDED = re.compile(r"0{2,}")


def cell_text(value: object, number_format: str) -> str | None:
    """Text for a cell's stored value; None when it is blank.

    Dates come as ISO 8601, yes and no for booleans, a number at a percent format as '18.2%'
    (so that nobody takes .182 for 18.2), one at a zero-padded format with its zeros ('007').
    """
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return _number_text(value, number_format)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat()
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    text = str(value)
    return text if text.strip() else None


def _number_text(value: float, number_format: str) -> str:
    shape = _LITERAL.sub("", number_format)
    number = Decimal(repr(value))
    if "%" in shape:
        return _plain(number * 100) + "%"
    text = _plain(number)
    return text.zfill(len(shape)) if _PADDED.fullmatch(shape) and text.isdigit() else text


def _plain(number: Decimal) -> str:
    """The shortest digits, without exponent or trailing zeros: 101.0 is '101', 1E-05 is '0.00001'."""
    text = format(number, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text
