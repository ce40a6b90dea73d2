"""Chromium without a window: what a page says and asks for, and what axe-core and a ruler find on it.

axe-core (Deque Systems, MPL-2.0) tests rendered pages against WCAG 2 (levels A and AA) and good practice; its script
comes in the Python package axe-playwright-python.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
NEEDS_BROWSER = pytest.mark.skipif(
    not CHROMIUM, reason="no Chromium here (Debian: apt-get install chromium): pages are not looked at"
)
NOT_A_PAGE = "not an origin"  # what the browser asks for itself

# Runs inside the page, every <details> open; its answer goes to the page around the frame.
EXAMINE = """
addEventListener("load", async () => {
  document.querySelectorAll("details").forEach(d => { d.open = true; });
  const root = document.documentElement, edge = root.clientWidth;
  const scrolls = e => e && e !== document.body &&
    (getComputedStyle(e).overflowX !== "visible" || scrolls(e.parentElement));
  const wide = [...document.body.querySelectorAll("*")]
    .filter(e => e.getBoundingClientRect().right > edge + 1 && !scrolls(e.parentElement));
  const found = await axe.run();
  parent.document.body.dataset["found" + name] = JSON.stringify({
    width: edge, scroll_width: root.scrollWidth, wide: wide.map(e => e.outerHTML.slice(0, 120)),
      passes: found.passes.length,
    violations: found.violations.flatMap(v => v.nodes.map(n => `${v.id}: ${v.help}: ${n.html.slice(0, 200)}`)),
  });
});
"""


def opened(
    page: Path, scratch: Path, *options: str, fragment: str = "", budget_ms: int = 2000
) -> subprocess.CompletedProcess:
    """Opens a page, or its #fragment, in a browser that reaches no network; stdout is its document once scripts have
    run.
    """
    command = [
        CHROMIUM,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-background-networking",
        "--enable-logging=stderr",
    ]
    command += [
        f"--user-data-dir={scratch / 'profile'}",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        f"--virtual-time-budget={budget_ms}",
    ]
    return subprocess.run(
        [*command, *options, "--dump-dom", f"{page.as_uri()}#{fragment}"], capture_output=True, text=True, timeout=300
    )


def answered(
    page: Path, scratch: Path, script: str, *options: str, fragment: str = "", before: str = "", budget_ms: int = 20_000
):
    """What the body of an async function returns, run in a copy of a page once its own scripts have; `before` runs
    ahead of them.

    Copies keep their name, so that what a browser remembers in `scratch` is the same page's.
    """
    runs = (
        f"addEventListener('load', async () => {{ const found = await (async () => {{ {script} }})().catch((error) =>"
        " ({ failed: String(error) })); document.body.dataset.found = JSON.stringify(found); });"
    )
    copy = scratch / "copies" / page.name
    copy.parent.mkdir(exist_ok=True)
    text = page.read_text(encoding="utf-8").replace("</head>", f"<script>{before}</script></head>", 1)
    copy.write_text(text.replace("</body>", f"<script>{runs}</script></body>"), encoding="utf-8")
    answer = re.search(
        r'data-found="(.*?)"', opened(copy, scratch, *options, fragment=fragment, budget_ms=budget_ms).stdout
    )
    assert answer, f"{page.name}: the script did not come to its end"
    found = json.loads(html.unescape(answer[1]))
    assert not isinstance(found, dict) or "failed" not in found, found
    return found


def on_paper(page: Path, scratch: Path, *, fragment: str = "") -> str:
    """The text of the PDF that the browser prints of a page, its lines joined by spaces."""
    pdf = scratch / "printed.pdf"
    opened(page, scratch, f"--print-to-pdf={pdf}", "--no-pdf-header-footer", fragment=fragment)
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
    return " ".join(text.split())


def seen_by_a_browser(page: Path, scratch: Path) -> tuple[list[str], list[str], str]:
    """(console messages, URLs the page asked for beside itself, its document once scripts have run)."""
    log = scratch / "net.json"
    said = opened(page, scratch, f"--log-net-log={log}")
    console = [line for line in said.stderr.splitlines() if "CONSOLE" in line]
    events = [event.get("params", {}) for event in json.loads(log.read_text())["events"]]
    asked = {
        p["url"] for p in events if isinstance(p, dict) and "url" in p and p.get("initiator", NOT_A_PAGE) != NOT_A_PAGE
    }
    return console, sorted(asked), said.stdout


def examined(page: Path, scratch: Path, widths: Sequence[int]) -> list[dict]:
    """What axe-core and the ruler find on copies of a page, each shown so many CSS pixels wide, in one browser.

    A copy stands in a frame, since the browser's own window is never narrower than 500.

    Returns: of each copy width and scroll_width (pixels; the first without its scroll bar), wide (elements past the
    edge that scroll in no box of their own), passes (rules of axe-core that hold), violations (rule, what it asks for,
    and the element).
    """
    axe = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
    script = f"<script>{axe}</script><script>{EXAMINE}</script>"
    copy = page.read_text(encoding="utf-8").replace("</body>", f"{script}</body>")
    around = scratch / "around.html"
    frames = "".join(
        f'<iframe name="{i}" width="{width}" height="900" style="border: 0" srcdoc="{html.escape(copy)}"></iframe>'
        for i, width in enumerate(widths)
    )
    around.write_text(
        f'<!doctype html><html><head><meta charset="utf-8"></head><body>{frames}</body></html>',
        encoding="utf-8",
    )
    document = opened(around, scratch, budget_ms=60_000).stdout.partition("<iframe")[0]
    answers = [re.search(rf'data-found{i}="(.*?)"', document) for i in range(len(widths))]
    assert all(answers), f"{page.name}: the browser did not come to the end of its examination"
    return [json.loads(html.unescape(answer[1])) for answer in answers]
