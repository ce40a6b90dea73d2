"""The modules: each imports only from those above it, and one alone talks to each part of the outside world."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

PIPELINE = Path(__file__).parents[2] / "pipeline"
# from the first to the last; a module may import from those before it, and files of one package from each other
ORDER = (
    "stopping", "errors", "folders", "file_names", "fingerprint", "provenance", "jobs", "kept", "faces", "contract",
    "settings", "sql_steps", "warehouse_room", "warehouse", "incoming", "site_years", "estimates", "estimate_ids",
    "simulation", "planning", "verdicts", "claims", "trace", "display", "publishing", "progress", "console", "steps",
    "verbs", "__main__",
)  # fmt: skip
# the questions that the estimates answer, from what needs none of the others to what needs most
ESTIMATES = (
    "frames", "engines", "kept_results", "trials", "average", "gains", "where", "passes", "money", "n_response",
    "program",
)  # fmt: skip
# what the pages share; a page has its own words and figures beside these, and nothing of another page's
SHARED_BY_PAGES = ("words", "figures")
MODULES = sorted(PIPELINE.rglob("*.py"))
OF_DISPLAY = [path for path in MODULES if path.is_relative_to(PIPELINE / "display")]
OF_ESTIMATES = [path for path in MODULES if path.is_relative_to(PIPELINE / "estimates")]
# outside libraries that one module alone may import
GATES = {
    "duckdb": ("pipeline/warehouse.py", "pipeline/warehouse_room.py"),
    "pymer4": "pipeline/estimates/engines/lme4_fits.py",
    "rpy2": "pipeline/estimates/engines/lme4_fits.py",
    "formulae": "pipeline/estimates/engines/own_fits.py",
    "plotnine": "pipeline/display",
    "openpyxl": ("pipeline/incoming", "pipeline/planning"),
    "python_calamine": ("pipeline/incoming/older_workbooks.py",),
    "docx": "pipeline/publishing",
    "pypandoc": "pipeline/publishing",
    "typst": "pipeline/publishing",
    "rich": "pipeline/console.py",
    "argparse": "pipeline/__main__.py",
}


def part(path: Path) -> str:
    return path.relative_to(PIPELINE).parts[0].removesuffix(".py")


@cache
def imports(path: Path) -> frozenset[str]:
    """Every module that a file imports, anywhere in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found |= {node.module} | (
                {f"pipeline.{alias.name}" for alias in node.names} if node.module == "pipeline" else set()
            )
    return frozenset(found)


def _id(path: Path) -> str:
    return path.relative_to(PIPELINE.parent).as_posix()


def test_every_module_has_its_place_in_the_order():
    assert {part(path) for path in MODULES} - {"__init__"} == set(ORDER)


@pytest.mark.parametrize("path", MODULES, ids=_id)
def test_a_module_imports_only_from_those_above(path):
    if part(path) == "__init__":
        assert not imports(path)
        return
    allowed = ORDER[: ORDER.index(part(path)) + 1]
    for name in imports(path):
        if name.startswith("pipeline."):
            other = part(PIPELINE / name.split(".")[1])
            assert other in allowed, f"{_id(path)} imports {name}"


def test_every_question_has_its_place_in_the_order():
    found = {path.relative_to(PIPELINE / "estimates").parts[0].removesuffix(".py") for path in OF_ESTIMATES}
    assert found - {"__init__"} == set(ESTIMATES)


@pytest.mark.parametrize("path", OF_ESTIMATES, ids=_id)
def test_a_question_rests_only_on_those_before_it(path):
    own = path.relative_to(PIPELINE / "estimates").parts[0].removesuffix(".py")
    allowed = ESTIMATES[: ESTIMATES.index(own) + 1] if own != "__init__" else ()
    for name in imports(path):
        if name.startswith("pipeline.estimates."):
            assert name.split(".")[2] in allowed, f"{_id(path)} imports {name}"


@pytest.mark.parametrize("path", OF_DISPLAY, ids=_id)
def test_a_page_takes_words_and_figures_of_no_other_page(path):
    own = path.relative_to(PIPELINE / "display").parts[0].removesuffix(".py")
    allowed = {
        "__init__": set(),
        "words": {"words"},
        "figures": set(SHARED_BY_PAGES),
    }.get(own, {own, *SHARED_BY_PAGES})
    for name in imports(path):
        if name.startswith("pipeline.display."):
            assert name.split(".")[2] in allowed, f"{_id(path)} imports {name}"


@pytest.mark.parametrize("library", GATES)
def test_one_module_alone_imports_a_library(library):
    gates = GATES[library] if isinstance(GATES[library], tuple) else (GATES[library],)
    importing = {_id(path) for path in MODULES if any(name.split(".")[0] == library for name in imports(path))}
    assert importing, f"nothing imports {library}: take it out of this list"
    assert all(any(path == gate or path.startswith(f"{gate}/") for gate in gates) for path in importing), importing


@pytest.mark.parametrize("path", [p for p in MODULES if part(p) in ("site_years", "estimates", "display")], ids=_id)
def test_modules_between_the_warehouse_and_the_pages_hold_no_query(path):
    texts = [
        n.value
        for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(n, ast.Constant) and isinstance(n.value, str)
    ]
    query = re.compile(r"\bselect\b.+\bfrom\b|\b(create|drop) (table|view)\b|\binsert into\b", re.DOTALL)
    assert not [text for text in texts if query.search(text)]


def test_help_answers_without_any_heavy_import():
    heavy = "{'pandas', 'duckdb', 'plotnine', 'pymer4', 'rpy2', 'rich', 'statsmodels'}"
    code = (
        "import sys\nfrom pipeline.__main__ import main\ntry:\n  main(['--help'])\nexcept SystemExit:\n "
        f" pass\nprint('heavy:', sorted({heavy} & set(sys.modules)))"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=PIPELINE.parent, check=True
    ).stdout
    assert "season" in said and said.rstrip().endswith("heavy: []")
