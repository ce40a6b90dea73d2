"""When something was fixed, in words: never called earlier than it was."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.words import declarations
from pipeline.display.words import trials as trial_words
from tests.unit.display.rows import DECLARED

LATE = DECLARED | {"declared": pd.Timestamp("2110-11-15"), "is_late": True, "says": "blend against urea"}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (DECLARED, "before the first harvest it uses (October 2, 2091)"),
        (DECLARED | {"known_by": "planted"}, "before the first harvest it uses (planted October 2, 2091)"),
        (
            DECLARED | {"first_printed": pd.Timestamp("2086-01-01")},
            "(October 2, 2091), though after that of a trial with published means only (2086)",
        ),
        (DECLARED | {"first_harvest": pd.NaT}, "before any yield it could use"),
        (LATE, "declared on November 15, 2110, after the first harvest it uses (October 2, 2091): exploratory"),
        (LATE | {"first_printed": pd.Timestamp("2086-01-01")}, "(October 2, 2091): exploratory"),
        (LATE | {"known_by": "planted"}, "was planted (October 2, 2091; its harvest date is not given): exploratory"),
        (LATE | {"known_by": "season"}, "began (2091; no dates are given): exploratory"),
    ],
)
def test_a_declaration_is_held_against_the_first_harvest(row, said):
    assert declarations.declared(row).endswith(said)


def test_those_declared_in_time_share_a_sentence_and_each_other_has_its_own():
    in_time = DECLARED | {"says": "a against b"}
    first, second = declarations.fixed_on(pd.DataFrame([in_time, LATE]))
    assert first == "Comparisons, rates and targets were fixed on November 15, 2090, before the first harvest they use."
    assert second.startswith("Of blend against urea: declared on November 15, 2110, after") and "exploratory" in second
    assert declarations.fixed_on(pd.DataFrame([LATE])) == [second]
    (unused,) = declarations.fixed_on(pd.DataFrame([in_time | {"first_harvest": pd.NaT}]))
    assert unused == "Comparisons, rates and targets were fixed on November 15, 2090, before any yield they could use."
    assert first in declarations.fixed_on(pd.DataFrame([in_time, in_time | {"first_harvest": pd.NaT}]))


@pytest.mark.parametrize(
    ("printed", "says"),
    [
        (("2091-01-01", "2086-01-01"), ", though after that of a trial with published means only (2086)."),
        (("2085-01-01", "2086-01-01"), ", though after that of a trial with published means only (2085)."),
        (("2091-01-01", "2092-01-01"), "before the first harvest they use."),
    ],
)
def test_a_trial_printed_before_any_of_them_was_declared_is_told(printed, says):
    """The comparison whose printed trial is the earliest may have been declared earlier still."""
    rows = [DECLARED | {"says": "a against b", "first_printed": pd.Timestamp(each)} for each in printed]
    rows[1] |= {"declared": pd.Timestamp("2095-11-15"), "first_harvest": pd.Timestamp("2096-10-02")}
    rows[1] |= {"first_printed": pd.NaT} if says.endswith("use.") else {}
    (said,) = declarations.fixed_on(pd.DataFrame(rows))
    assert said.endswith(says)


def test_a_rainfall_rule_fixed_late_says_so():
    rule = {"crop": "corn", "first_day": "05-01", "last_day": "06-30", "first_year": 2061, "last_year": 2090}
    rule |= DECLARED | {"fixed_on": pd.Timestamp("2110-11-15")}
    assert trial_words.rainfall_rule(pd.DataFrame([rule]), "corn").endswith("against 2061 to 2090.")
    late = trial_words.rainfall_rule(pd.DataFrame([rule | {"is_late": True}]), "corn")
    assert late.endswith("fixed on November 15, 2110, after the first harvest it uses (October 2, 2091): exploratory.")
    assert declarations.blind(pd.DataFrame([rule]), "corn") == "Both are set without looking at yields."
    assert declarations.blind(pd.DataFrame([rule | {"is_late": True}]), "corn").startswith("Drainage groups are set")
    assert declarations.blind(pd.DataFrame([rule]), "cotton").startswith("Drainage groups are set"), "without a rule"
