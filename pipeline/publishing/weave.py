"""A .qmd page into plain Markdown: its cells run once, in this process, on frames handed in.

Conventions; the cells ask for what only this weaving hands them, so Quarto cannot run a source by itself:
- A cell with `#| tags: [parameters]` assigns defaults; the caller's `parameters` then override them.
- A cell prints only when it says `#| output: asis`, and what it prints is Markdown.
- `` `{python} expression` `` in prose, or in a front matter text, prints the value, escaped so that
  no character of it acts as Markdown. An object with `_repr_markdown_()` is Markdown already.
- The names in `names` and the name `page_folder` (where figures go) stand ready.
"""

from __future__ import annotations

import ast
import contextlib
import io
import math
import re
from pathlib import Path

import yaml

from pipeline.display.words.tables import escaped
from pipeline.errors import UserError
from pipeline.publishing.cells import Cell, Line, Prose, read_page
from pipeline.publishing.page_checks import check_page

INLINE = re.compile(r"(?P<ticks>`+)\{python\}\s+(?P<expression>.+?)\s*(?P=ticks)(?!`)")


def weave(qmd: Path, *, parameters: dict, names: dict, folder: Path) -> Path:
    """Run the cells of a page and write it as plain Markdown.

    Args:
        qmd: the page's source.
        parameters: values for the names that the page's parameters cell assigns.
        names: objects the cells find ready, usually frames in the reader's units.
        folder: an existing or new folder for page.md and the page's figures.

    Returns: the path of page.md. Front matter passes through, its inline expressions evaluated.

    Raises:
        UserError: a cell or inline expression fails, a parameter is unknown, or the woven page breaks
            a rule of `page_checks`; the message names page, cell, line and error.
    """
    front_matter, pieces = read_page(qmd)
    folder.mkdir(parents=True, exist_ok=True)
    namespace = {"__name__": "__page__", **names, "page_folder": folder}
    _refuse_unknown_parameters(qmd, pieces, parameters)
    body = "\n".join(_woven(qmd, piece, namespace, parameters) for piece in pieces)
    metadata = {key: _evaluate_metadata(value, Line("", qmd, 1), namespace) for key, value in front_matter.items()}
    check_page(qmd.name, metadata, body, folder)
    header = yaml.safe_dump(metadata, allow_unicode=True, sort_keys=False, width=10_000)
    page = folder / "page.md"
    page.write_text(f"---\n{header}---\n\n{body}\n", encoding="utf-8")
    return page


def _woven(qmd: Path, piece: Prose | Cell, namespace: dict, parameters: dict) -> str:
    if isinstance(piece, Cell):
        return _run_cell(qmd, piece, namespace, parameters)
    if piece.is_code:
        return "\n".join(line.text for line in piece.lines)
    return "\n".join(_evaluate_inline(line.text, line, namespace) for line in piece.lines)


def _run_cell(qmd: Path, cell: Cell, namespace: dict, parameters: dict) -> str:
    """Run one cell and return what it printed, set apart by blank lines."""
    printed = io.StringIO()
    try:
        with contextlib.redirect_stdout(printed):
            exec(_compiled(cell), namespace)
    except UserError as error:
        raise UserError(f"{_cell_place(qmd, cell, error)}: {error}") from error
    except (Exception, SystemExit) as error:
        raise UserError(f"{_cell_place(qmd, cell, error)}: {type(error).__name__}: {error}") from error
    if cell.is_parameters:
        namespace.update(parameters)
    if printed.getvalue().strip() and not cell.prints_markdown:
        place = f"{qmd.name}, cell {cell.number}, line {cell.opening.number} of {cell.opening.file.name}"
        raise UserError(f"{place}: the cell prints but does not say `#| output: asis`. Add that line.")
    return f"\n{printed.getvalue()}\n" if printed.getvalue() else ""


def _compiled(cell: Cell):
    """The cell as code whose line numbers are those of the page's source."""
    first = cell.lines[0] if cell.lines else cell.opening
    blank_lines = "\n" * (first.number - 1)
    return compile(blank_lines + "\n".join(line.text for line in cell.lines), str(first.file), "exec")


def _cell_place(qmd: Path, cell: Cell, error: Exception) -> str:
    """Page, cell number and source line of an error: the deepest traceback line inside the page."""
    source = str(cell.opening.file)
    number = error.lineno if isinstance(error, SyntaxError) and error.filename == source else None
    traceback = error.__traceback__
    while traceback is not None:
        if traceback.tb_frame.f_code.co_filename == source:
            number = traceback.tb_lineno
        traceback = traceback.tb_next
    return f"{qmd.name}, cell {cell.number}, line {number or cell.opening.number} of {cell.opening.file.name}"


def _evaluate_inline(text: str, line: Line, namespace: dict) -> str:
    return INLINE.sub(lambda found: _inline_value(found["expression"], line, namespace), text)


def _inline_value(expression: str, line: Line, namespace: dict) -> str:
    place = f"{line.file.name}, line {line.number}, inline `{expression}`"
    try:
        value = eval(expression, namespace)
    except Exception as error:
        raise UserError(f"{place}: {type(error).__name__}: {error}") from error
    if value is None or (isinstance(value, float) and math.isnan(value)):
        raise UserError(f"{place}: there is no value to print. Say in the page what to print instead.")
    if hasattr(value, "_repr_markdown_"):
        return value._repr_markdown_()
    return escaped(value)


def _evaluate_metadata(value: object, line: Line, namespace: dict) -> object:
    """Front matter with its inline expressions evaluated; texts inside lists and maps too."""
    if isinstance(value, str):
        return _evaluate_inline(value, line, namespace)
    if isinstance(value, list):
        return [_evaluate_metadata(item, line, namespace) for item in value]
    if isinstance(value, dict):
        return {key: _evaluate_metadata(item, line, namespace) for key, item in value.items()}
    return value


def _refuse_unknown_parameters(qmd: Path, pieces: list[Prose | Cell], parameters: dict) -> None:
    declared: set[str] = set()
    for piece in pieces:
        if isinstance(piece, Cell) and piece.is_parameters:
            declared |= _assigned_names(qmd, piece)
    unknown = sorted(set(parameters) - declared)
    if unknown:
        known = ", ".join(sorted(declared)) or "none"
        raise UserError(f"{qmd.name}: no parameter {', '.join(unknown)}; its parameters cell has {known}.")


def _assigned_names(qmd: Path, cell: Cell) -> set[str]:
    try:
        tree = ast.parse("\n".join(line.text for line in cell.lines))
    except SyntaxError as error:
        raise UserError(f"{_cell_place(qmd, cell, error)}: SyntaxError: {error.msg}") from None
    return {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
