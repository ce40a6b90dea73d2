"""What a crop's season page prints, section by section, from the reports views."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.display.figures import theme
from pipeline.display.figures.n_response import n_response
from pipeline.display.figures.site_year_gains import site_year_gains
from pipeline.display.season import comparisons, left_out, money_tables, n_rates, next_season, weather
from pipeline.display.words import (
    answers,
    declarations,
    firmness,
    links,
    money,
    own_prices,
    passes,
    prices,
    talks,
    trials,
    where,
)
from pipeline.display.words import n_response as response
from pipeline.display.words import traits as trait_words
from pipeline.display.words.growers_answers import GrowersAnswers
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import (
    Markdown,
    escaped,
    joined,
    linked_id,
    listing,
    on_screen,
    paragraph,
    section,
    stacked,
)


class SeasonPage:
    """Each property is one section's words, tables and figures; its heading and place stand in reports/season.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        crop: whose comparisons, the first of which leads.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], crop: str, folder: Path) -> None:
        self.crop, self.folder = crop, folder
        self.program = views["program"].iloc[0]
        self._views = views
        self.path = views["pages"].set_index("crop").loc[crop, "path"]
        self._of_crop = {name: view[view["crop"] == crop] for name, view in views.items() if "crop" in view.columns}
        self._comparisons = self._of_crop["comparisons"]
        self._lead = self._comparisons.iloc[0]
        self._gains = self._of_lead("gains")
        other_target = TESTED if self._lead["declared_target"] == TO_COME else TO_COME
        self._declared = answers.leading(self._gains, self._lead["declared_target"])
        self._other = answers.leading(self._gains, other_target)
        self._averages = self._of_crop["gains"][self._of_crop["gains"]["moderator"] == "all"]
        robustness = self._of_crop["robustness"]
        self._robustness = robustness[robustness["is_declared"] & (robustness["moderator"] == "all")]
        tests = self._of_lead("interaction_tests")
        self._tests = tests[tests["is_declared"] & (tests["kind"] == "declared")]
        self._trials = self._of_crop["trials"]
        self._findings = views["findings"][views["findings"]["trial_id"].isin(self._trials["trial_id"])]
        self._paying = money.told(self._of_crop["money"])

    def _of_lead(self, view: str) -> pd.DataFrame:
        """The rows of a view that speak of the comparison which leads."""
        rows = self._of_crop[view]
        return rows[rows["comparison_id"] == self._lead["comparison_id"]]

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own=self.path)

    @property
    def title(self) -> str:
        return f"{capital(self.crop)}: {trials.seasons_of(self._trials)}"

    @property
    def provisional(self) -> str:
        return trials.provisional(self._trials, self._findings, f"{self.crop} trial", self._views["findings"])

    @property
    def answer(self) -> str:
        return answers.answer(self._declared)

    @property
    def in_short(self) -> Markdown:
        """Under the answer: what else is asked of it, one line each."""
        tested = self._declared if self._declared["target"] == TESTED else self._other
        of_lead = self._robustness["comparison_id"] == self._lead["comparison_id"]
        by_class = self._gains[self._gains["is_declared"] & self._gains["is_headline"].eq(True)]
        asked = self._of_crop["as_good"]
        lines = [
            ("Looking back" if self._other["target"] == TESTED else "Looking ahead", answers.other_target(self._other)),
            ("One field can differ", answers.one_field(self._declared, tested)),
            ("Few places", answers.few_places(tested) if pd.notna(tested["estimate"]) else ""),
            ("How firm", firmness.how_firm(self._declared, self._robustness[of_lead])),
            ("Where", Markdown(f"{escaped(where.where_in_short(self._tests, by_class))} See @tbl-where.")),
            *(("Passes", self._passes_in_short(row)) for _, row in asked[asked["is_declared"]].iterrows()),
            ("Money", self._pays_in_short),
        ]
        return listing(Markdown(f"**{label}.** {escaped(told)}") for label, told in lines if told)

    def _passes_in_short(self, row: Mapping) -> str:
        return f"{passes.in_short(row)} {self._how_firm_as_good(row)}".strip()

    def _how_firm_as_good(self, row: Mapping) -> str:
        mine = self._robustness[self._robustness["comparison_id"] == row["comparison_id"]]
        return firmness.how_firm_as_good(row, mine)

    @property
    def _pays_in_short(self) -> str:
        if self._paying.empty:
            return money.missing(self._of_crop["money"], self.crop)
        told, first = money.headline(self._paying, self._lead["comparison_id"]), self._paying.iloc[0]
        wanted = self._comparisons.set_index("comparison_id").loc[first["comparison_id"], "declared_target"]
        held = money.holds_for(first, wanted)
        return joined([told, held], by=" ") if held else told

    @property
    def all_comparisons(self) -> Markdown:
        with_margin = self._comparisons["comparison_id"].isin(self._of_crop["as_good"]["comparison_id"])
        unasked = [
            f"{capital(comparison['says'])}: {said}"
            for _, comparison in self._comparisons[~with_margin].iterrows()
            if (said := trials.fewer_passes(comparison))
        ]
        table = comparisons.comparisons_table(self._averages, self._of_crop["agreement"], self._robustness)
        return stacked(table, *unasked)

    @property
    def site_years(self) -> Markdown | str:
        gains = self._of_lead("site_year_gains")
        dots = gains[gains["is_pooled"].astype(bool)]
        if dots.empty:
            return "No site-year has this comparison yet."
        of_lead = self._averages["comparison_id"] == self._lead["comparison_id"]
        leading = self._averages[of_lead & self._averages["is_headline"].eq(True)]
        pays = self._paying[self._paying["comparison_id"] == self._lead["comparison_id"]]
        break_even = pays["break_even_display"].iloc[0] if len(pays) else None
        draw = partial(site_year_gains, dots, leading, folder=self.folder, break_even=break_even)
        return theme.on_both(draw, name="gains")

    @property
    def by_soil_and_rain(self) -> Markdown:
        table = where.where_table(self._gains, self._lead["declared_target"])
        return stacked(table, paragraph(where.where_sentences(self._gains, self._tests)))

    @property
    def weather(self) -> Markdown:
        """With its heading, as most programs declare nothing that the weather should explain."""
        return section("What the weather explains", weather.explained(self._of_crop, self.folder), level=2)

    @property
    def how_much_nitrogen(self) -> Markdown:
        lines, means = self._of_crop["response_lines"], self._of_crop["response_means"]
        figure = n_response(means, lines, folder=self.folder, name="response") if len(lines) else ""
        return stacked(figure, n_rates.n_rates(self._of_crop, self._lead["comparison_id"], self.crop))

    @property
    def fewer_passes(self) -> Markdown:
        with_margin = self._of_crop["as_good"]
        if with_margin.empty:
            return escaped(
                f"No comparison of {self.crop} declares a margin, so whether a way of giving nitrogen is as good "
                "with fewer passes was not asked."
            )
        groups = with_margin.groupby("comparison_id", sort=False)
        told = [(rows, rows[rows["is_declared"]].iloc[0]) for _, rows in groups]
        return stacked(*(listing(passes.all_sentences(rows, self._how_firm_as_good(row))) for rows, row in told))

    @property
    def pays(self) -> Markdown:
        missing = money.missing(self._of_crop["money"], self.crop)
        if self._paying.empty:
            return escaped(missing)
        first, curves = self._paying.iloc[0], self._of_crop["response_curves"]
        asked = prices.asked(self._paying, self._views["nitrogen_prices"], self._comparisons, response.priced(curves))
        boxes = own_prices.boxes(
            self._paying,
            asked,
            curves=curves,
            draws=self._of_crop["response_draws"],
            grid=self._of_crop["price_grid"],
            program=self.program["program"],
        )
        said = [
            Markdown(f"**{escaped(capital(first['says']))}.**"),
            money.own_answer(first),
            money.priced(first, asked.said),
            money.rests_on(first),
            linked_id(first["gain_estimate_id"]),
        ]
        return stacked(
            missing,
            boxes,
            joined(said, by=" "),
            money_tables.money_table(self._paying, self._declared["unit"]),
            money_tables.boxes_table(first, self._of_crop["budget_items"]),
            money_tables.grid_table(first, self._of_crop["price_grid"]),
        )

    @property
    def tested_and_left_out(self) -> Markdown:
        measured = trait_words.used(self._of_crop["trait_gains"])
        says = dict(zip(self._comparisons["comparison_id"], self._comparisons["says"], strict=True))
        n_trials = len(self._trials)
        said = [
            *trials.flows(self._of_crop["flow"], says),
            trials.findings_count(self._findings) if n_trials else f"No {self.crop} trial is listed.",
            trials.who_paid(self._trials),
            trait_words.not_estimable(measured),
        ]
        rows = self._of_crop["left_out"]
        table = left_out.left_out_table(rows, self._findings, says) if len(rows) else ""
        return stacked(paragraph(said), table, trait_words.trait_table(measured))

    @property
    def planned_for(self) -> str:
        """What a plan is, and of which comparison it speaks where there is more than one."""
        of_first = "For the first comparison, where no other is named. " if len(self._comparisons) > 1 else ""
        return f"{of_first}These are expectations, not promises."

    @property
    def next_season(self) -> Markdown:
        target, outlook = self._lead["declared_target"], self._of_lead("outlook")
        evidence, proposed = self._of_lead("evidence"), self._of_lead("proposed_trials")
        has_width = outlook.loc[outlook["target"] == target, "half_width"].notna().any()
        needed = self._of_crop["needed"].groupby("comparison_id", sort=False)
        said = [
            next_season.advice(outlook[outlook["target"] == target]) if has_width else "",
            next_season.why_not_blocks(outlook, target),
            next_season.reserves(outlook, target) if has_width else "",
            *(next_season.needed(rows, self._declared_test(comparison_id)) for comparison_id, rows in needed),
            next_season.slopes(self._of_lead("slope_outlook")),
        ]
        return stacked(
            next_season.outlook_table(outlook, self._of_lead("substitution"), target),
            listing(said),
            next_season.evidence_table(evidence) if evidence["drainage_group"].notna().any() else "",
            next_season.proposals_table(proposed) if len(proposed) else "",
        )

    def _declared_test(self, comparison_id: str) -> pd.Series | None:
        tests = self._of_crop["as_good"]
        mine = tests[tests["is_declared"] & tests["comparison_id"].eq(comparison_id)]
        return mine.iloc[0] if len(mine) else None

    @property
    def for_talks(self) -> Markdown:
        """Links, for whoever prepares a talk in front of a screen."""
        return on_screen(
            section("For talks", talks.for_talks(GrowersAnswers(self._views, self.crop, self.folder)), level=2)
        )

    @property
    def rates(self) -> str:
        return trials.rates(self._lead, self.program["display_units"])

    @property
    def fixed_on(self) -> str:
        rules = self._views["settings_changes"]
        changed = rules[rules["crop"].eq(self.crop) | rules["crop"].isna()]
        return " ".join([*declarations.fixed_on(self._comparisons), *declarations.changed_rules(changed)])

    @property
    def rule(self) -> str:
        return self._declared["rule"]

    @property
    def rainfall_rule(self) -> str:
        return trials.rainfall_rule(self._views["rainfall_rule"], self.crop)

    @property
    def blind(self) -> str:
        return declarations.blind(self._views["rainfall_rule"], self.crop)
