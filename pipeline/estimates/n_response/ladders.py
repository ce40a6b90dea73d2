"""Ladders: zero-N and the rates of one N source, put on in one way, in one trial."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.words import source_said
from pipeline.estimates.trials import contrasts, designs

PLOT_COLUMNS = ["trial_id", "treatment_code", "block", "main_plot", "plot", "value"]
LADDERS = [
    "trial_id",
    "site_year_id",
    "crop",
    "design",
    "family",
    "variant",
    "block",
    "main_plot",
    "plot",
    "n_rate_kg_ha",
    "value",
]
LADDER = ["crop", "family", "site_year_id", "trial_id", "variant"]
LADDER_OF_A_STRIP = ["crop", "family", "site_year_id", "variant"]


def ladders(rows: pd.DataFrame) -> pd.DataFrame:
    """One row per plot and ladder; zero-N plots stand in every ladder of their trial. rows: as ladder_plots gives them.

    A family is one n_source, coated share, timing and number of passes. Where a trial has a family in more
    than one placement, with other additives or at other levels of a free factor, each is a ladder of its own
    (variant). Points along a strip are not replicates: they are averaged to one value per strip. Where a
    split-plot has zero-N in each main plot, a ladder takes that of its own main plots: another's would bring
    the difference between main plots in.
    """
    is_strip = rows["design"].eq("strips")
    rows = (
        pd.concat([rows[~is_strip], designs.strip_means(rows[is_strip], LADDER_OF_A_STRIP)]) if is_strip.any() else rows
    )
    order = [*LADDER, "n_rate_kg_ha", "block", "plot"]
    return rows.sort_values(order, key=_sortable, kind="stable", ignore_index=True)[LADDERS]


def ladder_plots(plots: pd.DataFrame, treatments: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    """Every plot of every ladder with its treatment_code, points along a strip too; columns as ladders() has them."""
    of_ladders = steps(treatments)
    if of_ladders.empty or plots.empty:
        return pd.DataFrame(columns=[*LADDERS, "treatment_code"], dtype=object)
    in_trial = trials[["trial_id", "site_year_id", "crop", "design"]]
    rows = of_ladders.merge(plots[PLOT_COLUMNS], on=["trial_id", "treatment_code"]).merge(in_trial, on="trial_id")
    return rows.loc[~_is_elsewhere(rows), [*LADDERS, "treatment_code"]]


def rate_means(of_ladders: pd.DataFrame) -> pd.DataFrame:
    """Block-adjusted mean at each rate of each ladder, kg/ha; no row where the blocks do not connect it."""
    return frame_of(rate_mean_rows(of_ladders), "rate_means")


def rate_mean_rows(of_ladders: pd.DataFrame) -> list[dict]:
    """The same as rows."""
    rows = []
    for key, ladder in of_ladders.groupby(LADDER, sort=True):
        rates, values = ladder["n_rate_kg_ha"].astype(float), ladder["value"].to_numpy(float)
        labeled = ladder.assign(treatment_code=rates.map(str))
        adjusted = contrasts.AdjustedForBlocks(labeled, blocked=ladder["design"].iloc[0] != "CRD")
        for rate, n_plots in zip(*np.unique(rates, return_counts=True), strict=True):
            weights = adjusted.weights({str(float(rate)): 1.0})
            if weights is not None:
                found = {"n_rate_kg_ha": float(rate), "mean": float(weights @ values), "n_plots": int(n_plots)}
                found |= {"std_error": None}
                rows.append(dict(zip(LADDER, key, strict=True)) | found)
    return rows


def families(treatments: pd.DataFrame) -> pd.DataFrame:
    """The fertilized treatments with the label of their family: source, coated share, timing, passes."""
    fertilized = treatments[~_is_zero(treatments) & treatments["n_rate_kg_ha"].notna()]
    return fertilized.assign(family=[_family(row) for row in fertilized.itertuples()])


def steps(treatments: pd.DataFrame) -> pd.DataFrame:
    """Treatments of each ladder, zero-N repeated in each: trial_id, treatment_code, family, variant, rate."""
    fertilized = families(treatments)
    fertilized = fertilized.assign(variant=[_variant(row) for row in fertilized.itertuples()])
    ladder = ["trial_id", "family", "variant"]
    one_of_each = fertilized.drop_duplicates(ladder).sort_values(ladder)[[*ladder, "factors"]]
    zeros = one_of_each.merge(treatments[_is_zero(treatments)], on="trial_id", suffixes=("_of_ladder", ""))
    settings = zip(zeros["factors"], zeros["factors_of_ladder"], strict=True)
    is_served = [_agrees(_factors(of_zero), _factors(of_ladder)) for of_zero, of_ladder in settings]
    found = pd.concat([fertilized, zeros[is_served].assign(n_rate_kg_ha=0.0)], ignore_index=True)
    only_one = found.groupby(["trial_id", "family"])["variant"].transform("nunique").eq(1)
    found.loc[only_one, "variant"] = ""
    return found[["trial_id", "treatment_code", "family", "variant", "n_rate_kg_ha"]]


def groups(ladder: pd.DataFrame) -> np.ndarray:
    """What the plots of a ladder are compared within: blocks, or the whole trial without them."""
    if ladder["design"].iloc[0] == "CRD":
        return np.full(len(ladder), "all")
    return ladder["block"].astype(str).to_numpy()


def rate_levels(rates: np.ndarray, apart: float) -> np.ndarray:
    """The planned rate that each rate stands for: rates less than `apart` above the lowest of a level are one."""
    distinct, index = np.unique(np.asarray(rates, float), return_inverse=True)
    level = np.zeros(len(distinct), int)
    start = 0
    for i in range(1, len(distinct)):
        start = start if distinct[i] - distinct[start] < apart else i
        level[i] = start
    return np.array([distinct[level == i].mean() for i in level])[index]


def _is_zero(treatments: pd.DataFrame) -> pd.Series:
    return treatments["is_zero_n"].eq(True) | treatments["n_rate_kg_ha"].eq(0)


def _family(treatment) -> str:
    coated = treatment.coated_n_fraction
    share = f" ({100 * coated:.0f}% coated)" if pd.notna(coated) and 0 < coated < 1 else ""
    passes = int(treatment.passes)
    return f"{source_said(treatment.n_source)}{share}, {treatment.timing}, {passes} pass{'es' if passes != 1 else ''}"


def _variant(treatment) -> str:
    named = [word for word in (treatment.placement, treatment.additive) if pd.notna(word) and word != "none"]
    return ", ".join(named + [f"{name} {level}" for name, level in sorted(_factors(treatment.factors).items())])


def _factors(text: object) -> dict[str, str]:
    return json.loads(text) if isinstance(text, str) and text else {}


def _agrees(of_zero: dict[str, str], of_ladder: dict[str, str]) -> bool:
    """A zero-N treatment serves a ladder unless it states another level of a free factor."""
    return all(of_ladder.get(name) == level for name, level in of_zero.items())


def _is_elsewhere(rows: pd.DataFrame) -> pd.Series:
    """Zero-N plots of a split-plot in main plots without a fertilized plot of the ladder, in blocks that have one of
    its own.
    """
    in_block = [rows[name] for name in (*LADDER, "block")]
    in_whole = [*in_block, rows["main_plot"].astype(object).fillna("")]
    is_zero = rows["n_rate_kg_ha"].eq(0)
    is_own = (~is_zero).groupby(in_whole, dropna=False).transform("any")
    has_own = (is_zero & is_own).groupby(in_block, dropna=False).transform("any")
    return rows["design"].eq("split-plot") & is_zero & ~is_own & has_own


def _sortable(column: pd.Series) -> pd.Series:
    return column if column.name == "n_rate_kg_ha" else column.astype(str)
