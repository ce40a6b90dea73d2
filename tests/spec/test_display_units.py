"""What readers are told is in the units of the program: findings, reasons and warnings, in US and in metric units.

One program is loaded twice, with the same things spoiled; only what a cooperator delivered is quoted in its own unit.
"""

from __future__ import annotations

import re

import pytest

from tests.tiny_program import write_tiny_program

US_UNITS = re.compile(r"\b(?:lb|lb N/ac|lb/ac|bu/ac|plants/ac|lb/bu|ft|\d in|inch|inches|pounds?|bushels?|acres?)\b|°F")
# check -> (found, expected) in US units and in metric ones
TOLD = {
    "width against rows": (("6.0 ft wide", "5.0 ft from 2.0 rows and the row spacing"),
                           ("1.83 m wide", "1.52 m from 2.0 rows and the row spacing")),
    "applications do not add up": (("U-120: 140.0 lb N/ac applied, 120.0 lb N/ac planned",),
                                   ("U-120: 156.9 kg N/ha applied, 134.5 kg N/ha planned",)),
    "unfertilized with a rate": (("zero-N at 120.0 lb N/ac (C-120)",), ("zero-N at 134.5 kg N/ha (C-120)",)),
    "yield beyond reach": (("2078.3 bu/ac", "0.0 to 400.0 bu/ac"), ("130449.2 kg/ha", "0.0 to 25107.1 kg/ha")),
    "plots.harvest_length outside its hard range": (("9000", "1 to 5,000 ft"), ("9000 ft", "0.3048 to 1,524 m")),
    "nitrogen_applications.n_rate outside its hard range": (("600 kg/ha", "0 to 500 lb/ac"),
                                                            ("600", "0 to 560.4 kg/ha")),
    "measurement in strange unit": (("900.0 in", "0.0 to 196.9 in for plant height"),
                                    ("900.0 in", "0.0 to 500.0 cm for plant height")),
    "asked of no trial": (("the comparator of corn-none: no trial has it", "N rates are 0, 120 lb/ac"),
                          ("the comparator of corn-none: no trial has it", "N rates are 0, 135 kg/ha")),
}  # fmt: skip


def _load(folder, display_units: str):
    tiny = write_tiny_program(folder)
    tiny.settings("program: Tiny trials\n", f"program: Tiny trials\ndisplay_units: {display_units}\n")
    for name in ("wide", "odd-rate", "zero-rate", "heavy", "long", "kg", "tall"):
        tiny.add_delivery(name)
    tiny.change("plots", 4, "harvest_width_ft", "6", "2091/wide")
    tiny.change("nitrogen_applications", 2, "n_rate_lb_ac", "140", "2091/odd-rate")
    tiny.change("treatments", 4, "is_zero_n", "yes", "2091/zero-rate")
    tiny.change("plots", 3, "harvest_weight_lb", "414", "2091/heavy")
    tiny.change("plots", 3, "harvest_length_ft", "9000", "2091/long")
    tiny.fill("nitrogen_applications", "n_rate_kg_ha", "", "2091/kg")
    tiny.change("nitrogen_applications", 2, "n_rate_lb_ac", "", "2091/kg")
    tiny.change("nitrogen_applications", 2, "n_rate_kg_ha", "600", "2091/kg")
    tiny.write(
        "measurements",
        [["trial_id", "plot", "trait", "value", "unit"], ["tall", "101", "plant height", "900", "in"]],
        "2091/tall",
    )
    text = tiny.settings_file.read_text(encoding="utf-8")
    tiny.settings_file.write_text(text + ASKED_OF_NONE, encoding="utf-8")
    return tiny.checked()


ASKED_OF_NONE = """\
  - id: corn-none
    says: half-coated blend against a solution
    crop: corn
    target: seasons tested
    treatment: {n_source: coated blend}
    comparator: {n_source: uan}
    match: none
    declared: 2090-11-15
"""


@pytest.fixture(scope="module")
def findings(tmp_path_factory):
    return {
        display: _load(tmp_path_factory.mktemp(display) / "program", display)["reports.findings"]
        for display in ("us", "metric")
    }


@pytest.mark.parametrize("check", TOLD)
@pytest.mark.parametrize("display", ["us", "metric"])
def test_a_finding_is_told_in_the_units_of_the_program(findings, check, display):
    rows = findings[display]
    rows = rows[rows["check_name"] == check]
    said = [f"{row.found} | {row.expected}" for row in rows.itertuples()]
    assert any(all(text in line for text in TOLD[check][display == "metric"]) for line in said), said


def test_no_finding_of_a_metric_program_is_in_us_units(findings):
    """But for what was delivered: the text of a cell with its unit."""
    rows = findings["metric"]
    delivered = rows["check_name"].str.contains("range|strange unit")
    told = [*rows["expected"], *rows["mend"], *rows.loc[~delivered, "found"]]
    assert len(told) > 20 and not [text for text in told if text and US_UNITS.search(text)]
