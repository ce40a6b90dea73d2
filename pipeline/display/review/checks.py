"""What a reviewer leans on: robustness, classes at other cut points, tests, calibration of the interval, and doubts.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.words.answers import TARGET
from pipeline.display.words.numbers import (
    between,
    capital,
    count,
    crossed,
    listed,
    n_rate,
    number,
    p_value,
    percent,
    text,
)
from pipeline.display.words.tables import Markdown, anchored_id, grey, pipe_table
from pipeline.display.words.where import DRAINAGE
from pipeline.estimates.average.robustness import ESTIMATOR
from pipeline.estimates.engines.interval_rules import PLAIN
from pipeline.simulation.calibration import AS_STATED, EXCESS, GOAL, PLOTS_POOLED, PUBLISHED
from pipeline.verdicts import FEWEST_SEASONS, FEWEST_SITE_YEARS

# Beyond this many standard deviations a residual is worth a look; with 130 of them one is expected near 2.7.
FAR = 3.0
CROSSES_ZERO, LOSES_AS_GOOD = "Changes whether zero is inside the interval", "As good is no longer shown"


def robustness_table(rows: pd.DataFrame, *, label: str, loses_as_good: pd.Series | None = None) -> Markdown:
    """How far each kind of change moves the headline, and how often it changes what can be concluded.

    Args:
        rows: one comparison's and target's rows of reports.robustness with moderator 'all'.
        loses_as_good: by row, where as good is shown: whether it no longer is.
    """
    counted = {CROSSES_ZERO: rows["changes_conclusion"]}
    counted |= {} if loses_as_good is None else {LOSES_AS_GOOD: loses_as_good}
    lines = []
    for kind, of_kind in rows[rows["estimate"].notna()].groupby("kind", sort=False):
        changes = {says: _changing(of_kind[is_so.reindex(of_kind.index).eq(True)]) for says, is_so in counted.items()}
        shared = {"What was changed": capital(kind), "Times": number(len(of_kind)), "Average": _averages(of_kind)}
        lines.append(shared | changes)
    caption = (
        f"The headline in {rows['unit'].iloc[0]} with something left out, or by another estimator; lowest to highest"
        " average."
    )
    widths = {"What was changed": 32, "Times": 7, "Average": 15} | dict.fromkeys(counted, 46 // len(counted))
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, right=("Times",), widths=widths)


def _changing(changed: pd.DataFrame) -> str:
    return "never" if changed.empty else f"{count(len(changed), 'time')}: {_names(changed)}"


def _averages(of_kind: pd.DataFrame) -> str:
    low, high, digits = of_kind["estimate"].min(), of_kind["estimate"].max(), of_kind["digits"].iloc[0]
    if len(of_kind) > 1:
        return between(low, high, digits)
    return f"{number(low, digits)} ({of_kind['method'].iloc[0]})"


def _names(rows: pd.DataFrame) -> str:
    """What was left out or asked, the first four by name."""
    names = [_name(row) for row in rows.itertuples()]
    shown = "; ".join(names[:4])
    return f"{shown}; {len(names) - 4} more" if len(names) > 4 else shown


def _name(row) -> str:
    if row.kind == ESTIMATOR:
        return row.method
    return text(row.left_out) or f"first {count(row.n_seasons, 'season')}"


def residuals(diagnostics: pd.DataFrame) -> str:
    """The farthest standardized residual of each kind, and how many lie beyond what is worth a look."""
    told = []
    for kind, of_kind in diagnostics[diagnostics["standardized"].notna()].groupby("kind", sort=False):
        most = of_kind.loc[of_kind["standardized"].abs().idxmax()]
        n_far = int((of_kind["standardized"].abs() > FAR).sum())
        told.append(
            f"{kind}s: the farthest of {number(len(of_kind))} is {number(most['standardized'], 1)} standard deviations"
            f" out ({most['place']} {most['season']}), {number(n_far)} beyond {number(FAR)}"
        )
    return f"Standardized residuals of {'; of '.join(told)}."


def other_cuts_table(moved: pd.DataFrame, gains: pd.DataFrame, *, label: str) -> Markdown:
    """Rainfall classes as they stand, and with the site-years near a cut point in the next class.

    Args:
        moved: one comparison's and target's rows of reports.robustness with moderator 'rainfall class', which lead.
        gains: its leading rows of reports.gains of the same moderator and target.
    """
    standing = gains.set_index("level")
    rows = [
        {
            "Rainfall class": capital(row["level"]),
            "As classed": _shaded(standing.loc[row["level"]]) if row["level"] in standing.index else "no site-year",
            "Borderline site-years reclassified": _shaded(row),
            "Changes whether zero is inside": _yes_no(row["changes_conclusion"]),
        }
        for _, row in moved.iterrows()
    ]
    caption = (
        f"Average gain in {moved['unit'].iloc[0]} if site-years within 0.2 of a rainfall cut point stood in the next"
        f" class: {moved['left_out'].iloc[0]}. Gray: nothing is claimed from it."
    )
    widths = {
        "Rainfall class": 16,
        "As classed": 32,
        "Borderline site-years reclassified": 32,
        "Changes whether zero is inside": 20,
    }
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def _shaded(row: Mapping) -> str:
    """A class with its site-years, in grey where they are too few to claim anything from."""
    few = row["n_site_years"] < FEWEST_SITE_YEARS or row["n_seasons"] < FEWEST_SEASONS
    return grey(_with_n(row)) if few else _with_n(row)


def _with_n(row: Mapping) -> str:
    where = f"n = {number(row['n_site_years'])}"
    if pd.isna(row["estimate"]):
        return f"no average, {where}"
    interval = "" if pd.isna(row["conf_low"]) else f" ({between(row['conf_low'], row['conf_high'], row['digits'])})"
    return f"{number(row['estimate'], row['digits'])}{interval}, {where}"


def _yes_no(changes: object) -> str:
    if changes is None or pd.isna(changes):
        return "nothing to compare"
    return "yes" if changes else "no"


def tests_table(tests: pd.DataFrame, *, label: str) -> Markdown:
    """The interaction tests of one comparison and target, with Holm's adjustment and whether each was declared."""
    rows = [
        {
            "Divided by": capital(crossed(row["moderator"])),
            "Kind": text(row["kind"]),
            "F": (
                "not fitted"
                if pd.isna(row["f_stat"])
                else f"{number(row['f_stat'], 2)} on {number(row['df1'])} and {number(row['df2'], 1)} df"
            ),
            "p": "" if pd.isna(row["p_value"]) else p_value(row["p_value"]),
            "p, Holm": "" if pd.isna(row["p_value_holm"]) else p_value(row["p_value_holm"]),
            "Site-years": number(row["n_site_years"]),
        }
        for _, row in tests.iterrows()
    ]
    n_tests = tests.groupby("kind")["n_tests"].max()
    families = listed(f"{count(int(n), f'{kind} test')}" for kind, n in n_tests.items() if n > 0)
    adjusted = (
        f"Holm (1979) adjusts within the {families} of this comparison and target."
        if families
        else "No test could be made."
    )
    caption = f"Does the gain differ between classes? {adjusted}"
    widths = {"Divided by": 28, "Kind": 13, "F": 24, "p": 12, "p, Holm": 12, "Site-years": 11}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, right=("Site-years",), widths=widths)


