"""Pages read the reports layer and nothing else of the warehouse."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.publishing.weave import INLINE

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


def test_a_run_hands_only_the_reports_layer_to_the_pages(tiny):
    tables = tiny.load()
    assert tables and all(name.startswith("reports.") for name in tables)


CELL = re.compile(r"^```\{python\}\n(?:#\|[^\n]*\n)*(.*?)^```$", re.MULTILINE | re.DOTALL)
HANDED_IN = ["views", "page_folder"]  # by publishing/weave.py
MOST_LINES = 45  # of Python in a page's source, whose reader wants its order and its words


@pytest.fixture(scope="module")
def cells(tmp_path_factory) -> Path:
    """The cells of every page's source as Python files, each with the page's inline expressions below."""
    folder = tmp_path_factory.mktemp("cells")
    for page in (ROOT / "reports").glob("*.qmd"):
        source = page.read_text(encoding="utf-8")
        code = "\n".join([*CELL.findall(source), *(found["expression"] for found in INLINE.finditer(source))])
        (folder / f"{page.stem}.py").write_text(code, encoding="utf-8")
    return folder


def test_cells_pass_the_linter(cells):
    """Some run only where a program has prices, trials or claims: a name that is not there would show up late."""
    ruff = [sys.executable, "-m", "ruff", "check", "--no-cache", "--config", str(ROOT / "pyproject.toml")]
    wanted = ["--ignore=E402,I", f"--config=builtins={json.dumps(HANDED_IN)}"]
    said = subprocess.run([*ruff, *wanted, str(cells)], capture_output=True, text=True)
    assert said.returncode == 0, said.stdout + said.stderr


def test_cells_are_short(cells):
    n_lines = {path.stem: len(path.read_text(encoding="utf-8").splitlines()) for path in cells.glob("*.py")}
    assert n_lines and not {page: n for page, n in n_lines.items() if n > MOST_LINES}
