"""What a crop's trials answer a grower: the rows and sentences that the handout and the slides both print."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import BY_DRAINAGE, BY_RAINFALL, DECLARED, TESTED
from pipeline.display.words import answers, money, n_response, trials, where
from pipeline.display.words import growers_sentences as sentences
from pipeline.display.words.numbers import capital, count, day, listed
from pipeline.display.words.tables import Markdown, escaped, joined, paragraph

BY_CLASS = (BY_DRAINAGE, BY_RAINFALL)
NO_SITE_YEAR = "No trial has answered any of these comparisons yet."


ACCEPTED = "accepted"
STATUS = {
    "held": "kept out until questions are resolved",
    "planned": trials.PLANNED,
}  # of a trial that is not used, where its word needs more


class GrowersAnswers:
    """A page of one crop for growers inherits from this and prints it.

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

    def _in_order(self, rows: pd.DataFrame) -> pd.DataFrame:
        return rows.sort_values("comparison_id", key=lambda ids: ids.map(self._ids.index), kind="stable")

    def _averages_in_order(self) -> pd.DataFrame:
        """The leading average of each comparison on its declared target, with the names of its sides."""
        gains = self._of_crop["gains"]
        rows = gains[(gains["moderator"] == "all") & gains["is_declared"] & gains["is_headline"].eq(True)]
        named = [
            *("comparison_id", "treatment_in_short", "comparator_in_short", "comparator_mean", "is_late"),
            *("rates_lb_ac", "rates_kg_ha", "treatment_coated_n", "comparator_coated_n"),
        ]
        rows = self._in_order(rows.merge(self._comparisons[named], on="comparison_id")).reset_index(drop=True)
        both = [sentences.sides(row) for _, row in rows.iterrows()]
        return rows.assign(treatment=[one for one, _ in both], comparator=[other for _, other in both])

    def _no_average(self) -> str:
        """Why no comparison has an average to print: nothing was harvested, or too little."""
        most = self._comparisons.sort_values("n_site_years").iloc[-1]
        if not most["n_site_years"]:
            return NO_SITE_YEAR
        counted = f"{count(most['n_site_years'], 'site-year')} in {count(most['n_seasons'], 'season')}"
        return f"So far there are {counted}: too few for an average."

    def _of(self, view: str, comparison_id: str) -> pd.DataFrame:
        rows = self._of_crop[view]
        return rows[rows["comparison_id"] == comparison_id]

    def _average_of(self, comparison_id: str) -> pd.Series:
        return self._leading[self._leading["comparison_id"] == comparison_id].iloc[0]

    def _named(self, row: Mapping) -> str:
        return f"{capital(row['treatment'])} against {row['comparator']}"

    def _named_paying(self, row: Mapping) -> str:
        """A row of money by its sides, marked where it is of the seasons tested and others are of future seasons."""
        name = self._named(self._average_of(row["comparison_id"]))
        is_marked = row["target"] == TESTED and self._paying["target"].nunique() > 1
        return f"{name} {sentences.OF_TESTED}" if is_marked else name

    @property
    def title(self) -> str:
        return f"{capital(self.crop)}: nitrogen trials, {trials.seasons_of(self._trials)}"

    @property
    def provisional(self) -> str:
        return trials.provisional(self._trials, self._findings, f"{self.crop} trial", self._views["findings"])

    @property
    def who_paid(self) -> str:
        return trials.who_paid(self._trials)

    @property
    def cite(self) -> str:
        return f"{self.program['program']}. {self.title}. Edition of {day(self.program['started'])}."

    @property
    def answer(self) -> Markdown:
        """The lead's answer and its runner-up's, each with what it returns and how fragile it is; first what is
        shown.
        """
        paying = self._paying.set_index("comparison_id")
        told = []
        for row, word, reason in self._how_sure()[:2]:
            yielded = sentences.yielded(row)
            names = (row["treatment"], row["comparator"])
            is_paid = row["comparison_id"] in paying.index
            returns = sentences.shown_return(paying.loc[row["comparison_id"]], names) if is_paid else ""
            fragile = f"That is fragile: {reason}." if word == sentences.FRAGILE else ""
            told += [returns, yielded] if word == sentences.NOT_SHOWN else [yielded, fragile, returns]
        return paragraph(filter(None, told))

    def _yields(self) -> pd.DataFrame:
        """The leading averages with the gain at which each breaks even and what it returns, as figures.yields draws
        them.
        """
        paying = self._paying.set_index("comparison_id")
        nets = {each.Index: f"{money.dollars(each.net_change, each.currency)} an acre" for each in paying.itertuples()}
        return self._leading.assign(
            even=self._leading["comparison_id"].map(paying["break_even_display"]).astype(float),
            pays=self._leading["comparison_id"].map(nets).fillna(""),
        )

    @property
    def lead(self) -> pd.Series:
        """The leading average of the first comparison, with the gain at which it breaks even."""
        return self._yields().iloc[0]

    def _how_sure(self) -> list[tuple[pd.Series, str, str]]:
        """Each leading average with the word for how sure it is, and why."""
        told = []
        for _, row in self._leading.iterrows():
            agreement = self._of("agreement", row["comparison_id"])
            mine = self._robustness_of(row["comparison_id"])
            told.append((row, *sentences.how_sure(row, mine, agreement[agreement["target"] == row["target"]])))
        return told

    def _robustness_of(self, comparison_id: str) -> pd.DataFrame:
        """What becomes of a comparison's average on its declared target when something is changed."""
        rows = self._of("robustness", comparison_id)
        return rows[rows["is_declared"] & (rows["moderator"] == "all")]

    def _one_field(self) -> str:
        """What one more field may see, and which averages are of one or two places only."""
        lead = self._leading.iloc[0]
        told = sentences.one_field(lead, answers.leading(self._of("gains", lead["comparison_id"]), answers.TESTED))
        return f"{told} {sentences.few_places(self._leading[self._leading['estimate'].notna()])}".strip()

    def _pays(self) -> tuple[Markdown, str]:
        """What the first comparison with a budget returns, and why on another gain than its average; '' where on
        that.
        """
        first = self._paying.iloc[0]
        average = self._average_of(first["comparison_id"])
        named = Markdown(f"**Against {escaped(average['comparator'])}.**")
        held = money.holds_for(first, average["target"])
        told = [named, money.own_answer(first), *([held] if held else [])]
        return joined(told, by=" "), sentences.money_gain(first, average)

    def _optima(self) -> tuple[Markdown, list[tuple[pd.Series, Markdown]]]:
        """The optimum N rate in sentences, and the rate of each way of giving N; without any, the sentence says why."""
        curves = self._of_crop["response_curves"]
        if curves.empty:
            return escaped(n_response.nothing_told(self.crop)), []
        drawn = n_response.drawn(curves)
        if drawn.empty:
            return escaped(n_response.unfitted(curves)), []
        if drawn["price_ratio"].isna().all():
            return escaped(n_response.unpriced(curves)), []
        told = [
            (row, money.own_span(f"eonr-{position}", n_response.rate(row, "eonr")))
            for position, (_, row) in enumerate(drawn.iterrows())
            if pd.notna(row["price_ratio"])
        ]
        row, rate = next(((row, rate) for row, rate in told if self._is_usual(row["family"])), told[0])
        unit = row["n_unit"]
        sentence = joined([f"With {row['family']}, the economic optimum is", rate, f"{unit} of nitrogen."], by=" ")
        usual_rate = self._of_crop["growers_rates"]
        told_usual = sentences.growers_rate(usual_rate.iloc[0], row) if len(usual_rate) else []
        return joined([sentence, *told_usual], by=" "), told

    def _is_usual(self, family: str) -> bool:
        """Whether a way of giving N is that which the first comparison is against; by its passes where that is not one
        way.
        """
        saved = self._of("nitrogen_saved", self._lead["comparison_id"])
        if len(saved):
            return family == saved["comparator_family"].iloc[0]
        passes = self._lead["comparator_passes"]
        return pd.isna(passes) or f"{passes:.0f} pass" in family

    @property
    def trials_counted(self) -> str:
        """How many trials there are, and what became of those that are not used."""
        if self._trials.empty:
            return f"No {self.crop} trial was delivered yet."
        known = self._trials["status"].value_counts()
        lacking = self._in_no_comparison()
        used = int(known.get(ACCEPTED, 0)) - lacking
        told = [f"{used} {trials.are(used)} used"]
        told += [f"{lacking} {'lacks' if lacking == 1 else 'lack'} what these comparisons need"] if lacking else []
        told += [
            f"{n} {trials.are(n)} {STATUS.get(status, status)}" for status, n in known.items() if status != ACCEPTED
        ]
        return f"Of {count(len(self._trials), f'{self.crop} trial')}, {listed(told)}."

    def _in_no_comparison(self) -> int:
        """How many accepted trials every comparison leaves out."""
        accepted = self._trials.loc[self._trials["status"] == ACCEPTED, "trial_id"]
        left_out = self._of_crop["left_out"]
        times = left_out[left_out["trial_id"].isin(accepted)].groupby("trial_id")["comparison_id"].nunique()
        return int((times == len(self._ids)).sum())

    def _passes_asked(self) -> pd.DataFrame:
        """The declared rows of reports.as_good, with the first trial with published means only of each."""
        printed = self._comparisons[["comparison_id", "first_printed"]]
        rows = self._in_order(self._of_crop["as_good"]).merge(printed, on="comparison_id")
        return rows[rows["is_declared"]]

    def _passes(self, row: Mapping) -> str:
        average = self._average_of(row["comparison_id"])
        comparison = self._comparisons.set_index("comparison_id").loc[row["comparison_id"]]
        treatment, comparator = comparison["treatment_passes"], comparison["comparator_passes"]
        drops_a_pass = pd.isna(treatment) or pd.isna(comparator) or treatment < comparator  # not known: it may
        sides = (average["treatment"], average["comparator"])
        firm = sentences.passes_fragile(row, self._robustness_of(row["comparison_id"]))
        return f"{sentences.passes(row, sides, drops_a_pass=drops_a_pass)} {firm}".strip()

    def _on_my_land(self) -> tuple[list[str], pd.DataFrame]:
        """What is known of soil and rain, and the rows by class; none where there is nothing to draw."""
        lead = self._lead["comparison_id"]
        gains, tests = self._of("gains", lead), self._of("interaction_tests", lead)
        tests = tests[tests["is_declared"]]
        explored, tests = tests[tests["moderator"].isin(sentences.LOOKED_AT)], tests[tests["kind"] == DECLARED]
        classes = gains[gains["is_declared"] & gains["is_headline"].eq(True) & gains["moderator"].isin(BY_CLASS)]
        differs = where.DIFFERS in where.compared(tests, classes).values()
        told = sentences.on_my_land(where.where_in_short(tests, classes) if differs else "", explored)
        is_drawn = classes["estimate"].notna().any() and pd.notna(self._leading.iloc[0]["conf_low"])
        return told, classes if is_drawn else classes.iloc[:0]

    def _site_years(self) -> pd.DataFrame:
        """The site-years that the lead's average is made of."""
        gains = self._of("site_year_gains", self._lead["comparison_id"])
        return gains[gains["is_pooled"].astype(bool)]

    @property
    def figures(self) -> list[str]:
        """The figures for talks that these trials fill, keys of talks.TITLES."""
        filled = {
            "yields": self._leading["estimate"].notna().any(),
            "response": len(self._of_crop["response_lines"]) > 0,
            "land": len(self._on_my_land()[1]) > 0,
            "gains": len(self._site_years()) > 0,
            "headline": answers.is_told(self._leading.iloc[0]),
        }
        filled["social"] = filled["headline"]
        return [name for name, is_filled in filled.items() if is_filled]
