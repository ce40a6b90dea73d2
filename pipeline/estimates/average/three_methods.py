"""What each of the three methods gives for one set of site-years: the columns of its row."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.engines import cluster_robust, one_stage, two_stage
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.frames import joined
from pipeline.estimates.trials.shared_plots import ON_THE_SAME_PLOTS, shared_error

SEASON_MEANS, AS_TESTED = "season means, seasons less 1", "as for the seasons tested"
PLACES = "plain mean, places as clusters (CR2)"
SHARED = "plain mean, what the same plots share counted once"
SAME_WIDTH = 1e-3  # relative: without a season variance two fits of one model differ by their stop rule
# What a row leaves empty whose method gives no estimate, or no such range.
NO_ESTIMATE = dict.fromkeys(
    ("estimate", "std_error", "df", "df_method", "conf_low", "conf_high", "pred_low", "pred_high", "pred_method",
     "observed_low", "observed_high", "tau2", "q_stat", "i2_pct", "formula")
)  # fmt: skip
GUARDS = (SEASON_MEANS, AS_TESTED, PLACES, SHARED)  # the df_method of an interval that is not the method's own


@dataclass(frozen=True)
class MethodRow:
    """Columns of one pooled row, what the rule sentence must add, and variance components.

    columns is empty where the method gives no estimate.
    """

    columns: dict = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    components: dict[str, float] = field(default_factory=dict)

    @property
    def has_estimate(self) -> bool:
        return "estimate" in self.columns


def counts(site_years: pd.DataFrame) -> dict:
    """How much stands behind a figure."""
    seasons = sorted(site_years["season"].unique())
    return {
        "n_site_years": len(site_years),
        "n_places": site_years["place"].nunique(),
        "n_seasons": len(seasons),
        "n_trials": int(site_years["n_trials"].sum()),
        "seasons": ", ".join(str(season) for season in seasons),
        "shown_as": rules.shown_as(len(site_years), len(seasons)),
    }


def interval(mean: two_stage.Mean, conf_level: float, df_method: str) -> dict:
    """The columns of a t interval."""
    half = mean.half_width(conf_level)
    return {
        "estimate": mean.estimate,
        "std_error": mean.std_error,
        "df": mean.df,
        "df_method": df_method,
        "conf_low": mean.estimate - half,
        "conf_high": mean.estimate + half,
    }


def plain_mean(site_years: pd.DataFrame, target: str, conf_level: float) -> MethodRow:
    """Unweighted mean of site-years, or of season means for seasons to come."""
    gains, shared = site_years["gain"].to_numpy(float), shared_error(site_years)
    warnings = {"warnings": ON_THE_SAME_PLOTS if shared else ""}
    notes = (rules.ADJUSTMENTS["plots in the plain mean"],) if shared else ()
    if target == TO_COME:
        mean = two_stage.season_means(gains, site_years["season"].to_numpy(), shared=shared)
        row = interval(mean, conf_level, "seasons less 1")
        return MethodRow(row | {"formula": "mean of the season means"} | warnings, notes)
    row = interval(two_stage.plain_mean(gains, shared), conf_level, "site-years less 1")
    row = at_least(row, place_clusters(site_years), conf_level, PLACES)
    return MethodRow(row | {"formula": "mean of the site-year gains"} | warnings, notes)


def place_clusters(site_years: pd.DataFrame) -> two_stage.Mean:
    """The plain mean with its places as clusters (CR2); where no two site-years share a place, the plain mean."""
    gains, places = site_years["gain"].to_numpy(float), site_years["place"].to_numpy()
    if not rules.FEWEST_PLACES <= len(set(places)) < len(gains):
        return two_stage.plain_mean(gains)
    return cluster_robust.clustered_mean(gains, np.ones(len(gains)), places)


def observed(site_years: pd.DataFrame, target: str, conf_level: float) -> dict:
    """Range for the observed result of one new trial; only within the seasons tested. site_years: 2 or more."""
    if target == TO_COME:
        return {}
    low, high = two_stage.observed_range(site_years["gain"].to_numpy(float), conf_level)
    return {"observed_low": low, "observed_high": high}


def known_errors(site_years: pd.DataFrame, error: str = "std_error") -> tuple[pd.DataFrame, str]:
    """Site-years whose standard error is known and above zero, and a warning that counts the others."""
    known = site_years[site_years[error] > 0]
    n_zero, n_unknown = int(site_years[error].eq(0).sum()), int(site_years[error].isna().sum())
    unknown = _left_out(n_unknown, "without plot error") if n_unknown else ""
    zero = f"{_left_out(n_zero, 'whose standard error is exactly zero')}: no field is without error" if n_zero else ""
    return known, joined([unknown, zero])


def _left_out(n: int, which: str) -> str:
    return f"1 site-year {which} is left out" if n == 1 else f"{n} site-years {which} are left out"


def meta_analysis(site_years: pd.DataFrame, target: str, conf_level: float) -> MethodRow:
    """Random-effects meta-analysis by REML; Knapp-Hartung, or season means for seasons to come."""
    known, warning = known_errors(site_years)
    n_seasons = known["season"].nunique()
    if not rules.rule_for(target, len(known), n_seasons).has_estimate:
        return MethodRow({"warnings": warning})
    row = weighted_mean(known, target, conf_level)
    values, variances, loads = independent_gains(known)
    spread = two_stage.heterogeneity(values, variances, loads)
    if target == TO_COME:
        row["formula"] = "mean of the season means, site-years weighted by 1 / (SE^2 + tau2), REML"
    else:
        row["formula"] = "site-year gains weighted by 1 / (SE^2 + tau2), REML"
        row |= _fiducial(known, row["tau2"], conf_level)
    row |= {"q_stat": spread.q_stat, "i2_pct": spread.i2_pct, "warnings": warning}
    components = {
        "tau2, two-stage REML": row["tau2"],
        "tau2, two-stage DerSimonian-Laird": two_stage.tau2_dersimonian_laird(values, variances, loads),
        "tau2, two-stage Paule-Mandel": two_stage.tau2_paule_mandel(values, variances, loads),
    }
    return MethodRow(counts(known) | row, components=components if target == TESTED else {})


def clustered(site_years: pd.DataFrame, conf_level: float) -> MethodRow:
    """For seasons to come: all site-years by 1 / (SE^2 + tau2), the standard error by season clusters (CR2)."""
    known, warning = known_errors(site_years)
    if not rules.rule_for(TO_COME, len(known), known["season"].nunique()).has_estimate:
        return MethodRow({"warnings": warning})
    gains, variances = known["gain"].to_numpy(float), known["std_error"].to_numpy(float) ** 2
    values, of_values, loads = independent_gains(known)
    variances = variances + two_stage.tau2_reml(values, of_values, loads)
    mean = cluster_robust.clustered_mean(gains, variances, known["season"].to_numpy())
    if shared := shared_error(known):  # the same plots in other seasons
        weights = 1 / variances / np.sum(1 / variances)
        mean = replace(mean, std_error=float(np.sqrt(mean.std_error**2 + weights @ shared.covariance @ weights)))
    row = interval(mean, conf_level, "Satterthwaite, seasons as clusters (CR2)")
    formula = "site-year gains weighted by 1 / (SE^2 + tau2), REML; clustered by season"
    return MethodRow(counts(known) | row | {"formula": formula, "warnings": warning})


def independent_gains(known: pd.DataFrame, error: str = "std_error") -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(values, variances, loads) of site-years with known errors, as two_stage.independent gives them."""
    errors = known[error].to_numpy(float)
    shared = shared_error(known, errors / known["std_error"].to_numpy(float))
    values, loads, variances = two_stage.independent(known["gain"].to_numpy(float), errors**2, shared)
    return values, variances, loads


