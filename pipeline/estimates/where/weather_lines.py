"""The line of the gain on a weather covariate: from the mixed model, from two stages, and the guards where seasons are
few.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import BETWEEN_SEASONS, TESTED, TO_COME, WITHIN_SEASONS
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import interval_rules, one_stage, two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.engines.meta_regression import meta_regression, tau2_reml
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.trials.shared_plots import shared_error
from pipeline.estimates.where import season_guard, weather_rules
from pipeline.estimates.where.season_guard import wider
from pipeline.estimates.where.weather_values import Values

OF_MODEL = "Satterthwaite, at most site-years less coefficients"
OF_TWO_STAGE = "Knapp-Hartung, site-years less 2"
TWO_STAGE_FORMULA = "site-year gains on the covariate, weighted by 1 / (SE^2 + tau2), REML"
OF_SEASONS = "slopes within and between seasons put together; seasons less 2 for the part between"


@dataclass(frozen=True)
class Line:
    """gain: average at the covariate's center; slope: per unit of it; how the two errors go together.

    tau2: spread between true gains that the line leaves, season_tau2 the part that goes with the season.
    """

    gain: Mean
    slope: Mean
    correlation: float
    tau2: float
    season_tau2: float
    formula: str
    df_method: str
    warnings: tuple[str, ...] = ()


def slope_model(values: Values, target: str) -> one_stage.OneStage | None:
    """gain ~ 1 + slope; slope: the covariate less its center, in its standard deviations."""
    columns = pd.DataFrame({"slope": values.of_blocks((values.x - values.center) / values.scale)})
    return _fit(values, target, columns)


def parts_model(values: Values) -> one_stage.OneStage | None:
    """gain ~ 1 + within + between with seasons random: the covariate less its season mean, and that less the center,
    scaled.
    """
    within, between = values.x - values.season_means, values.season_means - values.center
    columns = {"within": values.of_blocks(within), "between": values.of_blocks(between)}
    return _fit(values, TO_COME, pd.DataFrame(columns) / values.scale)


def mixed_line(values: Values, target: str) -> Line | None:
    """The headline's model with a slope; None where the averages' rules leave no model, or it cannot be fitted."""
    model = slope_model(values, target)
    if model is None:
        return None
    slope = _coefficient(model, 1, values.scale)
    gain = _guarded_gain(values, _coefficient(model, 0), slope, model, target)
    warnings = [*model.warnings, *([interval_rules.ADJUSTMENTS["singular"]] if model.has_no_spread else [])]
    if values.within_places_share < weather_rules.HARDLY and values.site_years["place"].nunique() > 2:
        slope = replace(slope, df=min(slope.df, values.site_years["place"].nunique() - 2.0))
        warnings.append(weather_rules.ADJUSTMENTS["places few"])
    covariance = model.fit.covariance
    correlation = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    season = model.fit.variance("season")
    line = Line(gain, slope, float(correlation), model.tau2, season, model.fit.formula, OF_MODEL, tuple(warnings))
    return _with_season_guard(values, line, target)


def part_lines(values: Values) -> dict[str, Mean] | None:
    """The slopes within and between seasons, of one model with seasons random; the same for both targets.

    The slope between seasons has the guard of the headline: at least the error of a line through the season means, df
    of seasons less 2.
    """
    model = parts_model(values)
    if model is None:
        return None
    line = Line(
        *[_coefficient(model, n, values.scale) for n in (0, 2)], 0.0, model.tau2, model.fit.variance("season"), "", ""
    )
    guard = season_guard.season_slopes(values, *weights_of(values, line))[BETWEEN_SEASONS].slope
    return {WITHIN_SEASONS: _coefficient(model, 1, values.scale), BETWEEN_SEASONS: wider(line.slope, guard)}


def tau2_before(values: Values, target: str) -> float:
    """The spread of the same model without the covariate; nan where it cannot be fitted."""
    terms = one_stage.terms_for(values.blocks, target)
    model = one_stage.fit_terms(values.blocks, terms, "1") if terms else None
    return model.tau2 if model else np.nan


def two_stage_line(values: Values, target: str) -> Line | None:
    """Meta-regression of the site-year gains whose error is known; None where too few are left for a line."""
    known, warning = three_methods.known_errors(values.site_years)
    x = values.x[known.index] - values.center
    if len(known) < weather_rules.FEWEST_SITE_YEARS or np.ptp(x) == 0:
        return None
    gains, loads, variances = _independent(known, known["gain"].to_numpy(float))
    fit = meta_regression(gains, variances, np.column_stack([loads, _independent(known, x)[0]]))
    correlation = fit.covariance[0, 1] / np.sqrt(fit.covariance[0, 0] * fit.covariance[1, 1])
    gain, slope = fit.coefficient(0), fit.coefficient(1)
    if target == TO_COME:
        gain = wider(gain, _season_means(values, gain, slope))
    line = Line(gain, slope, float(correlation), fit.tau2, 0.0, TWO_STAGE_FORMULA, OF_TWO_STAGE, (warning,))
    return _with_season_guard(values, line, target)


def _independent(known: pd.DataFrame, of_site_years: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As two_stage.independent, where site-years share plots."""
    return two_stage.independent(of_site_years, known["std_error"].to_numpy(float) ** 2, shared_error(known))


