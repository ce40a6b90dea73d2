"""Linear mixed models by REML: the one door to what fits them.

lme4 leads wherever R with its packages is. Where R is missing the program's own code (own_fits) fits the same models.
The environment variable FIT_BY=lme4 or FIT_BY=own forces one.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from types import ModuleType

import numpy as np
import pandas as pd

from pipeline.errors import UserError, forced_word
from pipeline.kept import kept

# A relative standard deviation below this is an estimate of zero. Ten times the default of lme4::isSingular: optimizers
# stop on either side of that one, and the rules for a variance of zero would hang on where.
SINGULAR_RELATIVE_SD = 1e-3

FIT_BY = "FIT_BY"
LME4, OWN = "lme4", "own"
WITHOUT_R = (
    "R with lme4 is not available here, so this program's own code fits the mixed models "
    f"({FIT_BY}={LME4} says what is missing)."
)


class NotFitted(UserError):
    """The model cannot be fitted to these rows."""


@dataclass(frozen=True)
class MixedFit:
    """One fitted mixed model.

    coefficients: term, estimate, std_error, df (Satterthwaite), one row per fixed effect.
    variances: group, variance, one row per random intercept. joint_test: F, df1, df2
    (Satterthwaite) of the contrasts asked for, NaN without any. The last three fields are
    what a Satterthwaite df of any variance total needs; parameters are (theta..., sigma), theta
    the standard deviation of each random intercept over sigma, in the order of variances;
    covariance_gradients the derivative of the covariance by each (parameters x effects x effects).
    """

    formula: str
    n: int
    coefficients: pd.DataFrame
    covariance: np.ndarray
    variances: pd.DataFrame
    residual_variance: float
    is_singular: bool
    reml: float
    joint_test: tuple[float, float, float]
    messages: tuple[str, ...]
    versions: dict[str, str]
    theta: np.ndarray
    parameter_covariance: np.ndarray
    covariance_gradients: np.ndarray

    def variance(self, group: str) -> float:
        """Variance of one random intercept; 0.0 when the model has no such term."""
        found = self.variances.loc[self.variances["group"] == group, "variance"]
        return float(found.iloc[0]) if len(found) else 0.0

    def is_zero(self, variance: float) -> bool:
        """Whether a variance is at its boundary, as near as an optimizer comes to it."""
        return variance <= SINGULAR_RELATIVE_SD**2 * self.residual_variance


@dataclass(frozen=True)
class Call:
    """What was given to fit, and what came of it; None where it was not fitted."""

    formula: str
    frame: pd.DataFrame
    weights: str | None
    contrasts: np.ndarray | None
    found: MixedFit | None


def fit(
    formula: str,
    frame: pd.DataFrame,
    *,
    weights: str | None = None,
    contrasts: np.ndarray | None = None,
) -> MixedFit:
    """Fit `formula` (lme4's notation) to `frame` by REML.

    weights names a column: the residual variance of a row is sigma^2 / weight.
    contrasts (rows x fixed effects) are tested jointly. Raises NotFitted when the model
    cannot be fitted, UserError when FIT_BY asks for lme4 and R or one of its packages is missing.
    """
    found = None
    try:
        found = engine().fit(formula, frame, weights=weights, contrasts=contrasts)
    finally:
        for calls in _recording:
            calls.append(Call(formula, frame, weights, contrasts, found))
    return found


def versions() -> dict[str, str]:
    """What fits the models, by name and version."""
    return engine().versions()


def fitted_by() -> dict[str, str]:
    """As versions; R is not started where it says the same of itself as when it fitted the models of the last run."""
    from pipeline.estimates.engines import lme4_fits

    forced = forced_word(FIT_BY, [LME4, OWN])
    said = "" if forced == OWN or _engine.cache_info().currsize or not kept().keeps else lme4_fits.said_by_r()

    def of_lme4() -> str:
        if engine() is not lme4_fits:
            raise _NotStarted
        return json.dumps(versions())

    if said:
        with suppress(_NotStarted):
            return json.loads(kept().told(lambda: (FIT_BY, forced, said), of_lme4))
    return versions()


class _NotStarted(Exception):
    """R is here and cannot be started from Python."""


def notice() -> str:
    """What a user must be told where R was looked for and not found; else empty."""
    return WITHOUT_R if _looked_in_vain and not forced_word(FIT_BY, [LME4, OWN]) else ""


def engine() -> ModuleType:
    """lme4_fits or own_fits: the one that FIT_BY names, else lme4's where R can be started."""
    return _engine(forced_word(FIT_BY, [LME4, OWN]))


@contextmanager
def by(name: str) -> Iterator[None]:
    """While it lasts LME4 or OWN fits, as if FIT_BY said so."""
    before = os.environ.get(FIT_BY)
    os.environ[FIT_BY] = name
    try:
        yield
    finally:
        os.environ.pop(FIT_BY, None)
        if before is not None:
            os.environ[FIT_BY] = before


@contextmanager
def recorded() -> Iterator[list[Call]]:
    """While it lasts every call of fit is kept in the list."""
    calls: list[Call] = []
    _recording.append(calls)
    try:
        yield calls
    finally:
        _recording.remove(calls)


_recording: list[list[Call]] = []
_looked_in_vain = False


@cache
def _engine(forced: str) -> ModuleType:
    from pipeline.estimates.engines import lme4_fits, own_fits

    global _looked_in_vain
    if forced == OWN:
        return own_fits
    try:
        lme4_fits.start_r()
    except UserError:
        if forced == LME4:
            raise
        _looked_in_vain = True
        return own_fits
    return lme4_fits
