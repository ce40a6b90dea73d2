"""The evidence on one comparison, section by section, as the review file prints it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path

import pandas as pd

from pipeline import trace
from pipeline.contract.vocabulary import BY_RAINFALL, DECLARED
from pipeline.display.figures.site_year_gains import site_year_gains
from pipeline.display.review import checks, doubts, evidence, residual_figures, weather, worked_out
from pipeline.display.review import trace as trace_words
from pipeline.display.review.margin_figure import margin
from pipeline.display.review.robustness_figure import robustness
from pipeline.display.review.walks import first_steps_of
from pipeline.display.words import answers, firmness, money, passes, traits, trials, where
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, escaped, listing, on_screen, stacked

NO_TRIAL = "No trial of this crop is listed."
ON_SCREEN_ONLY = (
    "No claim relies on this comparison: its pictures, its site-years divided in other ways and the calibration of its "
    "interval are in review.html only."
)


class ComparisonEvidence:
    """Each property is one section; its heading and place stand in reports/review.qmd. Empty where there is nothing.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        comparison: its row of reports.comparisons.
        number_of: its position on the page, for ids of tables and figures.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], comparison: pd.Series, number_of: int, folder: Path) -> None:
        self.id, self._number, self._folder = comparison["comparison_id"], number_of, folder
        self._comparison, self._views = comparison, views
        self._target = comparison["declared_target"]
        self.title = f"{capital(comparison['crop'])}: {comparison['says']}"
        self.anchor = f"evidence-{number_of}"

    def _mine(self, view: str) -> pd.DataFrame:
        rows = self._views[view]
        return rows[rows["comparison_id"] == self.id]

    def _of_target(self, view: str) -> pd.DataFrame:
        rows = self._mine(view)
        return rows[rows["target"] == self._target]

    @cached_property
    def _averages(self) -> pd.DataFrame:
        gains = self._mine("gains")
        return gains[gains["moderator"] == "all"]

    @cached_property
    def _leading(self) -> pd.DataFrame:
        """The leading average of each target."""
        return self._averages[self._averages["is_headline"].eq(True)]

    @property
    def _declared(self) -> pd.Series:
        return self._leading[self._leading["is_declared"]].iloc[0]

    @cached_property
    def _site_years(self) -> pd.DataFrame:
        gains = self._mine("site_year_gains")
        return gains[gains["is_pooled"].astype(bool)]

    @cached_property
    def _walks(self) -> list[trace.Trace]:
        """From each leading average down to its plots; none without a site-year."""
        if self._site_years.empty:
            return []
        declared_first = self._leading.sort_values("is_declared", ascending=False)
        return [trace.walk(self._views, estimate_id) for estimate_id in declared_first["estimate_id"]]

    @property
    def _is_claimed(self) -> bool:
        """Whether paper shows all of it: a claim leans on it, or there are no claims at all."""
        return self._views["claims"].empty or len(self._mine("claims")) > 0

    @property
    def has_trials(self) -> bool:
        return len(self._mine("flow")) > 0

    def on_paper_if_claimed(self, *parts: object) -> Markdown:
        return stacked(*parts) if self._is_claimed else on_screen(*parts)

    @property
    def question(self) -> Markdown:
        """The answer, and what exactly was asked."""
        unclaimed = f'::: {{.content-visible unless-format="html"}}\n{ON_SCREEN_ONLY}\n:::'
        rates = trials.rates(self._comparison, self._views["program"].iloc[0]["display_units"])
        return stacked(
            answers.answer(self._declared),
            "" if self._is_claimed else Markdown(unclaimed),
            listing(evidence.question(self._comparison, rates)),
        )

    @property
    def trials(self) -> Markdown:
        """From listed to used, in counts that add up."""
        if not self.has_trials:
            return escaped(NO_TRIAL)
        said = [evidence.flow(self._mine("flow").iloc[0]), evidence.left_out(self._mine("left_out"))]
        sources = self._mine("sources")
        if len(sources):
            corrected = self._walks[0].corrections if self._walks else self._views["corrected_cells"].iloc[:0]
            said += [evidence.plots(sources), evidence.findings(self._views["findings"], sources, corrected)]
        return listing(said)

    @property
    def model(self) -> Markdown:
        said = [evidence.spread(self._averages), money.share_above(self._mine("field_shares"), self._mine("money"))]
        said += [evidence.heaviest(self._walks[0].site_years)] if self._walks else []
        parts = self._mine("variance_components")
        return stacked(
            listing(evidence.rules(self._leading)),
            evidence.model(parts),
            evidence.components_table(parts, self._leading, label=f"parts-{self._number}"),
            listing(said),
        )

    @property
    def other_methods(self) -> Markdown:
        return stacked(
            evidence.methods_table(self._averages, label=f"methods-{self._number}"),
            listing(evidence.agreement(self._mine("agreement"))),
            trace_words.in_page(self._walks) if self._walks else "",
        )

    @property
    def as_good(self) -> Markdown:
        """The test against the margin."""
        rows = self._mine("as_good")
        if rows.empty:
            return Markdown()
        known = rows[rows["estimate"].notna()]
        declared = rows[rows["is_declared"]]
        firm = firmness.how_firm_as_good(declared.iloc[0], self._moved("all"))
        return stacked(
            margin(known, folder=self._folder, name=f"margin-{self._number}") if len(known) else "",
            listing([*passes.all_sentences(rows, firm), *(passes.equivalence(row) for _, row in declared.iterrows())]),
        )

    @property
    def worked_out(self) -> Markdown:
        """Money and the like, down to the averages they come from."""
        steps = first_steps_of(self._views, {kind: self._mine(kind) for kind in trace.WORKED_OUT}, *trace.WORKED_OUT)
        return worked_out.in_page(steps) if steps else Markdown()

    @property
    def other_traits(self) -> Markdown:
        measured = traits.used(self._mine(trace.TRAITS))
        steps = first_steps_of(self._views, {trace.TRAITS: measured}, trace.TRAITS)
        return worked_out.in_page(steps) if steps else Markdown()

    @property
    def site_years(self) -> Markdown:
        if not self._walks:
            return Markdown()
        return self.on_paper_if_claimed(
            site_year_gains(self._site_years, self._leading, folder=self._folder, name=f"gains-{self._number}")
        )

    @property
    def residuals(self) -> Markdown:
        rows = self._mine("diagnostics")
        if rows["standardized"].isna().all():
            return Markdown()
        figures = [residual_figures.normal_plot(rows, folder=self._folder, name=f"normal-{self._number}")]
        if (rows["kind"] == "block gain").any():
            figures.append(residual_figures.by_trial(rows, folder=self._folder, name=f"blocks-{self._number}"))
        return stacked(listing([checks.residuals(rows)]), self.on_paper_if_claimed(*figures))

    @property
    def robustness(self) -> Markdown:
        """Whether one place, season or method carries the average."""
        rows = self._moved("all")
        if rows["estimate"].isna().all() or pd.isna(self._declared["estimate"]):
            return Markdown()
        figure = robustness(
            rows,
            self._declared,
            folder=self._folder,
            name=f"moved-{self._number}",
            margin_limit=self._margin_in_yield,
        )
        table = checks.robustness_table(rows, label=f"robust-{self._number}", loses_as_good=self._loses_as_good(rows))
        return stacked(table, self.on_paper_if_claimed(figure))

    @property
    def _margin_in_yield(self) -> float | None:
        """The limit that a difference is held against; None where no margin is declared, or a ratio is held to it."""
        tests = self._of_target("as_good")
        return None if tests.empty or tests.iloc[0]["unit"] == "ratio" else tests.iloc[0]["margin_limit"]

    def _loses_as_good(self, rows: pd.DataFrame) -> pd.Series | None:
        """By row of reports.robustness; None where as good is not shown."""
        tests = self._of_target("as_good")
        is_shown = len(tests) and passes.is_shown_as_good(tests.iloc[0])
        return firmness.loses_as_good(tests.iloc[0], rows) if is_shown else None

    def _moved(self, moderator: str) -> pd.DataFrame:
        rows = self._of_target("robustness")
        return rows[rows["moderator"] == moderator]

    @property
    def where(self) -> Markdown:
        tests, gains = self._of_target("interaction_tests"), self._of_target("gains")
        if tests.empty:
            return Markdown()
        leading = gains[gains["is_headline"].astype(bool)]
        by_class = leading[leading["moderator"] != "all"]
        other_cuts = self._moved(BY_RAINFALL)
        return stacked(
            where.where_table(self._mine("gains"), self._target, label=f"where-{self._number}"),
            checks.tests_table(tests, label=f"tests-{self._number}"),
            on_screen(checks.classes_table(by_class, label=f"classes-{self._number}")) if len(by_class) else "",
            (
                checks.other_cuts_table(
                    other_cuts, leading[leading["moderator"] == BY_RAINFALL], label=f"cuts-{self._number}"
                )
                if len(other_cuts)
                else ""
            ),
        )

    @property
    def divided_in_other_ways(self) -> Markdown:
        rows = self._of_target("explored")
        if rows["estimate"].isna().all():
            return Markdown()
        return checks.explored_table(rows, label=f"explored-{self._number}")

    @property
    def weather(self) -> Markdown:
        """What the weather explains, with its heading, as what was only explored is not on paper.

        What nobody declared and no trial can tell is not there.
        """
        slopes = self._of_target("weather_slopes")
        slopes = slopes[slopes["kind"].eq(DECLARED) | slopes["estimate"].notna()]
        if slopes.empty:
            return Markdown()
        return weather.evidence(
            slopes,
            self._of_target("weather_slope_checks"),
            self._of_target("weather_gains"),
            self._mine("weather_covariates"),
            self._site_years,
            label=f"weather-{self._number}",
        )

    @property
    def calibration(self) -> Markdown:
        rows = self._mine("calibration")
        if rows.empty:
            return Markdown()
        slopes = self._of_target("slope_calibration")
        return stacked(
            checks.calibration_table(rows, self._target, label=f"caught-{self._number}"),
            weather.calibration_table(slopes, label=f"caught-slopes-{self._number}") if len(slopes) else "",
        )

    @property
    def doubts(self) -> Markdown:
        return listing(
            doubts.doubts(
                self._comparison,
                self._leading,
                self._mine("agreement"),
                self._moved("all"),
                self._mine("diagnostics"),
                self._site_years,
                self._mine("flow").iloc[0],
                self._mine("calibration"),
                self._loses_as_good(self._moved("all")),
            )
        )
