"""Pages drawn by Quarto, where it is found, in one call for all of them.

Written from Quarto's documentation and tested with a stand-in that records how it is called; it has
not yet been tried with Quarto itself.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Callable

import yaml

from pipeline import folders
from pipeline.errors import UserError
from pipeline.publishing.word_look import keep_rows_whole, write_reference

if TYPE_CHECKING:
    from pipeline.publishing.draw import Page

HERE = Path(__file__).parent
LOOK = folders.REPORTS
SHARED_FILES = (
    LOOK / "page.css",
    LOOK / "page.typ",
    HERE / "filter.lua",
    HERE / "title-block.html",
    HERE / "typst-show.typ",
)
REFERENCE = "page.docx"
OLDEST_USED = (1, 9)  # the first whose typst PDFs can be PDF/UA-1; from memory of its release notes
QUARTO_FORMATS = {"html": "html", "pdf": "typst", "docx": "docx"}


def find_quarto() -> Path | None:
    """Quarto on PATH or beside this Python, when it answers and is not too old; else None."""
    found = shutil.which("quarto") or shutil.which("quarto", path=str(Path(sys.executable).parent))
    if found and _version_numbers(_version(Path(found))) >= OLDEST_USED:
        return Path(found)
    return None


def draw_all(quarto: Path, pages: list[Page], *, formats: tuple[str, ...], on_drawn: Callable[[int], None]) -> str:
    """Draw every page into its folder as <name>.<format> by one `quarto render` of a project of all.

    Returns: the words that say what drew them, as printed on the pages.

    Raises:
        UserError: Quarto failed or made no page; the message quotes it.
    """
    drawn_by = f"Quarto {_version(quarto)}"
    with tempfile.TemporaryDirectory(prefix="pages-") as scratch:
        project = Path(scratch)
        _write_project(project, pages, formats, drawn_by)
        _render(quarto, project)
        for number, page in enumerate(pages):
            for format in formats:
                _collect(project, number, page, format)
    for number in range(len(pages)):
        on_drawn(number)
    return drawn_by


def _version(quarto: Path) -> str:
    try:
        answer = subprocess.run([quarto, "--version"], capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return answer.stdout.strip() if answer.returncode == 0 else ""


def _version_numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:2])


def _write_project(project: Path, pages: list[Page], formats: tuple[str, ...], drawn_by: str) -> None:
    """One project folder: the shared settings and look, and each page with its figures in a folder."""
    for file in SHARED_FILES:
        shutil.copy(file, project / file.name)
    write_reference(project / REFERENCE)
    settings = yaml.safe_load((LOOK / "_quarto.yml").read_text(encoding="utf-8"))
    (project / "_quarto.yml").write_text(yaml.safe_dump(_project_settings(settings, pages, formats, drawn_by)))
    for number, page in enumerate(pages):
        shutil.copytree(page.markdown.parent, project / _page_folder(number))
        (project / _page_folder(number) / page.markdown.name).rename(_page_source(project, number))


def _project_settings(settings: dict, pages: list[Page], formats: tuple[str, ...], drawn_by: str) -> dict:
    """The report settings, kept to the formats asked for and to these pages, which hold no code."""
    wanted = {QUARTO_FORMATS[format] for format in formats}
    styles = {"docx": {**settings["format"]["docx"], "reference-doc": REFERENCE}}
    formats_given = settings["format"] | styles
    return {
        **settings,
        "project": {
            "type": "default",
            "output-dir": "_drawn",
            "render": [f"{_page_folder(number)}/page.md" for number in range(len(pages))],
        },
        "filters": ["filter.lua"],
        "format": {name: _beside(options) for name, options in formats_given.items() if name in wanted},
        "drawn-by": f"Drawn by {drawn_by}.",
    }


def _beside(options: dict) -> dict:
    """A format's options with its template files taken from the project folder itself."""
    partials = [Path(partial).name for partial in options.get("template-partials", [])]
    return {**options, "template-partials": partials} if partials else options


def _page_folder(number: int) -> str:
    return f"page-{number + 1}"


def _page_source(project: Path, number: int) -> Path:
    return project / _page_folder(number) / "page.md"


def _render(quarto: Path, project: Path) -> None:
    try:
        result = subprocess.run([quarto, "render", str(project)], capture_output=True, text=True)
    except OSError as error:
        raise UserError(f"{quarto} could not be started ({error.strerror}).") from error
    if result.returncode != 0:
        last_lines = "\n".join(result.stderr.strip().splitlines()[-8:])
        raise UserError(f"{quarto} could not draw the pages. It said:\n{last_lines}")


def _collect(project: Path, number: int, page: Page, format: str) -> None:
    made = project / "_drawn" / _page_folder(number) / f"page.{format}"
    if not made.is_file():
        raise UserError(f"Quarto ended without an error but made no {page.name}.{format}.")
    if format == "docx":
        keep_rows_whole(made)
    shutil.move(made, page.folder / f"{page.name}.{format}")
