"""Pages read the reports layer and nothing else of the warehouse."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    [
        *(ROOT / "reports").glob("*.qmd"),
        *(ROOT / "pipeline/publishing").glob("*.py"),
        *(ROOT / "pipeline/display").rglob("*.py"),
    ]
)


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_no_page_reads_another_layer(path):
    text = path.read_text(encoding="utf-8")
    code = re.sub(r'""".*?"""', "", text, flags=re.DOTALL)
    assert not re.findall(r"""["'](?:raw|reference|staging|trials|estimates)\.(?!docx)\w+["']""", code)
    assert not re.search(r"\b(import duckdb|open_warehouse|warehouse\.duckdb['\"])", code)


def test_a_run_hands_only_the_reports_layer_to_the_pages(tiny, without_estimates):
    tables = tiny.load()
    assert tables and all(name.startswith("reports.") for name in tables)
