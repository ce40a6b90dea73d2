"""One weather covariate over the site-years that have it: its center, its parts, and site-years reduced to weights."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import BETWEEN_SEASONS
from pipeline.estimates.where import weather_rules

SAME_VALUE = 9  # digits to which two values of a covariate are the same


@dataclass(frozen=True)
class Values:
    """A covariate's values x (its unit) at site_years, one row each, and the block gains of the same site-years.

    site_years: pooled site-year gains with known x; blocks as pooling.model_blocks gives them.
    """

    covariate: str
    kind: str
    unit: str
    site_years: pd.DataFrame
    blocks: pd.DataFrame
    x: np.ndarray
    n_unknown: int

    @property
    def gains(self) -> np.ndarray:
        return self.site_years["gain"].to_numpy(float)

    @property
    def seasons(self) -> np.ndarray:
        return self.site_years["season"].to_numpy()

    @property
    def center(self) -> float:
        return float(np.mean(self.x))

    @cached_property
    def scale(self) -> float:
        """Standard deviation of x: what the models count in, so that no unit is too large or small for them."""
        return (float(np.std(self.x)) if len(self.x) else 0.0) or 1.0

    @cached_property
    def season_means(self) -> np.ndarray:
        """The season's mean of x, at each site-year."""
        return group_means(self.x, self.seasons)

    @cached_property
    def within_share(self) -> float:
        return _share_within(self.x, self.seasons)

    @cached_property
    def within_places_share(self) -> float:
        return _share_within(self.x, self.site_years["place"].to_numpy())

    @property
    def rests_on(self) -> str:
        return weather_rules.rests_on(self.within_share)

    @property
    def is_between_only(self) -> bool:
        return self.rests_on == BETWEEN_SEASONS

    @cached_property
    def variances(self) -> np.ndarray:
        """Error variance of each gain. One that is not known, or zero, counts as the median of the others, 0 where none
        is known.
        """
        variances = self.site_years["std_error"].to_numpy(float) ** 2
        known = variances > 0
        return np.where(known, variances, np.median(variances[known]) if known.any() else 0.0)

    def counts(self) -> dict[str, int]:
        return {
            "n_site_years": len(self.x),
            "n_places": int(self.site_years["place"].nunique()),
            "n_seasons": int(self.site_years["season"].nunique()),
            "n_distinct": len(np.unique(np.round(self.x / self.scale, SAME_VALUE))),
            "n_unknown": self.n_unknown,
        }

    def of_blocks(self, of_site_years: np.ndarray) -> pd.Series:
        """What site-years have, at each row of blocks."""
        by_id = pd.Series(of_site_years, index=self.site_years["site_year_id"])
        return self.blocks["site_year_id"].map(by_id)


def values_of(covariates: pd.DataFrame, site_years: pd.DataFrame, blocks: pd.DataFrame) -> Iterator[Values]:
    """The covariates of one comparison, in the order they come; site-years and blocks of the same comparison."""
    for (name, kind), rows in covariates.groupby(["covariate", "kind"], sort=False):
        known = rows.loc[np.isfinite(rows["value"].astype(float)), ["site_year_id", "value"]]
        found = site_years.merge(known, on="site_year_id").reset_index(drop=True)
        of_blocks = blocks[blocks["site_year_id"].isin(found["site_year_id"])].reset_index(drop=True)
        unit, x = str(rows["unit"].iloc[0]), found.pop("value").to_numpy(float)
        yield Values(name, kind, unit, found, of_blocks, x, len(site_years) - len(found))


def group_means(values: np.ndarray, groups: np.ndarray, weights: np.ndarray | None = None) -> np.ndarray:
    """The (weighted) mean of each value's group, at the value."""
    weights = np.ones(len(values)) if weights is None else weights
    _, code = np.unique(groups, return_inverse=True)
    return (np.bincount(code, weights * values) / np.bincount(code, weights))[code]


def _share_within(x: np.ndarray, groups: np.ndarray) -> float:
    """Share of the sum of squares of x that lies within groups; nan where x does not vary."""
    total = float(np.sum((x - x.mean()) ** 2))
    return float(np.sum((x - group_means(x, groups)) ** 2)) / total if total > 0 else np.nan
