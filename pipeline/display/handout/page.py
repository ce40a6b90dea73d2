"""What a crop's one-sheet handout prints: a grower's questions, each answered in a sentence and one picture or small
table.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.display.figures import theme
from pipeline.display.figures.classes import by_class
from pipeline.display.figures.yields import yields
from pipeline.display.words import growers_sentences as sentences
from pipeline.display.words import links, money, n_response, own_prices, prices, weather
from pipeline.display.words.answers import TARGET
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.display.words.nitrogen_given import nitrogen_given
from pipeline.display.words.numbers import NBSP, capital, count, listed, number
from pipeline.display.words.tables import Markdown, escaped, grey, joined, paragraph, pipe_table, stacked

FIRM_OR_FRAGILE = {sentences.FIRM, sentences.FRAGILE}


class HandoutPage(GrowersAnswers):
    """Each property answers one question; the questions and their order stand in reports/handout.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        crop: whose comparisons; those against what growers do today come first.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], crop: str, folder: Path) -> None:
        super().__init__(views, crop, folder)
        self._references: dict[str, int] = {}

    def _reference(self, estimate_id: str) -> Markdown:
        """A small mark that leads to an estimate in the review file."""
        mark = self._references.setdefault(estimate_id, len(self._references) + 1)
        return Markdown(f"[{grey(f'[{mark}]')}](review.html#id-{estimate_id})")

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own=f"{self.path}{links.HANDOUT}")

    @property
    def yields(self) -> Markdown | str:
        if self._leading["estimate"].isna().all():
            return self._no_average()
        figure = theme.on_both(partial(yields, self._yields(), folder=self.folder), name="yields")
        return stacked(figure, nitrogen_given(self._leading, self.program["display_units"]))

    @property
    def how_sure(self) -> Markdown:
        """A word and its reason for each comparison, and what one field may see."""
        told = [
            {
                "Comparison": joined([self._named(row), self._reference(row["estimate_id"])], by=" "),
                "How sure": Markdown(f"**{word}**"),
                "Why": capital(reason),
                "Site-years": f"{row['n_site_years']} in {count(row['n_seasons'], 'season')}",
            }
            for row, word, reason in self._how_sure()
        ]
        table = pipe_table(
            pd.DataFrame(told),
            caption=_explained({word for _, word, _ in self._how_sure()}),
            label="sure",
            widths={"Comparison": 40, "How sure": 14, "Why": 34, "Site-years": 18},
        )
        return stacked(table, self._one_field())

    @property
    def pays(self) -> Markdown:
        if self._paying.empty:
            return escaped(money.missing(self._of_crop["money"], self.crop))
        first, curves = self._paying.iloc[0], self._of_crop["response_curves"]
        asked = prices.asked(self._paying, self._views["nitrogen_prices"], self._comparisons, n_response.priced(curves))
        boxes = own_prices.boxes(
            self._paying, asked, curves=curves, draws=self._of_crop["response_draws"], program=self.program["program"]
        )
        return stacked(
            self._pays()[0],
            self._money_table(),
            boxes,
            money.own_span("priced-at", money.planning_prices(first, asked.said)),
        )

    def _money_table(self) -> Markdown:
        rows = [
            {
                "Comparison": joined([self._named_paying(row), self._reference(row["estimate_id"])], by=" "),
                "On a gain of": f"{number(row['gain'], row['digits'])} {row['unit']}",
                "Net per acre": money.own_net(row),
                f"95%{NBSP}interval": money.own_interval(row),
                "Breaks even at": money.own_break_even(row),
                "Fields where it pays": money.own_fields(row),
            }
            for _, row in self._paying.iterrows()
        ]
        caption = joined(
            ["Net return per acre", money.basis(), "with the gain it rests on.", self._gain_of_money()], by=" "
        )
        widths = dict(zip(rows[0], (34, 12, 11, 20, 12, 13), strict=True))
        return pipe_table(pd.DataFrame(rows), caption=caption, label="pays", widths=widths)

    def _gain_of_money(self) -> str:
        """Which gains the dollars rest on, and how the shares of fields are written."""
        told = [sentences.gains_of_money(self._paying)]
        is_ahead = self._paying.loc[self._paying["conf_low"].isna(), "target"].eq(TO_COME)
        few = [name for name, bears in (("seasons", is_ahead.any()), ("site-years", (~is_ahead).any())) if bears]
        told += [f"Not known: too few {listed(few, 'or')} bear on it."] if few else []
        unit = money.in_unit_of_gains(self._paying.iloc[0], self._leading.iloc[0]["unit"])
        return " ".join(filter(None, [*told, "Fields: in parentheses, the range.", unit]))

    @property
    def how_much_nitrogen(self) -> Markdown:
        said, told = self._optima()
        if not told:
            return said
        rows = [
            {
                "Nitrogen treatment": joined([capital(row["family"]), self._reference(row["estimate_id"])], by=" "),
                f"Economic optimum, {row['n_unit']}": rate,
                "Site-years": str(row["n_site_years"]),
            }
            for row, rate in told
        ]
        caption = joined(
            [
                "The rate at which the last pound of nitrogen just pays for itself, with its"
                f" 95%{NBSP}interval for the seasons tested,",
                Markdown(f"{money.basis('price-basis')}."),
                "Not a recommendation for your field.",
            ],
            by=" ",
        )
        return stacked(said, pipe_table(pd.DataFrame(rows), caption=caption, label="rates"))

    @property
    def drop_a_pass(self) -> Markdown:
        rows = self._passes_asked()
        if rows.empty:
            return escaped(f"We did not test whether fewer passes do as well on {self.crop}.")
        return stacked(*(self._pass(row) for _, row in rows.iterrows()))

    def _pass(self, row: Mapping) -> Markdown:
        told = [self._passes(row), sentences.passes_behind(row)]
        paying = self._paying[self._paying["comparison_id"] == row["comparison_id"]]
        if len(paying):
            first = paying.iloc[0]
            net, limits = money.own_net(first), money.own_interval(first)
            when = f" {TARGET[TESTED]}" if (first["target"], row["target"]) == (TESTED, TO_COME) else ""
            told.append(Markdown(f"The net return is {net} an acre{when} (95%{NBSP}interval: {limits})."))
        mark = "" if pd.isna(row["estimate"]) else self._reference(row["estimate_id"])
        return joined(filter(None, [*told, mark]), by=" ")

    @property
    def on_my_land(self) -> Markdown:
        told, classes = self._on_my_land()
        if classes.empty:
            return stacked(paragraph(told), self._explained())
        average = self._leading.iloc[0]
        pictures = f"The pictures show {average['treatment']} against {average['comparator']}."
        return stacked(
            paragraph([*told, pictures]),
            self._explained(),
            theme.on_both(partial(by_class, classes, average, folder=self.folder), name="land"),
        )

    def _explained(self) -> Markdown:
        """What of the weather is shown to go with the gain, in at most one line."""
        slope = weather.best_shown(self._of("weather_slopes", self._lead["comparison_id"]))
        if slope is None:
            return Markdown()
        said = weather.stood_out(slope, weather.of_slope(self._of_crop["weather_covariates"], slope))
        return joined([said, self._reference(slope["estimate_id"])], by=" ")

    @property
    def sources(self) -> Markdown:
        """How many trials it rests on, who paid, how to cite it, and the ids behind the marks, for who holds the
        printed sheet.
        """
        marks = [f"[{mark}] {estimate_id}" for estimate_id, mark in self._references.items()]
        ids = grey(f"Ids, for the review file: {listed(marks)}.") if marks else ""
        return paragraph([self.trials_counted, self.who_paid, f"Cite as: {self.cite}", ids])


def _explained(words: set[str]) -> str:
    """What stands for how sure, as far as it stands there: 'fragile' is told from 'firm'."""
    firm = "Firm: still so if we drop any one season, place or trial." if words & FIRM_OR_FRAGILE else ""
    fragile = "Fragile: not so." if sentences.FRAGILE in words else ""
    return " ".join(filter(None, [firm, fragile, "Site-year: one place in one season."]))
