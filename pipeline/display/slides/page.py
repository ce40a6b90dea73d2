"""What a crop's slides print: the questions of the growers' sheet, each with one picture or small table and its source.

Beside the slides each figure is kept for newsletters and posts, with its words in a plain text.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd

from pipeline.display.figures import headline, theme
from pipeline.display.figures.classes import by_class
from pipeline.display.figures.n_response import n_response
from pipeline.display.figures.site_year_gains import site_year_gains
from pipeline.display.figures.yields import yields
from pipeline.display.slides.beside import source_line, write_words
from pipeline.display.words import growers_sentences as sentences
from pipeline.display.words import money, talks
from pipeline.display.words import n_response as response
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.display.words.numbers import NBSP, capital, count, day, listed
from pipeline.display.words.tables import Markdown, escaped, paragraph, pipe_table, section, stacked

MOST_PLACES_NAMED = 8


class SlidesPage(GrowersAnswers):
    """Each property fills one slide, empty where the trials have nothing for it; the questions stand in
    reports/slides.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        crop: whose comparisons; those against what growers do today come first.
        folder: for the figures, which go below it into the folder talks.FOLDER.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], crop: str, folder: Path) -> None:
        super().__init__(views, crop, folder)
        self._figures = folder / talks.FOLDER
        self._figures.mkdir(exist_ok=True)
        self._even = self._yields().set_index("comparison_id")["even"]

    def slide(self, question: str, told: Markdown | str) -> Markdown:
        return section(question, told, level=2)

    @property
    def subtitle(self) -> str:
        return f"{self._source(self._leading)} {self.provisional}".strip()

    @property
    def yields(self) -> Markdown:
        source = self._source(self._leading)
        if "yields" not in self.figures:
            return stacked(self._no_average(), self.source)
        self._draw_headlines()
        picture = yields(self._yields(), folder=self._figures, name=self._name("yields"), sheet=theme.SLIDE)
        return self._pictured("yields", sentences.yielded(self._leading.iloc[0]), picture, source)

    @property
    def how_sure(self) -> Markdown:
        rows = [
            {"Comparison": self._named(row), "How sure": Markdown(f"**{word}**"), "Why": capital(reason)}
            for row, word, reason in self._how_sure()
        ]
        widths = {"Comparison": 40, "How sure": 16, "Why": 44}
        source = self._source(self._leading)
        return stacked(self._one_field(), pipe_table(pd.DataFrame(rows), caption=source, label="sure", widths=widths))

    @property
    def pays(self) -> Markdown:
        if self._paying.empty:
            return Markdown()
        rows = [
            {
                "Comparison": self._named_paying(row),
                "Net per acre": money.own_net(row),
                f"95%{NBSP}interval": money.own_interval(row),
                "Breaks even at": money.own_break_even(row),
            }
            for _, row in self._paying.iterrows()
        ]
        widths = dict(zip(rows[0], (46, 16, 22, 18), strict=True))
        counts = self._paying[["comparison_id", "n_site_years", "n_seasons"]]
        behind = self._leading.merge(counts, on="comparison_id", suffixes=("_of_gain", ""))
        is_of_fewer = behind["n_seasons"].ne(behind["n_seasons_of_gain"]).any()
        fixed_on = day(self._paying.iloc[0]["prices_fixed_on"])
        source = f"{self._source(behind, behind['n_seasons'] if is_of_fewer else ())} Planning prices of {fixed_on}."
        unit = money.in_unit_of_gains(self._paying.iloc[0], self._leading.iloc[0]["unit"])
        source = f"{source} {unit}".strip()
        told, why = self._pays()
        table = pipe_table(pd.DataFrame(rows), caption=source, label="pays", widths=widths)
        return stacked(told, table, _notes(why))

    @property
    def how_much_nitrogen(self) -> Markdown:
        if "response" not in self.figures:
            return Markdown()
        means, lines = self._of_crop["response_means"], self._of_crop["response_lines"]
        picture = n_response(means, lines, folder=self._figures, name=self._name("response"), sheet=theme.SLIDE)
        families = response.drawn(self._of_crop["response_curves"])
        own = self._of_crop["trial_curves"]
        left_out = own.loc[own["flag"].isin(response.NEVER_COUNT), "trial_id"]
        rates = self._of_crop["rate_means"]
        rates = rates[rates["family"].isin(families["family"]) & ~rates["trial_id"].isin(left_out)]
        source = f"{self._said(families['n_site_years'], rates['season'])} Not a recommendation for your field."
        return self._pictured("response", self._optima()[0], picture, source)

    @property
    def drop_a_pass(self) -> Markdown:
        rows = self._passes_asked()
        if rows.empty:
            return Markdown()
        behind = self._leading[self._leading["comparison_id"].isin(rows["comparison_id"])]
        told = [[self._passes(row), sentences.passes_behind(row)] for _, row in rows.iterrows()]
        return stacked(*map(paragraph, told), _small(self._source(behind)))

    @property
    def on_my_land(self) -> Markdown:
        told, classes = self._on_my_land()
        if classes.empty:
            return Markdown()
        average = self._leading.iloc[0]
        picture = by_class(classes, average, folder=self._figures, name=self._name("land"), sheet=theme.SLIDE)
        return self._pictured("land", paragraph([*told, f"{self._named(average)}:"]), picture, self._source_of_lead())

    @property
    def where(self) -> Markdown:
        if "gains" not in self.figures:
            return Markdown()
        dots, gains = self._site_years(), self._of("gains", self._lead["comparison_id"])
        averages = gains[(gains["moderator"] == "all") & gains["is_headline"].eq(True)]
        even = self._even[self._lead["comparison_id"]]
        picture = site_year_gains(
            dots,
            averages,
            folder=self._figures,
            name=self._name("gains"),
            sheet=theme.SLIDE,
            break_even=None if pd.isna(even) else even,
        )
        places = sorted(dots["place"].unique())
        at = f"At {listed(places)}" if len(places) <= MOST_PLACES_NAMED else f"At {count(len(places), 'place')}"
        told = f"{at}. Each dot is the gain at one place in one season."
        return self._pictured("gains", told, picture, self._source_of_lead())

    @property
    def who_paid_and_cite(self) -> Markdown:
        return stacked(self.who_paid, f"Cite as: {self.cite}", self.source)

    @property
    def source(self) -> Markdown:
        """Where a slide of all comparisons without a picture comes from."""
        return _small(self._source(self._leading))

    def _draw_headlines(self) -> None:
        """The picture for a post and the small one, of the first comparison."""
        if "headline" not in self.figures:
            return
        row, source = self._leading.iloc[0], self._source_of_lead()
        even, answer = self._even[row["comparison_id"]], sentences.yielded(row)
        small = headline.headline(row, even, folder=self._figures, name=self._name("headline"))
        post = headline.social(row, even, answer=answer, source=source, folder=self._figures, name=self._name("social"))
        for name, picture in (("headline", small), ("social", post)):
            self._write_words(name, picture, source)

    def _pictured(self, name: str, told: str, picture: theme.Picture, source: str) -> Markdown:
        """A slide's sentence, its picture over its source, and how to read it as the speaker's notes."""
        self._write_words(name, picture, source)
        shown = theme.shown(
            self._name(name), caption=source, alt=picture.alt, width=theme.SLIDE.shown, below=f"{talks.FOLDER}/"
        )
        return stacked(told, shown, _notes(picture.caption))

    def _write_words(self, name: str, picture: theme.Picture, source: str) -> None:
        write_words(
            self._figures / f"{self._name(name)}.txt",
            title=f"{self.title}. {talks.TITLES[name]}",
            caption=picture.caption,
            alt=picture.alt,
            source=source,
            provisional=self.provisional,
        )

    def _name(self, figure: str) -> str:
        return f"{self.path}-{figure}"

    def _source_of_lead(self) -> str:
        return self._source(self._leading.head(1))

    def _source(self, averages: pd.DataFrame, n_seasons: Iterable[int] = ()) -> str:
        """Where the figures of a slide come from; averages: the leading averages that it shows. n_seasons: as
        source_line has it.
        """
        years = [int(year) for text in averages["seasons"].dropna() for year in text.split(", ") if year]
        return self._said(averages["n_site_years"], years, n_seasons)

    def _said(self, site_years: Iterable[int], years: Iterable[int], n_seasons: Iterable[int] = ()) -> str:
        is_provisional = bool(self.provisional)
        return source_line(self.program, site_years, years, is_provisional=is_provisional, n_seasons=n_seasons)


def _small(source: str) -> Markdown:
    return Markdown(f"[{escaped(source)}]{{.source}}")


def _notes(told: str) -> Markdown:
    """Words for the speaker; nothing where there are none."""
    return Markdown(f"::: notes\n\n{escaped(told)}\n\n:::") if told else Markdown()
