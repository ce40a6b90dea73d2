"""Where the gain differs: by soil drainage and by rain, in one table and in sentences that claim no more than the tests
show.

Rows are rows of reports.gains and reports.interaction_tests. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import BY_BOTH, BY_DRAINAGE, BY_RAINFALL, MODERATORS, NOT_SHOWN, RAINFALL_CLASSES
from pipeline.display.words.answers import FEW_SEASONS, TARGET, leading, verdict
from pipeline.display.words.numbers import NBSP, between, capital, count, number, p_value, text
from pipeline.display.words.tables import Markdown, grey, pipe_table
from pipeline.estimates.where.multiplicity import FAMILY_ALPHA
from pipeline.verdicts import FEWEST_SEASONS, FEWEST_SITE_YEARS

DRAINAGE = {
    "P": "P: somewhat poorly drained and wetter",
    "W": "W: well and moderately well drained",
    "R": "R: excessively and somewhat excessively drained",
}
DRAINED = {"P": "poorly", "W": "well", "R": "excessively"}  # where there is room for one word
GROUPINGS = {
    BY_DRAINAGE: ("drainage groups", "group"),
    BY_RAINFALL: ("rainfall classes", "class"),
    BY_BOTH: ("the cells of drainage and rainfall", "cell"),
}
KNOWN_WHEN = {
    BY_DRAINAGE: "soil drainage, which you know when you buy",
    BY_RAINFALL: "the season's rain, which you do not know then",
}
DIFFERS, NO_DIFFERENCE, NOT_COMPARED = "the gain differs", "we found no difference", "gains cannot be compared yet"
# where a site-year of unknown class stands in the table of both
ONLY_IN = {
    BY_DRAINAGE: ("the drainage class is not known, or the trials lie on soils of two drainage groups", "row"),
    BY_RAINFALL: ("the rainfall class is not known", "column"),
}


def drained(row, unknown: str) -> str:
    """The drainage group of a row's drainage_group in a word; 'mixed' where its drainage_classes are of two groups."""
    if row.drainage_group in DRAINED:
        return DRAINED[row.drainage_group]
    return "mixed" if ", " in text(row.drainage_classes) else unknown


def where_in_short(tests: pd.DataFrame, gains: pd.DataFrame) -> str:
    """Whether the gain differs by what is known when nitrogen is bought, and by what is not, in sentences."""
    told = compared(tests, gains)
    if list(told.values()) == [NO_DIFFERENCE] * 2:
        return f"{capital(NO_DIFFERENCE)} by {', or by '.join(told)}."
    said = " ".join(f"By {words}, {differs}." for words, differs in told.items())
    return said or "Whether the gain differs between soils or seasons is not known yet."


def compared(tests: pd.DataFrame, gains: pd.DataFrame) -> dict[str, str]:
    """DIFFERS, NO_DIFFERENCE or NOT_COMPARED for soil and for rain, by the words that name them.

    Args:
        tests: rows of reports.interaction_tests of one comparison and target.
        gains: its leading rows of reports.gains, of that target.
    """
    p_values = tests.set_index("moderator")["p_value_holm"]
    return {
        words: _differs(p_values[moderator], too_few_classes(moderator, gains[gains["moderator"] == moderator]))
        for moderator, words in KNOWN_WHEN.items()
        if moderator in p_values
    }


def _differs(p_adjusted: float, too_few: str) -> str:
    if too_few or pd.isna(p_adjusted):
        return NOT_COMPARED
    return DIFFERS if p_adjusted < FAMILY_ALPHA else NO_DIFFERENCE


def where_table(gains: pd.DataFrame, target: str, *, label: str = "where") -> Markdown:
    """Drainage group by rainfall class for one comparison, with what its counts allow to be shown.

    Args:
        gains: all rows of reports.gains of the comparison.
        label: of the table, where a page has several.
    """
    rows = []
    for group in (*DRAINAGE, "all"):
        row = {"Drainage group": DRAINAGE.get(group, "All groups")}
        for rain in (*RAINFALL_CLASSES, "all"):
            heading = _heading(gains, target, rain)
            row[heading] = _cell(leading(gains, target, *_class_of(group, rain)), names_season="only" not in heading)
        rows.append(row)
    first = gains.iloc[0]
    caption = (
        f"{capital(first['says'])}: average gain in {first['unit']} {TARGET[target]} with its 95% interval, n"
        " site-years. Gray: fewer than 6 site-years or a single season, nothing is claimed; 1 or 2 site-years are only"
        f" counted.{_only_counted(gains, target)}"
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
        return f" No average {TARGET[target]} can be estimated, so all are only counted."
    return f" So are those too few for an average {TARGET[target]}."


def _heading(gains: pd.DataFrame, target: str, rain: str) -> str:
    """A class met in one season carries the season's name."""
    if rain == "all":
        return "Any rainfall"
    row = leading(gains, target, BY_RAINFALL, rain)
    only = f" ({row['seasons']} only)" if row is not None and row["n_seasons"] == 1 else ""
    return f"{capital(rain)}{only}"


def _class_of(group: str, rain: str) -> tuple[str, str]:
    if group == "all":
        return ("all", "all") if rain == "all" else (BY_RAINFALL, rain)
    return (BY_DRAINAGE, group) if rain == "all" else (BY_BOTH, f"{group} x {rain}")


def _cell(row: pd.Series | None, *, names_season: bool) -> str:
    if row is None:
        return "none"
    only = f", {row['seasons']} only" if row["n_seasons"] == 1 and names_season else ""
    if row["shown_as"] == "count" or pd.isna(row["estimate"]):
        return f"n{NBSP}={NBSP}{row['n_site_years']}{only}"
    shown = (
        f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])}),"
        f" n{NBSP}={NBSP}{row['n_site_years']}{only}"
    )
    return grey(shown) if row["shown_as"] == "grey" else shown


