"""What was delivered, season by season."""

from __future__ import annotations

import pandas as pd

from pipeline.display.words.numbers import number
from pipeline.display.words.tables import Markdown, pipe_table


def row_counts_table(counts: pd.DataFrame) -> Markdown:
    """Delivered rows by season and table; delivered = used + set aside + held + superseded, title rows among those set
    aside.
    """
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
    frame["Set aside"] = [
        f"{told} (title rows: {number(n)})" if n else told
        for told, n in zip(frame["Set aside"], counts["title_rows"], strict=True)
    ]
    return pipe_table(
        frame,
        caption="Rows delivered = used + set aside + held + superseded.",
        label="rows",
        right=tuple(columns.values()),
    )
