"""Does the walk down from an estimate list what it was computed from, no more and no fewer?

The counts printed beside an estimate are held against its walk, and each site-year's gain is worked out again by hand
from the plots that the walk lists.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from pipeline import trace as tracing
from pipeline.display.words.numbers import text

Views = Mapping[str, pd.DataFrame]
ON_SITE_YEARS = (*tracing.AVERAGES, *tracing.WORKED_OUT, *tracing.OF_WEATHER)
FIGURE = {"money": "net_change", "field_shares": "share", "rate_losses": "loss",
          "nitrogen_saved": "nitrogen_saved", "response_curves": "a_kg_ha", "trial_curves": "a_kg_ha"}  # fmt: skip
OF_ARMS = ("treatment", "comparator")


def faults(views: Views, rates: Mapping[str, Mapping[float, float]]) -> Iterator[str]:
    """Each fault as 'kind: where and what'.

    rates: comparison -> the weight of each of its named rates (lb/ac); empty where it names none.
    """
    told = set()
    for kind in tracing.KINDS:
        known = views[kind][views[kind]["estimate_id"].notna()]
        for row in known[known[FIGURE.get(kind, "estimate")].notna()].to_dict("records"):
            walk = tracing.walk(views, row["estimate_id"])
            if kind == tracing.TRAITS:
                found = _of_measurements(views, walk)
            else:
                found = _of_site_years(walk) if kind in ON_SITE_YEARS else _of_curve(walk, kind)
            for fault in found:
                yield f"{fault} (walk of {kind} {row['estimate_id']})"
            if kind in tracing.AVERAGES:
                for fault in _gains_again(views, walk, rates[row["comparison_id"]]):
                    told.add(f"{fault} (walk of {kind} {row['estimate_id']})")
    yield from sorted(told)


def behind(walk: tracing.Trace) -> pd.DataFrame:
    """The plots and printed means that the walk says the estimate was computed from."""
    return walk.plots[~walk.plots["fate"].isin(tracing.NOT_BEHIND)]


def _of_site_years(walk: tracing.Trace) -> Iterator[str]:
    row, site_years, plots = walk.estimate, walk.site_years, behind(walk)
    found = {
        "n_site_years": len(site_years),
        "n_places": site_years["place"].nunique(),
        "n_seasons": site_years["season"].nunique(),
        "n_trials": plots["trial_id"].nunique(),
    }
    for name, n in found.items():
        if name in row and pd.notna(row[name]) and row[name] != n:
            yield f"another {name} than in the walk: {row[name]} printed, {n} listed"
    if set(plots["site_year_id"]) != set(site_years["site_year_id"]):
        yield f"site-years without plots: {set(plots['site_year_id']) ^ set(site_years['site_year_id'])}"
    is_weighed = walk.kind == "gains" and row["is_headline"] and row["moderator"] == "all"
    if is_weighed and not np.isclose(site_years["weight"].sum(), 1):
        yield f"weights of the walk that do not add up to 1: {site_years['weight'].sum()}"
    if site_years["weight"].notna().any():
        average = walk.estimate if walk.kind == "gains" else next(iter(walk.rests_on), None)
        total = float((site_years["weight"] * site_years["gain"]).sum())
        if average is not None and abs(total - average["estimate"]) > 0.002 * max(1.0, abs(total)):
            yield f"weights times gains of the walk are not the average: {total}, {average['estimate']}"


def _of_curve(walk: tracing.Trace, kind: str) -> Iterator[str]:
    row, plots = walk.estimate, walk.plots
    n = row.get("n_curve_site_years", row.get("n_site_years"))
    if n is not None and walk.means["site_year_id"].nunique() != n:
        yield f"another n_site_years than in the walk: {n} printed, {walk.means['site_year_id'].nunique()} listed"
    key = [*tracing.LADDER, "n_rate"]
    if set(map(tuple, plots[key].to_numpy())) != set(map(tuple, walk.means[key].to_numpy())):
        yield "plots of other rates than the means of the walk"


def _of_measurements(views: Views, walk: tracing.Trace) -> Iterator[str]:
    row, plots = walk.estimate, behind(walk)
    for name, column in (("n_site_years", "site_year_id"), ("n_seasons", "season")):
        if plots[column].nunique() != row[name]:
            yield f"another {name} than in the walk: {row[name]} printed, {plots[column].nunique()} listed"
    designs = views["trials"].set_index("trial_id")["design"]
    measured = views["plots"][views["plots"]["fate"] == "used"]  # drawn programs measure every plot
    for trial_id, mine in plots.groupby("trial_id"):
        if designs[trial_id] == "incomplete block":
            if set(mine["plot"]) != set(measured.loc[measured["trial_id"] == trial_id, "plot"]):
                yield f"plots that join the blocks and are not listed: {trial_id}"
            continue
        beside = ["rate_kg_ha", *(["block"] if designs[trial_id] != "CRD" else [])]
        if mine.groupby(beside, dropna=False)["arm"].nunique().ne(2).any():
            yield f"a plot that has no other to be compared with: {trial_id}"


def _gains_again(views: Views, walk: tracing.Trace, weights: Mapping[float, float]) -> Iterator[str]:
    """Site-years whose gain is not that of their plots, where it can be worked out without a model."""
    designs = views["trials"].set_index("trial_id")["design"]
    plots = behind(walk)
    rate = walk.estimate.get("rate_lb_ac")
    named = _shares(_of_all(views, walk), weights) if rate is None or pd.isna(rate) else {rate: 1.0}
    stored = views["site_year_gains"] if walk.estimate["moderator"] != "N rate" else views["explored_site_years"]
    for site_year_id, mine in plots.groupby("site_year_id"):
        row = stored[
            stored["comparison_id"].eq(walk.estimate["comparison_id"]) & stored["site_year_id"].eq(site_year_id)
        ]
        row = (row[row["level"] == walk.estimate["level"]] if "level" in row else row).iloc[0]
        of_trials = [(each, designs[trial_id]) for trial_id, each in mine.groupby("trial_id")]
        n_plots = sum(_n_plots(each, design) for each, design in of_trials)
        if row["n_plots"] != n_plots:
            yield f"another n_plots than in the walk: {site_year_id}: {row['n_plots']} printed, {n_plots} listed"
        if any(each["arm"].eq(tracing.JOINING).any() and design != "incomplete block" for each, design in of_trials):
            yield f"plots of other treatments where no gain needs them: {site_year_id}"
        if all(each["plot"].notna().all() and not each["is_adjusted"].any() for each, _ in of_trials):
            lacks_one = any(lacks_a_rate(each, design, named) for each, design in of_trials)
            if lacks_one != bool(text(row["lacks_rates"])):
                yield f"named rates that lack and are not told of, or the other way round: {site_year_id}"
        gains = [gain_by_hand(each, design, named) for each, design in of_trials]
        if None not in gains and not np.isclose(row["gain"], np.mean(gains), rtol=1e-7, atol=1e-7):
            yield f"a gain that its plots do not give: {site_year_id}: {row['gain']}, by hand {np.mean(gains)}"


def _of_all(views: Views, walk: tracing.Trace) -> pd.DataFrame:
    return views["sources"][views["sources"]["comparison_id"] == walk.estimate["comparison_id"]]


def _shares(sources: pd.DataFrame, weights: Mapping[float, float]) -> dict[float, float]:
    """The share of each named rate that some trial has; NaN stands for no rate."""
    met = sources.loc[sources["arm"].isin(OF_ARMS), "rate_lb_ac"].dropna().unique()
    found = {rate: next(w for named, w in weights.items() if abs(named - rate) < 0.01) for rate in met}
    return {rate: weight / sum(found.values()) for rate, weight in found.items()} or {np.nan: 1.0}


def _n_plots(plots: pd.DataFrame, design: str) -> int:
    """Plots of both arms; of strips the strips, as points along one are no replicates."""
    plots = plots[plots["arm"].isin(OF_ARMS) & plots["plot"].notna()]
    return len(plots.drop_duplicates(["block", "treatment_code"]) if design == "strips" else plots)


def lacks_a_rate(plots: pd.DataFrame, design: str, shares: Mapping[float, float]) -> bool:
    """Whether some block lacks a named rate: its gain is then freed from a rate term, which other trials give."""
    blocks = [block for _, block in plots.groupby("block")] if design != "CRD" else [plots]
    return any(
        block.loc[_at(block, rate) & block["arm"].eq(arm)].empty
        for block in blocks for rate in shares for arm in OF_ARMS
    )  # fmt: skip


def _at(plots: pd.DataFrame, rate: float) -> pd.Series:
    return plots["rate_lb_ac"].isna() if np.isnan(rate) else (plots["rate_lb_ac"] - rate).abs() < 0.01


def gain_by_hand(plots: pd.DataFrame, design: str, shares: Mapping[float, float]) -> float | None:
    """The gain of one trial from these plots alone; None where the model's variances come in, or a rate lacks."""
    if plots["plot"].isna().any() or design == "split-plot":
        return None
    if design == "strips":
        plots = plots.groupby(["arm", "rate_lb_ac", "block", "treatment_code"], dropna=False, as_index=False)[
            "yield"
        ].mean()
    if "is_adjusted" in plots and plots["is_adjusted"].any():
        return _adjusted(plots, shares)
    found = []
    for _, block in plots.groupby("block") if design != "CRD" else [("all", plots)]:
        weight = np.zeros(len(block))
        for rate, share in shares.items():
            at_rate = _at(block, rate)
            arms = [(at_rate & (block["arm"] == arm)).to_numpy() for arm in OF_ARMS]
            if not all(arm.any() for arm in arms):
                return None  # freed from its rate term, which other trials give
            weight += share * (arms[0] / arms[0].sum() - arms[1] / arms[1].sum())
        found.append((float(weight @ block["yield"]), 1 / float(weight @ weight)))
    return float(np.average([gain for gain, _ in found], weights=[precision for _, precision in found]))


def _adjusted(plots: pd.DataFrame, shares: Mapping[float, float]) -> float | None:
    """Least squares on blocks and treatments."""
    columns = pd.get_dummies(plots[["treatment_code", "block"]].astype(str), dtype=float)
    means = pd.Series(
        np.linalg.lstsq(columns.to_numpy(), plots["yield"].to_numpy(float), rcond=None)[0], columns.columns
    )
    gain = 0.0
    for rate, share in shares.items():
        at_rate = _at(plots, rate)
        codes = [plots.loc[at_rate & (plots["arm"] == arm), "treatment_code"].unique() for arm in OF_ARMS]
        if not all(len(each) for each in codes):
            return None
        of_arms = [means[[f"treatment_code_{code}" for code in each]].mean() for each in codes]
        gain += share * (of_arms[0] - of_arms[1])
    return gain
