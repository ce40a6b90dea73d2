"""What a crop's one-sheet handout prints: a grower's questions, each answered in a sentence and one picture or small table."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import BY_DRAINAGE, BY_RAINFALL, DECLARED
from pipeline.display.handout import sentences
from pipeline.display.handout.classes_figure import by_class
from pipeline.display.handout.yields_figure import yields
from pipeline.display.words import answers, links, money, n_response, own_prices, prices, trials, where
from pipeline.display.words.numbers import NBSP, capital, listed, seasons
from pipeline.display.words.tables import Markdown, escaped, grey, joined, paragraph, pipe_table, stacked

BY_CLASS = (BY_DRAINAGE, BY_RAINFALL)
NO_SITE_YEAR = "No trial has answered any of these comparisons yet."


class HandoutPage:
    """Each property answers one question; the questions and their order stand in reports/handout.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        crop: whose comparisons; those against what growers do today come first.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], crop: str, folder: Path) -> None:
        self.crop, self.folder = crop, folder
        self.program = views["program"].iloc[0]
        self._views = views
        self.path = views["pages"].set_index("crop").loc[crop, "path"]
        self._of_crop = {name: view[view["crop"] == crop] for name, view in views.items() if "crop" in view.columns}
        self._comparisons = self._of_crop["comparisons"].sort_values(
            ["is_against_standard", "position"], ascending=[False, True]
        )
        self._ids = list(self._comparisons["comparison_id"])
        self._lead = self._comparisons.iloc[0]
        self._trials = self._of_crop["trials"]
        self._findings = views["findings"][views["findings"]["trial_id"].isin(self._trials["trial_id"])]
        self._leading = self._averages_in_order()
        self._paying = self._in_order(money.told(self._of_crop["money"]))
        self._references: dict[str, int] = {}

    def _in_order(self, rows: pd.DataFrame) -> pd.DataFrame:
        return rows.sort_values("comparison_id", key=lambda ids: ids.map(self._ids.index), kind="stable")

    def _averages_in_order(self) -> pd.DataFrame:
        """The leading average of each comparison on its declared target, with the names of its sides."""
        gains = self._of_crop["gains"]
        rows = gains[(gains["moderator"] == "all") & gains["is_declared"] & gains["is_headline"].eq(True)]
        named = ["comparison_id", "treatment_in_short", "comparator_in_short", "comparator_mean", "is_late"]
        rows = self._in_order(rows.merge(self._comparisons[named], on="comparison_id")).reset_index(drop=True)
        both = [sentences.sides(row) for _, row in rows.iterrows()]
        return rows.assign(treatment=[one for one, _ in both], comparator=[other for _, other in both])

    def _of(self, view: str, comparison_id: str) -> pd.DataFrame:
        rows = self._of_crop[view]
        return rows[rows["comparison_id"] == comparison_id]

    def _reference(self, estimate_id: str) -> Markdown:
        """A small mark that leads to an estimate in the review file."""
        number = self._references.setdefault(estimate_id, len(self._references) + 1)
        return Markdown(f"[{grey(f'[{number}]')}](review.html#id-{estimate_id})")

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own=f"{self.path}{links.HANDOUT}")

    @property
    def title(self) -> str:
        years = ", ".join(map(str, sorted(self._trials["season"].unique())))
        return f"{capital(self.crop)}: nitrogen trials, {seasons(years)}"

    @property
    def provisional(self) -> str:
        return trials.provisional(self._trials, self._findings, f"{self.crop} trial")

    @property
    def answer(self) -> Markdown:
        """The lead's answer, what it returns where that is shown, and the answer of its runner-up."""
        paying = self._paying.set_index("comparison_id")
        told = []
        for _, row in self._leading.head(2).iterrows():
            told.append(sentences.yielded(row))
            if row["comparison_id"] in paying.index:
                told.append(sentences.shown_return(paying.loc[row["comparison_id"]]))
        return paragraph(told)

    @property
    def yields(self) -> Markdown | str:
        if self._leading["estimate"].isna().all():
            return NO_SITE_YEAR
        paying = self._paying.set_index("comparison_id")
        nets = {each.Index: f"{money.dollars(each.net_change, each.currency)} an acre" for each in paying.itertuples()}
        rows = self._leading.assign(
            even=self._leading["comparison_id"].map(paying["break_even_display"]).astype(float),
            pays=self._leading["comparison_id"].map(nets).fillna(""),
        )
        return yields(rows, folder=self.folder, name="yields")

    @property
    def how_sure(self) -> Markdown:
        """A word and its reason for each comparison, and what one field may see."""
        robustness, tested = self._of_crop["robustness"], self._of_crop["gains"]
        robustness = robustness[robustness["is_declared"] & (robustness["moderator"] == "all")]
        told = []
        for _, row in self._leading.iterrows():
            agreement = self._of("agreement", row["comparison_id"])
            mine = robustness[robustness["comparison_id"] == row["comparison_id"]]
            word, reason = sentences.how_sure(row, mine, agreement[agreement["target"] == row["target"]])
            told.append(
                {
                    "Comparison": joined([self._named(row), self._reference(row["estimate_id"])], by=" "),
                    "How sure": Markdown(f"**{word}**"),
                    "Why": capital(reason),
                }
            )
        table = pipe_table(
            pd.DataFrame(told),
            caption="Firm: nothing we left out changes the answer. Fragile: leaving out one part does.",
            label="sure",
            widths={"Comparison": 44, "How sure": 16, "Why": 40},
        )
        lead = self._leading.iloc[0]
        of_lead = tested[tested["comparison_id"] == lead["comparison_id"]]
        return stacked(table, sentences.one_field(lead, answers.leading(of_lead, answers.TESTED)))

    def _named(self, row: Mapping) -> str:
        return f"{capital(row['treatment'])} against {row['comparator']}"

    @property
    def pays(self) -> Markdown:
        if self._paying.empty:
            return escaped(money.missing(self._of_crop["money"], self.crop))
        first, curves = self._paying.iloc[0], self._of_crop["response_curves"]
        average = self._leading[self._leading["comparison_id"] == first["comparison_id"]].iloc[0]
        asked = prices.asked(
            self._paying, self._views["nitrogen_prices"], self._comparisons, n_response.priced(curves)
        )  # fmt: skip
        boxes = own_prices.boxes(
            self._paying, asked, curves=curves, draws=self._of_crop["response_draws"], program=self.program["program"]
        )
        said = [
            Markdown(f"**{escaped(self._named(average))}.**"),
            money.own_answer(first),
            sentences.money_gain(first, average),
        ]
        return stacked(
            joined([part for part in said if part], by=" "),
            self._money_table(),
            boxes,
            money.own_span("priced-at", money.planning_prices(first, asked.said)),
        )

    def _money_table(self) -> Markdown:
        names = {row["comparison_id"]: self._named(row) for _, row in self._leading.iterrows()}
        rows = [
            {
                "Comparison": joined([names[row["comparison_id"]], self._reference(row["estimate_id"])], by=" "),
                "Net per acre": money.own_net(row),
                f"95%{NBSP}interval": money.own_interval(row),
                "Breaks even at": money.own_break_even(row),
                "Fields where it pays": money.own_fields(row),
            }
            for _, row in self._paying.iterrows()
        ]
        caption = joined(
            ["Net return per acre", money.basis(), "with the break-even gain. Fields: in parentheses, the range."],
            by=" ",
        )
        widths = dict(zip(rows[0], (38, 13, 21, 14, 14), strict=True))
        return pipe_table(pd.DataFrame(rows), caption=caption, label="pays", widths=widths)

    @property
    def how_much_nitrogen(self) -> Markdown:
        curves = self._of_crop["response_curves"]
        if curves.empty:
            return escaped(n_response.nothing_told(self.crop))
        drawn = n_response.drawn(curves)
        if drawn.empty:
            return escaped(n_response.unfitted(curves))
        if drawn["price_ratio"].isna().all():
            return escaped(n_response.unpriced(curves))
        unit = drawn["n_unit"].iloc[0]
        told = [
            (row, money.own_span(f"eonr-{position}", n_response.rate(row, "eonr")))
            for position, (_, row) in enumerate(drawn.iterrows())
            if pd.notna(row["price_ratio"])
        ]
        usual = f"{self._lead['comparator_passes']:.0f} pass" if pd.notna(self._lead["comparator_passes"]) else ""
        row, rate = next(((row, rate) for row, rate in told if usual in row["family"]), told[0])
        sentence = joined([f"With {row['family']}, the economic optimum is", rate, f"{unit} of nitrogen."], by=" ")
        usual_rate = self._of_crop["growers_rates"]
        told_usual = sentences.growers_rate(usual_rate.iloc[0], row) if len(usual_rate) else []
        rows = [
            {
                "Nitrogen treatment": joined([capital(row["family"]), self._reference(row["estimate_id"])], by=" "),
                f"Economic optimum, {unit}": rate,
                "Site-years": str(row["n_site_years"]),
            }
            for row, rate in told
        ]
        caption = joined(
            [f"The rate at which the last pound of nitrogen just pays for itself, with its 95%{NBSP}interval,",
             Markdown(f"{money.basis('price-basis')}."), "Not a recommendation for your field."], by=" "
        )  # fmt: skip
        said = joined([sentence, *told_usual], by=" ")
        return stacked(said, pipe_table(pd.DataFrame(rows), caption=caption, label="rates"))

    @property
    def drop_a_pass(self) -> Markdown:
        rows = self._in_order(self._of_crop["as_good"])
        rows = rows[rows["is_declared"]]
        if rows.empty:
            return escaped(f"No comparison of {self.crop} asks whether fewer passes do as well.")
        return stacked(*(self._passes(row) for _, row in rows.iterrows()))

    def _passes(self, row: Mapping) -> Markdown:
        average = self._leading[self._leading["comparison_id"] == row["comparison_id"]].iloc[0]
        told = [sentences.passes(row, (average["treatment"], average["comparator"])), sentences.passes_behind(row)]
        paying = self._paying[self._paying["comparison_id"] == row["comparison_id"]]
        if len(paying):
            first = paying.iloc[0]
            net, limits = money.own_net(first), money.own_interval(first)
            told.append(Markdown(f"It returns {net} an acre (95%{NBSP}interval: {limits})."))
        return joined([*filter(None, told), self._reference(row["estimate_id"])], by=" ")

    @property
    def on_my_land(self) -> Markdown:
        gains, tests = (
            self._of("gains", self._lead["comparison_id"]),
            self._of("interaction_tests", self._lead["comparison_id"]),
        )
        tests = tests[tests["is_declared"]]
        explored, tests = tests[tests["moderator"].isin(sentences.LOOKED_AT)], tests[tests["kind"] == DECLARED]
        classes = gains[gains["is_declared"] & gains["is_headline"].eq(True) & gains["moderator"].isin(BY_CLASS)]
        average = self._leading.iloc[0]
        differs = where.DIFFERS in where.compared(tests, classes).values()
        told = sentences.on_my_land(where.where_in_short(tests, classes) if differs else "", explored)
        if classes["estimate"].isna().all() or pd.isna(average["conf_low"]):
            return paragraph(told)
        pictures = f"The pictures show {average['treatment']} against {average['comparator']}."
        return stacked(
            paragraph([*told, pictures]),
            by_class(classes, average, folder=self.folder, name="land"),
        )

    @property
    def who_paid(self) -> str:
        return trials.who_paid(self._trials)

    @property
    def cite(self) -> str:
        made = f"{self.program['started']:%B} {self.program['started'].day}, {self.program['started'].year}"
        return f"{self.program['program']}. {self.title}. Edition of {made}."

    @property
    def references(self) -> Markdown:
        """The ids behind the marks, for who holds the printed sheet."""
        marks = [f"[{number}] {estimate_id}" for estimate_id, number in self._references.items()]
        return grey(f"Ids: {listed(marks)}." if marks else "")
