"""The tables of the data dictionary and of the index."""

from __future__ import annotations

import pandas as pd

from pipeline.display.numbers import number
from pipeline.display.tables import Markdown, joined, pipe_table
from pipeline.display.wording import capital


def columns_table(columns: pd.DataFrame, table_name: str) -> Markdown:
    """Declared columns of one delivered table."""
    frame = pd.DataFrame(
        {
            "Heading": [
                Markdown(" or ".join(f"`{heading}`" for heading in text.split(" or "))) for text in columns["heading"]
            ],
            "What it holds": [_holds(row) for row in columns.itertuples()],
            "Type": columns["type"],
            "Filled": ["always" if required else "may be empty" for required in columns["is_required"]],
            "A fault": columns["severity"],
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
    ]
    return joined([text for text in told if text], by=" ")


def check_words(name: str) -> str:
    """A check's name in words: 'gin turnout outside its hard range (plots)' of 'plots.gin_turnout outside its hard range'."""
    column, _, fault = name.partition(" ")
    if "." not in column:
        return name
    return f"{check_column(name)} {fault} ({column.split('.')[0].replace('_', ' ')})"


def check_column(name: str) -> str:
    """The column of a check on one column: 'gin turnout' of 'plots.gin_turnout outside its hard range'."""
    return name.split(" ")[0].split(".")[1].replace("_", " ").replace("n source", "N source")


def checks_table(checks: pd.DataFrame) -> Markdown:
    """Checks that span columns or tables; those of one column stand with the column."""
    written = checks[checks["table_name"].isna()].sort_values("check_name")
    frame = pd.DataFrame(
        {"Check": written["check_name"], "Rule": written["says"].map(capital), "A fault": written["severity"]}
    )
    return pipe_table(
        frame,
        caption="Checks across columns and tables.",
        label="checks",
        widths={"Check": 26, "Rule": 54, "A fault": 18},
    )


def keys_table(keys: pd.DataFrame) -> Markdown:
    """Every key of program.yml, where it stands and what it holds."""
    names = [Markdown(f"`{name}`") for name in keys["name"]]
    frame = pd.DataFrame(
        {"In": keys["place"], "Key": names, "What it holds": keys["holds"].map(capital), "Filled": keys["filled"]}
    )
    widths = dict(zip(frame.columns, (26, 24, 40, 10), strict=True))
    return pipe_table(frame, caption="Keys of program.yml.", label="keys", widths=widths)


def row_counts_table(counts: pd.DataFrame) -> Markdown:
    """Delivered rows by season and table; delivered = used + set aside + held + superseded."""
    columns = {
        "delivered": "Delivered",
        "used": "Used",
        "set_aside": "Set aside",
        "held": "Held",
        "superseded": "Superseded",
    }
    frame = pd.DataFrame(
        {"Season": counts["season"].map(str), "Table": counts["table_name"]}
        | {name: [number(n) for n in counts[column]] for column, name in columns.items()}
    )
    return pipe_table(
        frame,
        caption="Rows delivered = used + set aside + held + superseded.",
        label="rows",
        right=tuple(columns.values()),
    )
