"""Where evidence is thin, by drainage group and rainfall class, and which sites could add to it.

A site's drainage can be chosen; its rain cannot, so a trial counts for a rainfall class
only by the class's long-run share at its place.
"""

from __future__ import annotations

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import RAINFALL_CLASSES
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.where.long_run import shares_at

EMPTY = "empty"
ENOUGH = rules.FEWEST_FOR_THE_MODEL


def evidence_map(comparison_id: str, site_year_gains: pd.DataFrame, drainage_groups: list[str]) -> pd.DataFrame:
    """Site-years and seasons in every cell, empty ones too; columns of evidence.

    site_year_gains: the pooled ones of this comparison. drainage_groups: those the
    program's sites have. shown_as is 'empty', 'count', 'grey' or 'sentence'. Site-years of
    unknown class come as one last row with classes left blank.
    """
    classes = ["drainage_group", "rainfall_class"]
    groups = sorted({*drainage_groups, *site_year_gains["drainage_group"].dropna()})
    rows = []
    for group in groups:
        for rain in RAINFALL_CLASSES:
            of_cell = site_year_gains[
                (site_year_gains["drainage_group"] == group) & (site_year_gains["rainfall_class"] == rain)
            ]
            rows.append({"drainage_group": group, "rainfall_class": rain} | _counts(of_cell))
    unknown = site_year_gains[site_year_gains[classes].isna().any(axis=1)]
    rows += [dict.fromkeys(classes) | _counts(unknown)] if len(unknown) else []
    return frame_of([{"comparison_id": comparison_id} | row for row in rows], "evidence")


def proposed_trials(
    evidence: pd.DataFrame, sites: pd.DataFrame, shares: pd.DataFrame, site_year_gains: pd.DataFrame, *, n_trials: int
) -> pd.DataFrame:
    """Sites in the order in which trials there would add most to thin cells; columns of proposed_trials.

    sites: site_id, place, drainage_group, those that can carry the crop. shares: place,
    rainfall_class, share of this crop; without any, the classes count as equally likely.
    After each pick its group's cells count as fuller by the share of each class, so that
    picks spread over groups. Each place at most once, so at most as many as there are places.
    """
    known = sites[sites["drainage_group"].notna()].reset_index(drop=True)
    if known.empty:
        return frame_of([], "proposed_trials")
    chance = _chances(known["place"], shares)
    counts = evidence.dropna(subset=["rainfall_class"]).pivot(
        index="drainage_group", columns="rainfall_class", values="n_site_years"
    )
    counts = (
        counts.reindex(index=known["drainage_group"].unique(), columns=list(RAINFALL_CLASSES)).fillna(0).astype(float)
    )
    met = counts.copy()
    is_classed = len(shares) > 0 or site_year_gains["rainfall_class"].notna().any()
    here = known["place"].map(site_year_gains["place"].value_counts()).fillna(0).astype(int)
    order = known.assign(here=here)
    rows, left = [], known.index
    while len(left) and len(rows) < n_trials:
        lack = (1 - counts / ENOUGH).clip(lower=0).loc[known["drainage_group"]].set_axis(known.index)
        merit = (chance * lack).sum(axis=1).round(9)
        best = order.assign(merit=-merit).loc[left].sort_values(["merit", "here", "site_id"]).index[0]
        row = known.loc[best, ["site_id", "place", "drainage_group"]].to_dict()
        rows.append(
            {"rank": len(rows) + 1, "n_site_years_here": here[best]}
            | row
            | _why(row["drainage_group"], met, chance.loc[best], is_classed)
        )
        counts.loc[row["drainage_group"]] += chance.loc[best]
        left = left[known.loc[left, "place"] != row["place"]]
    comparison_id = evidence["comparison_id"].iloc[0] if len(evidence) else None
    return frame_of([{"comparison_id": comparison_id} | row for row in rows], "proposed_trials")


def _counts(of_cell: pd.DataFrame) -> dict:
    seasons = sorted(of_cell["season"].unique())
    return {
        "n_site_years": len(of_cell),
        "n_places": of_cell["place"].nunique(),
        "n_seasons": len(seasons),
        "seasons": ", ".join(str(season) for season in seasons),
        "shown_as": rules.shown_as(len(of_cell), len(seasons)) if len(of_cell) else EMPTY,
    }


def _chances(places: pd.Series, shares: pd.DataFrame) -> pd.DataFrame:
    if shares.empty:
        return pd.DataFrame(1 / len(RAINFALL_CLASSES), index=places.index, columns=list(RAINFALL_CLASSES))
    return shares_at(places, shares).set_axis(places.index)


def _why(group: str, met: pd.DataFrame, chance: pd.Series, is_classed: bool) -> dict:
    """Which cells of the site's group are empty or thin, and how likely its rain falls in one; is_classed: whether
    anything is known of the crop's rainfall classes, as without a window for it nothing is.
    """
    of_group = met.loc[group]
    empty, thin = list(of_group.index[of_group == 0]), list(of_group.index[of_group < ENOUGH])
    if not is_classed:
        empty, thin = [], []
        why = f"adds a site-year on {group}; rainfall classes are not known for this crop"
    elif not thin:
        why = f"all classes on {group} have {ENOUGH} site-years: adds precision only"
    else:
        why = f"adds site-years to {group} x {', '.join(thin)}"
    return {
        "empty_classes": ", ".join(empty),
        "thin_classes": ", ".join(thin),
        "chance_of_thin_class": float(chance[thin].sum()),
        "why": why,
    }
