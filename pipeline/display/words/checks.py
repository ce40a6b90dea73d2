"""The tables of the data dictionary and of the index."""

from __future__ import annotations

import pandas as pd

from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, pipe_table


def check_words(name: str) -> str:
    """A check's name in words: 'gin turnout outside its hard range (plots)' of 'plots.gin_turnout outside its hard
    range'.
    """
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
        {"Check": written["check_name"], "Rule": written["says"].map(capital), "If invalid": written["severity"]}
    )
    return pipe_table(
        frame,
        caption="Checks across columns and tables.",
        label="checks",
        widths={"Check": 26, "Rule": 54, "If invalid": 18},
    )
