"""What a woven page must satisfy before it is drawn.

pandoc and Quarto both draw a page with a broken reference or a missing picture and exit with code 0,
so these faults are looked for here. Titles and headings are checked because PDF/UA-1 (ISO 14289-1) asks
for a title and for headings that do not skip a level, and alternative text because it asks for that too.
"""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.errors import UserError

ESCAPED = re.compile(r"\\[^\w\s]")  # a character of somebody's text, which acts as nothing
FENCED_BLOCK = re.compile(r"^(`{3,}|~{3,}).*?^\1[`~]*\s*$", re.MULTILINE | re.DOTALL)
CODE_SPAN = re.compile(r"(`+)(?!`).+?(?<!`)\1(?!`)")
REFERENCE = re.compile(r"(?<![\w\\.])-?@((?:fig|tbl|sec|eq|lst|thm)-[\w-]*\w)")
IDENTIFIER = re.compile(r"\{[^{}]*?#((?:fig|tbl)-[\w-]+)")
IMAGE = re.compile(r"!\[[^\n]*?\]\((?P<path>[^)\s]+)[^)]*\)(?P<attributes>\{[^}\n]*\})?")
ALT_TEXT = re.compile(r'fig-alt="\s*[^"\s]')
HEADING = re.compile(r"^(#{1,6})\s+(\S.*)$", re.MULTILINE)


def check_page(page: str, metadata: dict, body: str, folder: Path) -> None:
    """Raise UserError naming `page` and everything found wrong with its woven Markdown `body`.

    Args:
        metadata: the page's front matter; a `title` is needed.
        body: Markdown without front matter.
        folder: where the page's pictures are.
    """
    text = FENCED_BLOCK.sub("", ESCAPED.sub("", body))
    prose = CODE_SPAN.sub("", text)
    faults = [
        *([] if str(metadata.get("title") or "").strip() else ["the front matter has no title"]),
        *(["an inline expression was not evaluated; keep it on one line"] if "`{python}" in text else []),
        *_reference_faults(prose),
        *_image_faults(prose, folder),
        *_heading_faults(prose),
    ]
    if faults:
        raise UserError(f"{page}: " + "; ".join(faults) + ".")


def _reference_faults(prose: str) -> list[str]:
    identifiers = IDENTIFIER.findall(prose)
    repeated = sorted({name for name in identifiers if identifiers.count(name) > 1})
    missing = sorted(set(REFERENCE.findall(prose)) - set(identifiers))
    faults = [f"@{name} refers to nothing on this page" for name in missing]
    faults += [f"the id #{name} is used more than once" for name in repeated]
    if "?@" in prose:
        faults.append("a reference is unresolved (?@)")
    return faults


def _image_faults(prose: str, folder: Path) -> list[str]:
    faults = []
    for image in IMAGE.finditer(prose):
        path = image["path"]
        if "://" in path:
            faults.append(f"the picture {path} lies on the network; pages carry their own pictures")
        elif not (folder / path).is_file():
            faults.append(f"the picture {path} was not written to the page's folder")
        if not ALT_TEXT.search(image["attributes"] or ""):
            faults.append(f'the picture {path} has no alternative text; add fig-alt="..." to it')
    return faults


def _heading_faults(prose: str) -> list[str]:
    """The title is the page's first level, so sections begin at ## and go down one level at a time."""
    faults = []
    level_above = 1
    for marks, text in HEADING.findall(prose):
        level = len(marks)
        if level == 1:
            faults.append(f"the heading '{text}' is at the title's level; write ## for a section")
        elif level > level_above + 1:
            faults.append(f"the heading '{text}' skips a level ({level_above} to {level})")
        level_above = max(level, 1)
    return faults
