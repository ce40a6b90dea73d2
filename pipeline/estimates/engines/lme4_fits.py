"""Linear mixed models by REML, fitted by R's lme4 and lmerTest through pymer4.

The only place that starts R. It is started when the first model is fitted (some
seconds), in the main process only: after that a fork hangs and threads fail.
"""

from __future__ import annotations

import gc
import logging
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import ModuleType, SimpleNamespace
from unittest.mock import patch

import numpy as np
import pandas as pd

from pipeline import stopping
from pipeline.errors import UserError
from pipeline.estimates.engines import joint_tests, own_fits
from pipeline.estimates.engines.mixed import SINGULAR_RELATIVE_SD, MixedFit, NotFitted

# By default lme4 stops once the criterion falls by less than 1e-8. It is flat at the boundary, so that can leave a
# variance whose optimum is zero at a relative standard deviation of 2.5e-3, above the line that says zero.
CONTROL_IN_R = "lme4::lmerControl(optCtrl = list(xtol_abs = 1e-7, xtol_rel = 0, ftol_abs = 1e-11, ftol_rel = 0))"

# std_error and df as lmerTest's own summary gives them, without all that it works out beside them
_DETAILS_IN_R = """
function(m, tol) {
  covariance <- as.matrix(vcov(m))
  df <- vapply(seq_along(m@beta), function(i) {
    gradient <- vapply(m@Jac_list, function(jacobian) jacobian[i, i], numeric(1))
    2 * covariance[i, i]^2 / sum(gradient * (m@vcov_varpar %*% gradient))
  }, numeric(1))
  spread <- as.data.frame(lme4::VarCorr(m), order = "lower.tri")
  list(term = names(lme4::fixef(m)), estimate = m@beta, std_error = sqrt(diag(covariance)), df = df,
       group = spread$grp, variance = spread$vcov,
       covariance = covariance, singular = lme4::isSingular(m, tol = tol),
       reml = as.numeric(lme4::REMLcrit(m)), theta = as.numeric(lme4::getME(m, "theta")),
       variance_covariance = m@vcov_varpar,
       covariance_gradients = unlist(lapply(m@Jac_list, as.matrix)),
       messages = as.character(unlist(m@optinfo$conv$lme4$messages)))
}
"""
_SAID_IN_R = (
    "p <- installed.packages()[, c('Package', 'Version')]; "
    "cat(R.version.string, extSoftVersion()[['BLAS']], La_library(), p[, 2], sep = '\\n'); cat(p[, 1], sep = '\\n')"
)
LOADER_PATH = "LD_LIBRARY_PATH"
# pymer4 looks more R packages up when it is imported, for functions that are never called here
CALLED = ("base", "utils", "lme4", "lmerTest")
# and these Python packages, for tables and for a model that are never made here: they take a while to import
UNCALLED = ("great_tables", "sklearn", "sklearn.base", "sklearn.utils", "sklearn.utils.validation")


def fit(
    formula: str, frame: pd.DataFrame, *, weights: str | None = None, contrasts: np.ndarray | None = None
) -> MixedFit:
    """As mixed.fit. Where REML has more than one minimum it is that of the lower criterion.

    Raises UserError when R or one of its packages is missing, NotFitted when R cannot fit the
    model.
    """
    r = start_r()
    heard: list[str] = []
    with _listening(r, heard):
        try:
            details = _fitted(r, formula, frame, weights)
            lower = own_fits.lower_minimum(formula, frame, weights=weights, than=float(details["reml"][0]))
            if lower is not None:
                heard.clear()
                details = _fitted(r, formula, frame, weights, start=lower)
        except r.errors as problem:
            raise NotFitted(
                f"The mixed model {formula} could not be fitted to {len(frame)} rows. "
                f"R says: {' '.join(str(problem).split())}"
            ) from problem
    return _mixed_fit(formula, len(frame), details, contrasts, heard, r.versions)


def _fitted(r: SimpleNamespace, formula: str, frame: pd.DataFrame, weights: str | None, **start) -> dict:
    model = r.tidystats.lmer(formula, _polars(r, frame), control=r.control, **_weights(frame, weights), **start)
    return _details(r, model)


def versions() -> dict[str, str]:
    return start_r().versions


@cache
def said_by_r() -> str:
    """What R says of itself, its packages and its matrix library, in a process of its own; empty without R."""
    try:
        from rpy2 import situation

        command = [Path(situation.get_r_home() or "") / "bin" / "Rscript", "-e", _SAID_IN_R]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout
    except (ImportError, OSError, subprocess.CalledProcessError):
        return ""


@contextmanager
def _environment_kept() -> Iterator[None]:
    """R puts its own folders on the loader's path, where programs that are started later would find other libraries
    than theirs.
    """
    before = os.environ.get(LOADER_PATH)
    try:
        yield
    finally:
        os.environ.pop(LOADER_PATH, None)
        if before is not None:
            os.environ[LOADER_PATH] = before


