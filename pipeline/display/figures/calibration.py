"""Coverage of each kind of interval, by simulated truth."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9

from pipeline.display import theme
from pipeline.display.tables import Markdown
from pipeline.display.wording import capital

ROW_INCH, FRAME_INCH = 0.5, 0.9
SHAPES = {"interval we publish": "o", "two-stage cross-check": "^", "wrong: all plots pooled": "s", "wrong: tested on plot error": "D"}
STATED = 0.95


def calibration(rows: pd.DataFrame, *, folder: Path, name: str) -> Markdown:
    """Draws one comparison and target: a row per truth, a shape per method, a line at the stated coverage."""
    truths = list(dict.fromkeys(rows["truth"]))
    placed = rows.assign(y=[float(truths.index(truth)) for truth in rows["truth"]], method=rows["method"].map(capital))
    shapes = {capital(method): shape for method, shape in SHAPES.items()}
    plot = p9.ggplot(placed, p9.aes("coverage", "y", shape="method")) + [
        p9.geom_vline(xintercept=STATED, color=theme.INK, size=0.6, linetype="dashed"),
        p9.geom_point(color=theme.INK, size=2.2),
        p9.scale_shape_manual(values=shapes, name=""),
        p9.scale_y_reverse(breaks=[float(i) for i in range(len(truths))], labels=[capital(truth) for truth in truths], expand=(0, 0.5)),
        p9.scale_x_continuous(labels=lambda shares: [f"{share:.0%}" for share in shares]),
        p9.labs(x="Intervals that caught the truth"),
        theme.page_theme(ROW_INCH * len(truths) + FRAME_INCH) + p9.theme(legend_position="bottom"),
    ]
    ours = rows[rows["method"] == "interval we publish"]
    told = "; ".join(f"{row.truth} {row.coverage:.1%}" for row in ours.itertuples())
    first = rows.iloc[0]
    caption = f"{capital(first['crop'])}, {first['comparison_id']}, {first['target']}: intervals that caught the truth on simulated programs. Dashed: the 95 % they state."
    alt = f"Share of published intervals that caught the truth: {told}; they state 95 %."
    return theme.figure(plot, folder=folder, name=name, caption=caption, alt=alt)
