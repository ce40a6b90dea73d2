"""Applications add up to the planned rate within 2 % or 1 lb/ac, whichever is more (common practice, no source)."""

from __future__ import annotations

import pytest

from tests.tiny_program import write_tiny_program

#  planned lb/ac, applied lb/ac (two applications of half), found to differ
DRAWN = [
    (120, 122.4, False),  # 2 % exactly
    (120, 122.3, False),
    (120, 122.6, True),
    (120, 117.6, False),  # 2 % below
    (120, 117.4, True),
    (40, 41, False),  # 1 lb exactly
    (40, 39, False),
    (40, 41.2, True),
    (40, 38.8, True),
    (0, 1, False),
    (0, 1.2, True),
]


@pytest.fixture(scope="module")
def differing(tmp_path_factory) -> set[str]:
    """Deliveries whose applications were found not to add up."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("rates") / "program")
    for planned, applied, _ in DRAWN:
        where = f"2091/{planned} {applied}"
        tiny.add_delivery(f"{planned} {applied}")
        tiny.change("treatments", 4, "n_rate_lb_ac", str(planned), where)
        for row in (3, 4):
            tiny.change("nitrogen_applications", row, "n_rate_lb_ac", f"{applied / 2:g}", where)
    findings = tiny.checked()["reports.findings"]
    return set(findings.loc[findings["check_name"] == "applications do not add up", "trial_id"])


@pytest.mark.parametrize(("planned", "applied", "differs"), DRAWN)
def test_at_below_and_above_the_tolerance(differing, planned, applied, differs):
    assert (f"{planned} {applied}" in differing) == differs
