"""Pages drawn by pandoc, which writes HTML, DOCX and PPTX, and by typst, which makes the PDF of pandoc's typst.

pandoc runs as a program of its own, on threads: it neither shares the process with R nor forks it.
"""

from __future__ import annotations

import subprocess
from concurrent.futures import ThreadPoolExecutor
from functools import cache, partial
from pathlib import Path
from typing import Callable, Iterable

import typst
import yaml

from pipeline import faces, folders, stopping
from pipeline.errors import UserError
from pipeline.publishing import engines, slide_look, word_look
from pipeline.publishing.page import Page, PageNotMade
from pipeline.publishing.print_parts import without_screen_parts

HERE = Path(__file__).parent
LOOK = folders.REPORTS  # page.css, page.typ and the partial templates, shared with Quarto
# With mathematics two prices in a sentence become a formula. No page holds a definition list, and to look for them
# takes a seventh of the time of reading.
MARKDOWN = "markdown-tex_math_dollars-definition_lists"
N_THREADS = 2
FACES_HERE = "@faces;\n"  # in place of the faces, which pandoc would read letter by letter on every page


def draw_all(pages: Iterable[Page], *, formats: tuple[str, ...], on_drawn: Callable[[int], None]) -> None:
    """Draw every page into its folder as <name>.<format>; `on_drawn` gets each page's number when done.

    A page is drawn as soon as `pages` gives it out, so that writing the next and drawing this one overlap.
    """
    sheet = faces.style_sheet() if "html" in formats else ""
    with ThreadPoolExecutor(N_THREADS) as threads:
        try:
            jobs = threads.map(lambda page: draw_page(page, formats, sheet), pages)
            for number, _ in enumerate(jobs):
                on_drawn(number)
        except BaseException:
            threads.shutdown(wait=False, cancel_futures=True)  # only those at work are waited for
            raise


def draw_page(page: Page, formats: tuple[str, ...], sheet: str = "") -> None:
    """Draw one page into its folder as <name>.<format>. sheet: faces.style_sheet(), which HTML carries."""
    writers = {"html": partial(_draw_html, sheet=sheet), "pdf": _draw_pdf, "docx": _draw_docx, "pptx": _draw_pptx}
    for format in formats:
        try:
            writers[format](page, page.folder / f"{page.name}.{format}")
        except UserError as problem:
            raise PageNotMade(page.markdown, str(problem)) from problem


def _draw_html(page: Page, target: Path, *, sheet: str) -> None:
    stand_in = page.folder / f"{page.name}-faces.css"
    stand_in.write_text(FACES_HERE, encoding="utf-8")
    _pandoc(
        page,
        "--to=html5",
        "--embed-resources",
        f"--template={HERE / 'page.html'}",
        f"--css={LOOK / 'page.css'}",
        f"--css={stand_in}",
        f"--output={target}",
    )
    html = target.read_text(encoding="utf-8")
    target.write_text(html.replace(f">{FACES_HERE}<", f">{sheet}<", 1), encoding="utf-8")


def _draw_docx(page: Page, target: Path) -> None:
    look = page.folder / f"{page.name}-look.docx"
    word_look.write_reference(look, dense=_is_dense(page))
    _pandoc(
        page,
        "--to=docx",
        f"--template={HERE / 'page.openxml'}",
        f"--reference-doc={look}",
        f"--output={target}",
        source=_for_paper(page),
    )
    word_look.finish(target)


def _is_dense(page: Page) -> bool:
    """Whether the page's front matter asks for small letters in DOCX, as a sheet of two sides does."""
    front_matter = page.markdown.read_text(encoding="utf-8").removeprefix("---\n").split("\n---\n", 1)[0]
    return yaml.safe_load(front_matter).get("dense") == "yes"


def _draw_pptx(page: Page, target: Path) -> None:
    look = page.folder / f"{page.name}-look.pptx"
    slide_look.write_reference(look)
    _pandoc(page, "--to=pptx", f"--reference-doc={look}", f"--output={target}")
    slide_look.finish(target)


def _draw_pdf(page: Page, target: Path) -> None:
    compile_pdf(typst_source(page), root=page.markdown.parent, target=target)


def typst_source(page: Page) -> bytes:
    """The page in typst's language, ready to compile with the page's folder as root."""
    return _pandoc(
        page,
        "--to=typst",
        f"--template={HERE / 'page.typst'}",
        f"--include-in-header={LOOK / 'page.typ'}",
        source=_for_paper(page),
    )


def _for_paper(page: Page) -> Path:
    """The page's Markdown without what HTML alone shows."""
    source = page.folder.resolve() / f"{page.name}-paper.md"
    source.write_text(without_screen_parts(page.markdown.read_text(encoding="utf-8")), encoding="utf-8")
    return source


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
    """Those faces and no others, so that a page looks alike everywhere."""
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=faces.folders())


def _pandoc(page: Page, *arguments: str, source: Path | None = None) -> bytes:
    """Run pandoc on a page from the page's own folder and return what it writes to its output.

    source: read in place of the page's Markdown.
    """
    command = [
        *engines.pandoc(),
        f"--from={MARKDOWN}",
        "--standalone",
        "--fail-if-warnings",
        f"--lua-filter={HERE / 'filter.lua'}",
        "--metadata=lang:en-US",
        *arguments,
        str(source or page.markdown.name),
    ]
    started = subprocess.Popen(
        command, cwd=page.markdown.parent, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **stopping.APART
    )
    with stopping.tied(started) as process:
        written, complaint = process.communicate()
    if process.returncode != 0:
        complaint = complaint.decode("utf-8", "replace").split("stack traceback:")[0]
        raise UserError(f"{page.name}: pandoc could not draw the page: {' '.join(complaint.split())}")
    return written
