"""The columns of a result table stand in its declaration and nowhere else."""

from __future__ import annotations

import ast

from pipeline.contract.results import declared_results
from pipeline.folders import PACKAGE

COLUMNS = {name: [column.name for column in table.columns] for name, table in declared_results().items()}
FEWEST, MOST_OF_IT = 4, 0.75


def texts(node: ast.AST) -> list[str]:
    """The texts of a tuple, list or set that holds nothing but texts."""
    if not isinstance(node, ast.Tuple | ast.List | ast.Set):
        return []
    values = [part.value if isinstance(part, ast.Constant) else None for part in node.elts]
    return values if all(isinstance(value, str) for value in values) else []


def repeated(source: str) -> list[str]:
    """Tables most of whose columns are listed in a source once more, in their order."""
    lists = [found for node in ast.walk(ast.parse(source)) if len(found := texts(node)) >= FEWEST]
    return [
        name
        for name, columns in COLUMNS.items()
        for found in lists
        if found == [name for name in columns if name in found] and len(found) >= MOST_OF_IT * len(columns)
    ]


def test_no_list_of_columns_repeats_a_declaration():
    found = {path.relative_to(PACKAGE).as_posix(): repeated(path.read_text("utf-8")) for path in PACKAGE.rglob("*.py")}
    assert not {path: tables for path, tables in found.items() if tables}


def test_a_list_that_repeats_one_is_seen():
    assert repeated('BOXES = ("comparison_id", "target", "box", "item")') == ["budget_items"]
