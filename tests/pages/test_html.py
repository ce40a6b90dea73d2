"""Published HTML pages in a real browser: readable to everyone, quiet, asking for nothing, and small enough to mail."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.pages.browser import NEEDS_BROWSER, answered, examined, seen_by_a_browser
from tests.pages.conftest import PLACES

pytestmark = NEEDS_BROWSER
MOST_BYTES = 3_000_000
FAULTY = """\
<html><head></head><body>
<img src="http://somewhere.example/x.png"><script>console.error("bad")</script>
<p style="color: #aaa">Grey on white</p><p style="width: 600px">Too wide</p>
<div style="overflow-x: auto"><p style="width: 700px">Scrolls by itself</p></div></body></html>
"""


@pytest.fixture(
    scope="session", params=["by_pandoc", *(pytest.param(way, marks=pytest.mark.slow) for way in ("by_quarto", "demo"))]
)
def published(request) -> Path:
    """Drawn by Quarto a page is the same document (test_both_ways.py), so a browser looks at it in the slow tests
    only.
    """
    return request.getfixturevalue(request.param)


@pytest.fixture
def faulty(tmp_path) -> Path:
    (tmp_path / "faulty.html").write_text(FAULTY, encoding="utf-8")
    return tmp_path / "faulty.html"


def test_a_page_that_talks_and_asks_would_be_found_out(faulty, tmp_path):
    console, asked, _ = seen_by_a_browser(faulty, tmp_path)
    assert "bad" in console[0] and asked == ["http://somewhere.example/x.png"]


def test_a_page_that_few_can_read_would_be_found_out(faulty, tmp_path):
    _, found = examined(faulty, tmp_path, (1280, 360))
    assert (found["width"], found["scroll_width"]) == (360, 608)  # 600 and the body's margin
    assert [element for element in found["wide"] if "Scrolls by itself" in element] == []
    assert "Too wide" in found["wide"][0]
    rules = {violation.split(":")[0] for violation in found["violations"]}
    assert {"html-has-lang", "document-title", "image-alt", "color-contrast", "landmark-one-main"} <= rules


@pytest.mark.parametrize("kind", PLACES)
def test_a_page_is_quiet_and_asks_for_nothing(page, kind, tmp_path):
    console, asked, document = seen_by_a_browser(page, tmp_path)
    assert (console, asked) == ([], [])
    assert "<h1" in document and "typst:" not in document and page.stat().st_size < MOST_BYTES


@pytest.mark.parametrize("kind", PLACES)
def test_a_page_breaks_no_rule_of_access_and_fits_a_phone(page, kind, tmp_path):
    """At 360 pixels, a common phone's width (common practice, no source), only boxes of their own scroll sideways."""
    for width, found in zip((360, 1280), examined(page, tmp_path, (360, 1280)), strict=True):
        assert found["violations"] == [] and found["passes"] > 20, width
        assert width - 20 < found["width"] <= width  # less its scroll bar
        assert (found["scroll_width"], found["wide"]) == (found["width"], []), width


@pytest.mark.parametrize("kind", ["season"])
def test_a_reader_s_own_prices_reach_every_sentence_that_rests_on_them(page, kind, tmp_path):
    if 'class="own-prices"' not in page.read_text(encoding="utf-8"):
        pytest.skip("too few site-years for a budget: no boxes")
    script = """const text = () => document.body.innerText; const before = text();
        const box = document.querySelector("input[name=crop]");
          const type = (value) => { box.value = value;
          box.dispatchEvent(new Event("input", { bubbles: true })); };
        type("6"); const own = text(); type("4.50"); return [before, own, text()];"""
    before, own, after = answered(page, tmp_path, script)
    assert before == after
    assert "Planning prices of" in before and "your prices" not in before
    assert "Planning prices of" not in own and own.count("at your prices") >= 5  # twice the answer, and three tables
    assert "At your prices: corn $6.00 a bushel. All else is at the planning prices of November 1" in own


@pytest.mark.parametrize("kind", ["review"])
def test_the_walk_to_the_plots_is_collapsed_until_opened(page, kind, tmp_path):
    document = seen_by_a_browser(page, tmp_path)[2]
    assert document.count("<details") >= 3 and "<details open" not in document
    assert document.count("<details") == document.count("</details>") == document.count("<summary")


def test_every_id_on_a_page_leads_to_one_place_in_the_review_file(published):
    anchors = re.findall(r'id="(id-[^"]+)"', (published / "review.html").read_text(encoding="utf-8"))
    links = set()
    for page in published.glob("*.html"):
        links |= set(re.findall(r'href="review\.html#(id-[^"]+)"', page.read_text(encoding="utf-8")))
    assert links and links <= set(anchors) and len(anchors) == len(set(anchors))
