"""Pages drawn by Quarto: a few projects of many pages each, one drawn while the pages of the next are written.

Quarto reads the Markdown, runs the filter that the other way has too, and makes the page and the PDF. DOCX and PPTX are
drawn by pandoc, since Quarto's tables and captions are not in the styles of the reference document.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from pathlib import Path

import yaml

from pipeline import faces, folders, stopping
from pipeline.errors import UserError
from pipeline.publishing import by_pandoc, engines
from pipeline.publishing.page import Page, PageNotMade

HERE = Path(__file__).parent
LOOK = folders.REPORTS
SETTINGS = HERE / "quarto.yml"
FACES_SHEET = "faces.css"  # named in quarto.yml
FACES = "faces"  # folder of the project
SHARED_FILES = (
    LOOK / "page.css",
    LOOK / "page.typ",
    HERE / "filter.lua",
    HERE / "page.html",
    HERE / "page.typst",
    HERE / "title-block.html",
    HERE / "typst-show.typ",
)
QUARTO_FORMATS = {"html": "html", "pdf": "typst"}
PAGES_A_PROJECT = 12
N_AT_ONCE = 2
AT_WORK_ON = re.compile(r"page-(\d+)/page\.md")
# within its signs at both ends, {{< and >}}, escaped as in a page or in its front matter
SHORTCODE = re.compile(r"(?:(?<=\{\{)|(?<=\{\\\{)|(?<=\{\\\\\{))(?=\\*<)|(?<=>)(?=\\*\}\\*\})")
COLOR = re.compile(r"\x1b\[[0-9;]*m")
MOST_CAUSES = 3

Numbered = tuple[int, "Page"]


def draw_all(quarto: Path, pages: Iterable[Page], *, formats: tuple[str, ...], on_drawn: Callable[[int], None]) -> None:
    """Draw every page into its folder as <name>.<format>; `on_drawn` gets each page's number when done.

    Raises:
        UserError: a page cannot be drawn; the message names it and quotes why.
    """
    numbered = enumerate(pages)
    jobs: list[Future] = []
    sheet = faces.style_sheet() if "html" in formats else ""
    with ThreadPoolExecutor(N_AT_ONCE) as threads:
        try:
            while batch := list(islice(numbered, PAGES_A_PROJECT)):
                jobs.append(threads.submit(_draw_batch, quarto, batch, formats, sheet, on_drawn))
                for job in jobs:
                    if job.done():
                        job.result()
            for job in jobs:
                job.result()
        except BaseException:
            threads.shutdown(wait=False, cancel_futures=True)
            raise


def _draw_batch(
    quarto: Path, batch: list[Numbered], formats: tuple[str, ...], sheet: str, on_drawn: Callable[[int], None]
) -> None:
    by_itself = tuple(format for format in formats if format in QUARTO_FORMATS)
    others = tuple(format for format in formats if format not in QUARTO_FORMATS)
    for number, page in batch:
        by_pandoc.draw_page(page, others)
        if not by_itself:
            on_drawn(number)
    if by_itself:
        with tempfile.TemporaryDirectory(prefix="pages-") as scratch:
            _write_project(Path(scratch), batch, by_itself, sheet)
            _render(quarto, Path(scratch), batch, on_drawn)
            for position, (_, page) in enumerate(batch):
                for format in by_itself:
                    _collect(Path(scratch), position, page, format)


def _write_project(project: Path, batch: list[Numbered], formats: tuple[str, ...], sheet: str) -> None:
    """One project folder: the settings and look that all pages share, and each page with its figures in a folder."""
    for file in SHARED_FILES:
        shutil.copy(file, project / file.name)
    (project / FACES_SHEET).write_text(sheet, encoding="utf-8")
    settings = yaml.safe_load(SETTINGS.read_text(encoding="utf-8"))
    sources = []
    for position, (_, page) in enumerate(batch):
        folder = project / _folder(position)
        shutil.copytree(page.markdown.parent, folder)
        (folder / page.markdown.name).unlink()
        (folder / "page.md").write_text(without_shortcodes(page.markdown.read_text(encoding="utf-8")), encoding="utf-8")
        sources.append(f"{folder.name}/page.md")
    settings["project"] = {"type": "default", "output-dir": "_drawn", "render": sources}
    settings["format"] = {QUARTO_FORMATS[format]: settings["format"][QUARTO_FORMATS[format]] for format in formats}
    if "pdf" in formats:
        for folder in faces.folders():
            shutil.copytree(folder, project / FACES, dirs_exist_ok=True)
        # Quarto reads a leading slash as the folder of the project, so it can name no folder outside
        settings["format"]["typst"]["font-paths"] = [f"/{FACES}"]
    (project / "_quarto.yml").write_text(yaml.safe_dump(settings), encoding="utf-8")


def without_shortcodes(markdown: str) -> str:
    """Our pages have none: what looks like one came with a name or a comment, and Quarto would obey it, escaped or
    not.
    """
    return SHORTCODE.sub("\u2060", markdown)  # a character without width between the signs


def _folder(position: int) -> str:
    return f"page-{position + 1}"


def _render(quarto: Path, project: Path, batch: list[Numbered], on_drawn: Callable[[int], None]) -> None:
    """Runs Quarto on a project. It names each page before it draws it, so that the one before is drawn then."""
    at_work, said = 0, []  # a project of one page is not announced
    with stopping.tied(_started(quarto, project)) as process:
        for line in process.stdout:
            said.append(COLOR.sub("", line).strip())
            found = AT_WORK_ON.search(line)
            if found and int(found[1]) - 1 != at_work:
                on_drawn(batch[at_work][0])
                at_work, said = int(found[1]) - 1, []
    number, page = batch[at_work]
    if process.returncode != 0:
        said = f"{page.name}: Quarto could not draw the page: {_causes(said)} {_without_it()}"
        raise PageNotMade(page.markdown, said)
    on_drawn(number)


def _started(quarto: Path, project: Path) -> subprocess.Popen:
    only_our_fonts = {"TYPST_IGNORE_SYSTEM_FONTS": "true", "TYPST_IGNORE_EMBEDDED_FONTS": "true"}
    try:
        return subprocess.Popen(
            [quarto, "render", str(project)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            errors="replace",
            env=os.environ | only_our_fonts | {"NO_COLOR": "1"},
            **stopping.APART,
        )
    except OSError as error:
        raise UserError(f"{quarto} could not be started ({error.strerror}). {_without_it()}") from error


def _causes(said: list[str]) -> str:
    """The lines of an answer that name an error, once each; without any its last ones."""
    errors = [
        re.sub(r"^(.*\.\.\.)?(error:\s*)+", "", line, flags=re.IGNORECASE) for line in said if "error" in line.lower()
    ]
    causes = list(dict.fromkeys(filter(None, errors)))[:MOST_CAUSES] or [line for line in said if line][-MOST_CAUSES:]
    return "; ".join(causes).rstrip(".") + "."


def _without_it() -> str:
    return f"{engines.DRAW_BY}={engines.PANDOC} draws the pages without Quarto."


def _collect(project: Path, position: int, page: Page, format: str) -> None:
    made = project / "_drawn" / _folder(position) / f"page.{format}"
    if not made.is_file():
        said = f"{page.name}: Quarto ended without an error but made no {format.upper()}. {_without_it()}"
        raise PageNotMade(page.markdown, said)
    shutil.move(made, page.folder / f"{page.name}.{format}")
