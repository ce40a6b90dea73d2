"""What each of the three methods gives for one set of site-years: the columns of its row."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from pipeline.estimates import cluster_robust, one_stage, two_stage
from pipeline.estimates import interval_rules as rules
from pipeline.estimates.columns import joined
from pipeline.estimates.interval_rules import TESTED, TO_COME

SEASON_MEANS, AS_TESTED = "season means, seasons less 1", "as for the seasons tested"
SAME_WIDTH = 1e-3  # relative: without a season variance two fits of one model differ by their stop rule
GUARDS = (SEASON_MEANS, AS_TESTED)  # the df_method of an interval that is not the method's own


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
    gains = site_years["gain"].to_numpy(float)
    if target == TO_COME:
        mean = two_stage.season_means(gains, site_years["season"].to_numpy())
        row = interval(mean, conf_level, "seasons less 1")
        return MethodRow(row | {"formula": "mean of the season means"})
    row = interval(two_stage.plain_mean(gains), conf_level, "site-years less 1")
    return MethodRow(row | {"formula": "mean of the site-year gains"})


def observed(site_years: pd.DataFrame, target: str, conf_level: float) -> dict:
    """Range for the observed result of one new trial; only within the seasons tested."""
    if target == TO_COME or len(site_years) < rules.FEWEST_FOR_A_MEAN:
        return {}
    low, high = two_stage.observed_range(site_years["gain"].to_numpy(float), conf_level)
    return {"observed_low": low, "observed_high": high}


def known_errors(site_years: pd.DataFrame, error: str = "std_error") -> tuple[pd.DataFrame, str]:
    """Site-years whose standard error is known and above zero, and a warning that counts the others."""
    known = site_years[site_years[error].astype(float) > 0]
    n_zero, n_unknown = int(site_years[error].eq(0).sum()), int(site_years[error].isna().sum())
    unknown = f"{n_unknown} site-years without plot error are left out" if n_unknown else ""
    zero = (
        f"{n_zero} site-years whose standard error is exactly zero are left out: no field is without error"
        if n_zero
        else ""
    )
    return known, joined([unknown, zero])


def meta_analysis(site_years: pd.DataFrame, target: str, conf_level: float) -> MethodRow:
    """Random-effects meta-analysis by REML; Knapp-Hartung, or season means for seasons to come."""
    known, warning = known_errors(site_years)
    n_seasons = known["season"].nunique()
    if not rules.rule_for(target, len(known), n_seasons).has_estimate:
        return MethodRow({"warnings": warning})
    gains = known["gain"].to_numpy(float)
    variances = known["std_error"].to_numpy(float) ** 2
    tau2 = two_stage.tau2_reml(gains, variances)
    spread = two_stage.heterogeneity(gains, variances)
    row = weighted_mean(gains, variances, known["season"].to_numpy(), tau2, target, conf_level)
    if target == TO_COME:
        row["formula"] = "mean of the season means, site-years weighted by 1 / (SE^2 + tau2), REML"
    else:
        row["formula"] = "site-year gains weighted by 1 / (SE^2 + tau2), REML"
        row |= _fiducial(gains, variances, tau2, conf_level)
    row |= {"tau2": tau2, "q_stat": spread.q_stat, "i2_pct": spread.i2_pct, "warnings": warning}
    components = {
        "tau2, two-stage REML": tau2,
        "tau2, two-stage DerSimonian-Laird": two_stage.tau2_dersimonian_laird(gains, variances),
        "tau2, two-stage Paule-Mandel": two_stage.tau2_paule_mandel(gains, variances),
    }
    return MethodRow(counts(known) | row, components=components if target == TESTED else {})


def clustered(site_years: pd.DataFrame, conf_level: float) -> MethodRow:
    """For seasons to come: all site-years by 1 / (SE^2 + tau2), the standard error by season clusters (CR2)."""
    known, warning = known_errors(site_years)
    if not rules.rule_for(TO_COME, len(known), known["season"].nunique()).has_estimate:
        return MethodRow({"warnings": warning})
    gains, variances = known["gain"].to_numpy(float), known["std_error"].to_numpy(float) ** 2
    variances = variances + two_stage.tau2_reml(gains, variances)
    mean = cluster_robust.clustered_mean(gains, variances, known["season"].to_numpy())
    row = interval(mean, conf_level, "Satterthwaite, seasons as clusters (CR2)")
    formula = "site-year gains weighted by 1 / (SE^2 + tau2), REML; clustered by season"
    return MethodRow(counts(known) | row | {"formula": formula, "warnings": warning})


def weighted_mean(gains, variances, seasons, tau2: float, target: str, conf_level: float) -> dict:
    """Interval of the mean at this tau2: Knapp-Hartung, or of season means for seasons to come."""
    if target == TO_COME:
        mean = two_stage.season_means(gains, seasons, 1 / (variances + tau2))
        return interval(mean, conf_level, "seasons less 1")
    mean = two_stage.random_effects_mean(gains, variances, tau2)
    return interval(mean, conf_level, "Knapp-Hartung, site-years less 1")


def mixed_model(site_years: pd.DataFrame, blocks: pd.DataFrame, target: str, conf_level: float) -> MethodRow:
    """The mixed model of the block gains with its capped df, guards and prediction interval."""
    model = one_stage.fit_gains(blocks, target)
    if model is None:
        return MethodRow()
    first = model.fit.coefficients.iloc[0]
    df = one_stage.capped_df(first["df"], model)
    mean = two_stage.Mean(float(first["estimate"]), float(first["std_error"]), df)
    season_is_zero = "season" in model.terms and model.fit.is_zero(model.fit.variance("season"))
    row = model_interval(mean, site_years, conf_level, season_is_zero=season_is_zero)
    notes = [rules.ADJUSTMENTS["season zero"]] if season_is_zero else []
    if model.has_no_spread:
        notes.append(rules.ADJUSTMENTS["singular"])
    else:
        row |= _predicted(model, site_years, target, conf_level)
    row |= {"tau2": model.tau2, "formula": model.fit.formula, "warnings": joined(list(model.warnings))}
    return MethodRow(row, tuple(notes), model.components())


def model_interval(mean: two_stage.Mean, site_years: pd.DataFrame, conf_level: float, *, season_is_zero: bool) -> dict:
    """The model's t interval, guarded by the season means where the season variance is zero."""
    row = interval(mean, conf_level, "Satterthwaite, at most site-years less 1")
    if not season_is_zero:
        return row
    gains, seasons = site_years["gain"].to_numpy(float), site_years["season"].to_numpy()
    return at_least(row, two_stage.season_means(gains, seasons), conf_level, SEASON_MEANS)


