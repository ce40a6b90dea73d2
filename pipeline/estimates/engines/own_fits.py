"""Linear mixed models by REML with Satterthwaite's df, in Python: the same models as lme4 and lmerTest fit, without R.

Fixed effects as R codes them, any number of crossed or nested random intercepts, row weights. Random slopes are left to
lme4. The search is over exact derivatives, so that the curvature behind Satterthwaite's df (Fai and Cornelius 1996,
Journal of Statistical Computation and Simulation 54:363-378) is exact too; lmerTest takes it by differences.
"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import scipy

from pipeline.estimates.engines import joint_tests, profiled_reml
from pipeline.estimates.engines.mixed import SINGULAR_RELATIVE_SD, MixedFit, NotFitted
from pipeline.estimates.engines.profiled_reml import CrossProducts, Solved

LEAST_EIGENVALUE = 1e-8  # lmerTest's: a direction of the parameters with less curvature counts for nothing
LOWER = 1e-5  # of the criterion: more than where a search stops
MOST_LEVELS = 30  # of all terms; two minima were seen with 14, and the search takes time where there are many
MOST_RELATIVE_VARIANCE = 1e4  # where less is left to the residual, the criterion may fall without end
STEEP = 1e-3  # a slope left that is more than rounding; lme4 warns of its own from 2e-3 on
_RANDOM = re.compile(r"\+?\s*\(([^()|]*)\|\|?([^()|]*)\)")


def fit(
    formula: str, frame: pd.DataFrame, *, weights: str | None = None, contrasts: np.ndarray | None = None
) -> MixedFit:
    """As mixed.fit. Raises NotFitted when the rows do not allow the model, ValueError for a model with random
    slopes.
    """
    names, groups, rows, said = _read_rows(formula, frame, weights)
    try:
        at = profiled_reml.lowest(rows)
    except np.linalg.LinAlgError as problem:
        raise _refused(formula, frame, "the rows leave no residual") from problem
    if profiled_reml.slopes_left(rows, at) > STEEP:
        said.append("the REML criterion was not brought to its minimum")
    return _mixed_fit(formula, len(frame), names, groups, rows, at, contrasts, said)


def lower_minimum(formula: str, frame: pd.DataFrame, *, weights: str | None, than: float) -> np.ndarray | None:
    """Where the REML criterion is lower than lme4 found it, which searches from one start: its theta there.

    None where it is not, where the model is not one of these, and where the levels are many.
    """
    try:
        _, _, terms = _read(formula)
        if sum(len(frame[term.split(":")].drop_duplicates()) for term in terms) > MOST_LEVELS:
            return None
        at = profiled_reml.lowest(_read_rows(formula, frame, weights)[2])
    except (NotFitted, ValueError, np.linalg.LinAlgError):
        return None
    is_lower = at.criterion < than - LOWER and at.phi.sum() < MOST_RELATIVE_VARIANCE
    return np.sqrt(at.phi) if is_lower else None


def versions() -> dict[str, str]:
    return {"own_fits": "of this code"} | {package.__name__: package.__version__ for package in (np, scipy)}


def _read_rows(
    formula: str, frame: pd.DataFrame, weights: str | None
) -> tuple[list[str], list[str], CrossProducts, list[str]]:
    """Names of the fixed effects and of the grouping factors, the rows' cross-products, and what is to be said."""
    response, fixed, terms = _read(formula)
    y, of_rows = frame[response].to_numpy(float), np.ones(len(frame))
    if weights is not None:
        of_rows = frame[weights].to_numpy(float)
    if not (np.isfinite(y).all() and np.isfinite(of_rows).all() and (of_rows > 0).all()):
        raise _refused(formula, frame, f"{response} and weights must be known numbers, weights above zero")
    groups = _groups(formula, frame, terms)
    x, names, said = _fixed(fixed, frame)
    if len(y) <= len(names):
        raise _refused(formula, frame, "there are no more rows than fixed effects")
    rows = profiled_reml.cross_products(y, x, [codes for _, codes in groups], of_rows)
    return names, [name for name, _ in groups], rows, said


def _refused(formula: str, frame: pd.DataFrame, why: str) -> NotFitted:
    return NotFitted(f"The mixed model {formula} could not be fitted to {len(frame)} rows: {why}.")


def _read(formula: str) -> tuple[str, str, list[str]]:
    """Response, fixed part and grouping factors; 'a/b' is a and b within a, written b:a as lme4 does."""
    response, right = (part.strip() for part in formula.split("~"))
    terms = []
    for inner, group in _RANDOM.findall(right):
        if inner.strip() != "1":
            raise ValueError(f"{formula}: random slopes are fitted by lme4 only.")
        parts = [part.strip() for part in group.split("/")]
        terms += [":".join(parts[: n + 1][::-1]) for n in range(len(parts))][::-1]
    return response, _RANDOM.sub("", right).strip(" +") or "1", terms


