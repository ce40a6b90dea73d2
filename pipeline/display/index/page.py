"""What the index prints: the answers crop by crop, claims, places, what was delivered, and what changed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePosixPath

import pandas as pd

from pipeline.display.index import editions
from pipeline.display.index.row_counts import row_counts_table
from pipeline.display.words import claims as claim_words
from pipeline.display.words import trials
from pipeline.display.words.answers import answer
from pipeline.display.words.numbers import capital, listed
from pipeline.display.words.program import program_seasons
from pipeline.display.words.tables import Markdown, escaped, listing, section, stacked


class IndexPage:
    """Each property is one section's words and tables; its heading and place stand in reports/index.qmd.

    views: frames of the reports schema by name, without the schema's name, and the list of pages and of editions.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame]) -> None:
        self.program = views["program"].iloc[0]
        self._views, self._pages = views, views["pages"]

    @property
    def seasons(self) -> str:
        return program_seasons(self.program)

    @property
    def provisional(self) -> str:
        return trials.provisional(self._views["trials"], self._views["findings"])

    @property
    def by_crop(self) -> Markdown:
        gains = self._views["gains"]
        averages = gains[(gains["moderator"] == "all") & gains["is_headline"].eq(True) & gains["is_declared"]]
        of_seasons = self._pages[self._pages["kind"] == "season"]
        return stacked(*(self._crop(averages, page) for page in of_seasons.itertuples()))

    def _crop(self, averages: pd.DataFrame, page) -> Markdown:
        lead = averages[averages["crop"] == page.crop].iloc[0]
        links = listed(_links(f"{capital(page.crop)} report", page.path, ("html", "pdf", "docx")))
        return Markdown(f"**{escaped(capital(page.crop))}**: {escaped(answer(lead))} {links}")

    @property
    def claims(self) -> Markdown:
        claims = self._views["claims"]
        return section("Claims", claim_words.short_table(claims), level=2) if len(claims) else Markdown()

    @property
    def by_place_and_season(self) -> Markdown:
        of_places = self._pages[self._pages["kind"] == "site-year"]
        return stacked(*(self._season(season, pages) for season, pages in of_places.groupby("season")))

    def _season(self, season: int, pages: pd.DataFrame) -> Markdown:
        links = [", ".join(_links(f"{page.place} {season}", page.path, ("html", "pdf"))) for page in pages.itertuples()]
        return Markdown(f"**{season}**: {'; '.join(links)}")

    @property
    def delivered(self) -> Markdown:
        return row_counts_table(self._views["row_counts"])

    @property
    def editions(self) -> Markdown:
        changes = editions.changes(self._views["changes"], self.program["run_id"])
        return stacked(editions.editions_list(self._views["editions"]), listing(changes))


def _links(name: str, path: str, formats: tuple[str, ...]) -> list[Markdown]:
    """A link for each format of a page; each link says what it leads to."""
    named = {format: name if format == "html" else f"{name} ({format.upper()})" for format in formats}
    return [Markdown(f"[{escaped(words)}]({PurePosixPath(path)}.{format})") for format, words in named.items()]
