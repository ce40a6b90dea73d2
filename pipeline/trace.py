"""From any printed estimate down to its plots: the rows of the reports layer that it rests on, gathered."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from pipeline.errors import UserError, one_of
from pipeline.estimate_ids import asked_part
from pipeline.estimates.engines.interval_rules import CLUSTERED, TWO_STAGE
from pipeline.estimates.money.inputs import LONG_RUN
from pipeline.estimates.n_response.efficiencies import AGRONOMIC
from pipeline.estimates.n_response.ladders import rate_levels
from pipeline.estimates.n_response.pooled_curves import is_tested_enough, usable_means
from pipeline.estimates.where.breakdown import MODERATORS
from pipeline.estimates.where.long_run import CLASSES
from pipeline.site_years.eligibility import SAME_RATE_KG_HA

AVERAGES = ("gains", "explored")
# what is worked out from averages over the same site-years, and from N response curves
WORKED_OUT = ("as_good", "money", "long_run_gains", "field_shares")
OF_CURVES = ("response_curves", "rate_losses", "efficiencies", "nitrogen_saved")
OF_TRIAL = "trial_curves"
TRAITS = "trait_gains"
SLOPES, OF_WEATHER = "weather_slopes", ("weather_slopes", "weather_gains")
KINDS = (*AVERAGES, *WORKED_OUT, *OF_CURVES, OF_TRIAL, TRAITS, *OF_WEATHER)  # views whose rows have an id
VIEWS = (
    *KINDS, "site_year_gains", "explored_site_years",
    "headline_weights", "left_out", "sources", "picks",
    "weather_covariates", "weather_sources", "rain_sources", "corrected_cells", "budget_items", "rate_means",
    "ladder_sources", "trait_sources", "program",
)  # fmt: skip
ROW = ("file", "sheet", "row_number")
OF_PLOTS = ("plots", "harvests", "printed_means")  # tables whose rows each stand for one plot or mean
JOINING = "joins the blocks"  # arm of another treatment's plots, where a gain is adjusted for blocks over its trial
NOT_BEHIND = ("set aside", "not compared")  # fates of plots that are told of and are in no gain
LEAST_RATE_STEP = 0.01  # kg/ha; the rate of a class went through text
LADDER = ["family", "trial_id", "variant"]
# fields of Trace that a walk may have no part in, and the view whose columns they have
EMPTY = {
    "site_years": "site_year_gains",
    "means": "rate_means",
    "left_out": "left_out",
    "rain": "rain_sources",
}
MODERATOR_COLUMNS = {"all": ()} | MODERATORS
WEIGHTED_BY_ERROR = (TWO_STAGE, CLUSTERED)  # methods that leave out a site-year whose error is unknown or zero


@dataclass(frozen=True)
class Step:
    """The first step down from one estimate: what it is worked out from, as rows of reports views.

    kind: the view that the estimate stands in. estimate: its row there. rests_on: rows of other estimates it is worked
    out from. items: those of its budget, empty for any other.
    """

    kind: str
    estimate: pd.Series
    rests_on: tuple[pd.Series, ...]
    items: pd.DataFrame


@dataclass(frozen=True)
class Trace(Step):
    """What one estimate rests on, as rows of reports views; a frame is empty where it has no part in the estimate.

    site_years: site_year_gains, with `weight` in the headline (NaN where they are not weighed). means: rate_means of
    its curve. left_out: trials of the crop not used, with reasons. plots: sources, ladder_sources or trait_sources;
    those whose fate is NOT_BEHIND are told of, and the others are behind the estimate. picks: those of plots picked
    more than once. rain: rain_sources of the site-years, or weather_sources of a weather covariate. corrections:
    corrected_cells that touch any of these. run: the row of program. weather: weather_covariates of the site-years,
    where the estimate is of one covariate.
    """

    site_years: pd.DataFrame
    means: pd.DataFrame
    left_out: pd.DataFrame
    plots: pd.DataFrame
    picks: pd.DataFrame
    rain: pd.DataFrame
    corrections: pd.DataFrame
    run: pd.Series
    weather: pd.DataFrame = field(default_factory=pd.DataFrame)


def walk(views: Mapping[str, pd.DataFrame], estimate_id: str) -> Trace:
    """The walk down from one estimate.

    Args:
        views: the reports views named in VIEWS, by name.

    Raises:
        UserError: no estimate has this id.
    """
    kind, estimate = _estimate(views, estimate_id)
    first = first_step(views, kind, estimate)
    if kind in OF_CURVES or kind == OF_TRIAL:
        return _from_curves(views, first)
    if kind == TRAITS:
        return _from_measurements(views, first)
    average = _average_behind(views, kind, estimate)
    site_years = _site_years(views, average)
    if kind in OF_WEATHER:
        return _from_weather(views, first, average, site_years)
    if kind == "as_good" and estimate["scale"] == "ratio":
        site_years = _of_ratio(views, estimate)
    if kind == "long_run_gains" or estimate.get("weather", "") == LONG_RUN:
        site_years = _unweighed(site_years, site_years[CLASSES].notna().all(axis=1))
    return _from_site_years(views, first, average, site_years)


def first_step(views: Mapping[str, pd.DataFrame], kind: str, estimate: pd.Series) -> Step:
    """What an estimate is worked out from.

    Args:
        views: as for walk.
        kind: the view that the estimate stands in.
        estimate: its row there.
    """
    items = views["budget_items"]
    items = _of(items, estimate) if kind == "money" else items.iloc[:0]
    return Step(kind, estimate, tuple(_estimates_behind(views, kind, estimate)), items)


def _estimates_behind(views: Mapping[str, pd.DataFrame], kind: str, estimate: pd.Series) -> Iterator[pd.Series]:
    if kind in ("nitrogen_saved", "rate_losses"):
        curves = _of_curve(views["response_curves"], kind, estimate)
        behind = _means_behind(views, kind, estimate)
        for _, row in curves[curves["is_primary"]].iterrows():
            of_family = behind[behind["family"] == row["family"]]
            # N saved has its own curves where not all site-years of the common ones have both treatments
            if of_family.index.equals(_means_behind(views, "response_curves", row).index):
                yield row
    elif kind == "weather_gains":
        slopes = _of_covariate(views[SLOPES], estimate)
        leads = slopes["is_headline"].eq(True) & slopes["target"].eq(estimate["target"])
        yield from (row for _, row in slopes[leads].iterrows())
    elif kind == "money":
        yield _estimate(views, estimate["gain_estimate_id"])[1]
    elif kind == "field_shares" or (kind == "as_good" and estimate["scale"] != "ratio"):
        yield _average_behind(views, kind, estimate)
    if kind == "field_shares" and estimate["above"] == "break-even":
        yield _of(views["money"], estimate).iloc[0]


def _of_ratio(views: Mapping[str, pd.DataFrame], estimate: pd.Series) -> pd.DataFrame:
    """The pooled site-years that a mean of log ratios is of: each counts alike, if its comparator's yield is known."""
    used = _of(views["site_year_gains"], estimate)
    used = used[used["is_pooled"]].sort_values(["season", "place"], ignore_index=True)
    return _unweighed(used, used["comparator_mean"].notna())


