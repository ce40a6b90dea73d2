"""make calibrate: how often would the printed intervals catch the truth on trials laid out as these are."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from pipeline import console
from pipeline.contract.vocabulary import TESTED
from pipeline.errors import UserError
from pipeline.estimates.engines.interval_rules import rule_for
from pipeline.settings.program import read_program
from pipeline.simulation.calibration import PUBLISHED, calibrate, layout_of
from pipeline.simulation.slope_calibration import calibrate_slopes
from pipeline.steps.other_questions import worth_finding
from pipeline.verbs import made_from
from pipeline.verbs.last_report import last_report
from pipeline.warehouse import open_warehouse

NEEDED = (
    "estimates.block_gains",
    "estimates.site_year_gains",
    "estimates.calibration",
    "estimates.slope_calibration",
    "estimates.runs",
)
SEED = 1
FOR_SLOPES = 5  # a program of slopes takes as long as so many of averages


def calibrate_program(folder: Path, n_programs: int) -> None:
    """Simulates programs with the layout of the last report and stores the result; the next report prints it.

    Raises:
        UserError: no report was made yet, or no comparison has an average whose interval could be tried.
    """
    program = read_program(folder)
    with last_report(program, NEEDED) as warehouse:
        trials = warehouse.read("""select t.*, r.rainfall_class from trials.trials as t
            left join trials.rainfall_classes as r on r.site_year_id = t.site_year_id and r.crop = t.crop""")
        layouts = layout_of(
            warehouse.table("estimates.block_gains"), trials, warehouse.table("estimates.site_year_gains")
        )
        covariates, crops = warehouse.table("trials.weather_covariates"), warehouse.table("reference.crops")
        inputs = warehouse.read("select inputs_sha256 from estimates.runs order by rowid desc limit 1")[
            "inputs_sha256"
        ][0]
    if layouts.empty:
        raise UserError("No comparison has a site-year yet: there is no layout to simulate.")
    asked, layouts = layouts["comparison_id"].unique(), layouts[_can_be_tried(layouts)]
    if layouts.empty:
        raise UserError(
            "No comparison has both site-years enough for an average and a plot error that is known: there is no"
            " interval to try on simulated programs yet."
        )
    with console.pages() as tell:
        found = calibrate(
            layouts, n=n_programs, seed=SEED, progress=lambda done, of: tell("simulating programs", done, of)
        )
        sizes = worth_finding(program, crops.set_index("word"))
        slopes = calibrate_slopes(
            layouts,
            covariates,
            n=-(-n_programs // FOR_SLOPES),
            seed=SEED,
            sizes=sizes,
            progress=lambda done, of: tell("simulating slopes on the weather", done, of),
        )
    made_from.forget(program)  # else the next report would say that its pages are current
    with open_warehouse(program.warehouse_file) as warehouse, warehouse.transaction():
        for name, rows in (("calibration", found), ("slope_calibration", slopes)):
            warehouse.execute(f"delete from estimates.{name}")
            warehouse.insert(f"estimates.{name}", rows.assign(inputs_sha256=inputs))
    if not_tried := sorted(set(asked) - set(layouts["comparison_id"])):
        console.say(f"Not tried, without an average or a known plot error: {', '.join(not_tried)}.")
    for line in _told(found[found["method"] == PUBLISHED], slopes[slopes["coverage"].notna()], n_programs):
        console.say(line)
    console.say("Run make report to have the table in the review file.")


def _told(published: pd.DataFrame, slopes: pd.DataFrame, n_programs: int) -> Iterator[str]:
    """How the printed intervals did, and those of the slopes whose intervals could be tried."""
    yield (
        f"{console.count(len(published), 'interval')} tried on {console.count(n_programs, 'simulated program')} each"
        f" (Monte Carlo error of a share at most {published['coverage_mc_error'].max():.1%}):"
    )
    for verdict, n in published["verdict"].value_counts().items():
        yield f"   {n}: {verdict}"
    if len(slopes):
        yield (
            f"Slopes on the weather, {console.count(slopes['n_programs'].iloc[0], 'program')} each: intervals caught"
            f" the true slope in {slopes['coverage'].min():.0%} or more; a slope was shown where there was none in at"
            f" most {slopes['shown_falsely'].max():.0%}."
        )


def _can_be_tried(layouts: pd.DataFrame) -> pd.Series:
    """Whether the comparison of a row has an interval and an error to draw: site-years enough for an average, by the
    rule of the seasons tested, which asks for the fewest; a plot error for each trial, and not of zero for all.
    """
    of = layouts.groupby("comparison_id")
    counts = of.agg(n=("site_year_id", "nunique"), seasons=("season", "nunique"))
    counts["has_average"] = [rule_for(TESTED, row.n, row.seasons).has_estimate for row in counts.itertuples()]
    has_error = of["variance"].transform("count").eq(of["variance"].transform("size"))
    return layouts["comparison_id"].map(counts["has_average"]) & has_error & of["variance"].transform("max").gt(0)
