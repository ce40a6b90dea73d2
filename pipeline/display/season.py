"""The tables of a crop's season page."""

from __future__ import annotations

import pandas as pd

from pipeline.display import firmness, wording
from pipeline.display.dictionary import check_column
from pipeline.display.numbers import NBSP, between, count, metric, number
from pipeline.display.tables import Markdown, escaped, grey, joined, linked_id, pipe_table
from pipeline.display.wording import TESTED, TO_COME, capital

CLASSES = ("dry", "normal", "wet")
# where a site-year of unknown class stands in the table of both
ONLY_IN = {"drainage group": ("drainage class", "row"), "rainfall class": ("rainfall class", "column")}
MODERATORS = ("drainage group", "rainfall class", "drainage group x rainfall class")


def comparisons_table(gains: pd.DataFrame, agreement: pd.DataFrame, robustness: pd.DataFrame) -> Markdown:
    """Every comparison of a crop: both targets side by side, what stands behind them, and the other methods.

    Args:
        gains: rows of reports.gains of one crop with moderator 'all'.
        agreement: rows of reports.agreement of the crop.
        robustness: rows of reports.robustness of the crop with moderator 'all'.
    """
    rows = []
    for _, of_comparison in gains.groupby("position"):
        first = of_comparison.iloc[0]
        declared = of_comparison[of_comparison["is_declared"]]
        agreed, changed = (
            view[(view["comparison_id"] == first["comparison_id"]) & view["is_declared"]]
            for view in (agreement, robustness)
        )
        rows.append(
            {
                "Comparison": capital(first["says"]),
                "Seasons tested": _average(of_comparison, TESTED),
                "Seasons to come": _average(of_comparison, TO_COME),
                "Site-years": f"{first['n_site_years']} in {count(first['n_seasons'], 'season')}",
                "What is shown": wording.what_is_shown(declared, agreed, firmness.hangs_on(changed)),
            }
        )
    caption = (
        f"Average gain in {first['unit']} with its 95{NBSP}% interval{metric(first)}; grey: its id. Bold: the declared "
        "target, of which the last column speaks."
    )
    if any("hangs on" in row["What is shown"] for row in rows):
        caption += " Hangs on one season: without it the answer changes."
    widths = dict(zip(rows[0], (31, 19, 22, 11, 23), strict=True))
    return pipe_table(pd.DataFrame(rows), caption=caption, label="comparisons", widths=widths)


def _average(rows: pd.DataFrame, target: str) -> Markdown:
    row = leading(rows, target)
    identity = linked_id(row["estimate_id"])
    if pd.isna(row["estimate"]):
        return joined([Markdown("**none**") if row["is_declared"] else "none", identity], by=" ")
    size = escaped(number(row["estimate"], row["digits"]))
    size = Markdown(f"**{size}**") if row["is_declared"] else size
    return joined([size, f"({between(row['conf_low'], row['conf_high'], row['digits'])})", identity], by=" ")


def leading(gains: pd.DataFrame, target: str, moderator: str = "all", level: str = "all") -> pd.Series | None:
    """The row that leads for a target and a class; None where the class holds no site-year."""
    found = gains[
        (gains["target"] == target)
        & (gains["moderator"] == moderator)
        & (gains["level"] == level)
        & gains["is_headline"].eq(True)
    ]
    return found.iloc[0] if len(found) else None


def where_table(gains: pd.DataFrame, target: str, *, label: str = "where") -> Markdown:
    """Drainage group by rainfall class for one comparison, with what its counts allow to be shown.

    Args:
        gains: all rows of reports.gains of the comparison.
        label: of the table, where a page has several.
    """
    rows = []
    for group in (*wording.DRAINAGE, "all"):
        row = {"Drainage group": wording.DRAINAGE.get(group, "All groups")}
        for rain in (*CLASSES, "all"):
            heading = _heading(gains, target, rain)
            row[heading] = _cell(leading(gains, target, *_class_of(group, rain)), names_season="only" not in heading)
        rows.append(row)
    first = gains.iloc[0]
    caption = (
        f"{capital(first['says'])}: average gain in {first['unit']} {wording.TARGET[target]} with its 95{NBSP}% interval, n site-years. "
        "Grey: fewer than 6 site-years or a single season, nothing is claimed; 1 or 2 site-years are only counted."
        f"{_only_counted(gains, target)}"
    )
    return pipe_table(
        pd.DataFrame(rows),
        caption=caption,
        label=label,
        widths=dict(zip(rows[0], (30, 18, 18, 18, 18), strict=True)),
    )