def weighted_mean(
    known: pd.DataFrame,
    target: str,
    conf_level: float,
    *,
    tau2: Callable[..., float] = two_stage.tau2_reml,
    error: str = "std_error",
) -> dict:
    """tau2 by this estimator, and the interval of the mean at it: Knapp-Hartung, or of season means for seasons to
    come.
    """
    values, variances, loads = independent_gains(known, error)
    spread = tau2(values, variances, loads)
    if target == TO_COME:
        gains, errors = known["gain"].to_numpy(float), known[error].to_numpy(float)
        shared = shared_error(known, errors / known["std_error"].to_numpy(float))
        mean = two_stage.season_means(gains, known["season"].to_numpy(), 1 / (errors**2 + spread), shared)
        return interval(mean, conf_level, "seasons less 1") | {"tau2": spread}
    mean = two_stage.random_effects_mean(values, variances, spread, loads)
    return interval(mean, conf_level, "Knapp-Hartung, site-years less 1") | {"tau2": spread}


def mixed_model(site_years: pd.DataFrame, blocks: pd.DataFrame, target: str, conf_level: float) -> MethodRow:
    """The mixed model of the block gains with its capped df, guards and prediction interval."""
    model = one_stage.fit_gains(blocks, target)
    if model is None:
        return MethodRow()
    first = model.fit.coefficients.iloc[0]
    df = one_stage.capped_df(first["df"], model)
    mean = two_stage.Mean(float(first["estimate"]), float(first["std_error"]), df)
    at_zero = model.terms_at_zero()
    row = model_interval(mean, site_years, target, conf_level, terms=model.terms, at_zero=at_zero)
    notes = guard_notes(site_years, target, terms=model.terms, at_zero=at_zero)
    if model.has_no_spread:
        notes.append(rules.ADJUSTMENTS["singular"])
    else:
        row |= _predicted(model, site_years, target, conf_level)
    row |= {"tau2": model.tau2, "formula": model.fit.formula, "warnings": joined(list(model.warnings))}
    return MethodRow(row, tuple(notes), model.components())


