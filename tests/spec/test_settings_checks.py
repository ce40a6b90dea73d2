"""What program.yml says, held against the trials: each case changes one line, and one finding names it."""

from __future__ import annotations

import pandas as pd
import pytest

# of the trials that the comparison uses, 2091-A-corn was harvested first
MARGIN = "    noninferiority: {margin: 3, unit: bu/ac, basis: half an LSD, fixed_on: 2110-11-15}\n"
CASES = {
    "declared after the harvest": (
        "    declared: 2090-11-15", "    declared: 2110-11-15", "fixed after harvest", True,
        "corn-blend-vs-urea fixed on 2110-11-15", "2091-A-corn, harvested 2091-",
    ),
    "a margin of later": (
        "    declared: 2090-11-15", f"{MARGIN}    declared: 2090-11-15", "fixed after harvest", True,
        "the margin of corn-blend-vs-urea fixed on 2110-11-15", "2091-A-corn",
    ),
    "a rainfall rule of later": ("  fixed_on: 2090-11-15", "  fixed_on: 2110-11-15", "fixed after harvest", True, "the rainfall rule fixed on", "2091-A-corn"),
    "a rate nobody tests": ("{120: 1}", "{120: 1, 2000: 1}", "asked of no trial", True, "2000 lb/ac in both arms of corn-blend-vs-urea", "0, 120 lb/ac"),
    "an arm nobody has": ("comparator: {n_source: urea}", "comparator: {n_source: UAN}", "asked of no trial", True, "the comparator of corn-blend-vs-urea", "0, 120 lb/ac"),
    "no window": ("    corn: {first_day: 05-01, last_day: 05-05}\n", "", "crop without rainfall window", False, "no rainfall window for corn", "a window"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_line_of_program_yml_is_noted(tiny, name):
    old, new, check, names_line, found, expected = CASES[name]
    line = tiny.settings(old, new)
    (finding,) = tiny.load()["reports.findings"].itertuples()
    assert (finding.check_name, finding.severity, finding.file) == (check, "noted", "program.yml")
    assert finding.row_number == line if names_line else pd.isna(finding.row_number)
    assert found in finding.found and expected in finding.expected and finding.mend


def test_a_sound_program_has_no_such_finding(tiny):
    assert tiny.load()["reports.findings"].empty
