"""Published pages in a real browser: nothing on the console, nothing asked of the network, and small enough to mail."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from pipeline import run
from pipeline.publishing import pages

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MOST_BYTES = 3_000_000
NOT_A_PAGE = "not an origin"  # what the browser asks for itself

pytestmark = pytest.mark.skipif(not CHROMIUM, reason="chromium is not installed: apt-get install chromium")


@pytest.fixture(scope="module")
def published(sound_program: Path, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("built") / "program"
    shutil.copytree(sound_program, folder)
    tables = run.build_warehouse(folder, "report", lambda text: None).tables
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.publishing.by_quarto.find_quarto", lambda: None)
        pages.publish(tables, folder=folder / "published", program_name="Tiny trials")
    return folder / "published"


def seen_by_a_browser(page: Path, scratch: Path) -> tuple[list[str], list[str], str]:
    """(console messages, URLs the page asked for beside itself, its document once scripts have run)."""
    log = scratch / "net.json"
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", f"--user-data-dir={scratch / 'profile'}"]
    command += ["--host-resolver-rules=MAP * ~NOTFOUND", f"--log-net-log={log}", "--enable-logging=stderr", "--virtual-time-budget=2000"]
    said = subprocess.run([*command, "--dump-dom", page.as_uri()], capture_output=True, text=True, timeout=120)
    console = [line for line in said.stderr.splitlines() if "CONSOLE" in line]
    events = [event.get("params", {}) for event in json.loads(log.read_text())["events"]]
    asked = {p["url"] for p in events if isinstance(p, dict) and "url" in p and p.get("initiator", NOT_A_PAGE) != NOT_A_PAGE}
    return console, sorted(asked), said.stdout


def test_a_faulty_page_would_be_found_out(tmp_path):
    page = tmp_path / "faulty.html"
    page.write_text('<img src="http://somewhere.example/x.png"><script>console.error("bad")</script>')
    console, asked, _ = seen_by_a_browser(page, tmp_path)
    assert "bad" in console[0] and asked == ["http://somewhere.example/x.png"]


@pytest.mark.parametrize("name", ["index", "corn", "review", "methods", "data_dictionary", "site-years/alder-2091"])
def test_a_page_is_quiet_and_asks_for_nothing(published, tmp_path, name):
    page = published / f"{name}.html"
    console, asked, document = seen_by_a_browser(page, tmp_path)
    assert (console, asked) == ([], [])
    assert "<h1" in document and page.stat().st_size < MOST_BYTES


def test_the_walk_to_the_plots_is_collapsed_until_opened(published, tmp_path):
    document = seen_by_a_browser(published / "review.html", tmp_path)[2]
    assert document.count("<details") >= 3 and "<details open" not in document
    assert document.count("<details") == document.count("</details>") == document.count("<summary")
