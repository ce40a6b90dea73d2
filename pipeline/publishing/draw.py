"""Woven Markdown to finished pages: HTML, PDF and, where asked, DOCX and PPTX.

Quarto draws where it is found; otherwise pandoc draws HTML, DOCX and PPTX, and pandoc's typst writer with the typst
compiler draws the PDF. Both ways read the same Markdown, by the same filter into the same templates. A page that cannot
be drawn is named, and nothing is published: what was published together looks alike.
"""

from __future__ import annotations

import os
from contextlib import ExitStack
from pathlib import Path
from typing import Callable, Iterable, Iterator

from pipeline.errors import UserError
from pipeline.kept import kept
from pipeline.provenance import sha256_of
from pipeline.publishing import by_pandoc, by_quarto, engines
from pipeline.publishing.page import Drawn, Page
from pipeline.publishing.scratch import scratch_in

FORMATS = ("html", "pdf", "docx", "pptx")


def draw(
    pages: list[Page],
    *,
    formats: tuple[str, ...] = ("html", "pdf"),
    write: Callable[[Page], object] | None = None,
    progress: Callable[[Page], None] | None = None,
) -> list[Drawn]:
    """Draw every page in every format and put the files in place together at the end.

    Args:
        pages: folder and name together must differ.
        formats: of FORMATS.
        write: called with each page in turn to write its Markdown, while those before it are drawn on other
            threads; without it the Markdown is there already.
        progress: called with each page once it is drawn, on any thread.

    Returns: one row per page and format, in that order.

    Raises:
        UserError: a page cannot be drawn, DRAW_BY asks for what is not here, or a folder cannot be written. Nothing
            published before is touched then; a run killed while files are moved leaves each file old or new, never
            partial.
    """
    _refuse_unknown_formats(formats)
    _refuse_shared_names(pages)
    with ExitStack() as stack:
        workshops = {
            folder: stack.enter_context(scratch_in(folder, what="pages")) for folder in {p.folder for p in pages}
        }
        scratch = [Page(page.markdown.resolve(), workshops[page.folder], page.name) for page in pages]
        at_work = _AtWork(formats, write, progress or (lambda page: None))
        _draw_all(at_work.given_out(pages, scratch), formats, at_work.report)
        at_work.keep()
        return [
            Drawn(page, format, _move_into_place(made.folder, page, format))
            for page, made in zip(pages, scratch)
            for format in formats
        ]


def _draw_all(pages: Iterator[Page], formats: tuple[str, ...], on_drawn: Callable[[int], None]) -> None:
    quarto = engines.quarto()
    if quarto is None:
        by_pandoc.draw_all(pages, formats=formats, on_drawn=on_drawn)
    else:
        by_quarto.draw_all(quarto, pages, formats=formats, on_drawn=on_drawn)


class _AtWork:
    """Which pages are drawn: those that the last run did not draw from the same Markdown and figures."""

    def __init__(
        self, formats: tuple[str, ...], write: Callable[[Page], object] | None, progress: Callable[[Page], None]
    ) -> None:
        self._formats, self._write, self._progress = formats, write, progress
        self._drawn: list[tuple[Page, list[str], list[Path]]] = []

    def given_out(self, pages: list[Page], scratch: list[Page]) -> Iterator[Page]:
        """The pages to draw, each as soon as its Markdown is there."""
        for page, made in zip(pages, scratch):
            if self._write:
                self._write(page)
            files, keys = _files(made, self._formats), _keys(page, self._formats)
            if kept().taken(keys, files):
                self._progress(page)
            else:
                self._drawn.append((page, keys, files))
                yield made

    def report(self, number: int) -> None:
        """Progress by the number in which a page was given out, so that what draws need not know where it will end."""
        self._progress(self._drawn[number][0])

    def keep(self) -> None:
        for _, keys, files in self._drawn:
            kept().keep(keys, files)


def kept_of(page: Page, formats: Iterable[str]) -> list[str]:
    """Names of the kept files of a page that was drawn or taken; its Markdown and figures still lie there."""
    return kept().names(_keys(page, formats))


def _files(page: Page, formats: Iterable[str]) -> list[Path]:
    return [page.folder / f"{page.name}.{format}" for format in formats]


def _keys(page: Page, formats: Iterable[str]) -> list[str]:
    return kept().keys(lambda: _parts(page), _files(page, formats))


def _parts(page: Page) -> object:
    """All that a drawn page is made from, beside this program's own files."""
    files = sorted(path for path in page.markdown.parent.iterdir() if path.is_file())
    return engines.drawn_by(), [(path.name, sha256_of(path)) for path in files]


def _move_into_place(workshop: Path, page: Page, format: str) -> Path:
    target = page.folder / f"{page.name}.{format}"
    try:
        os.replace(workshop / target.name, target)
    except OSError as error:
        raise UserError(f"{target}: cannot be replaced ({error.strerror}). Is it open elsewhere?") from error
    return target


def _refuse_unknown_formats(formats: tuple[str, ...]) -> None:
    unknown = [format for format in formats if format not in FORMATS]
    if unknown:
        raise UserError(f"cannot draw {', '.join(unknown)}; pages are drawn as {', '.join(FORMATS)}.")


def _refuse_shared_names(pages: list[Page]) -> None:
    places = [page.folder / page.name for page in pages]
    shared = sorted({str(place) for place in places if places.count(place) > 1})
    if shared:
        raise UserError(f"two pages would be published as {', '.join(shared)}.")
