"""The slides as PPTX and the figures beside them: a question, a source and an alternative text on each, cautions
last.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import pytest

A = "{http://schemas.openxmlformats.org/drawingml/2006/main}"
P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"
SOURCE = re.compile(
    r"Source: .+, ([\d,]+( to \d+)? site-years? in \d+ seasons? \(.*20\d\d\)|no site-year yet)\. Edition of "
)


def slides(deck: Path) -> list[ET.Element]:
    with zipfile.ZipFile(deck) as parts:
        assert parts.testzip() is None
        names = [name for name in parts.namelist() if re.fullmatch(r"ppt/slides/slide\d+\.xml", name)]
        return [
            ET.fromstring(parts.read(name)) for name in sorted(names, key=lambda name: int(re.sub(r"\D", "", name)))
        ]


def words(element: ET.Element) -> str:
    return "".join(text.text or "" for text in element.iter(f"{A}t"))


def title(slide: ET.Element) -> str:
    kinds = {shape: shape.find(f".//{P}ph") for shape in slide.iter(f"{P}sp")}
    return "".join(words(shape) for shape, kind in kinds.items() if kind is not None and "itle" in kind.get("type", ""))


@pytest.fixture(scope="module")
def decks(published: Path) -> list[list[ET.Element]]:
    return [slides(path) for path in sorted(published.glob("*-slides.pptx"))]


def test_every_slide_has_a_title_and_says_where_it_comes_from(decks):
    assert decks
    for deck in decks:
        for slide in deck:
            assert title(slide) and SOURCE.search(words(slide)), words(slide)


def test_every_picture_has_an_alternative_text_and_every_shape_a_number_of_its_own(decks):
    for slide in (slide for deck in decks for slide in deck):
        for picture in slide.iter(f"{P}pic"):
            alt = picture.find(f".//{P}cNvPr").get("descr")
            assert len(alt) > 20 and ".png" not in alt
        numbers = [named.get("id") for named in slide.iter(f"{P}cNvPr")]
        assert len(numbers) == len(set(numbers)) and "0" not in numbers


def test_cautions_come_last_and_once(decks):
    for deck in decks:
        assert [title(slide) for slide in deck].index("Before you act on this") == len(deck) - 1
        assert "not a recommendation" in words(deck[-1])


def test_too_few_trials_are_said_to_be_too_few(by_pandoc):
    (deck,) = [slides(path) for path in by_pandoc.glob("*-slides.pptx")]
    said = {title(slide): words(slide) for slide in deck}
    assert "No trial has answered" in said["What did it yield?"] or "too few" in said["What did it yield?"]
    assert "Too few trials" in said["How sure is that?"] and "Does it pay?" not in said


def test_every_figure_has_its_files_and_its_words(published):
    folder = published / "figures"
    names = {path.stem for path in folder.iterdir()}
    assert names and {path.name for path in folder.iterdir()} == {
        f"{name}.{format}" for name in names for format in ("svg", "png", "txt")
    }
    for name in names:
        told = dict(
            part.strip().split(": ", 1) for part in (folder / f"{name}.txt").read_text("utf-8-sig").split("\n\n")
        )
        assert all(told.values()) and len(told["Alternative text"]) > 20
        assert "site-year" in told["Source"] and "not a recommendation" in told["Cautions"]
        assert "<image" not in (folder / f"{name}.svg").read_text("utf-8")


def test_the_report_links_to_the_slides_and_to_every_figure(published):
    for deck in published.glob("*-slides.pptx"):
        crop = deck.name.removesuffix("-slides.pptx")
        page = (published / f"{crop}.html").read_text("utf-8")
        linked = set(re.findall(r'href="(figures/[^"]+|[^"]+\.pptx)"', page))
        assert linked == {deck.name, *(f"figures/{path.name}" for path in (published / "figures").glob(f"{crop}-*"))}


@pytest.mark.slow
def test_the_demos_figures_are_all_kept_and_its_decks_fill_a_talk(demo):
    for crop, n_slides in {"corn": 10, "cotton": 10, "soybean": 8}.items():
        assert len(slides(demo / f"{crop}-slides.pptx")) == n_slides
        shown = "".join((demo / f"{crop}{page}.html").read_text("utf-8") for page in ("", "-handout"))
        figures = set(re.findall(r'<figure id="fig-(\w+)"', shown))
        assert figures <= {path.stem.removeprefix(f"{crop}-") for path in (demo / "figures").glob(f"{crop}-*")}
