"""The tables of the data dictionary: columns that may be delivered, and keys of program.yml."""

from __future__ import annotations

import re

import pandas as pd

from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, escaped, joined, pipe_table

CODE, ESCAPED = re.compile(r"\\`(.+?)\\`"), re.compile(r"\\(.)")


def columns_table(columns: pd.DataFrame, table_name: str) -> Markdown:
    """Declared columns of one delivered table."""
    frame = pd.DataFrame(
        {
            "Heading": [
                Markdown(" or ".join(f"`{heading}`" for heading in text.split(" or "))) for text in columns["heading"]
            ],
            "What it holds": [_holds(row) for row in columns.itertuples()],
            "Type": columns["type"],
            "Required": ["yes" if required else "no" for required in columns["is_required"]],
            "If invalid": columns["severity"],
        }
    )
    caption = f"Columns of {table_name}."
    widths = dict(zip(frame.columns, (26, 46, 9, 9, 14), strict=True))
    return pipe_table(frame, caption=caption, label=table_name.replace("_", "-"), widths=widths)


def _holds(row) -> Markdown:
    told = [
        f"{capital(row.meaning)}.",
        f"Words: {row.words}." if row.words else "",
        f"Hard range {row.hard}." if row.hard else "",
        f"Typical {row.typical}." if row.typical else "",
        f"Example: {row.example}." if row.example else "",
        Markdown(f"Earlier files call it `{row.formerly}`; that is read too.") if row.formerly else "",
    ]
    return joined([text for text in told if text], by=" ")


def _with_code(holds: str) -> Markdown:
    """A sentence's words to type, in backticks, in code type: they are typed in lower case, also where they open it."""
    return Markdown(CODE.sub(lambda found: "`" + ESCAPED.sub(r"\1", found[1]) + "`", escaped(capital(holds))))


def keys_table(keys: pd.DataFrame) -> Markdown:
    """Every key of program.yml, where it stands and what it holds."""
    names = [Markdown(f"`{name}`") for name in keys["name"]]
    frame = pd.DataFrame(
        {"In": keys["place"], "Key": names, "What it holds": keys["holds"].map(_with_code), "Required": keys["filled"]}
    )
    widths = dict(zip(frame.columns, (26, 24, 40, 10), strict=True))
    return pipe_table(frame, caption="Keys of program.yml.", label="keys", widths=widths)


def results_table(results: pd.DataFrame) -> Markdown:
    """What one row of each table of results is, and what tells its rows apart."""
    tables = results.drop_duplicates("table_name")
    frame = pd.DataFrame(
        {
            "Table": [Markdown(f"`{name}`") for name in tables["table_name"]],
            "What it holds": tables["grain"].map(capital),
            "Key": [Markdown(", ".join(f"`{column}`" for column in key.split(", "))) for key in tables["key"]],
        }
    )
    widths = dict(zip(frame.columns, (24, 40, 36), strict=True))
    return pipe_table(frame, caption="Tables of results.", label="results", widths=widths)
