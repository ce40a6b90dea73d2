"""make check-fits: do lme4 and the program's own code fit the mixed models of a program alike."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.display.words.numbers import count
from pipeline.errors import UserError
from pipeline.estimates.engines import mixed
from pipeline.settings.program import read_program
from pipeline.verbs.last_report import last_report

NOTHING_TO_COMPARE = "R with lme4 is not available here, so there is nothing to compare this program's own fits with."
# figure of a fit, as it is told, in what, and what a difference is multiplied by
TOLD = (
    ("estimate", "estimates", "standard errors", 1),
    ("std_error", "standard errors", "% of them", 100),
    ("df", "degrees of freedom", "% of them", 100),
    ("variance", "variances", "% of all variance", 100),
    ("joint_f", "F of joint tests", "% of it", 100),
    ("joint_df", "their degrees of freedom", "% of them", 100),
    ("criterion", "REML criterion", "", 1),
)


def check_fits(folder: Path) -> None:
    """Fits every mixed model of the last report by both and says how far they lie apart.

    Raises:
        UserError: no report was made yet.
    """
    from pipeline.steps.checking_fits import check

    program = read_program(folder)
    with last_report(program) as warehouse:
        if not _has_lme4():
            console.say(NOTHING_TO_COMPARE)
            return
        with console.steps() as tell:
            found = check(warehouse, program, tell)
    for line in lines(found.differences, found.n_refused, found.n_printed, found.n_other):
        console.say(line)


def _has_lme4() -> bool:
    try:
        with mixed.by(mixed.LME4):
            mixed.engine()
    except UserError:
        return False
    return True


def lines(differences: pd.DataFrame, n_refused: int, n_printed: int, n_other: int) -> list[str]:
    """The table, one line a figure, and what it means for the pages."""
    if differences.empty and not n_refused:
        return ["The program asks for no mixed model: there is nothing to compare."]
    said = [f"{count(len(differences), 'mixed model')} fitted by lme4 and by this program's own code."]
    if len(differences):
        said[0] += " Largest differences:"
    for column, name, unit, times in TOLD:
        largest = differences[column].abs().max() * times
        if pd.notna(largest):
            apart = "" if unit.startswith("%") else " "
            said.append(f"   {name:<25} {largest:>10.2g}{apart}{unit}".rstrip())
    n_boundary = int(differences["boundary"].sum())
    if n_boundary:
        said.append(f"{count(n_boundary, 'model')} with a variance of zero by one of them only.")
    if n_refused:
        said.append(f"{count(n_refused, 'more model')} could be fitted by one of them only.")
    if n_other:
        said.append(
            f"{n_other} of {count(n_printed, 'printed average or limit', 'printed averages and limits')} differ in a"
            " printed digit."
        )
    else:
        said.append(
            f"No printed digit differs: {count(n_printed, 'average or limit', 'averages and limits')} compared."
        )
    return said
