"""What a crop has for talks and newsletters: its slides, and its figures with the words beside them."""

from __future__ import annotations

from pipeline.display.words import links
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, listing

SLIDES = "-slides"  # added to the path of a crop's full report
FOLDER = "figures"  # below the published folder
FORMATS = ("svg", "png", "txt")
TITLES = {
    "yields": "Average gains",
    "response": "Yield at each N rate",
    "land": "Gain by soil and rain",
    "gains": "Gain at every site-year",
    "headline": "The headline, small",
    "social": "The headline for a post",
}


def slides_link(crop: str, path: str) -> Markdown:
    """path: of the crop's full report."""
    return links.in_formats(f"{capital(crop)} slides", f"{path}{SLIDES}", ("pptx",))[0]


def for_talks(answers: GrowersAnswers) -> Markdown:
    """Links to the slides and to every figure, each in its formats; words: its caption, alternative text and source."""
    rows = []
    for name in answers.figures:
        svg, png, words = links.in_formats(TITLES[name], f"{FOLDER}/{answers.path}-{name}", FORMATS)
        rows.append(Markdown(f"{svg}, {png} and {words}"))
    return listing([slides_link(answers.crop, answers.path), *rows])
