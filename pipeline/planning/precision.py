"""How precise an average is expected to be, from the variances of gains and the layout alone.

With variance components s2 of a comparison's gains (season, place, site-year, and the
residual of one block's gain), the average over a balanced set of site-years has variance

    s2_season / J + s2_place / P + s2_site_year / k + s2_residual / (k r)

for J seasons, P places, k site-years of r blocks (McIntosh 1983, Agronomy Journal
75:153-155; the residual is 2 sigma2 for a difference of two plots). Blocks shrink only the
last part, and site-years never the first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.vocabulary import TO_COME
from pipeline.errors import UserError
from pipeline.estimates.engines import one_stage, restricted_likelihood
from pipeline.estimates.engines.restricted_likelihood import RESIDUAL

TWO_SIDED_ALPHA = 0.05
# A component this small beside the rest is an estimate of zero, as near as an optimizer comes to it.
NO_SPREAD = 1e-6


@dataclass(frozen=True)
class Components:
    """Variances of gains between seasons, places and site-years, and of one block's gain; unit squared."""

    season: float
    place: float
    site_year: float
    residual: float


@dataclass(frozen=True)
class Precision:
    """Standard error and df that an average over a layout is expected to have."""

    std_error: float
    df: float

    def half_width(self, alpha: float = TWO_SIDED_ALPHA) -> float:
        """Half of the two-sided interval."""
        return float(stats.t.ppf(1 - alpha / 2, self.df) * self.std_error)

    def power(self, difference: float, alpha: float = TWO_SIDED_ALPHA) -> float:
        """Chance that the two-sided test finds a true difference, on its own side (noncentral t)."""
        critical = stats.t.ppf(1 - alpha / 2, self.df)
        return float(stats.nct.sf(critical, self.df, difference / self.std_error))


def components_of(variance_components: pd.DataFrame, comparison_id: str, target: str) -> Components | None:
    """A comparison's components from the mixed model's rows; None where they cannot bear this target."""
    found = variance_components[
        (variance_components["comparison_id"] == comparison_id) & (variance_components["target"] == target)
    ]
    known = dict(zip(found["component"], found["variance"], strict=True))
    if "residual" not in known or (target == TO_COME and "season" not in known):
        return None
    season, place = known.get("season", 0.0), known.get("place", 0.0)
    if "site-year" not in known:  # one row per site-year: the residual is all that lies between them
        return Components(season, place, known["residual"], 0.0)
    return Components(season, place, known["site-year"] + known.get("trial", 0.0), known["residual"])


def expected_precision(layout: pd.DataFrame, components: Components) -> Precision:
    """Precision of the average over a layout: generalised least squares, t with Satterthwaite's df.

    layout: place, season, n_blocks, one row per site-year, at least two. The df are those of the headline's model, by
    the information to expect of this very layout: a season with one site-year tells little about seasons.
    """
    k = len(layout)
    variances = {"season": components.season, "place": components.place, "site_year": components.site_year}
    variances[RESIDUAL], n_rows = components.residual, layout["n_blocks"].to_numpy()
    if not components.residual:  # one row per site-year: what lies between them is the residual
        variances |= {RESIDUAL: components.site_year, "site_year": 0.0}
        n_rows = np.ones(k, int)
    least = NO_SPREAD * (components.site_year + components.residual)
    groups = {"site_year": np.arange(k)}
    groups |= {term: layout[term].to_numpy() for term in ("season", "place") if variances[term] > least}
    found = restricted_likelihood.expected(variances, groups, n_rows)
    found = replace(found, least_df=one_stage.least_df_of_mean(tuple(groups)))
    return Precision(found.std_error, one_stage.capped_df(found.df, found))


def with_more(layout: pd.DataFrame, *, site_years: int, n_blocks: int, seasons: int) -> pd.DataFrame:
    """The layout with more site-years of n_blocks, spread evenly over so many new seasons.

    Places tested least so far come first, each at most once a season; when they are used
    up, new places follow.
    """
    if not 1 <= seasons <= site_years or n_blocks < 1:
        raise UserError("plan: more site-years need at least one block, one new season, and one site-year in each")
    places = list(layout["place"].value_counts(ascending=True).index)
    rows = []
    for number in range(site_years):
        turn, season = divmod(number, seasons)
        place = places[turn] if turn < len(places) else f"new place {turn - len(places) + 1}"
        rows.append({"place": place, "season": f"to come {season + 1}", "n_blocks": n_blocks})
    return pd.concat([layout, pd.DataFrame(rows)], ignore_index=True)


def multiplied(layout: pd.DataFrame, grown: str, times: int) -> pd.DataFrame:
    """The layout with its blocks, its site-years (at new places, in the same seasons) or its seasons multiplied."""
    if grown == "blocks":
        return layout.assign(n_blocks=layout["n_blocks"] * times)
    column = {"site-years": "place", "seasons": "season"}[grown]
    copies = [layout.assign(**{column: layout[column].astype(str) + f" copy {copy}"}) for copy in range(times)]
    return pd.concat(copies, ignore_index=True)
