"""Pages drawn by pandoc, which writes HTML and DOCX, and by typst, which makes the PDF of pandoc's typst.

pandoc runs as a program of its own, on threads: it neither shares the process with R nor forks it.
"""

from __future__ import annotations

import subprocess
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Callable, Iterable

import matplotlib
import pypandoc
import typst

from pipeline import folders
from pipeline.errors import UserError
from pipeline.publishing.word_look import keep_rows_whole, write_reference

if TYPE_CHECKING:
    from pipeline.publishing.draw import Page

HERE = Path(__file__).parent
LOOK = folders.REPORTS  # page.css, page.typ and the partial templates, shared with Quarto
MARKDOWN = "markdown-tex_math_dollars"  # else two prices in a sentence become mathematics
SECTIONS_FIRST = "--shift-heading-level-by=-1"  # the title is the document's own; sections begin at level 1
N_THREADS = 2


def draw_all(pages: Iterable[Page], *, formats: tuple[str, ...], why: str, on_drawn: Callable[[int], None]) -> str:
    """Draw every page into its folder as <name>.<format>; `on_drawn` gets each page's number when done.

    A page is drawn as soon as `pages` gives it out, so that writing the next and drawing this one overlap.
    `why` says why this way was taken.

    Returns: the words that say what drew them, as printed on the pages.
    """
    drawn_by = f"pandoc {pandoc_version()} and typst {typst_version()} ({why})"
    with ThreadPoolExecutor(N_THREADS) as threads:
        jobs = threads.map(lambda page: _draw_page(page, formats, drawn_by), pages)
        for number, _ in enumerate(jobs):
            on_drawn(number)
    return drawn_by


@cache
def pandoc_version() -> str:
    return pypandoc.get_pandoc_version()


def typst_version() -> str:
    from importlib.metadata import version

    return version("typst")


def _draw_page(page: Page, formats: tuple[str, ...], drawn_by: str) -> None:
    writers = {"html": _draw_html, "pdf": _draw_pdf, "docx": _draw_docx}
    for format in formats:
        writers[format](page, page.folder / f"{page.name}.{format}", f"Drawn by {drawn_by}.")


def _draw_html(page: Page, target: Path, drawn_by: str) -> None:
    _pandoc(
        page,
        "--to=html5",
        "--embed-resources",
        f"--template={HERE / 'page.html'}",
        f"--css={LOOK / 'page.css'}",
        f"--output={target}",
        drawn_by=drawn_by,
    )


def _draw_docx(page: Page, target: Path, drawn_by: str) -> None:
    look = page.folder / f"{page.name}-look.docx"
    write_reference(look)
    _pandoc(
        page,
        "--to=docx",
        SECTIONS_FIRST,
        f"--template={HERE / 'page.openxml'}",
        f"--reference-doc={look}",
        f"--output={target}",
        drawn_by=drawn_by,
    )
    keep_rows_whole(target)


def _draw_pdf(page: Page, target: Path, drawn_by: str) -> None:
    compile_pdf(typst_source(page, drawn_by), root=page.markdown.parent, target=target)


def typst_source(page: Page, drawn_by: str) -> bytes:
    """The page in typst's language, ready to compile with the page's folder as root."""
    return _pandoc(
        page,
        "--to=typst",
        SECTIONS_FIRST,
        f"--template={HERE / 'page.typst'}",
        f"--include-in-header={LOOK / 'page.typ'}",
        drawn_by=drawn_by,
    )


def compile_pdf(source: bytes, *, root: Path, target: Path) -> None:
    """Compile typst source to an accessible PDF (PDF/UA-1), pictures found below `root`."""
    try:
        typst.Compiler(input=source, root=root, font_paths=_fonts()).compile(
            output=target, format="pdf", pdf_standards="ua-1"
        )
    except typst.TypstError as error:
        hints = " ".join(error.hints)
        raise UserError(f"{target.name}: typst could not make the PDF: {error.message}. {hints}".strip()) from error


@cache
def _fonts() -> typst.Fonts:
    """The DejaVu faces that come with matplotlib and no others, so that a page looks alike everywhere."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder])


def _pandoc(page: Page, *arguments: str, drawn_by: str) -> bytes:
    """Run pandoc on a page from the page's own folder and return what it writes to its output."""
    command = [
        pypandoc.get_pandoc_path(),
        f"--from={MARKDOWN}",
        "--standalone",
        "--fail-if-warnings",
        f"--lua-filter={HERE / 'filter.lua'}",
        "--metadata=lang:en-US",
        f"--metadata=drawn-by:{drawn_by}",
        *arguments,
        page.markdown.name,
    ]
    result = subprocess.run(command, cwd=page.markdown.parent, capture_output=True)
    if result.returncode != 0:
        complaint = result.stderr.decode("utf-8", "replace").split("stack traceback:")[0]
        raise UserError(f"{page.name}: pandoc could not draw the page: {' '.join(complaint.split())}")
    return result.stdout
