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
        "    may_differ", f"{MARGIN}    may_differ", "fixed after harvest", True,
        "the margin of corn-blend-vs-urea fixed on 2110-11-15", "2091-A-corn",
    ),
    "a rainfall rule of later": ("  fixed_on: 2090-11-15", "  fixed_on: 2110-11-15", "fixed after harvest", True,
                                 "the rainfall rule fixed on", "2091-A-corn"),
    "a rate nobody tests": ("{120: 1}", "{120: 1, 2000: 1}", "asked of no trial", True,
                            "2000 lb/ac in both arms of corn-blend-vs-urea", "0, 120 lb/ac"),
    "an arm nobody has": ("comparator: {n_source: urea}", "comparator: {n_source: UAN}", "asked of no trial", True,
                          "the comparator of corn-blend-vs-urea", "0, 120 lb/ac"),
    "no window": ("    corn: {first_day: 05-01, last_day: 05-05}\n", "", "crop without rainfall window", False,
                  "no rainfall window for corn", "a window"),
}  # fmt: skip


# Cases of different lines stand in one program.yml, first the one that adds a line; the last two leave no trial to the
# comparison, or no window to its crop.
TOGETHER = (
    ("a margin of later", "declared after the harvest", "a rainfall rule of later", "a rate nobody tests"),
    ("an arm nobody has",),
    ("no window",),
)


@pytest.mark.parametrize("names", TOGETHER, ids=" and ".join)
def test_a_line_of_program_yml_is_noted(tiny, names):
    lines = {}
    for name in names:
        old, new, *_ = CASES[name]
        lines[name] = tiny.settings(old, new)
    findings = list(tiny.checked()["reports.findings"].itertuples())
    assert len(findings) == len(names), "each case is said once, and nothing else"
    for name in names:
        *_, check, names_line, found, expected = CASES[name]
        (finding,) = [f for f in findings if not names_line or f.row_number == lines[name]]
        assert (finding.check_name, finding.severity, finding.file) == (check, "noted", "program.yml")
        assert names_line or pd.isna(finding.row_number)
        assert found in finding.found and expected in finding.expected and finding.mend


def test_every_case_is_tried():
    assert sorted(name for names in TOGETHER for name in names) == sorted(CASES)


def test_a_sound_program_has_no_such_finding(tiny):
    assert tiny.checked()["reports.findings"].empty