def model_interval(
    mean: two_stage.Mean, site_years: pd.DataFrame, target: str, conf_level: float, *, terms, at_zero
) -> dict:
    """The model's t interval, guarded where a variance that few groups speak for is estimated as zero.

    terms: the random terms of the model; at_zero: those of them whose variance is zero.
    """
    row = interval(mean, conf_level, "Satterthwaite, at most site-years less 1")
    for _, df_method, guard in _guards(site_years, target, terms, at_zero):
        row = at_least(row, guard(), conf_level, df_method)
    return row


def guard_notes(site_years: pd.DataFrame, target: str, *, terms, at_zero) -> list[str]:
    """What the rule sentence must add where a guard stood beside the model."""
    return [rules.ADJUSTMENTS[name] for name, _, _ in _guards(site_years, target, terms, at_zero)]


def _guards(
    site_years: pd.DataFrame, target: str, terms, at_zero
) -> Iterator[tuple[str, str, Callable[[], two_stage.Mean]]]:
    """(adjustment, df_method, the mean whose interval stands beside the model's)."""
    gains, shared = site_years["gain"].to_numpy(float), shared_error(site_years)
    if "season" in at_zero:
        yield (
            "season zero",
            SEASON_MEANS,
            lambda: two_stage.season_means(gains, site_years["season"].to_numpy(), shared=shared),
        )
    if "place" in at_zero and target == TESTED and rules.places_are_few(site_years["place"].nunique()):
        yield "place zero", PLACES, lambda: place_clusters(site_years)
    if shared and target == TESTED and ("plots" in at_zero or "plots" not in terms):
        yield "plots zero", SHARED, lambda: two_stage.plain_mean(gains, shared)


def no_narrower(row: dict, tested: dict, conf_level: float) -> dict:
    """A row for seasons to come, as wide as that for the seasons tested of the same site-years (to SAME_WIDTH), or
    wider.

    The two share their mean; that other seasons differ can only be added to the doubt about it.
    """
    if "estimate" not in row or "estimate" not in tested:
        return row
    guard = two_stage.Mean(tested["estimate"], tested["std_error"], tested["df"])
    return at_least(row, guard, conf_level, AS_TESTED)


def at_least(row: dict, guard: two_stage.Mean, conf_level: float, df_method: str) -> dict:
    """The row itself, or its estimate with the interval of the guard if that is wider."""
    if guard.half_width(conf_level) <= (row["conf_high"] - row["estimate"]) * (1 + SAME_WIDTH):
        return row
    guarded = two_stage.Mean(row["estimate"], guard.std_error, guard.df)
    return row | interval(guarded, conf_level, df_method)


def with_prediction_beyond(row: dict, conf_level: float) -> dict:
    """A prediction interval that does not reach past the mean's own is drawn anew with the mean's standard error and
    df.

    A guard can widen the mean's interval alone, and one field's gain is never known better than the mean.
    """
    if pd.isna(row.get("pred_low")) or (row["pred_low"] < row["conf_low"] and row["conf_high"] < row["pred_high"]):
        return row
    low, high = two_stage.prediction_interval_t(row["estimate"], row["std_error"], row["tau2"], row["df"], conf_level)
    return row | {"pred_low": low, "pred_high": high, "pred_method": "df and standard error of the mean"}


def _fiducial(known: pd.DataFrame, tau2: float, conf_level: float) -> dict:
    if len(known) < rules.FEWEST_FOR_THE_MODEL or tau2 == 0:
        return {}
    values, variances, loads = independent_gains(known)
    low, high = two_stage.prediction_interval_fiducial(values, variances, conf_level, loads)
    method = "confidence distribution of tau2"
    return {"pred_low": low, "pred_high": high, "pred_method": method}


def _predicted(model: one_stage.OneStage, site_years, target, conf_level) -> dict:
    """Prediction interval: of the site-year gains where nothing is crossed, else of the model.

    A place variance estimated as zero counts as nothing crossed: at that boundary the
    df of the total say little.
    """
    is_crossed = target == TO_COME or not model.fit.is_zero(model.fit.variance("place"))
    if not is_crossed and (site_years["std_error"] > 0).all():
        return _fiducial(site_years, model.tau2, conf_level)
    k = len(site_years)
    least = min(max(site_years["season"].nunique() - 1, 2), k - 2)
    low, high = one_stage.prediction_interval(model, conf_level, least_df=least, most_df=k - 2)
    method = "Satterthwaite df of the total variance"
    return {"pred_low": low, "pred_high": high, "pred_method": method}
