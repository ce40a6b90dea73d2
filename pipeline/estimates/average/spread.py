"""How gains differ between fields: the share that gains, by the model, and site-year gains shrunk to what they
support.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TESTED
from pipeline.estimates.average.chances import CHANCE_SHOWN, tenths
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines.crossed_units import diagonal_of_inverse, solved_at, units_of
from pipeline.estimates.engines.interval_rules import MIXED
from pipeline.estimates.engines.two_stage import SharedError
from pipeline.estimates.trials.shared_plots import shared_error

FEWEST_SITE_YEARS = rules.FEWEST_FOR_THE_MODEL
FEWEST_SEASONS = 3
NO_SPREAD = "the spread between fields cannot be estimated: no share is given"


def field_shares(pooled_gains: pd.DataFrame, break_even_gains: Mapping[str, float] | None = None) -> pd.DataFrame:
    """Model-based share of fields whose true gain lies above zero (and above the break-even gain), columns of
    field_shares.

    share = normal probability at (headline - threshold) / tau, plot noise not in it; in
    tenths, 1 to 9; beyond CHANCE_SHOWN no share, and 0 or 10 tenths. Where the gates hold it back, `reason` says why.
    break_even_gains: comparison_id -> gain in the unit of the estimates.
    """
    rows = []
    overall = pooled_gains[pooled_gains["moderator"] == "all"]
    for (comparison_id, target), found in overall.groupby(["comparison_id", "target"], sort=False):
        thresholds = {"zero": 0.0}
        if break_even_gains and comparison_id in break_even_gains:
            thresholds["break-even"] = break_even_gains[comparison_id]
        for above, threshold in thresholds.items():
            key = {"comparison_id": comparison_id, "target": target, "above": above, "threshold": threshold}
            rows.append(key | _share(found, threshold))
    return frame_of(rows, "field_shares")


def _share(found: pd.DataFrame, threshold: float) -> dict:
    headline = found[found["is_headline"]].iloc[0]
    model = found[found["method"] == MIXED].iloc[0]
    row = {name: headline[name] for name in ("n_site_years", "n_seasons")}
    row |= {"share": None, "tenths": None, "tau": None, "reason": ""}
    if row["n_site_years"] < FEWEST_SITE_YEARS or row["n_seasons"] < FEWEST_SEASONS:
        few = f"fewer than {FEWEST_SITE_YEARS} site-years or {FEWEST_SEASONS} seasons"
        return row | {"reason": f"{few}: no share is given"}
    # the model predicts nothing where it finds no spread beyond plot error
    if pd.isna(headline["estimate"]) or pd.isna(model["pred_low"]):
        return row | {"reason": NO_SPREAD}
    row["tau"] = float(np.sqrt(model["tau2"]))
    share = float(stats.norm.cdf((headline["estimate"] - threshold) / row["tau"]))
    row["tenths"] = int(tenths(share))
    least, most = CHANCE_SHOWN
    if least <= share <= most:
        return row | {"share": share}
    beyond = f"below {100 * least:.0f}%" if share < least else f"above {100 * most:.0f}%"
    return row | {"reason": f"{beyond}: not given as a number"}


def shrunken_gains(site_year_gains: pd.DataFrame, pooled_gains: pd.DataFrame, components: pd.DataFrame) -> pd.DataFrame:
    """Each site-year's gain drawn toward the others', columns of shrunken_gains, for the seasons tested.

    Best linear prediction of the true gain from all gains, with the place and site-year
    variances of the mixed model. None where the model finds no spread or did not lead to one.
    """
    rows = []
    model = pooled_gains[(pooled_gains["method"] == MIXED) & (pooled_gains["target"] == TESTED)]
    model = model[(model["moderator"] == "all") & model["pred_low"].notna()]
    for comparison_id in model["comparison_id"]:
        of_comparison = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        known = of_comparison[of_comparison["std_error"].notna()]
        variance = _variances(components, comparison_id)
        if "site-year" not in variance or known.empty:
            continue
        errors = known["std_error"].to_numpy(float) ** 2
        errors = errors + variance.get("trial", 0.0) / known["n_trials"].to_numpy(float)
        predicted, std_errors = best_prediction(
            known["gain"].to_numpy(float),
            errors,
            variance["site-year"],
            places=known["place"].to_numpy(),
            place_variance=variance.get("place", 0.0),
            shared=shared_error(known),
        )
        rows.append(
            known[["comparison_id", "site_year_id", "gain"]].assign(
                shrunken_gain=predicted, shrunken_std_error=std_errors
            )
        )
    return frame_of(pd.concat(rows) if rows else [], "shrunken_gains")


def _variances(components: pd.DataFrame, comparison_id: str) -> dict[str, float]:
    is_wanted = (components["comparison_id"] == comparison_id) & (components["target"] == TESTED)
    return dict(zip(components.loc[is_wanted, "component"], components.loc[is_wanted, "variance"], strict=True))


def best_prediction(
    gains: np.ndarray,
    error_variances: np.ndarray,
    site_year_variance: float,
    *,
    places: np.ndarray | None = None,
    place_variance: float = 0.0,
    shared: SharedError | None = None,
) -> tuple[np.ndarray, np.ndarray]:
    """Predicted true gains and their standard errors, the mean being estimated too.

    shared: what the errors of gains from the same plots have in common. Henderson 1975, Biometrics 31:423-447; with
    independent site-years the empirical Bayes estimates of Raudenbush and Bryk 1985, J. Educ. Stat. 10:75-98. With
    V = G + E the covariance of the gains, of which E is error, G V^-1 = 1 - E V^-1.
    """
    numbers = np.arange(len(gains))
    if shared is not None:
        is_same = np.eye(len(gains), dtype=bool) if places is None else np.equal.outer(places, places)
        of_true = site_year_variance * np.eye(len(gains)) + place_variance * is_same
        return _prediction_with(gains, of_true, np.diag(error_variances) + shared.covariance)
    groups = {"site_year": numbers, "place": numbers if places is None else places}
    units = units_of(gains, 1 / (site_year_variance + error_variances), groups)
    at = solved_at(units, np.array([0.0, place_variance, 1.0]))
    predicted = gains - error_variances * at.residual
    rest = error_variances * at.ones
    variances = error_variances - error_variances**2 * diagonal_of_inverse(at) + rest**2 * at.variance
    return predicted, np.sqrt(variances)


def _prediction_with(gains: np.ndarray, of_true: np.ndarray, errors: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The same from whole matrices: covariances of the true gains and of their errors."""
    inverse = np.linalg.inv(of_true + errors)
    ones = inverse.sum(axis=1)
    projected = inverse - np.outer(ones, ones) / ones.sum()
    of_errors = errors @ projected
    return gains - of_errors @ gains, np.sqrt(np.diag(errors - of_errors @ errors))
