"""What to plant next: what more trials would buy, where evidence is thin, and a proposed list.

Rows are rows of reports.* views of one comparison. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import RAINFALL_CLASSES, TO_COME
from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import capital, count, crossed, listed, number, text
from pipeline.display.words.passes import is_shown_as_good
from pipeline.display.words.tables import Markdown, grey, pipe_table
from pipeline.display.words.where import DRAINAGE
from pipeline.planning.next_season import GROWN, MOST_SITE_YEARS


def advice(outlook: pd.DataFrame) -> str:
    """What to add first, with its reason, in one sentence.

    outlook: rows of one comparison on one target.
    """
    known = outlook[outlook["half_width"].notna()]
    if known.empty:
        return f"Nothing can be planned yet. {outlook['reason'].iloc[0]}"
    now, plans = known[known["more_site_years"] == 0].iloc[0], known[known["more_site_years"] > 0]
    plans = plans[plans["n_blocks"] == plans["n_blocks"].min()]
    spread = plans[plans["more_site_years"] == plans["more_site_years"].min()].sort_values("half_width").iloc[0]
    at_once = plans[plans["more_seasons"] == plans["more_seasons"].min()].sort_values("half_width").iloc[0]
    if min(spread["half_width"], at_once["half_width"]) >= now["half_width"]:
        return f"More trials of this kind would not narrow the interval (now {_half_width(now)})."
    if spread["half_width"] < at_once["half_width"]:
        first, other, what = spread, at_once, "Add seasons before site-years"
    else:
        first, other, what = at_once, spread, "Add site-years before seasons"
    return (
        f"{what}: {_added(first)} narrow the interval from {_half_width(now)} to {_half_width(first)}; "
        f"{_added(other)}, to {_half_width(other)}."
    )


def _added(plan: pd.Series) -> str:
    return f"{count(plan['more_site_years'], 'more site-year')} over {count(plan['more_seasons'], 'season')}"


def _half_width(row: pd.Series) -> str:
    return f"\u00b1{number(row['half_width'], row['digits'])} {row['unit']}"


def outlook_table(outlook: pd.DataFrame, substitution: pd.DataFrame, target: str) -> Markdown | str:
    """Half-width to expect when more is added, the planned additions last; why nothing can be planned where there is
    none.
    """
    known = outlook[(outlook["target"] == target) & outlook["half_width"].notna()]
    if known.empty:
        return advice(outlook[outlook["target"] == target])
    now, planned = (
        known[known["more_site_years"] == 0].iloc[0],
        _planned(known[known["more_site_years"] > 0], target),
    )
    doubled = substitution[
        (substitution["target"] == target) & substitution["half_width"].notna() & (substitution["times"] == 2)
    ].set_index("grown")
    told = [
        ("Nothing: the interval printed above", now["printed_half_width"]),
        ("Nothing: what the variances lead one to expect", now["half_width"]),
    ]
    told += [
        (f"Twice the {grown}, all else as it is", doubled.loc[grown, "half_width"])
        for grown in GROWN
        if grown in doubled.index
    ]
    told += [
        (
            f"{count(row['more_site_years'], 'more site-year')} over {count(row['more_seasons'], 'more season')}",
            row["half_width"],
        )
        for _, row in planned.iterrows()
    ]
    heading = f"Half-width, {now['unit']}"
    rows = [{"What is added": what, heading: number(half_width, now["digits"])} for what, half_width in told]
    caption = (
        f"Half-width of the 95% interval {TARGET[target]}. All but the first row: expected from the estimated"
        f" variances, so compare these with the second row. New trials have {number(planned['n_blocks'].iloc[0])}"
        " blocks."
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label="outlook", right=[heading])


def _planned(ahead: pd.DataFrame, target: str) -> pd.DataFrame:
    """Plans with the fewest blocks: a middle number of site-years over each number of seasons, or each number where
    seasons do not count.
    """
    ahead = ahead[ahead["n_blocks"] == ahead["n_blocks"].min()]
    if target != TO_COME:
        return ahead[ahead["more_seasons"] == ahead["more_seasons"].min()].sort_values("more_site_years")
    sizes = sorted(ahead["more_site_years"].unique())
    return ahead[ahead["more_site_years"] == sizes[len(sizes) // 2]].sort_values("more_seasons")


def why_not_blocks(outlook: pd.DataFrame, target: str) -> str:
    """Why more of one thing does not stand for another; of seasons only where they are seen to differ."""
    blocks = "More blocks cannot replace site-years: they only shrink plot noise."
    is_planned = outlook.loc[outlook["target"] == target, "half_width"].notna().any()
    differ = is_planned and target == TO_COME and "season variance" not in reserves(outlook, target)
    return blocks + (" More site-years in the same seasons cannot replace seasons." if differ else "")


def reserves(rows: pd.DataFrame, target: str) -> str:
    """What the plan rests on that may be too hopeful; empty where nothing is."""
    return " ".join(
        dict.fromkeys(text(reason) for reason in rows.loc[rows["target"] == target, "reason"] if text(reason))
    )


def needed(rows: pd.DataFrame, test: Mapping | None = None) -> str:
    """Site-years needed to show the margin, for a treatment that is truly equal; the reason where none can be
    planned.

    test: the declared row of reports.as_good of the same comparison.
    """
    declared = rows[rows["is_declared"]]
    if declared.empty:
        return ""
    first = declared.iloc[0]
    aim = (
        f"{capital(first['says'])}: what it takes to show as good within {number(first['size'], first['digits'])}"
        f" {first['unit']} {TARGET[first['target']]}"
    )
    if declared["more_seasons"].isna().all():
        return f"{aim} cannot be planned. {first['reason']}"
    more = declared["more_site_years"].map(_found)
    told = [
        f"over {_more_seasons(alike)} {words}" for words, alike in declared["more_seasons"].groupby(more, sort=False)
    ]
    now = ""
    if test is not None and is_shown_as_good(test):
        now = (
            f" It is shown now, at an average difference of {number(test['estimate'], test['digits'])} {test['unit']};"
            " the trials counted here would show it at zero."
        )
    return f"{aim}, with an 80% chance if the two are truly equal: {'; '.join(told)}.{now}"


def _more_seasons(seasons: pd.Series) -> str:
    """'1 more season', '2 or 3 more seasons'."""
    return f"{listed(map(str, seasons), 'or')} more {'season' if list(seasons) == [1] else 'seasons'}"


def _found(more_site_years: float) -> str:
    if pd.isna(more_site_years):
        return f"even {MOST_SITE_YEARS} more site-years are not enough"
    return "no more site-years" if more_site_years == 0 else count(int(more_site_years), "more site-year")


def slopes(rows: pd.DataFrame) -> str:
    """Which slope on each declared covariate could be shown, now and after more seasons; rows of
    reports.slope_outlook.
    """
    return " ".join(_slope(of_covariate) for _, of_covariate in rows.groupby("covariate", sort=False))


def _slope(rows: pd.DataFrame) -> str:
    first = rows.iloc[0]
    told = rows[rows["detectable"].notna()]
    what = f"Whether the gain goes with {first['covariate']}"
    if told.empty:
        return f"{what} cannot be planned. {text(first['reason'])}"
    now, more = told[told["more_seasons"] == 0], told[told["more_seasons"] > 0]
    sizes = [number(size, first["slope_digits"]) for size in now["detectable"]]
    said = f"{what}: 8 of 10 programs like this one would show a slope of {sizes[0]} {first['slope_unit']}"
    if len(more):
        later = listed((number(size, first["slope_digits"]) for size in more["detectable"]), "or")
        said += f"; with {_more_seasons(more['more_seasons'])}, of {later}"
    return " ".join(filter(None, [f"{said}.", _worth_finding(told), *dict.fromkeys(rows["reason"].map(text))]))


def _worth_finding(told: pd.DataFrame) -> str:
    """The chance to show the slope that program.yml calls worth finding; empty where it names none."""
    known = told[told["chance"].notna()]
    if known.empty:
        return ""
    first, last = known.iloc[0], known.iloc[-1]
    size = f"{number(first['worth_finding'], first['slope_digits'])} {first['slope_unit']}"
    later = (
        f", and {_of_ten(last['chance'])} with {_more_seasons(last[['more_seasons']].astype(int))}"
        if last["more_seasons"]
        else ""
    )
    shown = f"would be shown by {_of_ten(first['chance'])} now{later}"
    return f"A slope of {size} (the size that program.yml asks about) {shown}."


def _of_ten(chance: float) -> str:
    n = round(10 * chance)
    return {0: "fewer than 1 of 10", 10: "more than 9 of 10"}.get(n, f"about {n} of 10")


def evidence_table(cells: pd.DataFrame) -> Markdown:
    """Site-years in every drainage x rainfall cell, the empty ones too."""
    rows = []
    known = cells.dropna(subset=["drainage_group"])
    for group, name in DRAINAGE.items():
        of_group = known[known["drainage_group"] == group]
        if of_group.empty:
            continue
        row = {"Drainage group": name}
        for rain in RAINFALL_CLASSES:
            cell = of_group[of_group["rainfall_class"] == rain].iloc[0]
            row[capital(rain)] = _cell(cell)
        rows.append(row)
    n_unknown = int(cells.loc[cells["drainage_group"].isna(), "n_site_years"].sum())
    unknown = f"; {n_unknown} of unknown or mixed class not shown" if n_unknown else ""
    caption = f"Site-years (seasons) in each cell{unknown}. Gray: under 6 site-years or one season."
    return pipe_table(
        pd.DataFrame(rows),
        caption=caption,
        label="evidence",
        widths={"Drainage group": 46, "Dry": 18, "Normal": 18, "Wet": 18},
    )


def _cell(cell: pd.Series) -> str:
    if cell["n_site_years"] == 0:
        return "empty"
    shown = f"{cell['n_site_years']} ({cell['n_seasons']})"
    return shown if cell["shown_as"] == "sentence" else grey(shown)


def proposals_table(proposed: pd.DataFrame) -> Markdown:
    """Sites in the order in which a trial would add most to thin cells."""
    rows = [
        {
            "Order": str(row.rank),
            "Site": row.site_id,
            "Group": row.drainage_group,
            "Site-years": str(row.n_site_years_here),
            "What it adds": capital(crossed(row.why)),
        }
        for row in proposed.itertuples()
    ]
    by_rain = " Which cell a site fills depends on its rain." if proposed["thin_classes"].ne("").any() else ""
    caption = f"Proposed trials, the most useful first.{by_rain}"
    return pipe_table(
        pd.DataFrame(rows),
        caption=caption,
        label="proposed",
        widths={"Order": 9, "Site": 26, "Group": 9, "Site-years": 12, "What it adds": 44},
    )
