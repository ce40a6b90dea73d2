"""The REML criterion of a model with random intercepts, profiled over everything but their relative variances.

y = X beta + Z b + e, e of variance sigma^2 / weight, b of variance sigma^2 phi, one phi per term. With H the covariance
of y over sigma^2 and P = H^-1 less the fixed effects' part, the criterion is that of Bates and others 2015, Journal of
Statistical Software 67(1), equations 39 to 42; derivatives as in Harville 1977, Journal of the American Statistical
Association 72:320-338. Rows enter by their cross-products alone, so that only the number of levels costs time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import linalg
from scipy.optimize import minimize

# Where the search starts: variance of a level over the variance of its mean. REML can have more than one minimum.
STARTS = (1.0, 0.03, 30.0)
MOST_NEWTON_STEPS = 30
FLAT = 1e-8  # a slope by scaled phi that is no slope; the criterion itself is of the order of the rows


@dataclass(frozen=True)
class CrossProducts:
    """Weighted cross-products of Z, X and y (with y's fixed part taken off), and what the rows add besides.

    starts: first column of each term in Z. ols: the fixed part that was taken off.
    """

    zz: np.ndarray
    zx: np.ndarray
    zy: np.ndarray
    xx: np.ndarray
    xy: np.ndarray
    yy: float
    starts: np.ndarray
    term: np.ndarray
    residual_df: int
    log_weights: float
    ols: np.ndarray


@dataclass(frozen=True)
class Solved:
    """At given phi. criterion: REML on lme4's scale, with its gradient and curvature by phi; ss = y' P y.

    beta: fixed effects; of_beta: (X' H^-1 X)^-1; of_x: Z' H^-1 X; projected and projected_y: Z' P Z and Z' P y, whose
    rows begin at `starts` with each term; squares, norms and curve: by term (or two) |Z' P y|^2, |Z_i' P Z_j|^2 and
    y' P Z_i Z_i' P Z_j Z_j' P y. What the search does not ask for is worked out when it is asked for.
    """

    phi: np.ndarray
    criterion: float
    gradient: np.ndarray
    ss: float
    beta: np.ndarray
    of_beta: np.ndarray
    squares: np.ndarray
    of_x: np.ndarray
    projected: np.ndarray
    projected_y: np.ndarray
    starts: np.ndarray
    residual_df: int

    @cached_property
    def curvature(self) -> np.ndarray:
        s2 = self.ss / self.residual_df
        of_scale = np.outer(self.squares, self.squares) / (s2**2 * self.residual_df)
        return 2 * self.curve / s2 - self.norms - of_scale

    @cached_property
    def norms(self) -> np.ndarray:
        return self._by_two_terms(self.projected**2)

    @cached_property
    def curve(self) -> np.ndarray:
        return self._by_two_terms(self.projected * np.outer(self.projected_y, self.projected_y))

    @cached_property
    def beta_gradients(self) -> np.ndarray:
        parts = np.split(self.of_x, self.starts[1:])
        return np.array([self.of_beta @ part.T @ part @ self.of_beta for part in parts])

    def _by_two_terms(self, values: np.ndarray) -> np.ndarray:
        return by_term(by_term(values, self.starts).T, self.starts)


def by_term(values: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Sums of rows, term by term."""
    return np.add.reduceat(values, starts, axis=0)


def cross_products(y: np.ndarray, x: np.ndarray, groups: list[np.ndarray], weights: np.ndarray) -> CrossProducts:
    """groups: for each term the level (0, 1, ...) of each row."""
    root = np.sqrt(weights)
    ols = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
    left = y - x @ ols
    sizes = np.array([codes.max() + 1 for codes in groups])
    starts = np.cumsum([0, *sizes])[:-1]
    columns = np.column_stack(groups) + starts
    q = int(sizes.sum())
    zz, zx, zy = np.zeros(q * q), np.zeros((q, x.shape[1])), np.zeros(q)
    for one in columns.T:
        np.add.at(zx, one, weights[:, None] * x)
        np.add.at(zy, one, weights * left)
        for other in columns.T:
            zz += np.bincount(one * q + other, weights, minlength=q * q)
    weighted = weights[:, None] * x
    return CrossProducts(
        zz.reshape(q, q),
        zx,
        zy,
        x.T @ weighted,
        weighted.T @ left,
        float(np.sum(weights * left**2)),
        starts,
        np.repeat(np.arange(len(groups)), sizes),
        len(y) - x.shape[1],
        float(np.sum(np.log(weights))),
        ols,
    )


def solved_at(rows: CrossProducts, phi: np.ndarray) -> Solved:
    """Everything at these relative variances (phi >= 0)."""
    scale = np.sqrt(phi)[rows.term]
    root = linalg.cholesky(
        np.eye(len(scale)) + rows.zz * np.outer(scale, scale), lower=True, overwrite_a=True, check_finite=False
    )
    right = scale[:, None] * np.column_stack([rows.zz, rows.zx, rows.zy])
    right = linalg.solve_triangular(root, right, lower=True, overwrite_b=True, check_finite=False)
    q, p = rows.zx.shape
    half, half_x, half_y = right[:, :q], right[:, q : q + p], right[:, -1]
    # Z' H^-1 Z and so on: what is left of each cross-product
    zz, zx, zy = rows.zz - half.T @ half, rows.zx - half.T @ half_x, rows.zy - half.T @ half_y
    xx, xy = rows.xx - half_x.T @ half_x, rows.xy - half_x.T @ half_y
    of_beta = np.linalg.inv(xx)
    of_beta = (of_beta + of_beta.T) / 2
    beta = of_beta @ xy
    ss = float(rows.yy - half_y @ half_y - xy @ beta)
    if not ss > 0:
        raise np.linalg.LinAlgError("nothing is left of the residual")
    projected, projected_y = zz - zx @ of_beta @ zx.T, zy - zx @ beta
    traces, squares = by_term(np.diag(projected), rows.starts), by_term(projected_y**2, rows.starts)
    s2 = ss / rows.residual_df
    log_determinants = 2 * np.sum(np.log(np.diag(root))) + np.linalg.slogdet(xx)[1] - rows.log_weights
    return Solved(
        phi=phi,
        criterion=float(rows.residual_df * (1 + np.log(2 * np.pi * s2)) + log_determinants),
        gradient=traces - squares / s2,
        ss=ss,
        beta=beta,
        of_beta=of_beta,
        squares=squares,
        of_x=zx,
        projected=projected,
        projected_y=projected_y,
        starts=rows.starts,
        residual_df=rows.residual_df,
    )


def lowest(rows: CrossProducts) -> Solved:
    """The lowest of the minima that the search finds from its starts."""
    unit = 1 / by_level_mean(rows)
    ends = [_searched(rows, start * unit, unit) for start in STARTS]
    best = min(ends, key=lambda end: end.criterion)
    return _finished(rows, best, unit)


def by_level_mean(rows: CrossProducts) -> np.ndarray:
    """Mean weight of a level of each term: phi over its inverse is a variance in variances of a level's mean."""
    totals = np.add.reduceat(np.diag(rows.zz), rows.starts)
    return totals / np.bincount(rows.term)


def _searched(rows: CrossProducts, start: np.ndarray, unit: np.ndarray) -> Solved:
    def value(scaled: np.ndarray) -> tuple[float, np.ndarray]:
        at = solved_at(rows, scaled * unit)
        return at.criterion, at.gradient * unit

    found = minimize(
        value, start / unit, jac=True, method="L-BFGS-B", bounds=[(0, None)] * len(unit),
        options={"ftol": 1e-10, "gtol": 1e-5, "maxiter": 200},
    )  # fmt: skip
    return solved_at(rows, found.x * unit)


def _finished(rows: CrossProducts, at: Solved, unit: np.ndarray) -> Solved:
    """Newton's steps over the variances that are free, to the last digits; a variance that wants below zero stays
    there.
    """
    for _ in range(MOST_NEWTON_STEPS):
        slope, curvature = at.gradient * unit, at.curvature * np.outer(unit, unit)
        free = (at.phi > 0) | (slope < 0)
        if not free.any() or np.max(np.abs(slope[free])) < FLAT:
            break
        sizes, directions = np.linalg.eigh(curvature[np.ix_(free, free)])
        sizes = np.maximum(np.abs(sizes), 1e-10)  # downhill, wherever it is bent
        step = np.zeros(len(unit))
        step[free] = -directions @ ((directions.T @ slope[free]) / sizes)
        better = _stepped(rows, at, step * unit)
        if better is None:
            break
        at = better
    return at


def _stepped(rows: CrossProducts, at: Solved, step: np.ndarray) -> Solved | None:
    """The step, halved until the criterion falls; None where it does not."""
    for _ in range(8):
        tried = solved_at(rows, np.maximum(at.phi + step, 0))
        if tried.criterion < at.criterion:
            return tried
        step = step / 2
    return None


def slopes_left(rows: CrossProducts, at: Solved) -> float:
    """The steepest way down that is left, by scaled phi: about zero at a minimum."""
    slope = at.gradient / by_level_mean(rows)
    slope = np.where(at.phi > 0, np.abs(slope), np.maximum(-slope, 0))
    return float(slope.max())
