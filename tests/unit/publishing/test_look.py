"""The look itself: contrast by WCAG 2.1 (success criterion 1.4.3, level AA: 4.5 to 1), nothing fetched."""

from __future__ import annotations

import re

import pytest

from pipeline.publishing.by_pandoc import LOOK

CSS = (LOOK / "page.css").read_text(encoding="utf-8")
TYPST = (LOOK / "page.typ").read_text(encoding="utf-8")
COLORS = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", CSS))


def relative_luminance(color: str) -> float:
    """WCAG 2.1, definition of relative luminance."""
    channels = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_formula_gives_the_known_extremes():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # just short of AA


@pytest.mark.parametrize("text", ["ink", "quiet", "link"])
@pytest.mark.parametrize("ground", ["#ffffff", COLORS["tint"]])
def test_text_colors_reach_aa(text, ground):
    assert contrast(COLORS[text], ground) >= 4.5


def test_no_color_is_written_outside_the_list():
    rules = CSS.split("}", 1)[1]
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", rules)) == {"#ffffff"}


@pytest.mark.parametrize("look", [CSS, TYPST])
def test_nothing_is_fetched(look):
    assert not re.search(r"url\(|@import|https?:|@preview", look)
