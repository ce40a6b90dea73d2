"""What least squares needs to know of a ladder, block by block: every curve is fitted from these sums."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np


@dataclass(frozen=True, eq=False)
class RateSums:
    """Within-group sums over R distinct rates and G groups (blocks of a trial, or ladders of a program).

    With h the value of a basis function at each rate, the within-group sums of products are h @ cross for
    h with the yields and h @ square @ h for h with itself. Groups are thereby taken out as fixed effects.
    """

    rates: np.ndarray  # (R,)
    cross: np.ndarray  # (G, R)
    square: np.ndarray  # (G, R, R)
    total: np.ndarray  # (G,) sum of squares of yields about the group mean
    means: np.ndarray  # (G,) mean yield
    shares: np.ndarray  # (G, R) share of the group's plots at each rate
    weights: np.ndarray  # (G,) weight of each group
    sizes: np.ndarray  # (G,) number of plots
    labels: np.ndarray  # (G,)

    @property
    def n_plots(self) -> int:
        return int(self.sizes.sum())

    @cached_property
    def sum_cross(self) -> np.ndarray:
        return self.cross.sum(axis=0)

    @cached_property
    def sum_square(self) -> np.ndarray:
        return self.square.sum(axis=0)

    @cached_property
    def sum_total(self) -> float:
        return float(self.total.sum())

    def mean_of(self, per_group: np.ndarray) -> np.ndarray:
        """Weighted mean over groups of a quantity with one row per group."""
        return self.weights @ per_group / self.weights.sum()


def rate_sums(
    rates: np.ndarray, values: np.ndarray, groups: np.ndarray, weights: dict[str, float] | None = None
) -> RateSums:
    """Sums from plots (or from rate means); weights give a group's weight by its label, 1 where not named."""
    labels, group = np.unique(np.asarray(groups, str), return_inverse=True)
    distinct, rate = np.unique(np.asarray(rates, float), return_inverse=True)
    values = np.asarray(values, float)
    counts = np.zeros((len(labels), len(distinct)))
    np.add.at(counts, (group, rate), 1.0)
    n = counts.sum(axis=1)
    means = np.bincount(group, values) / n
    centered = values - means[group]
    cross = np.zeros_like(counts)
    np.add.at(cross, (group, rate), centered)
    square = np.einsum("gr,rs->grs", counts, np.eye(len(distinct)))
    square -= np.einsum("gr,gs->grs", counts, counts) / n[:, None, None]
    weight = np.array([(weights or {}).get(label, 1.0) for label in labels])
    return RateSums(
        rates=distinct,
        cross=weight[:, None] * cross,
        square=weight[:, None, None] * square,
        total=weight * np.bincount(group, centered**2),
        means=means,
        shares=counts / n[:, None],
        weights=weight,
        sizes=n,
        labels=labels,
    )
