"""The mixed model of block gains: site-years, places and (for seasons to come) seasons random."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import linalg
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pipeline.contract.vocabulary import TO_COME
from pipeline.estimates.engines import mixed, two_stage
from pipeline.estimates.engines.interval_rules import ADJUSTMENTS, FEWEST_PLACES, FEWEST_SEASONS_TO_COME

LEAST_DF = 1.0
LEAST_SCATTER = 1e-20  # of the sum of squares of the gains: what is left of rounding
COMPONENTS = {
    "place": "place",
    "season": "season",
    "site_year_id": "site-year",
    "trial_id": "trial",
    "plots": "plots, lasting",
}
OF_ERROR = ("plots",)  # terms of plot error: no part of the spread between true gains


@dataclass(frozen=True)
class OneStage:
    """A fitted model of block gains; terms are the random intercepts it has.

    most_df: site-years less fixed effects, or fewer by the rules for seasons; the cap on every df. least_df: 2 for an
    average over all where places or seasons are random.
    """

    fit: mixed.MixedFit
    terms: tuple[str, ...]
    warnings: tuple[str, ...]
    most_df: float
    least_df: float = LEAST_DF

    @property
    def tau2(self) -> float:
        """All variance between true gains, whatever it goes with; (value unit)^2."""
        between = ~self.fit.variances["group"].isin(OF_ERROR)
        return float(self.fit.variances.loc[between, "variance"].sum())

    @property
    def has_no_spread(self) -> bool:
        return self.fit.is_zero(self.tau2)

    def terms_at_zero(self) -> tuple[str, ...]:
        return tuple(term for term in self.terms if self.fit.is_zero(self.fit.variance(term)))

    def components(self) -> dict[str, float]:
        """Each variance by its name, 0 where it is at its boundary; (value unit)^2."""
        found = {COMPONENTS[term]: self.fit.variance(term) for term in self.terms}
        named = {name: 0.0 if self.fit.is_zero(variance) else variance for name, variance in found.items()}
        return named | {"residual": self.fit.residual_variance}


def terms_for(blocks: pd.DataFrame, target: str, *, levels: pd.Series | None = None) -> tuple[str, ...]:
    """The random intercepts these block gains can tell apart, from each other and from fixed `levels`.

    Place beside site-year needs a place with several site-years, and more places than go
    with one level each; seasons likewise. With one row per site-year (or per trial) that
    term is the residual and is left out.
    """
    n_rows, n_site_years = len(blocks), blocks["site_year_id"].nunique()
    n_trials, n_places = blocks["trial_id"].nunique(), blocks["place"].nunique()
    can_tell = {
        "place": FEWEST_PLACES <= n_places < n_site_years,
        "season": target == TO_COME and FEWEST_SEASONS_TO_COME <= blocks["season"].nunique() < n_site_years,
        "site_year_id": n_site_years < n_rows,
        "trial_id": n_site_years < n_trials < n_rows,
        "plots": "plots" in blocks and _tells_plots(blocks),
    }
    if levels is not None:
        can_tell["place"] &= _df_beyond(levels, blocks["place"]) >= FEWEST_PLACES - 1
        can_tell["season"] &= _df_beyond(levels, blocks["season"]) >= FEWEST_SEASONS_TO_COME - 1
    return tuple(term for term, is_told in can_tell.items() if is_told)


def _tells_plots(blocks: pd.DataFrame) -> bool:
    """Whether blocks come back in other seasons, and neither places nor site-years are the very same groups."""
    n = blocks["plots"].nunique()
    same = [
        n == blocks[term].nunique() == len(blocks[["plots", term]].drop_duplicates())
        for term in ("place", "site_year_id")
    ]
    return n < len(blocks) and not any(same)


def _goes_with_few_places(levels: pd.Series, blocks: pd.DataFrame) -> bool:
    """Whether places too few to be random differ in their levels: a difference between levels is one between those
    places.
    """
    n_places = blocks["place"].nunique()
    return n_places < FEWEST_PLACES and _df_beyond(blocks["place"], levels) < levels.nunique() - 1


def _df_beyond(levels: pd.Series, groups: pd.Series) -> int:
    """How many differences between groups the levels leave: none where each level has one group of its own.

    Of groups and levels that hang together through rows, all differences but those between the levels are left.
    """
    (level, level_names), (group, group_names) = (pd.factorize(of.astype(str)) for of in (levels, groups))
    n = len(level_names) + len(group_names)
    joins = coo_matrix((np.ones(len(level)), (level, len(level_names) + group)), shape=(n, n))
    return len(group_names) - connected_components(joins, directed=False)[0]


def fit_gains(
    blocks: pd.DataFrame, target: str, *, levels: pd.Series | None = None, more_terms: tuple[str, ...] = ()
) -> OneStage | None:
    """Fit the block gains; with `levels` one mean per level and their joint test.

    more_terms: columns of blocks with a random intercept beside those of terms_for.
    blocks: gain, variance, site_year_id, trial_id, place, season. None where no
    random intercept is left to fit, where levels cannot be told from places or from
    seasons to come, or where the model cannot be fitted.
    """
    terms = terms_for(blocks, target, levels=levels)
    lost = set(terms_for(blocks, target)) - set(terms)
    if not terms or lost & {"season", "place"} or (levels is not None and _goes_with_few_places(levels, blocks)):
        return None
    terms = (*terms, *more_terms)
    if levels is None or levels.nunique() == 1:
        model = fit_terms(blocks, terms, "1")
        return model and replace(model, least_df=least_df_of_mean(terms))
    columns = pd.DataFrame({"level": levels.astype(str)})
    model = fit_terms(blocks, terms, "0 + level", columns, contrasts=_differences(levels.nunique()))
    return model and _no_surer_than_its_seasons(model, levels, blocks)


def least_df_of_mean(terms: tuple[str, ...]) -> float:
    """The least df of a mean over all: 2 where places or seasons are random, of which there are 3 at the least."""
    return float(FEWEST_PLACES - 1) if {"place", "season"} & set(terms) else LEAST_DF


def _no_surer_than_its_seasons(model: OneStage, levels: pd.Series, blocks: pd.DataFrame) -> OneStage:
    """Where the season variance is estimated as zero, the df of class means are capped by the seasons.

    The guard of the average is its season means; those of one class are too few for that.
    """
    if "season" not in model.terms or not model.fit.is_zero(model.fit.variance("season")):
        return model
    most_df = min(model.most_df, max(LEAST_DF, seasons_left(levels, blocks)))
    return replace(model, most_df=most_df, warnings=(*model.warnings, ADJUSTMENTS["season zero, classes"]))


def seasons_left(levels: pd.Series, blocks: pd.DataFrame) -> float:
    """How many differences between seasons are left to see, once each level has its mean.

    Seasons less 1 where every season has the levels in equal shares, fewer the more levels go with seasons: with season
    effects of variance s2 alone, the season means of what the level means leave have this times s2 as their expected
    sum of squares.
    """
    rows = pd.DataFrame(
        {"season": blocks["season"], "site_year_id": blocks["site_year_id"], "level": levels}
    ).drop_duplicates()
    seasons, classes = (pd.get_dummies(rows[name].astype(str), dtype=float).to_numpy() for name in ("season", "level"))
    left = seasons - classes @ np.linalg.lstsq(classes, seasons, rcond=None)[0]
    means = (seasons / seasons.sum(axis=0)).T @ left
    return float(np.sum((means - means.mean(axis=0)) ** 2))


def fit_terms(
    blocks: pd.DataFrame,
    terms: tuple[str, ...],
    fixed: str,
    columns: pd.DataFrame | None = None,
    *,
    contrasts: np.ndarray | None = None,
) -> OneStage | None:
    """Fit gain ~ fixed (lme4's notation, its columns given) with these random intercepts, weighted by precision.

    None where the gains do not scatter or cannot be fitted.
    """
    if has_no_scatter(blocks, terms):
        return None
    # in one order whatever the order of arrival, which would move the last digits
    order = blocks.reset_index().sort_values(["site_year_id", "trial_id", "gain"], kind="stable").index
    blocks, columns = blocks.iloc[order], None if columns is None else columns.iloc[order]
    weights, warnings = block_weights(blocks, terms)
    frame = blocks[["gain", *terms]].astype({term: str for term in terms})
    frame = pd.concat([frame, columns], axis=1).assign(weight=weights)
    formula = f"gain ~ {fixed} + " + " + ".join(f"(1 | {term})" for term in terms)
    try:
        fit = mixed.fit(formula, frame, weights="weight", contrasts=contrasts)
    except mixed.NotFitted:
        return None
    most_df = blocks["site_year_id"].nunique() - len(fit.coefficients)
    return OneStage(fit, terms, (*warnings, *messages_of(fit)), most_df)


def has_no_scatter(blocks: pd.DataFrame, terms: tuple[str, ...]) -> bool:
    """Whether there is no residual: rows alike in every term have equal gains, or all gains are equal."""
    gains = blocks["gain"].to_numpy(float)
    codes = np.column_stack([pd.factorize(blocks[term])[0] for term in terms])
    alike = np.unique(codes, axis=0, return_inverse=True)[1].ravel()
    sizes = np.bincount(alike)
    means = np.bincount(alike, gains) / sizes
    left = gains - (means[alike] if len(sizes) < len(gains) else gains.mean())
    return float(left @ left) <= LEAST_SCATTER * float(gains @ gains)


def block_weights(blocks: pd.DataFrame, terms: tuple[str, ...]) -> tuple[np.ndarray, list[str]]:
    """1 / variance of each gain, scaled to mean 1 so that the residual variance keeps its unit.

    Where site-year is the residual, that residual holds tau2 as well, so the
    two-stage tau2 is added to each variance.
    """
    variance = blocks["variance"].to_numpy(float)
    if np.isnan(variance).any():
        return np.ones(len(blocks)), ["no plot error known for this crop: block gains are weighted alike"]
    if (variance == 0).any():
        return np.ones(len(blocks)), ["an error variance is exactly zero: block gains are weighted alike"]
    if "site_year_id" not in terms:
        variance = variance + two_stage.tau2_reml(blocks["gain"].to_numpy(float), variance)
    weights = 1 / variance
    return weights / weights.mean(), []


def _differences(n_levels: int) -> np.ndarray:
    """Orthonormal contrasts between levels: the joint test's df then do not depend on which level comes first."""
    return linalg.helmert(n_levels)


def messages_of(fit: mixed.MixedFit) -> list[str]:
    """What the fit said, but for the singular fit, which the interval rules speak of themselves."""
    return [text for text in fit.messages if "singular" not in text.lower()]


def capped_df(satterthwaite: float, model: OneStage) -> float:
    """Satterthwaite df between least_df and most_df of the model; the most where the spread is zero, the least where df
    fail.

    Near a boundary the formula can give df far below any number of groups, whose t quantile means nothing.
    """
    if model.has_no_spread:
        return float(model.most_df)
    if not np.isfinite(satterthwaite):
        return float(model.least_df)
    return float(min(max(satterthwaite, model.least_df), model.most_df))


def prediction_interval(model: OneStage, conf_level: float, *, least_df: float, most_df: float) -> tuple[float, float]:
    """Interval for a new site-year's true gain: mean -+ t sqrt(all variances + SE2).

    df by Satterthwaite of that whole total, from the covariance of the
    variance parameters (theta, sigma), kept within [least_df, most_df].
    """
    fit = model.fit
    theta, sigma = fit.theta, float(np.sqrt(fit.residual_variance))
    mean, std_error = float(fit.coefficients["estimate"].iloc[0]), float(np.sqrt(fit.covariance[0, 0]))
    total = model.tau2 + std_error**2
    theta = np.where(
        fit.variances["group"].isin(OF_ERROR), 0.0, theta
    )  # one random intercept per group, in their order
    gradient = np.append(2 * sigma**2 * theta, 2 * sigma * np.sum(theta**2)) + fit.covariance_gradients[:, 0, 0]
    spread = float(gradient @ fit.parameter_covariance @ gradient)
    df = 2 * total**2 / spread if spread > 0 else most_df
    df = min(max(df, least_df), most_df)
    return two_stage.prediction_interval_t(mean, std_error, model.tau2, df, conf_level)
