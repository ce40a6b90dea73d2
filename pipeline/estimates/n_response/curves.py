"""Response curves and their least-squares fits, groups (blocks, site-years) taken out as fixed effects.

Quadratic-plateau is the declared model; linear-plateau and quadratic are sensitivity, Mitscherlich too
where site-years are pooled. Model choice moves the optimum more than plots do (Cerrato and Blackmer 1990,
Agronomy Journal 82:138-143; Bullock and Bullock 1994, Agronomy Journal 86:191-195), so it is fixed
beforehand; AICc is reported and never selects.

Each curve but the quadratic is a + b h(rate; shape) with one nonlinear parameter: for every shape on a grid
the rest is linear least squares (variable projection: Golub and Pereyra 1973, SIAM J. Numerical Analysis
10:413-432), then the best is polished. Usual optimizers are lost at the join, where the derivative jumps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import minimize_scalar

from pipeline.estimates.n_response.ladders import rate_levels
from pipeline.estimates.n_response.rate_sums import RateSums
from pipeline.site_years.eligibility import SAME_RATE_SHARE

QUADRATIC_PLATEAU = "quadratic-plateau"
LINEAR_PLATEAU = "linear-plateau"
QUADRATIC = "quadratic"
MITSCHERLICH = "Mitscherlich"
PRIMARY = QUADRATIC_PLATEAU
TRIAL_MODELS = (QUADRATIC_PLATEAU, LINEAR_PLATEAU, QUADRATIC)
POOLED_MODELS = (*TRIAL_MODELS, MITSCHERLICH)
GRID_POINTS = 200
STRAIGHT = 1000  # a join this many times beyond the highest rate is a straight line


@dataclass(frozen=True)
class Shape:
    """h(rate; shape), its derivative by the shape, where to look for the shape, and the economic rate.

    basis and slope: rates (R,) and shapes (J,) to (R, J). economic: shape, b, price ratio to the rate at
    which one more kg of N just pays for itself; it grows with b.
    """

    basis: Callable[[np.ndarray, np.ndarray], np.ndarray]
    slope: Callable[[np.ndarray, np.ndarray], np.ndarray]
    grid: Callable[[np.ndarray], np.ndarray]
    economic: Callable[[np.ndarray, np.ndarray, float], np.ndarray]


@dataclass(frozen=True)
class Curve:
    """A fitted curve. a is the yield at zero-N, b the coefficient of the basis (slope at zero-N, or rise).

    shape is the join (quadratic-plateau, linear-plateau), the rate constant (Mitscherlich) or the
    coefficient of the squared rate (quadratic). n_groups intercepts and two more coefficients are fitted.
    """

    model: str
    a: float
    b: float
    shape: float
    sse: float
    n_plots: int
    n_groups: int

    @property
    def df(self) -> int:
        return self.n_plots - self.n_groups - 2

    @property
    def c(self) -> float:
        """Coefficient of the squared rate; 0 for linear-plateau, the rate constant for Mitscherlich."""
        if self.model == QUADRATIC_PLATEAU:
            return -self.b / (2 * self.shape)
        return 0.0 if self.model == LINEAR_PLATEAU else self.shape

    @property
    def join(self) -> float | None:
        """Rate of the plateau, or of the top of a quadratic that has one; None for Mitscherlich."""
        if self.model == QUADRATIC:
            return -self.b / (2 * self.shape) if self.shape < 0 else None
        return None if self.model == MITSCHERLICH else self.shape

    @property
    def plateau(self) -> float | None:
        if self.model == MITSCHERLICH:
            return self.a + self.b
        return None if self.join is None else float(self.yield_at(np.array([self.join]))[0])

    @property
    def aic(self) -> float:
        """Gaussian likelihood; the error variance counts as a parameter."""
        likelihood = -self.n_plots / 2 * (np.log(2 * np.pi * self.sse / self.n_plots) + 1)
        return float(2 * self._n_parameters - 2 * likelihood)

    @property
    def aicc(self) -> float | None:
        """AIC for small samples (Hurvich and Tsai 1989, Biometrika 76:297-307); None where n is too small."""
        spare = self.n_plots - self._n_parameters - 1
        if spare < 1 or self.sse <= 0:
            return None
        return self.aic + 2 * self._n_parameters * (self._n_parameters + 1) / spare

    @property
    def _n_parameters(self) -> int:
        return self.n_groups + 3

    def yield_at(self, rates: np.ndarray) -> np.ndarray:
        rates = np.asarray(rates, float)
        if self.model == QUADRATIC:
            return self.a + self.b * rates + self.shape * rates**2
        return self.a + self.b * SHAPES[self.model].basis(rates, np.array([self.shape]))[:, 0]


def fit(model: str, sums: RateSums) -> Curve:
    """Least-squares fit of one model; needs at least three distinct rates.

    Where one rate alone lies below the join, all joins up to the second-lowest rate fit alike: it stands for them.
    """
    if model == QUADRATIC:
        return _fit_quadratic(sums)
    grid = SHAPES[model].grid(sums.rates)
    found = sse_of(model, sums, grid)
    shape = _polished(model, sums, grid, int(np.argmin(found)))
    _, b, sse = (float(part[0]) for part in projection(model, sums, np.array([shape])))
    h = SHAPES[model].basis(sums.rates, np.array([shape]))[:, 0]
    a = float(sums.mean_of(sums.means - b * (sums.shares @ h)))
    return Curve(model, a, b, shape, sse, sums.n_plots, len(sums.labels))


def projection(model: str, sums: RateSums, shapes: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each shape: sum of squares of the basis, best b, and residual sum of squares."""
    h = SHAPES[model].basis(sums.rates, shapes)
    squares = np.einsum("rj,rj->j", h, sums.sum_square @ h)
    b = (sums.sum_cross @ h) / squares
    return squares, b, np.maximum(sums.sum_total - b**2 * squares, 0.0)