def classes_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """The leading average of every class of the declared breakdowns, with its id.

    Args:
        rows: one comparison's and target's leading rows of reports.gains with a moderator.
    """
    lines = [
        {
            "Divided by": capital(crossed(row["moderator"])),
            "Class": DRAINAGE.get(row["level"], crossed(row["level"])),
            "Gain": _shaded(row),
            "Id": anchored_id(row["estimate_id"]),
        }
        for _, row in rows.iterrows()
    ]
    caption = f"Every class by its id: average gain in {rows['unit'].iloc[0]}; gray: nothing is claimed from it."
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label)


def explored_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """Classes of further breakdowns; in grey, nothing claimed from them, but where program.yml declares them and a
    sentence may stand.

    Args:
        rows: one comparison's and target's rows of reports.explored, one or more; two methods for each class.
    """
    alone = {(row["moderator"], row["level"]): row for row in rows.to_dict("records") if row["method"] == PLAIN}
    leading = rows[rows["is_headline"]].to_dict("records")
    lines = [
        {
            "Divided by": f"{capital(row['moderator'])} ({row['kind']})",
            "Class": n_rate(row) if pd.notna(row["rate_kg_ha"]) else row["level"],
            "Gain": _gain(row),
            "Alone": grey(_alone(alone[row["moderator"], row["level"]])),
            "Unknown": number(row["n_unknown"]),
            "p, Holm": "no test" if pd.isna(row["p_value_holm"]) else p_value(row["p_value_holm"]),
            "Id": anchored_id(row["estimate_id"]),
        }
        for row in leading
    ]
    caption = (
        f"Average gain in {rows['unit'].iloc[0]} with its 95% interval, n site-years. In what is exploratory a"
        " difference is a question for new trials. Alone: the plain mean of that class. Unknown: site-years left out"
        " of this way of dividing. p: do the classes differ, from one model of all of them, adjusted by Holm (1979),"
        " declared and exploratory tests separately."
    )
    widths = {"Divided by": 20, "Class": 16, "Gain": 24, "Alone": 14, "Unknown": 9, "p, Holm": 9, "Id": 14}
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, right=("Unknown",), widths=widths)


def _gain(row: Mapping) -> str:
    told = f"{_with_n(row)} in {count(row['n_seasons'], 'season')}"
    return told if row["kind"] == "declared" and row["shown_as"] == "sentence" else grey(told)


def _alone(row: Mapping) -> str:
    if pd.isna(row["estimate"]):
        return "no mean"
    return f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])})"


def calibration_table(rows: pd.DataFrame, target: str, *, label: str) -> Markdown:
    """How often the published interval caught the truth on this layout, one line per true state of affairs.

    Args:
        rows: a comparison's rows of reports.calibration.
        target: the declared one; the two wrong ways stand beside it.
    """
    coverage = {(row.truth, row.target, row.method): row for row in rows.itertuples()}
    columns = {f"Printed, {words}": (of, PUBLISHED) for of, words in TARGET.items()} | {
        "Wrong: all plots pooled": (target, PLOTS_POOLED)
    }
    lines = [
        {"True state of affairs": capital(truth)}
        | {name: _caught(coverage.get((truth, *key))) for name, key in columns.items()}
        for truth in rows["truth"].unique()
    ]
    first, ours = rows.iloc[0], rows[rows["method"] == PUBLISHED]
    caption = (
        f"How often a 95% interval caught the true average in {number(first['n_programs'])} simulated programs laid out"
        f" as this one (seed {first['seed']}; simulation error up to"
        f" {percent(100 * ours['coverage_mc_error'].max(), 1)}). Too narrow: less often than {percent(100 * GOAL, 1)},"
        f" wider than it needs to be: more often than {percent(100 * EXCESS)}, each even allowing for twice that error."
    )
    widths = {"True state of affairs": 34} | dict.fromkeys(columns, 22)
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, widths=widths)


def _caught(row) -> str:
    """The share, with a word only where it is shown to be another than stated."""
    if row is None:
        return "no interval"
    word = row.verdict.split(":")[0]
    return f"{percent(100 * row.coverage, 1)}{'' if word == AS_STATED else f', {word}'}"
