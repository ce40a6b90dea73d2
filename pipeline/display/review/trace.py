"""The walk from an estimate to its plots, in words: for the screen, and collapsed in the review file's HTML."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping

import pandas as pd

from pipeline.display.review import worked_out
from pipeline.display.words import weather
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import capital, count, listed, number, percent, text
from pipeline.display.words.tables import Markdown, escaped, on_screen, screen_listing, stacked
from pipeline.display.words.trials import place_and_season
from pipeline.estimates.trials.block_gains import NOT_ADJUSTED
from pipeline.trace import NOT_BEHIND, Trace

NO_WEIGHT = "not weighed here"
WITH_ZERO_N = ", error from all plots, zero-N ones too"
WEIGHED = "Gain and weight of each site-year; where weighed, weights times gains add up to the average"


def lines(trace: Trace) -> list[str]:
    """The whole walk as plain lines: estimate, what it is worked out from, what was left out, corrections, every
    plot.
    """
    told = worked_out.opening(trace)
    if len(trace.site_years):
        told += ["", f"{count(len(trace.site_years), 'site-year')} behind it. {WEIGHED}:"]
        told += [f"  {site_year_line(row)}" for _, row in trace.site_years.iterrows()]
        told += ["", f"Left out of this comparison: {count(len(trace.left_out), 'trial')}"]
        told += [
            f"  {row.trial_id} ({place_and_season(row.place, row.season)}): {row.reason}"
            for row in trace.left_out.itertuples()
        ]
    if len(trace.means):
        told += ["", "Mean yield at each N rate of each trial, blocks adjusted for:"]
        told += [f"  {line}" for line in mean_lines(trace.means)]
    told += ["", f"Corrections applied to these plots: {len(trace.corrections) or 'none'}"]
    told += [f"  {correction_line(row)}" for _, row in trace.corrections.iterrows()]
    told += ["", "Plots (or printed means), with the file and row each was delivered in:"]
    told += [f"  {line}" for line in filter(None, [along_strips(trace.plots)])]
    for (trial_id, file, sheet), plots in trace.plots.groupby(["trial_id", "file", "sheet"], dropna=False, sort=False):
        told.append(f"  {trial_id}: {delivered_in(file, sheet, plots['sha256'].iloc[0])}")
        told += [f"    {plot_line(row)}" for row in plots.to_dict("records")]
    told += ["", f"Picks behind plots picked more than once: {len(trace.picks) or 'none'}"]
    told += [f"  {pick_line(row)}" for row in trace.picks.to_dict("records")]
    if len(trace.weather):
        told += ["", f"{capital(trace.estimate['covariate'])} of each site-year:"]
        told += [f"  {row['place']} {row['season']}: {weather.value(row)}" for row in trace.weather.to_dict("records")]
    if len(trace.rain):
        told += [
            "",
            "Days of these windows, as delivered:" if len(trace.weather) else "Rain behind the rainfall classes:",
        ]
        told += [f"  {rain_line(row)}" for row in trace.rain.to_dict("records")]
    return told


def mean_lines(means: pd.DataFrame) -> list[str]:
    """'Quillmoor 2093 (2093-QF-corn), urea, at planting, 1 pass: 0 lb/ac 92.1, 80 lb/ac 160.2 bu/ac'."""
    told = []
    by = ["season", "place", "trial_id", "family", "variant"]
    for (season, place, trial_id, family, variant), rows in means.groupby(by, sort=True, dropna=False):
        unit, digits = rows["unit"].iloc[0], rows["digits"].iloc[0]
        at = ", ".join(
            f"{number(row.n_rate)} {row.n_unit} {number(row.mean, digits)}{_printed(row)}" for row in rows.itertuples()
        )
        named = f"{family}, {variant}" if text(variant) else family
        told.append(f"{place} {season} ({trial_id}), {named}: {at} {unit}")
    return told


def _printed(row) -> str:
    """That a mean was printed, with its standard error where the print gives one; empty for a mean of plots."""
    if row.n_plots > 0:
        return ""
    return f" (printed{'' if pd.isna(row.std_error) else f', SE {number(row.std_error, row.digits)}'})"


def site_year_line(row: pd.Series) -> str:
    """'Quillmoor 2093: 7.1 bu/ac, weight 3.1%, 4 blocks'; says so where no plots were delivered, and where the error
    counts zero-N plots.
    """
    behind = "published means" if row.get("n_plots") == 0 else count(row["n_blocks"], "block")
    weight = NO_WEIGHT if pd.isna(row["weight"]) else f"weight {percent(100 * row['weight'], 1)}"
    return (
        f"{row['place']} {row['season']}: {number(row['gain'], row['digits'])} {row['unit']}, {weight},"
        f" {behind}{WITH_ZERO_N if row.get('zero_n_in_error', False) else ''}{_lacks_rates(row)}"
    )


def _lacks_rates(row: pd.Series) -> str:
    """What the gain of a site-year rests on beside its own plots, where some of its blocks lack a named rate."""
    rates = text(row.get("lacks_rates"))
    if not rates:
        return ""
    freed = "so their gains are corrected by blocks with all named rates, of this or other site-years"
    is_not = NOT_ADJUSTED in text(row["warnings"])
    return f"; without {rates} in some blocks, {'and no block has all named rates: not corrected' if is_not else freed}"


def correction_line(row: pd.Series) -> str:
    change = (
        f"{row['heading']} moved to {row['moved_to']}"
        if text(row["moved_to"])
        else f"{row['heading']} {row['old']!r} to {row['new']!r}"
    )
    where = _place(row["file"], row["sheet"])
    return f"{where} row {row['row_number']}: {change}; {row['cause']} ({row['who']}, {row['date']:%Y-%m-%d})"


def delivered_in(file: str, sheet: object, sha256: str) -> str:
    return f"{_place(file, sheet)}, sha256 {sha256}"


def _place(file: str, sheet: object) -> str:
    return f'{file} sheet "{sheet}"' if text(sheet) else file


def plot_line(row: Mapping) -> str:
    """'row 5: plot 101, block 1, U-120 (comparator), 182.3 bu/ac from 44.7 lb at 17.9% moisture on 150 sq ft'; a plot
    not used, or a printed mean, says so.
    """
    if "trait" in row:
        size = f"{row['trait']} {row['value']:g} {row['unit']}"
    else:
        size = "no yield" if pd.isna(row["yield"]) else f"{number(row['yield'], row['digits'])} {row['unit']}"
        size += _computed_from(row)
    fate = "" if row["fate"] == "used" else f"; {row['fate']}: {row['reason']}"
    what = f"plot {row['plot']}, block {row['block']}, " if text(row["plot"]) else ""
    return f"row {row['row_number']}: {what}{row['treatment_code']} ({row['arm']}), {size}{fate}"


def _computed_from(row: Mapping) -> str:
    """What a yield was computed from, as it can be recomputed: weight, moisture or turnout, harvested area."""
    if row["yield_origin"] != "weighed":
        return ", delivered as a yield" if text(row["yield_origin"]) else ""
    is_metric = row["unit"] == "kg/ha"
    weight = f"{row['harvest_weight_kg']:.5g} kg" if is_metric else f"{row['harvest_weight_lb']:.5g} lb"
    area = f"{row['harvest_area_m2']:.5g} m\u00b2" if is_metric else f"{row['harvest_area_ft2']:.5g} sq ft"
    is_lint = pd.notna(row["gin_turnout_fraction"])
    share = f"turnout {row['gin_turnout_fraction']:.4g}" if is_lint else f"{row['moisture_pct']:.4g}% moisture"
    return f" from {weight} at {share} on {area}"


def pick_line(row: Mapping) -> str:
    """'2093-QF-cotton plot 104, pick 2 (2093-10-09): 11.2 lb seed cotton, turnout 0.392; seasons/2093/harvests.csv row
    7, sha256 ...'.
    """
    when = "" if pd.isna(row["picked"]) else f" ({row['picked']:%Y-%m-%d})"
    turnout = "" if pd.isna(row["gin_turnout_fraction"]) else f", turnout {number(row['gin_turnout_fraction'], 3)}"
    kilograms = f"{number(row['harvest_weight_kg'], 2)} kg"
    weight = f"{number(row['harvest_weight_lb'], 1)} lb ({kilograms})" if row["display_units"] == "us" else kilograms
    where = f"{_place(row['file'], row['sheet'])} row {row['row_number']}, sha256 {row['sha256']}"
    return f"{row['trial_id']} plot {row['plot']}, pick {row['pick']}{when}: {weight}{turnout}; {where}"


def rain_line(row: Mapping) -> str:
    """'quillmoor-2093, window: 61 days from 2093-05-01 to 2093-06-30, 7.4 in (188 mm); seasons/2093/weather_daily.csv
    rows 2 to 62, sha256 ...'.
    """
    days = f"{count(row['n_days'], 'day')} from {row['first_date']:%Y-%m-%d} to {row['last_date']:%Y-%m-%d}"
    millimeters = f"{number(row['rain_mm'])} mm"
    size = f"{number(row['rain_inch'], 1)} in ({millimeters})" if row["display_units"] == "us" else millimeters
    rain = f", {size}" if row["used_for"] == "window" else ""
    rows = _rows(row["first_row"], row["last_row"])
    where = f"{_place(row['file'], row['sheet'])} {rows}, sha256 {row['sha256']}"
    return f"{row['site_year_id']}, {row['used_for']}: {days}{rain}; {where}"


def _rows(first: int, last: int) -> str:
    return f"row {first}" if first == last else f"rows {first} to {last}"


def in_page(traces: Iterable[Trace]) -> Markdown:
    """The walk of one comparison's headlines, collapsed; nothing of it in PDF or DOCX, which cannot collapse.

    Args:
        traces: of estimates of one comparison over all its site-years, so that they share plots.
    """
    traces = list(traces)
    parts = ['::: {.content-visible when-format="html"}']
    for trace in traces:
        row = trace.estimate
        parts += _opened(
            f"Where {_size(row)}, {TARGET_NAMES[row['target']]}, comes from: weights of"
            f" {count(len(trace.site_years), 'site-year')}"
        )
        site_years = (site_year_line(site_year) for _, site_year in trace.site_years.iterrows())
        parts += [screen_listing(worked_out.opening(trace)[1:]), "", f"{WEIGHED}:", ""]
        parts += [screen_listing(site_years), *_closed()]
    plots, corrections = traces[0].plots, traces[0].corrections
    n_behind = count(int((~is_not_behind(plots)).sum()), "plot or printed mean", "plots or printed means")
    told = listed([f"The {n_behind} behind it", *not_behind(plots, "plot")])
    parts += _opened(f"{told}, with file, row and corrections")
    parts.append(screen_listing(filter(None, [along_strips(plots)])))
    parts.append(
        screen_listing(correction_line(row) for _, row in corrections.iterrows())
        or "No correction touches these plots."
    )
    picks = [(row["trial_id"], pick_line(row)) for row in traces[0].picks.to_dict("records")]
    rain = [(row["site_year_id"], rain_line(row)) for row in traces[0].rain.to_dict("records")]
    for (site_year_id, place, season), of_site_year in _placed(plots, traces[0].site_years).items():
        trials = {row["trial_id"] for row in of_site_year}
        beside = [line for trial_id, line in picks if trial_id in trials]
        beside += [line for of, line in rain if of == site_year_id]
        parts += [
            *_opened(f"{place} {season}"),
            *_plots_in_page(of_site_year),
            screen_listing(beside),
            *_closed(),
        ]
    return Markdown("\n".join([*parts, *_closed(), ":::", ""]))


def curves_in_page(traces: Iterable[Trace]) -> Markdown:
    """Behind each N response curve its means by trial, and the rows they were delivered in; collapsed, in HTML
    alone.
    """
    parts = []
    for trace in traces:
        plots = trace.plots
        parts += _opened(
            f"{trace.estimate['family']}: means of {count(plots['trial_id'].nunique(), 'trial')} from"
            f" {plots_counted(plots)}"
        )
        told = mean_lines(trace.means)
        for (trial_id, file, sheet), of_file in plots.groupby(["trial_id", "file", "sheet"], dropna=False, sort=False):
            rows = f"{plots_counted(of_file)} in {_rows(of_file['row_number'].min(), of_file['row_number'].max())}"
            told.append(f"{trial_id}: {rows} of {delivered_in(file, sheet, of_file.sha256.iloc[0])}")
        parts += [screen_listing(told), *_closed()]
    return Markdown("\n".join(parts))


def plots_counted(plots: pd.DataFrame) -> str:
    """'24 plots', or '6 plots or printed means' where some are with published means only."""
    if plots["plot"].notna().all():
        return count(len(plots), "plot")
    return count(len(plots), "plot or printed mean", "plots or printed means")


def along_strips(plots: pd.DataFrame) -> str:
    """How many strips the points among these plots make, as the points along one are no replicates; '' without any."""
    points = plots[~is_not_behind(plots) & plots.reindex(columns=["is_strip_point"])["is_strip_point"].eq(True)]
    if points.empty:
        return ""
    n_strips = len(points.drop_duplicates(["trial_id", "block", "treatment_code"]))
    are = "is a point" if len(points) == 1 else "are points"
    return f"{len(points):,} {are} along {count(n_strips, 'strip')}: the mean of a strip counts once"


def is_not_behind(plots: pd.DataFrame) -> pd.Series:
    """Which plots are told of beside those that an estimate was computed from."""
    return plots["fate"].isin(NOT_BEHIND)


def not_behind(plots: pd.DataFrame, what: str) -> list[str]:
    """['2 plots set aside', '1 plot not compared']: what became of plots that an estimate was not computed from."""
    fates = list(plots.loc[is_not_behind(plots)].get("fate", ()))
    return [f"{count(fates.count(fate), what)} {fate}" for fate in NOT_BEHIND if fate in fates]


def _size(row: Mapping) -> str:
    return "no average" if pd.isna(row["estimate"]) else f"{number(row['estimate'], row['digits'])} {row['unit']}"


def _placed(plots: pd.DataFrame, site_years: pd.DataFrame) -> dict[tuple[str, str, int], list[dict]]:
    """The plots of each site-year, by it with its place and season."""
    named = plots.merge(site_years[["site_year_id", "place", "season"]], on="site_year_id")
    placed: dict[tuple[str, str, int], list[dict]] = {}
    for row in named.to_dict("records"):
        placed.setdefault((row["site_year_id"], row["place"], row["season"]), []).append(row)
    return placed


def _plots_in_page(plots: Iterable[Mapping]) -> list[str]:
    by_file: dict[tuple[str, str, str], list[Mapping]] = {}
    for row in plots:
        by_file.setdefault((row["trial_id"], row["file"], text(row["sheet"])), []).append(row)
    told = []
    for (trial_id, file, sheet), of_file in sorted(by_file.items(), key=lambda pair: pair[0]):
        told += [escaped(f"{trial_id}: {delivered_in(file, sheet, of_file[0]['sha256'])}"), ""]
        told += [screen_listing(plot_line(row) for row in of_file), ""]
    return told


def collapsed(summary: str, *parts: object) -> Markdown:
    """What a reader opens, in HTML alone."""
    return on_screen(Markdown("\n".join([*_opened(summary), stacked(*parts), "", *_closed()])))


def _opened(summary: str) -> list[str]:
    return ["", "```{=html}", f"<details><summary>{html.escape(summary)}</summary>", "```", ""]


def _closed() -> list[str]:
    return ["", "```{=html}", "</details>", "```", ""]
