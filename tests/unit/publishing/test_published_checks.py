"""The declared list of published checks is whole, and it and the tests name each other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.publishing.published_checks import declared_checks, published_checks

TESTS = Path(__file__).parent.parent.parent
ENTRIES = {entry["module"]: entry for entry in declared_checks()}
STANDINGS = ("printed", "quoted", "computed", "from memory")
NAMED = ("quoted", "computed")  # these say who gives the number
POINTER = "published_checks.yml"
# an author or a standard with its year; seasons of the invented program lie after 2070
CLAIM = re.compile(
    r"[A-Z][a-z]+(?: et al\.?|,? and [A-Z][a-z]+)? (?:19\d\d|20[0-2]\d)\b[,;:)]|\bAG442\b|\bAGF-502\b|Soil Survey"
    r" Manual|Handbook 44"
)
CLAIMS_OF_NO_NUMBER = ("unit/display/", "unit/publishing/")  # they print names of sources


def _modules() -> list[str]:
    return [path.relative_to(TESTS).as_posix() for path in sorted(TESTS.rglob("test_*.py"))]


def _claims_a_source(module: str) -> bool:
    text = (TESTS / module).read_text(encoding="utf-8")
    return module.startswith(("published/", "real_data/")) or 'answers("' in text or bool(CLAIM.search(text))


@pytest.mark.parametrize("module", ENTRIES)
def test_an_entry_has_every_field_and_an_allowed_standing(module):
    entry = ENTRIES[module]
    assert set(entry) == {"module", "source", "place", "compares"} and len(entry["source"]) > 10 and entry["place"]
    for compared in entry["compares"]:
        assert compared["standing"] in STANDINGS
        assert bool(compared.get("by")) == (compared["standing"] in NAMED), "who gives the number"
        assert compared["what"] and compared["digits"] and set(compared) <= {"what", "standing", "by", "digits"}


def test_the_list_and_the_tests_that_claim_a_source_are_the_same():
    claiming = [m for m in _modules() if not m.startswith(CLAIMS_OF_NO_NUMBER) and _claims_a_source(m)]
    assert sorted(ENTRIES) == sorted(claiming)
    assert len(ENTRIES) == len(declared_checks()), "a module once"


@pytest.mark.parametrize("module", ENTRIES)
def test_a_module_points_to_the_list(module):
    assert POINTER in (TESTS / module).read_text(encoding="utf-8").split('"""')[1]


def test_each_kind_of_number_is_a_row_of_the_methods_page():
    rows = published_checks()["published_checks"]
    assert len(rows) == sum(len(entry["compares"]) for entry in ENTRIES.values())
    assert rows.notna().all().all() and set(rows["standing"]) == set(STANDINGS)
