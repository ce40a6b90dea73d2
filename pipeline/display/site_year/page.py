"""What a site-year's page prints, section by section, from the reports views."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pandas as pd

from pipeline.display.site_year import own_rates, own_results, own_season, own_trials, results
from pipeline.display.site_year.material import OWN, material
from pipeline.display.site_year.monthly_rain_figure import monthly_rain
from pipeline.display.site_year.own_gains_figure import own_gains
from pipeline.display.site_year.season_figure import season
from pipeline.display.words import links
from pipeline.display.words import trials as trial_words
from pipeline.display.words.numbers import capital, listed
from pipeline.display.words.tables import Markdown, escaped, listing, paragraph, section, stacked

NO_COMPARISON = "No comparison of the program rests on this site-year. Below are its trials and what became of them."
OWN_AND_AVERAGE = (
    "One trial cannot settle a small gain: the average says more about your next season.",
    "Here it is that of the seasons tested; the season report may lead with future seasons.",
)
UP_TO = "This page counts the program's seasons up to {season}; the season report has the newest numbers."
SHARED = (
    "Another cooperator has a trial of {crops} here in this season too. A gain over both trials would tell theirs, so"
    " none is shown; below are your own trials."
)
NOTHING_FOUND = "Nothing: every row of these trials passed every check."


class SiteYearPage:
    """Each property is one section's words, tables and figures; its heading and place stand in reports/site_year.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        site_year_id: whose trials.
        folder: for figures.
        cooperator: for a page that only this cooperator gets; then it shows none but their own trials and leads to no
            other page.

    Raises UserError where no trial is of this site-year.
    """

    def __init__(
        self, views: Mapping[str, pd.DataFrame], site_year_id: str, folder: Path, cooperator: str = ""
    ) -> None:
        self.folder, self._is_alone = folder, bool(cooperator)
        own = {name: views[name][views[name]["site_year_id"] == site_year_id] for name in OWN}
        self._of = material(views, own, site_year_id)
        self.program, self._here, self._averages = self._of.program, dict(self._of.here), self._of.averages
        self._shared = own_trials.keep(self._here, self._of.comparisons, cooperator) if cooperator else []
        self._trials = self._here["trials"]
        self._findings = results.findings_here(self._of.findings, self._trials)
        names = self._of.comparisons.drop(columns="crop")
        self._gains = self._here["site_year_gains"].merge(names, on="comparison_id", how="left")
        self._rate_unit, self._rain_unit = (
            ("lb/ac", "inch") if self.program["display_units"] == "us" else ("kg/ha", "mm")
        )

    @property
    def links(self) -> Markdown | str:
        return "" if self._is_alone else links.around(self._of.reports, own="", up="../")

    @property
    def title(self) -> str:
        first = self._trials.iloc[0]
        return f"{first['place']}, {first['season']}"

    @property
    def provisional(self) -> str:
        return trial_words.provisional(self._trials, self._findings)

    @property
    def own_results(self) -> Markdown | str:
        shared = SHARED.format(crops=listed(self._shared)) if self._shared else ""
        if self._gains.empty:
            return shared or NO_COMPARISON
        mine = self._averages["comparison_id"].isin(self._gains["comparison_id"])
        has_average = self._averages.loc[mine, "estimate"].notna().any()
        said = [
            *own_results.told(self._gains, self._averages),
            *(OWN_AND_AVERAGE if has_average else ()),
            UP_TO.format(season=self._of.last_season),
            shared,
        ]
        return stacked(paragraph(said), own_results.results_table(self._gains, self._averages))

    @property
    def gains_figures(self) -> Markdown:
        return stacked(
            *(
                own_gains(
                    rows,
                    self._averages,
                    self._of.break_even,
                    folder=self.folder,
                    name=f"gains-{crop.replace(' ', '-')}",
                )
                for crop, rows in self._gains.groupby("crop")
            )
        )

    @property
    def rain(self) -> Markdown:
        units = self.program["display_units"]
        said = listing(trial_words.rainfall(row, units) for _, row in self._here["site_years"].iterrows())
        rain = self._here["monthly_rain"]
        return stacked(said, monthly_rain(rain, unit=self._rain_unit, folder=self.folder) if len(rain) else "")

    @property
    def nitrogen_met(self) -> Markdown:
        """With its heading, as most programs declare nothing that the weather should explain."""
        return section("What your nitrogen met", *self._met(), level=2)

    def _met(self) -> Iterator[Markdown | str]:
        covariates = self._here["weather_covariates"]
        known = own_season.most_known(self._here["season_days"])
        if known.empty:
            if not self._shared:
                yield own_season.why_not(covariates)
            return
        comparison_id, crop = known.iloc[0][["comparison_id", "crop"]]
        applied = self._here["applications"]
        first = self._trials.iloc[0]
        yield season(
            known,
            applied[applied["crop"] == crop],
            title=f"{first['place']} in {first['season']}",
            inputs=own_season.worked_out_from(covariates[covariates["comparison_id"] == comparison_id], known),
            unit=self._rain_unit,
            folder=self.folder,
        )

    @property
    def findings(self) -> Markdown | str:
        return results.findings_table(self._findings) if len(self._findings) else NOTHING_FOUND

    @property
    def trials(self) -> Markdown:
        return stacked(*self._trial_by_trial())

    def _trial_by_trial(self) -> Iterator[Markdown]:
        for number_of, (_, trial) in enumerate(self._trials.iterrows(), start=1):
            heading = escaped(f"{capital(trial_words.crop_of(trial))}: trial {trial['trial_id']}")
            yield section(heading, *self._of_trial(trial, number_of), level=2)

    def _of_trial(self, trial: pd.Series, number_of: int) -> Iterator[Markdown | str]:
        """What one trial's section holds: layout, noise, treatments and plots, its own curves, what was set aside."""
        means, plots, applied = (
            self._here[name][self._here[name]["trial_id"] == trial["trial_id"]]
            for name in ("treatment_means", "plots", "applications")
        )
        plots = plots.rename(columns={"yield": "yield_shown"}).assign(digits=trial["digits"])
        background = results.background_words(applied, rate=self._rate_unit)
        yield " ".join(filter(None, [results.trial_words(trial), background, results.plots_used(trial)]))
        yield results.status_words(trial, has_yields=bool(plots["yield_shown"].notna().any()))
        if len(means):
            yield trial_words.plot_noise(trial)
        if len(means) or len(plots):
            caption = results.plots_caption(trial, has_means=len(means) > 0)
            yield results.trial_tables(
                means,
                plots,
                applied,
                unit=trial["unit"],
                rate=self._rate_unit,
                label=f"trial-{number_of}",
                caption=caption,
            )
        common, own = self._of.common_optima, self._here["trial_curves"]
        yield own_rates.own_optima(
            own[own["trial_id"] == trial["trial_id"]],
            common[common["crop"] == trial["crop"]],
            label=f"rates-{number_of}",
        )
        aside = plots[plots["fate"] == "set aside"]
        if len(aside):
            caption = f"Plots of {trial['trial_id']} that were set aside."
            yield results.set_aside_table(aside, label=f"aside-{number_of}", caption=caption)

    @property
    def who_ran(self) -> str:
        return listed(self._trials["cooperator"].dropna().unique()) or "not reported"

    @property
    def who_paid(self) -> str:
        return trial_words.who_paid(self._trials)
