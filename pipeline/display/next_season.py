"""What to plant next: what more trials would buy, where evidence is thin, and a proposed list.

Rows are rows of reports.* views of one comparison. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

import pandas as pd

from pipeline.display.numbers import count, number, text
from pipeline.display.tables import Markdown, grey, pipe_table
from pipeline.display.wording import DRAINAGE, TARGET, TO_COME, capital

CLASSES = ("dry", "normal", "wet")
GROWN = ("blocks", "site-years", "seasons")


def outlook_table(outlook: pd.DataFrame, target: str) -> Markdown | str:
    """Half-width to expect for more site-years, a column per number of seasons; why there is none where there is none."""
    known = outlook[(outlook["target"] == target) & outlook["half_width"].notna()]
    if known.empty:
        return outlook.loc[outlook["target"] == target, "reason"].iloc[0]
    now, ahead = known[known["more_site_years"] == 0].iloc[0], known[known["more_site_years"] > 0]
    planned = ahead[ahead["n_blocks"] == ahead["n_blocks"].min()]
    rows = []
    for more, of_choice in planned.groupby("more_site_years"):
        cells = {f"in {count(row.more_seasons, 'more season')}": number(row.half_width, row.digits) for row in of_choice.itertuples()}
        rows.append({"More site-years": str(more)} | cells)
    caption = (
        f"Half-width of the 95 % interval to expect {TARGET[target]}, {now['unit']}, with {number(planned['n_blocks'].iloc[0])} blocks in each new "
        f"trial; by the same variances it is {number(now['half_width'], now['digits'])} now."
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label="outlook", right=list(rows[0])[1:])


def substitution_table(substitution: pd.DataFrame, target: str) -> Markdown | str:
    """What only more blocks, only more site-years, or only more seasons would buy."""
    known = substitution[(substitution["target"] == target) & substitution["half_width"].notna()]
    if known.empty:
        return ""
    rows = []
    for grown in GROWN:
        of_grown = known[known["grown"] == grown].sort_values("times")
        cells = {f"x {row.times}": number(row.half_width, row.digits) for row in of_grown.itertuples()}
        rows.append({"Only more": grown} | cells)
    caption = f"Half-width to expect {TARGET[target]} ({known['unit'].iloc[0]}) when one thing alone is multiplied and the rest stays as it is."
    return pipe_table(pd.DataFrame(rows), caption=caption, label="substitution", right=list(rows[0])[1:])


def why_not_blocks(target: str) -> str:
    blocks = "More blocks only shrink plot noise: they cannot replace site-years."
    seasons = " More site-years in the same seasons cannot show how springs differ: they cannot replace seasons." if target == TO_COME else ""
    return blocks + seasons


def reserves(rows: pd.DataFrame, target: str) -> str:
    """What the plan rests on that may be too hopeful; empty where nothing is."""
    return " ".join(dict.fromkeys(text(reason) for reason in rows.loc[rows["target"] == target, "reason"] if text(reason)))


def needed(rows: pd.DataFrame) -> str:
    """Site-years needed to show the margin, for a treatment that is truly equal."""
    if rows.empty:
        return ""
    told = []
    for row in rows[rows["is_declared"]].itertuples():
        found = "not reached" if pd.isna(row.more_site_years) else "none" if row.more_site_years == 0 else f"{row.more_site_years:.0f}"
        told.append(f"{found} over {count(row.more_seasons, 'more season')}")
    first = rows[rows["is_declared"]].iloc[0]
    return (
        f"To show as good within {number(first['size'], first['digits'])} {first['unit']} {TARGET[first['target']]} with an 80 % chance, "
        f"if the two are truly equal, takes so many more site-years of {number(first['n_blocks'])} blocks: {'; '.join(told)}."
    )


def evidence_table(cells: pd.DataFrame) -> Markdown:
    """Site-years in every drainage x rainfall cell, the empty ones too."""
    rows = []
    known = cells.dropna(subset=["drainage_group"])
    for group, of_group in known.groupby("drainage_group"):
        row = {"Drainage group": DRAINAGE.get(group, group)}
        for rain in CLASSES:
            cell = of_group[of_group["rainfall_class"] == rain].iloc[0]
            row[capital(rain)] = _cell(cell)
        rows.append(row)
    n_unknown = int(cells.loc[cells["drainage_group"].isna(), "n_site_years"].sum())
    unknown = f" {count(n_unknown, 'site-year')} of unknown class not shown." if n_unknown else ""
    caption = f"Site-years (seasons) met so far in each cell; grey: fewer than 6 site-years or one season.{unknown}"
    return pipe_table(pd.DataFrame(rows), caption=caption, label="evidence", widths={"Drainage group": 46, "Dry": 18, "Normal": 18, "Wet": 18})


def _cell(cell: pd.Series) -> str:
    if cell["n_site_years"] == 0:
        return "empty"
    shown = f"{cell['n_site_years']} ({cell['n_seasons']})"
    return shown if cell["shown_as"] == "sentence" else grey(shown)


def proposals_table(proposed: pd.DataFrame) -> Markdown:
    """Sites in the order in which a trial would add most to thin cells."""
    rows = [
        {"Order": str(row.rank), "Site": row.site_id, "Group": row.drainage_group, "Site-years there": str(row.n_site_years_here), "What it adds": capital(row.why)}
        for row in proposed.itertuples()
    ]
    caption = "Proposed trials for next season, the most useful first. A site's drainage can be chosen; its rain cannot."
    return pipe_table(pd.DataFrame(rows), caption=caption, label="proposed", widths={"Order": 6, "Site": 24, "Group": 8, "Site-years there": 12, "What it adds": 52})