def _only_counted(gains: pd.DataFrame, target: str) -> str:
    """Why classes of 3 site-years or more have no figure either; empty where all have one."""
    of_target = gains[(gains["target"] == target) & gains["is_headline"].eq(True)]
    counted = of_target[of_target["estimate"].isna() & (of_target["n_site_years"] > 2)]
    if counted.empty:
        return ""
    if of_target["estimate"].isna().all():
        return f" No average {wording.TARGET[target]} can be estimated, so all are only counted."
    return f" So are those too few for an average {wording.TARGET[target]}."


def _heading(gains: pd.DataFrame, target: str, rain: str) -> str:
    """A class met in one season carries the season's name."""
    if rain == "all":
        return "Any rainfall"
    row = leading(gains, target, "rainfall class", rain)
    only = f" ({row['seasons']} only)" if row is not None and row["n_seasons"] == 1 else ""
    return f"{capital(rain)}{only}"


def _class_of(group: str, rain: str) -> tuple[str, str]:
    if group == "all":
        return ("all", "all") if rain == "all" else ("rainfall class", rain)
    return ("drainage group", group) if rain == "all" else ("drainage group x rainfall class", f"{group} x {rain}")


def _cell(row: pd.Series | None, *, names_season: bool) -> str:
    if row is None:
        return "none"
    only = f", {row['seasons']} only" if row["n_seasons"] == 1 and names_season else ""
    if row["shown_as"] == "count" or pd.isna(row["estimate"]):
        return f"n{NBSP}={NBSP}{row['n_site_years']}{only}"
    shown = f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])}), n{NBSP}={NBSP}{row['n_site_years']}{only}"
    return grey(shown) if row["shown_as"] == "grey" else shown


def where_sentences(gains: pd.DataFrame, tests: pd.DataFrame) -> list[str]:
    """What may be said about soil and rain: the test of each moderator, and its classes only where they are shown to differ."""
    said = []
    n_tested = int(tests["p_value"].notna().sum())  # with declared tests that other sections speak of
    tests = tests[tests["moderator"].isin(MODERATORS)]
    for _, test in tests.sort_values("moderator", key=lambda names: names.map(MODERATORS.index)).iterrows():
        rows = gains[
            (gains["target"] == test["target"])
            & (gains["moderator"] == test["moderator"])
            & gains["is_headline"].eq(True)
        ]
        said.append(wording.class_difference(test, rows))
        said += wording.class_sentences(rows, test)
    if tests["warnings"].fillna("").str.contains(wording.FEW_SEASONS, regex=False).any():
        said.append(
            f"Fields share a season's weather: {count(gains['n_seasons'].max(), 'season')} leave little to judge classes of rain by, "
            "and many site-years do not mend that."
        )
    if n_tested > 1 and any("(p " in sentence for sentence in said):
        said.append(f"The p-values are adjusted (Holm 1979) for {n_tested} ways of dividing the site-years.")
    unknown = tests.set_index("moderator")["n_unknown"]
    for moderator, (what, where) in ONLY_IN.items():
        if n := int(unknown.get(moderator, 0)):
            said.append(
                f"{count(n, 'site-year')} without a {what} {'is' if n == 1 else 'are'} in the last {where} only."
            )
    return said


def left_out_table(left_out: pd.DataFrame, findings: pd.DataFrame) -> Markdown:
    """Trials of a crop that a comparison leaves out, each with its reason.

    Args:
        left_out: rows of reports.left_out of one crop.
        findings: rows of reports.findings; the first that holds a trial is its reason.
    """
    rows = []
    for (season, place, trial_id, reason), _ in left_out.groupby(
        ["season", "place", "trial_id", "reason"], dropna=False
    ):
        rows.append({"Trial": f"{place} {season} ({trial_id})", "Why": why_left_out(trial_id, reason, findings)})
    caption = "Trials left out, with the reason. A trial is never left out for its yields."
    return pipe_table(pd.DataFrame(rows), caption=caption, label="left-out", widths={"Trial": 33, "Why": 67})


def why_left_out(trial_id: str, reason: str, findings: pd.DataFrame) -> str:
    holding = findings[(findings["trial_id"] == trial_id) & (findings["severity"] == "holds the trial")]
    if not reason.startswith("held: ") or holding.empty:
        return capital(reason)
    first = holding.sort_values(["file", "row_number"]).iloc[0]
    if not first["check_name"].startswith(f"{first['table_name']}."):
        return f"Held: {first['check_name']} ({first['found']})"
    wanted = "a known word" if first["expected"].startswith("one of: ") else first["expected"]
    return f"Held: {check_column(first['check_name'])} delivered as {first['found']}; {wanted} is expected"
