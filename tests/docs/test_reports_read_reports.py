"""Pages read the reports layer and nothing else of the warehouse."""

from __future__ import annotations

import ast
import builtins
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


CELL = re.compile(r"^```\{python\}\n(.*?)^```$", re.MULTILINE | re.DOTALL)
HANDED_IN = {"views", "page_folder"}  # by publishing/weave.py


@pytest.mark.parametrize("page", sorted((ROOT / "reports").glob("[!_]*.qmd")), ids=lambda p: p.name)
def test_every_name_in_the_cells_of_a_page_is_made_there(page):
    """Some cells run only where a program has prices, trials or claims: a name that is gone would show up late."""
    cells = "\n".join(CELL.findall((ROOT / "reports/_setup.qmd").read_text() + page.read_text()))
    nodes = list(ast.walk(ast.parse(cells)))
    made = {node.id for node in nodes if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)}
    made |= {node.arg for node in nodes if isinstance(node, ast.arg)}
    made |= {node.name for node in nodes if isinstance(node, ast.FunctionDef)}
    made |= {
        (name.asname or name.name).split(".")[0]
        for node in nodes
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in node.names
    }
    used = {node.id for node in nodes if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)}
    assert not used - made - HANDED_IN - set(dir(builtins))
