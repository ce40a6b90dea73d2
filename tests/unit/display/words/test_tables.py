from __future__ import annotations

import re
from html import unescape

import pandas as pd
import pypandoc
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.display.words.tables import Markdown, escaped, grey, joined, pipe_table, screen_listing
from pipeline.publishing.by_pandoc import MARKDOWN

ODD = "A_b*c* <x> $5$ @fig-q [z](y) 1~2^ `d` {e} \\f #g |h|"


def plain(markdown: str) -> str:
    """As a reader sees it: after what pandoc takes for an abbreviation it sets a space at which no line breaks."""
    return pypandoc.convert_text(markdown, "plain", format=MARKDOWN, extra_args=["--wrap=none"]).replace("\u00a0", " ")


def html(markdown: str) -> str:
    return pypandoc.convert_text(markdown, "html", format=MARKDOWN, extra_args=["--wrap=none"])


def test_no_character_of_a_cell_acts_as_markdown():
    table = pipe_table(pd.DataFrame({"Place": [ODD]}), caption=ODD, label="odd")
    assert plain(table).count(ODD) == 2


def test_markdown_passes_and_a_cell_without_a_value_is_a_dash():
    frame = pd.DataFrame({"a": [Markdown("**1**"), None], "b": ["x", float("nan")], "c": ["", Markdown(" ")]})
    drawn = html(pipe_table(frame, caption="c", label="l"))
    assert "<strong>1</strong>" in drawn and "nan" not in drawn and "None" not in drawn
    assert drawn.count("\u2013") == 4


def test_caption_and_id():
    assert pipe_table(pd.DataFrame({"a": ["1"]}), caption="Gains, 5%", label="gains").endswith(
        ": Gains, 5% {#tbl-gains}\n"
    )


def test_columns_keep_the_shares_they_are_given():
    frame = pd.DataFrame({"a": ["x" * 80], "b": ["y"]})
    drawn = html(pipe_table(frame, caption="c", label="l", widths={"a": 30, "b": 10}, right=("b",)))
    assert "width: 75%" in drawn and "width: 25%" in drawn and "text-align: right" in drawn


def test_one_line_and_the_no_break_space_stays():
    assert escaped("a\nb\u00a0c") == "a b\u00a0c"


def test_grey_is_grey_on_screen_and_on_paper():
    assert 'class="grey"' in html(grey("n = 3"))
    assert "fill" in pypandoc.convert_text(grey("n = 3"), "typst", format="markdown")
    assert joined(["a_b", grey("c")], by=" ").startswith("a\\_b [c]{.grey")


# quotes are set as printers set them
LETTERS = st.characters(min_codepoint=33, max_codepoint=126, exclude_characters="'\"")


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=LETTERS, min_size=1, max_size=20))
@example("plots--final...csv")
@example("---..--..")
@example("c.")
def test_escaped_text_reads_as_itself(text):
    assert plain(f"x {escaped(text)} y\n").strip() == f"x {text} y"


@settings(max_examples=30, deadline=None)
@given(st.lists(st.text(alphabet=LETTERS, min_size=1, max_size=20), min_size=1))
@example(["```", "</li>", "a--b", "&amp;"])
def test_a_list_on_the_screen_reads_as_itself(texts):
    drawn = html(f"Above:\n\n{screen_listing(texts)}\n\nBelow.\n")
    assert [unescape(text) for text in re.findall("<li>(.*?)</li>", drawn)] == texts
    assert "<p>Above:</p>" in drawn and "<p>Below.</p>" in drawn


def test_a_list_of_nothing_on_the_screen_is_nothing():
    assert screen_listing([]) == ""
    assert "<li>a b</li>" in screen_listing([" a\nb "])


@pytest.mark.parametrize(
    "text",
    [
        "1. one",
        "- one",
        "+ one",
        "12) one",
        "# one",
        "> one",
        "| one",
        "a\nb",
        ": one",
        "a. one",
        "(1) one",
        "iv) one",
    ],
)
def test_escaped_text_that_opens_a_paragraph_stays_a_paragraph(text):
    assert plain(escaped(text) + "\n").strip() == text.replace("\n", " ")


def test_no_word_of_a_heading_is_wider_than_its_column():
    """Average is 7 letters: at 6.3 points each and 6 between columns it takes 51 of a page's 468 points."""
    frame = pd.DataFrame({"Pays on average": ["x"], "Site-years": ["x"], "What": ["x"]})
    table = pipe_table(frame, caption="c", label="t", widths={"Pays on average": 4, "Site-years": 30, "What": 66})
    shares = [len(cell) for cell in table.splitlines()[1].strip("|").split("|")]
    assert shares == [11, 30, 66]