@cache
@_environment_kept()
def start_r() -> SimpleNamespace:
    """Start R and import pymer4; done once per process."""
    os.environ["RPY2_CFFI_MODE"] = "ABI"  # needs no compiler
    logging.getLogger("rpy2.situation").setLevel(logging.CRITICAL)  # where R is missing our own message says so
    try:
        import polars
        from rpy2 import rinterface
        from rpy2.rinterface_lib import callbacks, embedded

        stopping.never_in(Path(callbacks.__file__).parent)
        with _signals_kept(rinterface), _silent(callbacks):
            from rpy2 import robjects
            from rpy2.robjects.packages import PackageNotInstalledError

            robjects.r("options(warn = 1)")  # a warning is heard when it arises
            with _wrapped_sparingly(), _without_uncalled():
                from pymer4 import tidystats

            details, control = robjects.r(_DETAILS_IN_R), robjects.r(CONTROL_IN_R)
            versions = _versions(robjects)
    except (ImportError, OSError, ValueError) as problem:
        raise _missing(problem) from problem
    except Exception as problem:
        if type(problem).__name__ in ("PackageNotInstalledError", "RRuntimeError"):
            raise _missing(problem) from problem
        raise
    gc.freeze()  # else Python spends seconds at exit on R's many objects
    return SimpleNamespace(
        tidystats=tidystats,
        polars=polars,
        robjects=robjects,
        callbacks=callbacks,
        details=details,
        control=control,
        versions=versions,
        errors=(embedded.RRuntimeError, PackageNotInstalledError),
    )


@contextmanager
def _signals_kept(rinterface) -> Iterator[None]:
    """rpy2 puts Python's own handler of Ctrl-C in place when it has started R; here it finds the one of this command
    again.
    """
    kept = SimpleNamespace(**vars(signal) | {"signal": lambda number, handler: None})
    with patch.object(rinterface, "signal", kept):
        yield


class NotLoaded:
    """Stands for an R package that was left out: whatever is asked of it is an error that names the package."""

    def __init__(self, package: str) -> None:
        self._package = package

    def __getattr__(self, name: str):
        raise UserError(f"{name} of the R package {self._package} is not available: this program does not load it.")


class OnDemand:
    """An attached R package whose functions are wrapped when they are asked for: wrapping all is half of the time until
    R stands.
    """

    def __init__(self, package: str) -> None:
        from rpy2.robjects import packages, r

        self._package, self._namespace = package, r["asNamespace"](package)  # where it is missing, R's own error
        packages.quiet_require(package)
        names = tuple(self._namespace.keys())
        self._in_r = {name.replace(".", "_"): name for name in names} | {name: name for name in names}

    def __getattr__(self, name: str):
        if name not in self._in_r:
            raise AttributeError(f"The R package {self._package} has no {name}.")
        setattr(self, name, self._namespace[self._in_r[name]])
        return getattr(self, name)


@contextmanager
def _wrapped_sparingly() -> Iterator[None]:
    """pymer4's modules take importr by name when they are imported; this one gives OnDemand, or NotLoaded for all
    but CALLED.
    """
    from rpy2.robjects import packages

    once = cache(OnDemand)
    with patch.object(packages, "importr", lambda name: once(name) if name in CALLED else NotLoaded(name)):
        yield


@contextmanager
def _without_uncalled() -> Iterator[None]:
    """While pymer4 is imported, UNCALLED packages that are not there yet are empty; afterwards they are themselves."""
    empty = {name: _empty_package(name) for name in UNCALLED if name.partition(".")[0] not in sys.modules}
    sys.modules.update(empty)
    try:
        yield
    finally:
        for name in empty:
            del sys.modules[name]


def _empty_package(package: str) -> ModuleType:
    """A package in which every name is a class: others may be built on it, none can be made."""

    def refused(*_, **__):
        raise UserError(f"The package {package} is not available here: this program does not load it.")

    def named(name: str) -> type:
        if name.startswith("__"):
            raise AttributeError(name)
        return type(name, (), {"__init__": refused})

    empty = ModuleType(package)
    empty.__getattr__ = named
    return empty


def _missing(problem: Exception) -> UserError:
    return UserError(
        "Fitting by lme4 needs R with the packages lme4 and lmerTest. Run `make setup`. "
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
            name: (
                column.astype(float).to_numpy()
                if pd.api.types.is_numeric_dtype(column)
                else [str(value) for value in column]
            )
            for name, column in frame.items()
        }
    )


def _weights(frame: pd.DataFrame, weights: str | None) -> dict[str, np.ndarray]:
    return {} if weights is None else {"weights": frame[weights].to_numpy(float)}


def _details(r: SimpleNamespace, model) -> dict[str, np.ndarray]:
    found = r.details(model, SINGULAR_RELATIVE_SD)
    # copied: the memory is R's, which uses it again
    return {name: np.array(value) for name, value in zip(found.names, found, strict=True)}


def _mixed_fit(formula, n, details, contrasts, heard, versions) -> MixedFit:
    fixed = pd.DataFrame({name: details[name] for name in ("term", "estimate", "std_error", "df")})
    gradients = details["covariance_gradients"].reshape(-1, len(fixed), len(fixed))
    of_parameters = details["variance_covariance"]
    joint = (np.nan, np.nan, np.nan)
    if contrasts is not None:
        joint = joint_tests.f_test(contrasts, details["estimate"], details["covariance"], gradients, of_parameters)
    random = pd.DataFrame({name: details[name] for name in ("group", "variance")})
    is_residual = random["group"] == "Residual"
    said = [" ".join(text.split()) for text in (*heard, *details["messages"])]
    return MixedFit(
        formula=formula,
        n=n,
        coefficients=fixed,
        covariance=details["covariance"],
        variances=random[~is_residual],
        residual_variance=float(random.loc[is_residual, "variance"].iloc[0]),
        is_singular=bool(details["singular"][0]),
        reml=float(details["reml"][0]),
        joint_test=joint,
        messages=tuple(dict.fromkeys(f"R: {text}" for text in said if text)),
        versions=versions,
        theta=details["theta"],
        parameter_covariance=of_parameters,
        covariance_gradients=gradients,
    )