def _unweighed(site_years: pd.DataFrame, counts: pd.Series) -> pd.DataFrame:
    """Those that count in a figure of which the headline's weights do not hold."""
    return site_years[counts].assign(weight=float("nan"))


def _from_weather(
    views: Mapping[str, pd.DataFrame], first: Step, average: pd.Series, site_years: pd.DataFrame
) -> Trace:
    """Down from a slope, or from a gain on its line, by the site-years whose covariate is known."""
    values, days = (_of_covariate(views[view], first.estimate) for view in ("weather_covariates", "weather_sources"))
    values = values[values["value"].notna() & values["site_year_id"].isin(site_years["site_year_id"])]
    used = _unweighed(site_years, site_years["site_year_id"].isin(values["site_year_id"]))
    return replace(
        _from_site_years(views, first, average, used),
        rain=days[days["site_year_id"].isin(used["site_year_id"])],
        weather=values.sort_values(["season", "place"], ignore_index=True),
    )


def _of_covariate(view: pd.DataFrame, estimate: pd.Series) -> pd.DataFrame:
    rows = _of(view, estimate)
    return rows[rows["covariate"] == estimate["covariate"]]


def _from_site_years(
    views: Mapping[str, pd.DataFrame], first: Step, average: pd.Series, site_years: pd.DataFrame
) -> Trace:
    """Down from an estimate by the site-years of the average gain behind it."""
    plots = _of(views["sources"], average)
    plots = plots[plots["site_year_id"].isin(site_years["site_year_id"])]
    if pd.notna(average.get("rate_kg_ha")):
        at_rate = (plots["rate_kg_ha"] - average["rate_kg_ha"]).abs() < LEAST_RATE_STEP
        # what is adjusted over its whole trial rests on the plots of the other rates too
        plots = plots.assign(arm=plots["arm"].where(at_rate, JOINING))[at_rate | plots["is_adjusted"]]
    rain = views["rain_sources"]
    rain = rain[(rain["crop"] == average["crop"]) & rain["site_year_id"].isin(site_years["site_year_id"])]
    found = _of_plots(views, first, plots, site_years["place"])
    return replace(found, site_years=site_years, left_out=_of(views["left_out"], average), rain=rain)


