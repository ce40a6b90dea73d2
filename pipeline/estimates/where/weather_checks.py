"""What a slope rests on: a season or a site-year left out, the covariate permuted within seasons, a line against a
curve.

All by weighted regression of the site-year gains at fixed variances, those of the whole fit: what is left out moves the
headline as much as it moves that regression. So each check is a few sums over site-years, quick for a thousand of them.
The variance of places counts as site-years' own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.engines.meta_regression import aicc
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where.weather_values import Values, group_means

SEASON_OUT, SITE_YEAR_OUT = "season", "site-year"
N_PERMUTATIONS = 999
SEED = 20240600
SINGULAR = 1e-9  # of the information on the slope: less is none
TIE = 1 - 1e-9


@dataclass(frozen=True)
class LeftOut:
    """kind, name of what is left out, and the slope without it with its error; nan where none can be told."""

    kind: str
    left_out: str
    slope: Mean


class FixedVariances:
    """The regression of gains on [1, x - center] with V = diagonal + season variance within seasons."""

    def __init__(self, values: Values, weights: np.ndarray, season_variance: float) -> None:
        self.seasons, code = np.unique(values.seasons, return_inverse=True)
        self.design = np.column_stack([np.ones(len(values.x)), (values.x - values.center) / values.scale])
        self.gains, self.scale, self.code, self.weights = values.gains, values.scale, code, weights
        totals = np.bincount(code, weights)
        self.shrink = season_variance / (1 + season_variance * totals)
        both = np.column_stack([self.design, self.gains])
        self.projected = weights[:, None] * (both - self.shrink[code][:, None] * self._sums(both)[code])  # V^-1 [X y]
        products = self.design[:, :, None] * self.projected[:, None, :]
        self.by_season = np.stack([np.bincount(code, products[:, i, j]) for i in range(2) for j in range(3)], axis=1)
        self.information, self.right = _split(self.by_season.sum(axis=0))
        self.inverse = np.linalg.inv(self.information)
        self.coefficients = self.inverse @ self.right

    def _sums(self, rows: np.ndarray) -> np.ndarray:
        weighted = self.weights[:, None] * rows
        return np.column_stack([np.bincount(self.code, column) for column in weighted.T])

    def without_seasons(self) -> tuple[np.ndarray, np.ndarray]:
        """(change of the slope, its variance over that of the whole) by season left out."""
        found = []
        for of_season in self.by_season:
            information, right = _split(self.by_season.sum(axis=0) - of_season)
            left = information[1, 1] - information[0, 1] ** 2 / information[0, 0] if information[0, 0] > 0 else 0.0
            if left <= SINGULAR * self.information[1, 1]:
                found.append((np.nan, np.nan))
                continue
            slope = np.linalg.solve(information, right)[1]
            found.append(((slope - self.coefficients[1]) / self.scale, 1 / left / self.inverse[1, 1]))
        return tuple(np.array(found).T)

    def without_site_years(self) -> tuple[np.ndarray, np.ndarray]:
        """The same by site-year left out: as with a column of its own for each (Cook and Weisberg 1982, Residuals and
        Influence).
        """
        of_design = self.projected[:, :2]
        residual = self.projected[:, 2] - of_design @ self.coefficients  # P y
        own = self.weights - self.weights**2 * self.shrink[self.code]
        toward = of_design @ self.inverse
        left = own - np.sum(toward * of_design, axis=1)  # diagonal of P
        with np.errstate(divide="ignore", invalid="ignore"):
            told = left > SINGULAR * own
            change = np.where(told, -toward[:, 1] * residual / left, np.nan) / self.scale
            ratio = np.where(told, 1 + toward[:, 1] ** 2 / left / self.inverse[1, 1], np.nan)
        return change, ratio


def left_out(values: Values, slope: Mean, weights: np.ndarray, season_variance: float) -> list[LeftOut]:
    """The headline slope without each season and each site-year; its df are those of the whole."""
    fixed = FixedVariances(values, weights, season_variance)
    names = {SEASON_OUT: fixed.seasons, SITE_YEAR_OUT: values.site_years["site_year_id"]}
    changes = {SEASON_OUT: fixed.without_seasons(), SITE_YEAR_OUT: fixed.without_site_years()}
    return [
        LeftOut(kind, str(name), Mean(slope.estimate + change, slope.std_error * np.sqrt(ratio), slope.df))
        for kind, found in changes.items()
        for name, change, ratio in zip(names[kind], *found, strict=True)
    ]


def check_rows(found: list[LeftOut], slope: Mean) -> list[dict]:
    """Columns of weather_slope_checks but for the key of the slope."""
    rows = []
    for one in found:
        half = one.slope.half_width(CONF_LEVEL)
        rows.append(
            {
                "kind": one.kind,
                "left_out": one.left_out,
                "estimate": one.slope.estimate,
                "conf_low": one.slope.estimate - half,
                "conf_high": one.slope.estimate + half,
                "change_in_std_errors": (one.slope.estimate - slope.estimate) / slope.std_error,
            }
        )
    return rows


def permuted(values: Values, weights: np.ndarray, n: int = N_PERMUTATIONS) -> float:
    """Share of n permutations of x within seasons, and the order found, whose slope within seasons is as steep or
    steeper.

    The draws have one seed for all, so that the same gains always give the same share.
    """
    rng, seasons = np.random.default_rng(SEED), values.seasons
    order = np.argsort(seasons, kind="stable")
    code, w = np.unique(seasons[order], return_inverse=True)[1], weights[order]
    x, y = values.x[order], values.gains[order]
    y = w * (y - group_means(y, code, w))
    first, totals = np.unique(code, return_index=True)[1], np.bincount(code, w)

    def steepness(rows: np.ndarray) -> np.ndarray:
        squares = np.sum(w * rows**2, axis=1) - np.sum(np.add.reduceat(w * rows, first, axis=1) ** 2 / totals, axis=1)
        return np.abs(rows @ y) / squares

    draws = np.argsort(code + rng.random((n, len(x))), axis=1)  # within each season in another order
    centered = x - group_means(x, code)
    found = steepness(centered[None, :])[0]
    return float((1 + np.sum(steepness(centered[draws]) >= found * TIE)) / (n + 1))


def line_and_curve(values: Values) -> tuple[float, float]:
    """AICc of a line and of a line with a square, of the site-year gains with one spread for all."""
    x = (values.x - values.center) / values.scale
    line = np.column_stack([np.ones(len(x)), x])
    return tuple(aicc(values.gains, values.variances, design) for design in (line, np.column_stack([line, x**2])))


def _split(sums: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    table = sums.reshape(2, 3)
    return table[:, :2], table[:, 2]
