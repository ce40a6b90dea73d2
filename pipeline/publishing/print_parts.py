"""What of a page's Markdown paper shows: a long page folds most of itself into what only a screen can open.

filter.lua takes these parts out, once pandoc has read them, which takes most of its time on the review file. They are
left out here before it reads.
"""

from __future__ import annotations

import re

ON_SCREEN = '{.content-visible when-format="html"}'  # as words.tables.on_screen opens such a part
CODE = re.compile(r"(?P<fence>`{3,}|~{3,})[^`]*$")
HEADING = re.compile(r"#{1,6} ")


def without_screen_parts(markdown: str) -> str:
    """The Markdown without what HTML alone shows. Headings there stay, and the filter takes them out: the names of
    later headings count on them. Where fences do not match, all is left to pandoc.
    """
    kept: list[str] = []
    is_screen: list[bool] = []  # of the divisions that are open here
    code = ""  # the fence of a block of code that is open here
    for line in markdown.split("\n"):
        is_hidden, is_heading = any(is_screen), not code and HEADING.match(line)
        if code:
            code = "" if line.strip() == code else code
        elif found := CODE.match(line):
            code = found["fence"]
        elif line.startswith(":::"):
            words = line.strip(": ")
            if not words and not is_screen:
                return markdown
            is_screen = [*is_screen, words == ON_SCREEN] if words else is_screen[:-1]
        if not is_hidden or not any(is_screen):
            kept.append(line)
        elif is_heading:
            kept += ["", line, ""]
    return markdown if is_screen or code else "\n".join(kept)