def where_sentences(gains: pd.DataFrame, tests: pd.DataFrame) -> list[str]:
    """What may be said about soil and rain: the test of each moderator, and its classes only where they are shown to
    differ.
    """
    said = []
    n_tested = int(tests["p_value"].notna().sum())  # with declared tests that other sections speak of
    tests = tests[tests["moderator"].isin(MODERATORS)]
    for _, test in tests.sort_values("moderator", key=lambda names: names.map(MODERATORS.index)).iterrows():
        rows = gains[
            (gains["target"] == test["target"])
            & (gains["moderator"] == test["moderator"])
            & gains["is_headline"].eq(True)
        ]
        said.append(class_difference(test, rows))
        said += class_sentences(rows, test)
    if tests["warnings"].fillna("").str.contains(FEW_SEASONS, regex=False).any():
        said.append(
            f"Fields share a season's weather: {count(gains['n_seasons'].max(), 'season')} leave little to judge"
            " classes of rain by, and adding site-years does not fix that."
        )
    if n_tested > 1 and any("(p " in sentence for sentence in said):
        said.append(f"The p-values are adjusted (Holm 1979) for {n_tested} ways of dividing the site-years.")
    unknown = tests.set_index("moderator")["n_unknown"]
    for moderator, (what, where) in ONLY_IN.items():
        if n := int(unknown.get(moderator, 0)):
            said.append(f"{count(n, 'site-year')} {'is' if n == 1 else 'are'} in the last {where} only: {what}.")
    return said


def class_difference(test: Mapping, rows: pd.DataFrame) -> str:
    """Whether the gain is shown to differ between the classes of a moderator, by the p-value adjusted for all that were
    tried.

    Args:
        test: a row of reports.interaction_tests.
        rows: the leading rows of reports.gains of the moderator's classes.
    """
    classes, few = GROUPINGS[test["moderator"]][0], too_few_classes(test["moderator"], rows)
    if few:
        return f"Whether the gain differs between {classes} is not known yet: {few}."
    if pd.isna(test["p_value_holm"]):
        return (
            f"Whether the gain differs between {classes} cannot be tested: {text(test['warnings']) or 'no model fits'}."
        )
    caution = _caution(text(test["warnings"]))
    said = "The gain differs" if test["p_value_holm"] < FAMILY_ALPHA else "We found no difference in gain"
    return f"{said} between {classes} ({p_value(test['p_value_holm'])}).{caution}"


def too_few_classes(moderator: str, rows: pd.DataFrame) -> str:
    """'only 1 cell has 6 site-years in 2 seasons', where fewer than two classes may be claimed; else empty."""
    n_claimed = int(rows["shown_as"].eq("sentence").sum())
    if n_claimed >= 2:
        return ""
    which = "only 1" if n_claimed else "no"
    return f"{which} {GROUPINGS[moderator][1]} has {FEWEST_SITE_YEARS} site-years in {FEWEST_SEASONS} seasons"


def _caution(warnings: str) -> str:
    others = warnings.replace(FEW_SEASONS, "").strip("; ")
    return " The model behind this test gave a warning, so take it lightly." if others else ""


def class_sentences(rows: pd.DataFrame, test: Mapping) -> list[str]:
    """A sentence per class that has enough site-years, and only where the classes are shown to differ."""
    if pd.isna(test["p_value_holm"]) or test["p_value_holm"] >= FAMILY_ALPHA:
        return []
    said = []
    for _, row in rows[rows["shown_as"] == "sentence"].iterrows():
        shown = {
            "gain": "a gain is shown",
            "loss": "a loss is shown",
            NOT_SHOWN: "the average could be zero",
        }.get(verdict(row))
        if shown:
            name = DRAINAGE.get(row["level"], row["level"])
            said.append(
                f"{capital(name)}: {shown}, {_with_range(row)} {row['unit']},"
                f" {count(row['n_site_years'], 'site-year')}."
            )
    return said


def _with_range(row: Mapping) -> str:
    return f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])})"
