"""What paper does not show is left out before pandoc reads a page, and what it draws is the same."""

from __future__ import annotations

import pytest

from pipeline.display.words.tables import Markdown, on_screen, section
from pipeline.publishing import by_pandoc
from pipeline.publishing.page import Page
from pipeline.publishing.print_parts import without_screen_parts


def table(label: str) -> Markdown:
    return Markdown(f"| A | B |\n|:--|--:|\n| a | 1 |\n\n: Caption {{#tbl-{label}}}\n")


CODE = Markdown('```{=html}\n::: {.content-visible when-format="html"}\n# no heading\n```\n')
FOLDED = Markdown("::: {.callout-note}\nfolded\n:::")
PARTS = [
    "---\ntitle: Page\n---\n",
    section("Results", Markdown("Before, see @tbl-paper.")),
    on_screen(section("Results", table("screen"), FOLDED, CODE, "folded")),
    '::: {.content-visible unless-format="html"}\nOnly on paper.\n:::\n',
    CODE,
    section("Results", table("paper")),
    on_screen("folded"),
    "After.\n",
]
PAGE = "\n".join(PARTS)


def test_what_paper_does_not_show_is_left_out_but_for_headings():
    found = without_screen_parts(PAGE)
    assert "folded" not in found and "tbl-screen" not in found
    assert found.count("### Results") == 3 and found.count("# no heading") == 1
    assert all(words in found for words in ("Before,", "Only on paper.", "tbl-paper", "After."))


def test_typst_gets_the_same_words(tmp_path, monkeypatch):
    """With the names of headings, of which the third is results-2."""
    page = Page(tmp_path / "page.md", tmp_path, "page")
    page.markdown.write_text(PAGE, encoding="utf-8")
    found = by_pandoc.typst_source(page)
    monkeypatch.setattr(by_pandoc, "without_screen_parts", lambda markdown: markdown)
    assert b"results-2" in found and found == by_pandoc.typst_source(page)


@pytest.mark.parametrize("cut", ["::: {.note}\nnever closed\n", ":::\n", "```\nnever closed\n"])
def test_where_fences_do_not_match_all_is_left_to_pandoc(cut):
    assert without_screen_parts(PAGE + cut) == PAGE + cut


def test_a_page_without_such_parts_stays():
    text = PAGE.replace("content-visible when-format", "content-hidden when-format")
    assert without_screen_parts(text) == text
