"""What the methods page prints of a program: its comparisons, the rules that were used, and its classes."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.methods import money, rules, weather
from pipeline.display.words import checks, declarations, links, program, trials
from pipeline.display.words.numbers import capital
from pipeline.display.words.tables import Markdown, listing, section, stacked
from pipeline.display.words.where import DRAINAGE
from pipeline.estimates.average import agreement, robustness


class MethodsPage:
    """Each property is one section's words and tables; its heading and place stand in reports/methods.qmd.

    views: frames of the reports schema by name, without the schema's name, and the dictionary's.
    """

    agreement_rule = agreement.RULE
    robustness_rule = robustness.RULE

    def __init__(self, views: Mapping[str, pd.DataFrame]) -> None:
        self.program = views["program"].iloc[0]
        self._views = views

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own="methods")

    @property
    def comparisons(self) -> Markdown:
        rows = self._views["comparisons"]
        fixed = (
            f"{capital(crop)}: {' '.join(declarations.fixed_on(of_crop))}"
            for crop, of_crop in rows.groupby("crop", sort=False)
        )
        changed = declarations.changed_rules(self._views["settings_changes"])
        return stacked(rules.comparisons_table(rows, self.program["display_units"]), *fixed, listing(changed))

    @property
    def fitted_by(self) -> str:
        return program.fitted_by(self.program)

    @property
    def interval_rules(self) -> Markdown:
        tables = (rules.rules_table(), rules.places_table(), rules.adjustments_table(), rules.classes_table())
        return stacked(*tables, listing([*rules.limits(), " ".join(rules.season_zero()), *rules.divided()]))

    @property
    def as_good(self) -> Markdown:
        return rules.as_good_table()

    @property
    def n_response(self) -> Markdown:
        return listing(rules.n_response())

    @property
    def money(self) -> Markdown:
        return listing(money.rules())

    @property
    def verdicts(self) -> Markdown:
        return rules.verdicts_table()

    @property
    def classes(self) -> Markdown:
        crops = self._views["comparisons"]["crop"].drop_duplicates()
        rain = (f"{capital(crop)}: {trials.rainfall_rule(self._views['rainfall_rule'], crop)}" for crop in crops)
        return stacked(listing(rain), listing(f"Drainage group {words}." for words in DRAINAGE.values()))

    @property
    def weather(self) -> Markdown:
        """With its heading, as most programs declare nothing that the weather should explain."""
        used = self._covariates
        if used.empty:
            return Markdown()
        units = self.program["display_units"]
        told = (
            weather.covariates_table(used, units),
            listing(weather.worked_out(units, self._views["soil_from_air"])),
            weather.slopes(),
        )
        return section("What the weather explains", *told, level=2)

    @property
    def _covariates(self) -> pd.Series:
        """The weather covariates that some site-year of the program has, declared or explored."""
        values = self._views["weather_covariates"]
        return values.loc[values["value"].notna(), "covariate"].drop_duplicates()

    @property
    def weather_sources(self) -> str:
        return weather.SOURCES if len(self._covariates) else ""

    @property
    def ranges_and_checks(self) -> Markdown:
        ranges = rules.ranges_table(self._views["dictionary_columns"])
        return stacked(ranges, checks.checks_table(self._views["dictionary_checks"]))

    @property
    def checked_against(self) -> Markdown:
        return rules.checked_table(self._views["published_checks"])
