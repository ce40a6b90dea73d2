"""The methods page names what it is checked against from the tests themselves."""

from __future__ import annotations

from pipeline.publishing.published_checks import TESTS, published_checks

CHECK = '''"""Reading spans: Someone 1990,
p. 12.

Numbers from memory.
"""

def test_one(): ...
def helper(): ...
def test_two(): ...
'''


def test_a_file_of_tests_becomes_a_row(tmp_path):
    (tmp_path / "test_someone_1990.py").write_text(CHECK, encoding="utf-8")
    (tmp_path / "values.csv").write_text("x")
    (row,) = published_checks(tmp_path)["published_checks"].to_dict("records")
    assert row == {"tests": "test_someone_1990.py", "publication": "Reading spans: Someone 1990, p. 12.", "n_tests": 2}


def test_every_published_check_says_what_it_reproduces():
    found = published_checks()["published_checks"]
    assert len(found) == len(list(TESTS.glob("test_*.py"))) > 0
    assert found["publication"].str.len().gt(20).all() and found["n_tests"].gt(0).all()


def test_without_tests_there_is_nothing_to_name(tmp_path):
    assert list(published_checks(tmp_path)["published_checks"].columns) == ["tests", "publication", "n_tests"]
