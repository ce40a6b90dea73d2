"""Texts that somebody may have put into a cell, a heading or a setting: numbers and days that are none, and what a
reader might obey.
"""

from __future__ import annotations

import random

WILD = (
    "1e999", "-1e999", "1e308", "1e-320", "0", "-5", "2147483648", "99999999999", "99999999999999999999", "0000-00-00",
    "9999-12-31",
    "0001-01-01", "2091-02-30", "nan", "inf", "''", '"q"', "{}", "$", "%s", "x" * 400, "\u00e9\u2028", "ALL", "a\nb",
    "\u00a012\u00a0", "-", ".",
)  # fmt: skip
NUMBERS = (
    "1,5", "1.234,5", "1 234", "1'234", "12 lb", "~40", "<0.1", "4O.2", "\u0664\u0660", "\uff14\uff10", "40.2.1",
    "0x1F", "1e3", "+40", "--40",
    "40%", "#DIV/0!", "#N/A", "NULL", "TRUE", "\u221240", "1/2", "\u00bd", "9" * 400, "0." + "0" * 400 + "1",
    "2091/05/02", "5/2/91", "2.5.2091",
    "2091-05-02T25:61", "33390", "yesterday", "2091-W18-3", "-2091-05-02",
)  # fmt: skip
OBEYED_BY_A_SCREEN = (
    "\x1b[2J\x1b[H", "\x1b]0;title\x07", "\x9b31m", "\x1b[6n", "a\x08\x08b", "\rOK", "\u202egnp.exe", "\u2066x\u2069",
    "\x07", "\x7f", "\x00", "\x1bc",
    "[bold red]x[/bold red]", "[/]", "\\[", "[link=file:///etc/passwd]x[/link]", ":smile:",
)  # fmt: skip
OBEYED_BY_A_PAGE = (
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "</style><style>*{display:none}</style>",
    "&lt;b&gt;&#0;", "<!--", "-->", "]]>",
    "{{< include /etc/passwd >}}", "{{< env HOME >}}", "`{python} 1+1`", "```{python}\nimport os\n```", "`{=html}<b>`",
    "\n---\ntitle: other\n---\n",
    "\\input{/etc/passwd}", "$\\write18{id}$", "#include(\"/etc/passwd\")", "#read(\"/etc/passwd\")",
    "![x](/etc/passwd)", "[x](javascript:alert(1))",
    "@citation", "[^1]", ":::{.callout-note}", "| a | b |\n|---|---|", "# Heading", "*x* _y_ ~z~ ^w^ **", "\\",
    "[]{.x onclick=alert(1)}", "${x}", "<https://x>",
)  # fmt: skip
OBEYED_ELSEWHERE = (
    "=cmd|' /C calc'!A0", "@SUM(1+1)", "+1+1", "-1+1", "=HYPERLINK(\"http://x\")", "'; drop table raw.rows; --",
    "\" or 1=1 --", "$(id)", "`id`", "; rm -rf x",
    "../../../etc/passwd", "/etc/passwd", "C:\\CON", "CON", "nul.", "a/b", "..", "a\tb", "%n%n%n", "{0.__class__}",
    "{sheet}", "{row}", "<trial>-{crop}", "!!python/object/apply:os.system [id]",
)  # fmt: skip
LETTERS = (
    "", " ", "\u200b", "\ufeff", "\u00a0", "Z\u0351\u036b\u0343" * 60, "\U0001f33d" * 9, "\u05d0\u05d1", "\u0130",
    "\u00df", "\ufb01", "e\u0301", "\u00e9", "\ud7ff", "\uffff", "\U0010ffff",
    "x" * 33_000, "\n" * 50, "a\r\nb", '"', '""', ",", ";", "\t", "|",
)  # fmt: skip
HOSTILE = (*WILD, *NUMBERS, *OBEYED_BY_A_SCREEN, *OBEYED_BY_A_PAGE, *OBEYED_ELSEWHERE, *LETTERS)


def hostile(drawn: random.Random, usual: str = "") -> str:
    """A text of the lists, by itself or beside what usually stands there, or the usual text a little changed."""
    kind = drawn.random()
    if kind < 0.15 and usual:
        at = drawn.randrange(len(usual))
        return (
            usual[:at]
            + drawn.choice(("", " ", "0", "9", ".", ",", "-", "\u00a0", "\u200b", chr(drawn.randrange(1, 0x2FF))))
            + usual[at + 1 :]
        )
    text = drawn.choice(HOSTILE)
    if kind < 0.3:
        return usual + text
    return text + usual if kind < 0.4 else text
