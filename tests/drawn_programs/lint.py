"""What no page and no message may say, whatever the program: marks of a missing value, and sentences with holes."""

from __future__ import annotations

import re
from collections.abc import Iterator

FORBIDDEN = {
    "a missing value in words": (
        r"(?<![\w/.-])(nan|NaN|NA|None|inf|-inf|NaT|null|np\.\w+|Timestamp|float64)(?![\w/-])|<NA>|&lt;NA"
    ),
    "an empty bracket": r"\(\s*\)|(?<!\\)\{\s*\}|\[\s*\](?!\()",
    "an empty bullet": r"^\s*(?:-|\d+\.)\s*$|^\s*- \$$",
    "an empty bold": r"(?<!\*)\*\*\*\*(?!\*)",
    "two spaces": r"(?<=\S)  +(?=\S)",
    "a doubled stop": r"(?<!\.)\.\.(?!\.)|\.\)\.|\. \.|(?<!\b[A-Z])\.,|,\.|(?<!by );\.|:\.(?=\s|$)|,,|;;",
    "a space before a stop": r" [,;](?=\s)| \.(?=\s|$)",
    "one in the plural": (
        r"(?<![\d.,:-])1"
        r" (?:site-years|seasons|trials|rows|places|cases|blocks|findings|plots|claims|files|groups|rates|classes|more"
        r" seasons|more site-years)\b"
    ),
    "a negative zero": r"(?<![\w-])[-\u2212]0(?:\.0+)?(?![\w.,-])",
}
PATTERNS = {kind: re.compile(pattern, re.MULTILINE) for kind, pattern in FORBIDDEN.items()}
FENCED = re.compile(r"^(`{3,}).*?^\1`*\s*$", re.MULTILINE | re.DOTALL)
FRONT_MATTER = re.compile(r"\A---\n.*?\n---\n", re.DOTALL)
CODE = re.compile(r"(`+)(?!`).+?(?<!`)\1(?!`)")
RAW_HTML = re.compile(r"<script.*?</script>|<[^<>\n]+>", re.DOTALL)
ATTRIBUTES = re.compile(r"\{[.#][^{}\n]*\}")
TABLE = re.compile(r"(?:^\|.*\n?)+", re.MULTILINE)
TABLE_ROW = re.compile(r"^\|.*\|$", re.MULTILINE)
BAR = re.compile(r"(?<!\\)\|")  # between cells; one that is printed has a backslash before it
EMPTY_CELL = re.compile(r"\|\s*(?=\|)")
AROUND = 60
SCREEN_ART = re.compile(r"^.*[━┃│┏┡└┓┩┘╌].*$", re.MULTILINE)


def faults(name: str, text: str) -> Iterator[str]:
    """'an empty bullet: page: the words around it', once for each kind and page."""
    prose = RAW_HTML.sub("", ATTRIBUTES.sub("", CODE.sub("code", FENCED.sub("", FRONT_MATTER.sub("", text)))))
    prose = SCREEN_ART.sub("", prose)
    for row in TABLE_ROW.findall(prose):
        if EMPTY_CELL.search(row):
            yield f"an empty cell: {name}: {row[:160]}"
            break
    for table in TABLE.findall(prose):
        heads, *rows = table.splitlines()
        if other := next((row for row in rows if len(BAR.findall(row)) != len(BAR.findall(heads))), None):
            yield f"a row of other cells than its headings: {name}: {other[:160]}"
            break
    prose = TABLE_ROW.sub(
        lambda row: EMPTY_CELL.sub("| -", row[0]) if not re.fullmatch(r"[|:\- ]+", row[0]) else "", prose
    )
    prose = re.sub(r"^ +", "", prose, flags=re.MULTILINE)
    for kind, pattern in PATTERNS.items():
        if kind == "two spaces" and name.startswith("said by"):  # columns of a screen
            continue
        if found := pattern.search(prose):
            around = prose[max(0, found.start() - AROUND) : found.end() + AROUND]
            yield f"{kind}: {name}: ...{' '.join(around.split())}..."
