"""What the methods are checked against: the published examples that the tests reproduce, read from the tests themselves."""

from __future__ import annotations

import ast
from pathlib import Path

import pandas as pd

TESTS = Path(__file__).parent.parent.parent / "tests" / "published"


def published_checks(folder: Path = TESTS) -> dict[str, pd.DataFrame]:
    """One row per file of tests, as the frame `published_checks`: its name, the publication in words, and how many tests it has."""
    rows = [_row(path) for path in sorted(folder.glob("test_*.py"))]
    return {"published_checks": pd.DataFrame(rows, columns=["tests", "publication", "n_tests"])}


def _row(path: Path) -> dict:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    said = (ast.get_docstring(tree) or "").split("\n\n")[0]
    n_tests = sum(isinstance(node, ast.FunctionDef) and node.name.startswith("test_") for node in tree.body)
    return {"tests": path.name, "publication": " ".join(said.split()), "n_tests": n_tests}
