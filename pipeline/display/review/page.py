"""What the review file prints, section by section, from the reports views: claims, every comparison, N rates, the
run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pandas as pd

from pipeline import trace
from pipeline.display.review import curves, run, worked_out
from pipeline.display.review import trace as trace_words
from pipeline.display.review.comparison import ComparisonEvidence
from pipeline.display.review.row_counts import row_counts_table
from pipeline.display.review.walks import first_steps_of
from pipeline.display.words import claims as claim_words
from pipeline.display.words import links, n_response, trials
from pipeline.display.words.numbers import capital
from pipeline.display.words.program import who_is_named
from pipeline.display.words.tables import Markdown, escaped, joined, listing, on_screen, section, stacked

NOTHING_FOUND = "The checks found nothing."
NOTHING_CORRECTED = "No correction was made: every value is as delivered."


class ReviewPage:
    """Each property is one section's words, tables and figures; its heading and place stand in reports/review.qmd.

    Args:
        views: frames of the reports schema by name, without the schema's name.
        folder: for figures.
    """

    def __init__(self, views: Mapping[str, pd.DataFrame], folder: Path) -> None:
        self.program = views["program"].iloc[0]
        self._views = views
        self.comparisons = [
            ComparisonEvidence(views, comparison, number_of, folder)
            for number_of, (_, comparison) in enumerate(views["comparisons"].iterrows(), start=1)
        ]

    @property
    def links(self) -> Markdown:
        return links.around(self._views["pages"], own="review")

    @property
    def seasons(self) -> str:
        return trials.seasons_of(self._views["trials"])

    @property
    def provisional(self) -> str:
        return trials.provisional(self._views["trials"], self._views["findings"])

    @property
    def contents(self) -> Markdown:
        links = [Markdown(f"[{escaped(mine.title)}](#{mine.anchor})") for mine in self.comparisons]
        return listing(links)

    @property
    def claims(self) -> Markdown | str:
        claims = self._views["claims"]
        if claims.empty:
            return claim_words.NONE_MADE
        return stacked(claim_words.claims_table(claims), *(self._claim(claim) for _, claim in claims.iterrows()))

    def _claim(self, claim: pd.Series) -> Markdown:
        """The verdict with its reason, a link to the evidence, and what may be said instead."""
        known = claim_words.evidence_in(self._views)
        anchor = next(mine.anchor for mine in self.comparisons if mine.id == claim["comparison_id"])
        position = claim["position"]
        link = Markdown(f"[Evidence for claim {position}](#{anchor}).")
        first = f"{position}. {joined([claim_words.why(claim), link], by=' ')}"
        below = [f"    - **{label}** {escaped(told)}" for label, told in claim_words.beneath(claim, known)]
        return Markdown("\n".join([first, "", *below]))

    @property
    def n_rates(self) -> Markdown:
        """By crop: what stands behind its curves, and of which nothing does."""
        groups = self._views["response_curves"].groupby("crop", sort=False)
        told = [part for k, (crop, rows) in enumerate(groups, start=1) for part in self._curves(crop, rows, k)]
        without = [crop for crop in self._views["comparisons"]["crop"].unique() if crop not in groups.groups]
        return stacked(*told, *(n_response.nothing_told(crop) for crop in without))

    def _curves(self, crop: str, rows: pd.DataFrame, number_of: int) -> Iterator[Markdown]:
        of_crop = {name: self._of_crop(name, crop) for name in ("site_year_optima", "eonr_grid", "efficiencies")}
        tables: list[object] = []
        if len(n_response.drawn(rows)):
            tables = [
                curves.curves_table(rows, of_crop["site_year_optima"], label=f"curves-{number_of}"),
                curves.other_models(rows, label=f"shapes-{number_of}"),
                curves.other_prices(of_crop["eonr_grid"], label=f"ratios-{number_of}"),
            ]
        tables.append(curves.efficiency_table(of_crop["efficiencies"], label=f"efficiency-{number_of}"))
        yield section(capital(crop), *tables, curves.no_efficiency(of_crop["efficiencies"]))
        yield self._read_off(crop)

    def _read_off(self, crop: str) -> Markdown:
        """Every curve and what is read off it, and the walk of the declared curves."""
        rows = {name: self._of_crop(name, crop) for name in trace.OF_CURVES}
        steps = first_steps_of(self._views, rows, *trace.OF_CURVES)
        if not steps:
            return Markdown()
        heading = f"{capital(crop)}: every curve and what is read off it"
        declared = [
            trace.walk(self._views, step.estimate["estimate_id"])
            for step in steps
            if step.kind == "response_curves" and step.estimate["is_primary"]
        ]
        return stacked(
            on_screen(section(heading, worked_out.in_page(steps), level=4)),
            on_screen(trace_words.curves_in_page(declared)),
        )

    def _of_crop(self, view: str, crop: str) -> pd.DataFrame:
        return self._views[view][self._views[view]["crop"] == crop]

    @property
    def delivered(self) -> Markdown:
        return row_counts_table(self._views["row_counts"])

    @property
    def findings(self) -> Markdown:
        found, corrections = self._views["findings"], self._views["corrections"]
        return stacked(
            run.findings_table(found) if len(found) else NOTHING_FOUND,
            run.corrections_table(corrections) if len(corrections) else NOTHING_CORRECTED,
        )

    @property
    def who_paid(self) -> str:
        return trials.who_paid(self._views["trials"])

    @property
    def who_is_named(self) -> str:
        return who_is_named(self.program)

    @property
    def versions(self) -> Markdown:
        return stacked(run.versions(self.program), run.files_table(self._views["files"]))
