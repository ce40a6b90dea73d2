"""Linear mixed models by REML, fitted by R's lme4 and lmerTest through pymer4.

The only place that starts R. It is started when the first model is fitted (about
six seconds), in the main process only: after that a fork hangs and threads fail.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd

from pipeline.errors import UserError
from pipeline.estimates import joint_tests

# A relative standard deviation below this is an estimate of zero. Ten times the default of lme4::isSingular: optimisers
# stop on either side of that one, and the rules for a variance of zero would hang on where.
SINGULAR_RELATIVE_SD = 1e-3
# By default lme4 stops once the criterion falls by less than 1e-8. It is flat at the boundary, so that can leave a
# variance whose optimum is zero at a relative standard deviation of 2.5e-3, above the line just drawn.
_CONTROL_IN_R = "lme4::lmerControl(optCtrl = list(xtol_abs = 1e-7, xtol_rel = 0, ftol_abs = 1e-11, ftol_rel = 0))"

_DETAILS_IN_R = """
function(m, tol) {
  list(covariance = as.matrix(vcov(m)), singular = lme4::isSingular(m, tol = tol),
       reml = as.numeric(lme4::REMLcrit(m)), theta = as.numeric(lme4::getME(m, "theta")),
       sigma = sigma(m), variance_covariance = m@vcov_varpar,
       covariance_gradients = unlist(lapply(m@Jac_list, as.matrix)),
       messages = as.character(unlist(m@optinfo$conv$lme4$messages)))
}
"""


class NotFitted(UserError):
    """R refuses to fit the model to these rows."""


@dataclass(frozen=True)
class MixedFit:
    """One fitted mixed model.

    coefficients: term, estimate, std_error, df (Satterthwaite), one row per fixed effect.
    variances: group, variance, one row per random intercept. joint_test: F, df1, df2
    (Satterthwaite) of the contrasts asked for, NaN without any. The last three fields are
    what a Satterthwaite df of any variance total needs; parameters are (theta..., sigma),
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
        """Whether a variance is at its boundary, as near as an optimiser comes to it."""
        return variance <= SINGULAR_RELATIVE_SD**2 * self.residual_variance


def fit(
    formula: str,
    frame: pd.DataFrame,
    *,
    weights: str | None = None,
    contrasts: np.ndarray | None = None,
) -> MixedFit:
    """Fit `formula` (lme4's notation) to `frame` by REML.

    weights names a column: the residual variance of a row is sigma^2 / weight.
    contrasts (rows x fixed effects) are tested jointly. Raises UserError when R or
    one of its packages is missing, NotFitted when R cannot fit the model.
    """
    r = start_r()
    heard: list[str] = []
    with _listening(r, heard):
        try:
            model = r.tidystats.lmer(formula, _polars(r, frame), control=r.control, **_weights(frame, weights))
            details = _details(r, model)
            fixed = r.tidystats.tidy(model, effects="fixed")
            random = r.tidystats.tidy(model, effects="ran_pars", scales="vcov")
        except r.errors as problem:
            raise NotFitted(
                f"The mixed model {formula} could not be fitted to {len(frame)} rows. "
                f"R says: {' '.join(str(problem).split())}"
            ) from problem
    return _mixed_fit(formula, len(frame), fixed, random, details, contrasts, heard, r.versions)


@cache
def start_r() -> SimpleNamespace:
    """Start R with the private library and import pymer4; done once per process."""
    library = Path(sys.prefix) / "r-library"
    known = os.environ.get("R_LIBS")
    os.environ["R_LIBS"] = os.pathsep.join([str(library), *([known] if known else [])])
    os.environ["RPY2_CFFI_MODE"] = "ABI"  # needs no compiler
    try:
        import polars
        from rpy2 import robjects
        from rpy2.rinterface_lib import callbacks, embedded
        from rpy2.robjects.packages import PackageNotInstalledError

        with _silent(callbacks):
            robjects.r("options(warn = 1)")  # a warning is heard when it arises
            from pymer4 import tidystats

            details, control = robjects.r(_DETAILS_IN_R), robjects.r(_CONTROL_IN_R)
            versions = _versions(robjects)
    except (ImportError, OSError, ValueError) as problem:
        raise _missing(problem) from problem
    except Exception as problem:
        if type(problem).__name__ in ("PackageNotInstalledError", "RRuntimeError"):
            raise _missing(problem) from problem
        raise
    gc.freeze()  # else Python spends seconds at exit on R's many objects
    return SimpleNamespace(
        tidystats=tidystats, polars=polars, robjects=robjects, callbacks=callbacks,
        details=details, control=control, versions=versions,
        errors=(embedded.RRuntimeError, PackageNotInstalledError),
    )  # fmt: skip