def _groups(formula: str, frame: pd.DataFrame, terms: list[str]) -> list[tuple[str, np.ndarray]]:
    """Each grouping factor with the level of each row; the one with most levels first, as lme4 has them."""
    found = []
    for term in terms:
        labels = frame[term.split(":")].astype(str)
        found.append((term, labels.groupby(list(labels), sort=True).ngroup().to_numpy()))
    for term, codes in found:
        if codes.max() == 0:
            raise _refused(formula, frame, f"{term} has one level only")
        if codes.max() + 1 >= len(frame):
            raise _refused(formula, frame, f"the number of levels of {term} must be less than the number of rows")
    sizes = [codes.max() for _, codes in found]
    return found if sizes == sorted(sizes)[::-1] else [found[i] for i in np.argsort(sizes, kind="stable")[::-1]]


def _fixed(fixed: str, frame: pd.DataFrame) -> tuple[np.ndarray, list[str], list[str]]:
    """Columns of the fixed effects, their names as R prints them, and what is to be said of columns left out."""
    from formulae import design_matrices

    known = {
        name: column.astype(float) if pd.api.types.is_numeric_dtype(column) else column.astype(str)
        for name, column in frame.items()
    }
    design = design_matrices(fixed, pd.DataFrame(known, index=frame.index), na_action="error").common
    # R puts interactions behind the terms they are made of
    terms = sorted(design.terms.values(), key=lambda term: term.name.count(":"))
    names = [_as_in_r(label, is_one=":" not in term.name) for term in terms for label in term.labels]
    x = np.column_stack([np.asarray(design[term.name], float).reshape(len(frame), -1) for term in terms])
    kept: list[int] = []
    for number in range(x.shape[1]):
        if np.linalg.matrix_rank(x[:, [*kept, number]]) > len(kept):
            kept.append(number)
    n_lost = len(names) - len(kept)
    said = [f"the fixed effects say the same twice: {n_lost} left out"] if n_lost else []
    names = ["(Intercept)" if name == "Intercept" else name for name in names]
    return x[:, kept], [names[number] for number in kept], said


def _as_in_r(label: str, *, is_one: bool) -> str:
    """'level[dry]' as 'leveldry'; brackets within the level stay. is_one: it is of one column, no interaction."""
    parts = [label] if is_one else re.split(r"(?<=\]):", label)
    return ":".join(re.sub(r"^([^\[]*)\[(.*)\]$", r"\1\2", part) for part in parts)


def _mixed_fit(
    formula: str,
    n: int,
    names: list[str],
    groups: list[str],
    rows: CrossProducts,
    at: Solved,
    contrasts: np.ndarray | None,
    said: list[str],
) -> MixedFit:
    s2 = at.ss / rows.residual_df
    theta, covariance = np.sqrt(at.phi), s2 * at.of_beta
    gradients = np.array([*(2 * theta[:, None, None] * s2 * at.beta_gradients), 2 * np.sqrt(s2) * at.of_beta])
    of_parameters = _parameter_covariance(rows, at, np.sqrt(s2))
    estimates, variances = rows.ols + at.beta, np.diag(covariance)
    slopes = np.array([np.diag(gradient) for gradient in gradients])
    with np.errstate(divide="ignore"):
        df = 2 * variances**2 / np.einsum("ke,kl,le->e", slopes, of_parameters, slopes)
    joint = (np.nan, np.nan, np.nan)
    if contrasts is not None:
        joint = joint_tests.f_test(contrasts, estimates, covariance, gradients, of_parameters)
    is_singular = bool((theta < SINGULAR_RELATIVE_SD).any())
    said = [*said, *(["boundary (singular) fit"] if is_singular else [])]
    return MixedFit(
        formula=formula,
        n=n,
        coefficients=pd.DataFrame({"term": names, "estimate": estimates, "std_error": np.sqrt(variances), "df": df}),
        covariance=covariance,
        variances=pd.DataFrame({"group": groups, "term": "var__(Intercept)", "variance": s2 * at.phi}),
        residual_variance=s2,
        is_singular=is_singular,
        reml=at.criterion,
        joint_test=joint,
        messages=tuple(f"mixed model: {text}" for text in said),
        versions=versions(),
        theta=theta,
        parameter_covariance=of_parameters,
        covariance_gradients=gradients,
    )


def _parameter_covariance(rows: CrossProducts, at: Solved, sigma: float) -> np.ndarray:
    """Twice the inverse of the curvature of the REML criterion by (theta, sigma), as lmerTest takes it.

    At theta = 0 the slope by theta is zero whichever way the criterion goes: such a variance has its curvature, and
    nothing else of the model depends on it. Directions without curvature are left out of the inverse.
    """
    theta, s2 = np.sqrt(at.phi), sigma**2
    traces = at.gradient + at.squares / s2
    by_phi = 2 * at.curve / s2 - at.norms
    curvature = np.zeros((len(theta) + 1, len(theta) + 1))
    curvature[:-1, :-1] = 4 * np.outer(theta, theta) * by_phi + np.diag(2 * (traces - at.squares / s2))
    curvature[:-1, -1] = curvature[-1, :-1] = 4 * theta * at.squares / sigma**3
    curvature[-1, -1] = 4 * rows.residual_df / s2
    sizes, directions = np.linalg.eigh(curvature)
    kept = sizes > LEAST_EIGENVALUE
    return 2 * (directions[:, kept] / sizes[kept]) @ directions[:, kept].T