def sse_of(model: str, sums: RateSums, shapes: np.ndarray) -> np.ndarray:
    return projection(model, sums, shapes)[2]


def _polished(model: str, sums: RateSums, grid: np.ndarray, best: int) -> float:
    """The best shape between the neighbors of the best grid point; that point itself if none is better."""
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    found = minimize_scalar(
        lambda shape: float(sse_of(model, sums, np.array([shape]))[0]),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-10 * high},
    )
    at_point = float(sse_of(model, sums, grid[best : best + 1])[0])
    return float(found.x) if found.fun < at_point * (1 - 1e-12) else float(grid[best])


def _fit_quadratic(sums: RateSums) -> Curve:
    powers = np.column_stack([sums.rates, sums.rates**2])
    b, c = np.linalg.solve(powers.T @ sums.sum_square @ powers, powers.T @ sums.sum_cross)
    fitted = powers @ [b, c]
    sse = max(sums.sum_total - float(sums.sum_cross @ fitted), 0.0)
    a = float(sums.mean_of(sums.means - sums.shares @ fitted))
    return Curve(QUADRATIC, a, float(b), float(c), sse, sums.n_plots, len(sums.labels))


def second_lowest(rates: np.ndarray) -> float:
    """At and below this rate a join cannot be told from any other: one rate alone lies under it."""
    return distinct_rates(rates)[1]


def distinct_rates(rates: np.ndarray) -> tuple[float, ...]:
    """Rates told apart: those closer than 3% of the highest are one (common practice, no source)."""
    return _distinct(tuple(map(float, rates)))


@lru_cache(maxsize=4096)
def _distinct(rates: tuple[float, ...]) -> tuple[float, ...]:
    """Asked again for each curve and price, of rates that many trials share."""
    levels = rate_levels(np.array(rates), SAME_RATE_SHARE * max(rates))
    return tuple(float(level) for level in np.unique(levels))


def _plateau_grid(rates: np.ndarray) -> np.ndarray:
    inside = np.linspace(second_lowest(rates), rates.max(), GRID_POINTS)
    return np.unique(np.concatenate([inside, rates[rates > inside[0]]]))


def _bent_grid(rates: np.ndarray) -> np.ndarray:
    beyond = rates.max() / np.linspace(1, 1 / STRAIGHT, GRID_POINTS // 4)[1:]
    return np.concatenate([_plateau_grid(rates), beyond])


def _constant_grid(rates: np.ndarray) -> np.ndarray:
    return np.geomspace(1 / (STRAIGHT * rates.max()), 20 / second_lowest(rates), GRID_POINTS)


def _at_most(rates: np.ndarray, joins: np.ndarray) -> np.ndarray:
    return np.minimum(np.asarray(rates)[:, None], joins)


def _pays(joins: np.ndarray, b: np.ndarray, ratio: float) -> np.ndarray:
    return np.where(b > ratio, joins, 0.0)


def _bent_economic(joins: np.ndarray, b: np.ndarray, ratio: float) -> np.ndarray:
    return joins * (1 - ratio / np.where(b > 0, b, np.nan))


def _mitscherlich_economic(constants: np.ndarray, b: np.ndarray, ratio: float) -> np.ndarray:
    with np.errstate(divide="ignore"):
        return np.log(np.where(b > 0, b, np.nan) * constants / np.float64(ratio)) / constants


SHAPES = {
    QUADRATIC_PLATEAU: Shape(
        basis=lambda x, j: _at_most(x, j) - _at_most(x, j) ** 2 / (2 * j),
        slope=lambda x, j: _at_most(x, j) ** 2 / (2 * j**2),
        grid=_bent_grid,
        economic=_bent_economic,
    ),
    LINEAR_PLATEAU: Shape(
        basis=_at_most,
        slope=lambda x, j: (np.asarray(x)[:, None] >= j).astype(float),
        grid=_plateau_grid,
        economic=_pays,
    ),
    MITSCHERLICH: Shape(
        basis=lambda x, k: -np.expm1(-np.asarray(x)[:, None] * k),
        slope=lambda x, k: np.asarray(x)[:, None] * np.exp(-np.asarray(x)[:, None] * k),
        grid=_constant_grid,
        economic=_mitscherlich_economic,
    ),
}
