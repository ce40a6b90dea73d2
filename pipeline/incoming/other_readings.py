"""How a text file is read that is not comma-separated UTF-8 with decimal points: shown with an example cell, never
guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace

from pipeline.incoming.csv_text import SEPARATORS, Text
from pipeline.incoming.headings import DATE_ORDERS, DECIMAL_COMMAS, SendersWords
from pipeline.incoming.sheet import Note, Sheet, refusal, shorten

READ_OTHERWISE = "read_otherwise"
_DECIMAL_COMMA, _DECIMAL_POINT = re.compile(r"[+-]?\d*,\d+"), re.compile(r"[+-]?\d*\.\d+")


def read_otherwise(sheet: Sheet, text: Text, words: SendersWords, name: str, file_name: str) -> Sheet:
    """The sheet with a note on how it is read, where that is not as comma-separated UTF-8: an example cell of each
    kind.
    """
    told, examples = [], []
    if text.separator != ",":
        told.append(SEPARATORS[text.separator])
    if text.encoding:
        told.append(text.encoding)
        place = next(_places(sheet, lambda cell: not cell.isascii()), None)
        examples += [f"{place[0]} reads '{shorten(place[1])}'"] if place else []
    commas = list(_places(sheet, _DECIMAL_COMMA.fullmatch)) if text.separator != "," else []
    if commas:
        told.append(DECIMAL_COMMAS)
        examples.append(f"{commas[0][0]}: '{commas[0][1]}' is read as {commas[0][1].strip().replace(',', '.')}")
        _refuse_doubtful(sheet, commas, is_said=file_name in words.read_as, name=name, file_name=file_name)
    said = words.read_as.get(file_name, ())
    dates = [order for order in said if order in DATE_ORDERS]
    if said and {*said} != {*told, *dates}:
        problem = f"headings.yml says that {file_name} is read as {', '.join(said)}; it holds"
        right = f'write read_as: {{"{file_name}": [{", ".join([*told, *dates])}]}}' if told or dates else "remove it"
        raise refusal(name, [f"{problem} {', '.join(told) or 'commas alone'}. Correct the entry: {right}."])
    if told:
        sentence = "; ".join(["The file is read with " + ", ".join(told), *examples]) + "."
        sheet.notes.append(Note(None, None, ", ".join(told), READ_OTHERWISE, sentence))
    return replace(sheet, decimal_commas=bool(commas))


def _places(sheet: Sheet, is_meant: Callable[[str], object]) -> Iterator[tuple[str, str]]:
    """Row and column, and text, of the cells that are meant."""
    for heading, cells in sheet.columns.items():
        for row, cell in zip(sheet.row_numbers, cells, strict=True):
            if cell is not None and is_meant(cell.strip()):
                yield f"row {row}, column {heading}", cell


def _refuse_doubtful(sheet: Sheet, commas: list[tuple[str, str]], *, is_said: bool, name: str, file_name: str) -> None:
    """A comma may be the point of a number or stand between its thousands: where both may be, nothing is guessed."""
    point = next(_places(sheet, _DECIMAL_POINT.fullmatch), None)
    if point:
        both = f"{commas[0][0]}: '{commas[0][1]}', and {point[0]}: '{point[1]}'"
        raise refusal(name, [f"numbers have a comma and a point ({both}). Use one sign for the decimals."])
    if not is_said and all(re.fullmatch(r"[+-]?\d{1,3},\d{3}", text.strip()) for _, text in commas):
        place, text = commas[0]
        line = f'read_as: {{"{file_name}": [semicolons, decimal commas]}}'
        raise refusal(
            name,
            [
                f"{place}: '{text}' may be {text.replace(',', '.')} or {text.replace(',', '')}. If the comma is the"
                f" decimal sign, put into headings.yml: {line}"
            ],
        )