def _of_plots(
    views: Mapping[str, pd.DataFrame], first: Step, plots: pd.DataFrame, places: Collection[str] = ()
) -> Trace:
    """A walk that has nothing yet but plots, their picks, and the corrections of these and of places."""
    picks = views["picks"]
    picks = picks[picks["trial_id"].isin(plots["trial_id"])]  # a program has few: plots are looked up for these alone
    picks = _with_keys_of(picks, [plots], ["trial_id", "plot"])
    none = {name: views[view].iloc[:0] for name, view in EMPTY.items()}
    corrections = _corrections(views["corrected_cells"], places, plots, picks)
    return Trace(
        **vars(first),
        plots=plots,
        picks=picks,
        corrections=corrections,
        run=views["program"].iloc[0],
        **none,
    )


def _from_curves(views: Mapping[str, pd.DataFrame], first: Step) -> Trace:
    """Down from an N response curve, or what is read off one or two common ones, by the means at each rate."""
    estimate = first.estimate
    plots, means = _of_curve(views["ladder_sources"], first.kind, estimate), _means_behind(views, first.kind, estimate)
    if first.kind == OF_TRIAL:
        return replace(_of_plots(views, first, _of_ladder(plots, estimate)), means=means)
    return replace(
        _of_plots(views, first, plots.merge(means[[*LADDER, "n_rate"]], on=[*LADDER, "n_rate"])), means=means
    )


def _of_curve(view: pd.DataFrame, kind: str, estimate: pd.Series) -> pd.DataFrame:
    """The rows of a curve's nitrogen treatment, or of the two that are compared."""
    families = [estimate["family"]] + ([estimate["comparator_family"]] if kind == "nitrogen_saved" else [])
    return view[(view["crop"] == estimate["crop"]) & view["family"].isin(families)]


def _of_ladder(rows: pd.DataFrame, estimate: pd.Series) -> pd.DataFrame:
    return rows[rows["trial_id"].eq(estimate["trial_id"]) & rows["variant"].eq(estimate["variant"])]


def _means_behind(views: Mapping[str, pd.DataFrame], kind: str, estimate: pd.Series) -> pd.DataFrame:
    """The rows of rate_means that a curve, or what is read off it, is made of."""
    means = _of_curve(views["rate_means"], kind, estimate)
    if kind == OF_TRIAL:
        return _of_ladder(means, estimate)
    if kind == "efficiencies":
        return _at_rate(means, estimate["efficiency"], estimate["n_rate_kg_ha"])
    if kind == "nitrogen_saved":
        means = means[means["trial_id"].isin(_of(views["sources"], estimate)["trial_id"])]
        has_both = usable_means(means).groupby("site_year_id")["family"].nunique().eq(2)
        means = means[means["site_year_id"].isin(has_both.index[has_both])]
    usable = usable_means(means)
    parts = [of_family[is_tested_enough(of_family)] for _, of_family in usable.groupby("family")]
    return usable.loc[[label for part in parts for label in part.index]].sort_index()


def _at_rate(means: pd.DataFrame, efficiency: str, rate_kg_ha: float) -> pd.DataFrame:
    """Those of an efficiency at its rate, with zero-N where it counts."""
    is_zero = means["n_rate_kg_ha"].eq(0)
    level = pd.Series(0.0, index=means.index)
    level[~is_zero] = rate_levels(means.loc[~is_zero, "n_rate_kg_ha"].to_numpy(float), SAME_RATE_KG_HA)
    at_rate = ~is_zero & (level - rate_kg_ha).abs().lt(LEAST_RATE_STEP)
    if efficiency != AGRONOMIC:
        return means[at_rate]
    has_zero, reached = (each.groupby([means[name] for name in LADDER]).transform("any") for each in (is_zero, at_rate))
    return means[has_zero & (at_rate | is_zero & reached)]


def _from_measurements(views: Mapping[str, pd.DataFrame], first: Step) -> Trace:
    """Down from the average difference in another trait."""
    plots = _of(views["trait_sources"], first.estimate)
    return _of_plots(views, first, plots[plots["trait"] == first.estimate["trait"]])


def _average_behind(views: Mapping[str, pd.DataFrame], kind: str, estimate: pd.Series) -> pd.Series:
    return estimate if kind in AVERAGES else _headline(views["gains"], estimate)


def _headline(gains: pd.DataFrame, estimate: pd.Series) -> pd.Series:
    """The average over all site-years that leads for an estimate's comparison and target."""
    leads = gains["is_headline"] & gains["moderator"].eq("all") & gains["target"].eq(estimate["target"])
    return _of(gains[leads], estimate).iloc[0]