def _fit(values: Values, target: str, columns: pd.DataFrame) -> one_stage.OneStage | None:
    terms = one_stage.terms_for(values.blocks, target)
    if not terms:
        return None
    model = one_stage.fit_terms(values.blocks, terms, " + ".join(["1", *columns]), columns)
    return model if model and len(model.fit.coefficients) == 1 + columns.shape[1] else None


def _coefficient(model: one_stage.OneStage, number: int, scale: float = 1.0) -> Mean:
    row = model.fit.coefficients.iloc[number]
    df = one_stage.capped_df(row["df"], model)
    return Mean(float(row["estimate"]) / scale, float(row["std_error"]) / scale, df)


def _guarded_gain(values: Values, gain: Mean, slope: Mean, model: one_stage.OneStage, target: str) -> Mean:
    """The average at the center with the guards of an average, of gains moved along the line to the center.

    With seasons random its df are at least seasons less 2, which is what a line leaves of them: Satterthwaite's come
    out lower only by chance, and Student's t with 1 df would say nothing.
    """
    if "season" in model.terms:
        gain = replace(gain, df=max(gain.df, values.counts()["n_seasons"] - 2.0))
    site_years = values.site_years.assign(gain=_moved(values, slope))
    at_zero = model.terms_at_zero()
    row = three_methods.model_interval(gain, site_years, target, CONF_LEVEL, terms=model.terms, at_zero=at_zero)
    guarded = Mean(gain.estimate, row["std_error"], row["df"])
    return wider(guarded, _season_means(values, gain, slope)) if "season" in at_zero else guarded


def _moved(values: Values, slope: Mean) -> np.ndarray:
    """The gains, moved along the line to the center of the covariate."""
    return values.gains - slope.estimate * (values.x - values.center)


def _season_means(values: Values, gain: Mean, slope: Mean) -> Mean:
    """Error of the season means at the center. The line was fitted to the same seasons: seasons less 2 are left.

    Scaled by the root of (seasons less 1) / (seasons less 2), as for long-run weather.
    """
    means = two_stage.season_means(_moved(values, slope), values.seasons, shared=shared_error(values.site_years))
    # not means.df, which are fewer where plots that come back share an error, and can be 1
    left = values.counts()["n_seasons"] - 2.0
    return Mean(gain.estimate, means.std_error * float(np.sqrt((left + 1) / left)), min(means.df, left))


def _with_season_guard(values: Values, line: Line, target: str) -> Line:
    """The line, its slope no surer than seasons allow; for the seasons tested only where the slope rests on one part
    alone.

    There, differences between seasons are part of what is asked, and a slope of both parts may use them as they are.
    """
    if target == TESTED and values.rests_on == weather_rules.BOTH_PARTS:
        return line
    slope = wider(line.slope, season_guard.pooled_slope(values, *weights_of(values, line)))
    if slope is line.slope:
        return line
    warnings = (*line.warnings, weather_rules.ADJUSTMENTS["seasons few"])
    return replace(line, slope=slope, df_method=OF_SEASONS, warnings=warnings)


def weights_of(values: Values, line: Line) -> tuple[np.ndarray, float]:
    """Weight of each site-year within its season (1 / variance), and the variance of seasons, as the line has them.

    Two stages do not tell seasons apart: there the spread within seasons is fitted anew. Told by the formula, as a
    guard changes the df_method.
    """
    rest = line.tau2 - line.season_tau2
    if line.formula == TWO_STAGE_FORMULA:
        dummies = (values.seasons[:, None] == np.unique(values.seasons)).astype(float)
        rest = min(rest, tau2_reml(values.gains, values.variances, dummies))
    return 1 / (values.variances + max(rest, 1e-12 * np.var(values.gains))), line.season_tau2