def no_narrower(row: dict, tested: dict, conf_level: float) -> dict:
    """A row for seasons to come, as wide as that for the seasons tested of the same site-years (to SAME_WIDTH), or wider.

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
    """A prediction interval that does not reach past the mean's own is drawn anew with the mean's standard error and df.

    A guard can widen the mean's interval alone, and one field's gain is never known better than the mean.
    """
    if pd.isna(row.get("pred_low")) or (row["pred_low"] < row["conf_low"] and row["conf_high"] < row["pred_high"]):
        return row
    low, high = two_stage.prediction_interval_t(row["estimate"], row["std_error"], row["tau2"], row["df"], conf_level)
    return row | {"pred_low": low, "pred_high": high, "pred_method": "df and standard error of the mean"}


def _fiducial(gains, variances, tau2, conf_level) -> dict:
    if len(gains) < rules.FEWEST_FOR_THE_MODEL or tau2 == 0:
        return {}
    low, high = two_stage.prediction_interval_fiducial(gains, variances, conf_level)
    method = "confidence distribution of tau2"
    return {"pred_low": low, "pred_high": high, "pred_method": method}


def _predicted(model: one_stage.OneStage, site_years, target, conf_level) -> dict:
    """Prediction interval: of the site-year gains where nothing is crossed, else of the model.

    A place variance estimated as zero counts as nothing crossed: at that boundary the
    df of the total say little.
    """
    is_crossed = target == TO_COME or not model.fit.is_zero(model.fit.variance("place"))
    if not is_crossed and (site_years["std_error"] > 0).all():
        gains = site_years["gain"].to_numpy(float)
        return _fiducial(gains, site_years["std_error"].to_numpy(float) ** 2, model.tau2, conf_level)
    k = len(site_years)
    least = min(max(site_years["season"].nunique() - 1, 2), k - 2)
    low, high = one_stage.prediction_interval(model, conf_level, least_df=least, most_df=k - 2)
    method = "Satterthwaite df of the total variance"
    return {"pred_low": low, "pred_high": high, "pred_method": method}
