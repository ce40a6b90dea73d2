"""What the index prints: the answers crop by crop, claims, site-years, places, and what changed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.display.figures.headline import headline, value
from pipeline.display.index import editions
from pipeline.display.index.places_map import places_map
from pipeline.display.index.site_years_table import site_years_table
from pipeline.display.words import claims as claim_words
from pipeline.display.words import declarations, links, talks, trials
from pipeline.display.words.answers import is_told
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.display.words.numbers import capital, count, listed
from pipeline.display.words.program import who_is_named
from pipeline.display.words.tables import Markdown, escaped, listing, section, stacked


class IndexPage:
    """Each property is one section's words and tables; its heading and place stand in reports/index.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name, and the list of pages and of editions.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], folder: Path) -> None:
        self.folder = folder
        self.program = views["program"].iloc[0]
        self._views, self._pages = views, views["pages"]
        crops = self._pages.loc[self._pages["kind"] == "season", "crop"]
        self._growers = {crop: GrowersAnswers(views, crop, folder) for crop in crops}

    @property
    def seasons(self) -> str:
        return trials.seasons_of(self._views["trials"])

    @property
    def provisional(self) -> str:
        return trials.provisional(self._views["trials"], self._views["findings"])

    @property
    def by_crop(self) -> Markdown:
        of_seasons = self._pages[self._pages["kind"] == "season"]
        return stacked(*(self._crop(page) for page in of_seasons.itertuples()))

    def _crop(self, page) -> Markdown:
        """A crop's answer with its picture, and its sheet for growers and its full report in every format."""
        grower, name, every = self._growers[page.crop], capital(page.crop), ("html", "pdf", "docx")
        sheet = listed(links.in_formats(f"{name} handout", f"{page.path}{links.HANDOUT}", every))
        report = listed(links.in_formats(f"{name} report", page.path, every))
        talk = listed([talks.slides_link(page.crop, page.path), f"[{name} figures]({page.path}.html#for-talks)"])
        lead = grower.lead
        sides = f"{capital(lead['treatment'])} against {lead['comparator']}"
        counted = f"{count(lead['n_site_years'], 'site-year')} in {count(lead['n_seasons'], 'season')}"
        caption = f"{sides}: average gain {value(lead)}, {counted}." if is_told(lead) else ""
        picture = headline(lead, lead["even"], folder=self.folder, name=f"{page.path}-lead", caption=caption)
        told = f"For growers: {sheet}. For the program: {report}. For talks: {talk}."
        return section(escaped(name), grower.answer, picture, Markdown(told))

    @property
    def claims(self) -> Markdown:
        claims = self._views["claims"]
        return section("Claims", claim_words.short_table(claims), level=2) if len(claims) else Markdown()

    @property
    def site_years(self) -> Markdown:
        leads = {crop: grower.lead["comparison_id"] for crop, grower in self._growers.items()}
        table = site_years_table(self._pages, self._views["site_years"], self._views["site_year_gains"], leads)
        return stacked(trials.planned(self._views["trials"]), table)

    @property
    def places(self) -> Markdown:
        site_years = self._views["site_years"]
        has_trials = site_years["n_planned"] < site_years["n_trials"]
        n_in_all = site_years.loc[has_trials, "place"].nunique()
        drawn = places_map(self._views["places"], n_in_all, folder=self.folder)
        return section("Where the trials are", drawn) if drawn else Markdown()

    @property
    def who_is_named(self) -> str:
        return who_is_named(self.program)

    @property
    def changes(self) -> Markdown:
        return listing(editions.changes(self._views["changes"], self._views["verdict_changes"], self.program["run_id"]))

    @property
    def changed_rules(self) -> Markdown:
        told = declarations.changed_rules(self._views["settings_changes"])
        return section("Rules that were changed after their yields were read", listing(told)) if told else Markdown()

    @property
    def editions(self) -> Markdown:
        return section("Editions", editions.editions_list(self._views["editions"]))