def _missing(problem: Exception) -> UserError:
    return UserError(
        "The mixed models need R with the packages lme4, lmerTest, emmeans, broom, broom.mixed, "
        "parameters and performance, and the private R library. Run `make setup`. "
        f"What failed: {' '.join(str(problem).split())}"
    )


def _versions(robjects) -> dict[str, str]:
    from importlib.metadata import version

    wanted = {"R": 'paste(R.version$major, R.version$minor, sep = ".")'} | {
        name: f'as.character(packageVersion("{name}"))' for name in ("lme4", "lmerTest")
    }
    return {name: robjects.r(code)[0] for name, code in wanted.items()} | {"pymer4": version("pymer4")}


@contextmanager
def _silent(callbacks) -> Iterator[None]:
    """R's start-up notes are dropped."""
    with _console(callbacks, lambda text: None):
        yield


@contextmanager
def _listening(r: SimpleNamespace, heard: list[str]) -> Iterator[None]:
    """What R prints or warns goes to `heard`, not to the reader."""
    with _console(r.callbacks, heard.append):
        yield


@contextmanager
def _console(callbacks, write) -> Iterator[None]:
    with (
        callbacks.obj_in_module(callbacks, "consolewrite_print", write),
        callbacks.obj_in_module(callbacks, "consolewrite_warnerror", write),
    ):
        yield


def _polars(r: SimpleNamespace, frame: pd.DataFrame):
    """The frame as polars; text and labels as strings, so that R makes factors of them."""
    return r.polars.DataFrame(
        {
            name: column.astype(float).to_numpy()
            if pd.api.types.is_numeric_dtype(column)
            else [str(value) for value in column]
            for name, column in frame.items()
        }
    )


def _weights(frame: pd.DataFrame, weights: str | None) -> dict[str, np.ndarray]:
    return {} if weights is None else {"weights": frame[weights].to_numpy(float)}


def _details(r: SimpleNamespace, model) -> dict[str, np.ndarray]:
    found = r.details(model, SINGULAR_RELATIVE_SD)
    return {name: np.asarray(value) for name, value in zip(found.names, found, strict=True)}


def _mixed_fit(formula, n, fixed, random, details, contrasts, heard, versions) -> MixedFit:
    fixed, random = fixed.to_pandas(), random.to_pandas()
    gradients = details["covariance_gradients"].reshape(-1, len(fixed), len(fixed))
    estimates, of_parameters = fixed["estimate"].to_numpy(float), details["variance_covariance"]
    joint = (np.nan, np.nan, np.nan)
    if contrasts is not None:
        joint = joint_tests.f_test(contrasts, estimates, details["covariance"], gradients, of_parameters)
    residual = float(random.loc[random["group"] == "Residual", "estimate"].iloc[0])
    random = random[random["group"] != "Residual"]
    messages = [" ".join(text.split()) for text in (*heard, *details["messages"])]
    return MixedFit(
        formula=formula,
        n=n,
        coefficients=fixed[["term", "estimate", "std_error", "df"]],
        covariance=details["covariance"],
        variances=random.rename(columns={"estimate": "variance"})[["group", "term", "variance"]],
        residual_variance=residual,
        is_singular=bool(details["singular"][0]),
        reml=float(details["reml"][0]),
        joint_test=joint,
        messages=tuple(dict.fromkeys(text for text in messages if text)),
        versions=versions,
        theta=details["theta"],
        parameter_covariance=of_parameters,
        covariance_gradients=gradients,
    )