def _corrections(
    corrected: pd.DataFrame, places: Collection[str], plots: pd.DataFrame, picks: pd.DataFrame
) -> pd.DataFrame:
    """Those on the rows of these plots and picks, on other tables' rows of their trials, and on sites and rain of their
    places.
    """
    on_rows = _with_keys_of(corrected, [plots, picks], ROW)
    others = corrected[~corrected["table_name"].isin(OF_PLOTS)]
    of_trial = others["trial_id"].isin(plots["trial_id"])
    of_place = others["trial_id"].isna() & others["place"].isin(places)
    return pd.concat([on_rows, others[of_trial | of_place]], ignore_index=True)


def _with_keys_of(rows: pd.DataFrame, frames: Sequence[pd.DataFrame], key: Sequence[str]) -> pd.DataFrame:
    """Those of a few rows whose key is in one of the frames, numbered anew. Sets are quicker here than merging."""
    near = [frame.loc[frame[key[-1]].isin(rows[key[-1]]), list(key)] for frame in frames]
    wanted = set().union(*(_keys(frame, key) for frame in near))
    is_wanted = np.array([each in wanted for each in _keys(rows, key)], dtype=bool)
    return rows[is_wanted].reset_index(drop=True)


def _keys(rows: pd.DataFrame, key: Sequence[str]) -> list[tuple]:
    return list(zip(*(rows[name].where(rows[name].notna(), None) for name in key)))


def _estimate(views: Mapping[str, pd.DataFrame], estimate_id: str) -> tuple[str, pd.Series]:
    """The view and row of an id, which may lack its second part or the end of it.

    Where only the data behind it changed, the error names the id it has now.
    """
    if (row := _with_id(views, estimate_id)) is not None:
        return row
    every = pd.concat([views[kind]["estimate_id"] for kind in KINDS]).dropna()
    same = every[every.map(asked_part) == asked_part(estimate_id)]
    begun = [whole for whole in same.unique() if whole.startswith(estimate_id)]
    if len(begun) == 1:
        return _with_id(views, begun[0])
    if len(same):
        raise UserError(
            f'the data, prices or settings behind "{estimate_id}" changed since that page was made: it is now'
            f" {same.iloc[0]}. The older figure stands in its edition, in the published folder."
        )
    hint = one_of(sorted(every), estimate_id)
    near = (
        hint
        if hint.startswith("did")
        else "ids stand in gray next to the figures of the season reports and the review file"
    )
    raise UserError(
        f'no estimate has the id "{estimate_id}": {near}. An id changes when the definition of its estimate or its data'
        " change."
    )


def _with_id(views: Mapping[str, pd.DataFrame], whole: str) -> tuple[str, pd.Series] | None:
    for kind in KINDS:
        (at,) = np.nonzero(views[kind]["estimate_id"].eq(whole).to_numpy(bool, na_value=False))
        if len(at):
            return kind, views[kind].iloc[at[0]]
    return None


def _of(view: pd.DataFrame, estimate: pd.Series) -> pd.DataFrame:
    return view[view["comparison_id"] == estimate["comparison_id"]]


def _site_years(views: Mapping[str, pd.DataFrame], estimate: pd.Series) -> pd.DataFrame:
    """The pooled site-years of the estimate's class, each with its weight where the estimate is a headline over all."""
    if estimate["moderator"] not in MODERATOR_COLUMNS:
        mine = _of(views["explored_site_years"], estimate)
        mine = mine[(mine["moderator"] == estimate["moderator"]) & (mine["level"] == estimate["level"])]
        return mine.assign(weight=float("nan")).sort_values(["season", "place"], ignore_index=True)
    used = _of(views["site_year_gains"], estimate)
    used = used[used["is_pooled"]]
    if estimate["method"] in WEIGHTED_BY_ERROR and pd.notna(estimate["estimate"]):
        used = used[used["std_error"] > 0]
    columns = list(MODERATOR_COLUMNS[estimate["moderator"]])
    if columns:
        level = used[columns].fillna("").agg(" x ".join, axis=1)
        used = used[level == estimate["level"]]
    weights = _of(views["headline_weights"], estimate)
    if estimate["moderator"] != "all" or not estimate["is_headline"]:
        weights = weights.iloc[:0]
    weights = weights[weights["target"] == estimate["target"]].set_index("site_year_id")
    # as the leading method sees it, so that weights times gains add up to the estimate
    gain = used["site_year_id"].map(weights["gain"]).fillna(used["gain"])
    used = used.assign(weight=used["site_year_id"].map(weights["weight"]), gain=gain)
    return used.sort_values(["season", "place"], ignore_index=True)
