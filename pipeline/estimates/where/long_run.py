"""The average gain at long-run weather: class gains reweighted to how often each class comes.

The seasons tested may have been wetter than usual, and the spring is not known when
nitrogen is bought, so money for growers uses this average. One mixed model with
drainage group and rainfall class additive gives the class gains; the weights are the
rainfall classes' shares in the fixed reference period, taken as known.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import RAINFALL_CLASSES, TARGETS, TO_COME
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import one_stage, two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED
from pipeline.estimates.frames import joined
from pipeline.estimates.trials.shared_plots import shared_error
from pipeline.estimates.where.breakdown import FEWEST_DF

CLASSES = ["drainage_group", "rainfall_class"]  # a site-year without one of them does not count
MOST_UNMET = 0.20
# What a row leaves empty that says only why there is no average.
NO_AVERAGE = dict.fromkeys(
    ("estimate", "std_error", "df", "df_method", "conf_low", "conf_high", "tau2", "tau2_within_classes",
     "tau2_between_classes", "classes_met", "classes_unmet", "unmet_share", "formula")
)  # fmt: skip
TOO_FEW_FOR_CLASSES = (
    "{n} site-years are too few for the gains of these drainage groups and rainfall classes, which need {needed}"
)
CONFOUNDED = {
    "classes": "drainage groups and rainfall classes cannot be separated in these site-years",
    "seasons": "each rainfall class was met in seasons of its own, so season and class cannot be separated",
}


def class_shares(reference_classes: pd.DataFrame) -> pd.DataFrame:
    """Share of reference years in each rainfall class, columns of class_shares.

    reference_classes: crop, place, rainfall_class, one row per year of the fixed
    reference period, classed by the same rule as the seasons tested; unknown years
    are left out.
    """
    known = reference_classes[reference_classes["rainfall_class"].notna()]
    if known.empty:
        return frame_of([], "class_shares")
    counts = known.groupby(["crop", "place"])["rainfall_class"].value_counts(normalize=True)
    return frame_of(counts.rename("share").reset_index(), "class_shares")


def shares_at(places: pd.Series, shares: pd.DataFrame) -> pd.DataFrame:
    """One row per entry of places, one column per rainfall class, rows adding to 1.

    shares: place, rainfall_class, share, of one crop. A place without shares of its own
    takes the mean of the places that have them.
    """
    table = shares.pivot_table(index="place", columns="rainfall_class", values="share", aggfunc="sum")
    table = table.reindex(columns=list(RAINFALL_CLASSES)).fillna(0.0)
    table = table.div(table.sum(axis=1), axis=0)
    return table.reindex(places).fillna(table.mean()).reset_index(drop=True)


def long_run_gains(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    shares: pd.DataFrame,
    comparison_ids: Iterable[str],
    *,
    conf_level: float = CONF_LEVEL,
) -> pd.DataFrame:
    """One row per comparison and target, columns of long_run_gains, in the unit of gain.

    site_year_gains and model_blocks as for pooled_gains; shares as class_shares gives them, of each
    comparison's crop, with its comparison_id. A row without an estimate says why in `reason`.
    tau2, between fields and seasons, is the spread within classes and between them; it is
    missing where the model finds none within classes, which with few site-years is chance.
    """
    rows = []
    for comparison_id in comparison_ids:
        site_years, blocks, of_crop = (
            frame[frame["comparison_id"] == comparison_id] for frame in (site_year_gains, model_blocks, shares)
        )
        tested: dict = {}
        for target in TARGETS:  # the seasons tested first
            row = _long_run(site_years, blocks, of_crop, target, conf_level)
            if target == TO_COME:
                row = _no_narrower(row, tested, conf_level)
            tested = row
            key = {"comparison_id": comparison_id, "target": target, "conf_level": conf_level}
            rows.append(NO_AVERAGE | key | row)
    return frame_of(rows, "long_run_gains")


def _long_run(site_years, blocks, shares, target, conf_level) -> dict:
    """The row of one comparison and target, or why there is none."""
    known = site_years[site_years[CLASSES].notna().all(axis=1)].reset_index(drop=True)
    blocks = blocks[blocks[CLASSES].notna().all(axis=1)].reset_index(drop=True)
    row = _counts(known, len(site_years) - len(known))
    if shares.empty:
        return row | {"reason": "no rainfall history to weight the classes by"}
    rule = rules.rule_for(target, row["n_site_years"], row["n_seasons"])
    if rule.headline != MIXED:
        short = "" if not rule.has_estimate else " Class gains need 6 site-years of known class."
        return row | {"reason": rule.sentence + short}
    weights = shares_at(known["place"], shares)
    met = [name for name in RAINFALL_CLASSES if (known["rainfall_class"] == name).any()]
    row |= _classes(weights.mean(), met)
    if row["unmet_share"] > MOST_UNMET + 1e-9:
        percent = f"{100 * row['unmet_share']:.0f}%"
        return row | {"reason": f"{percent} of reference years fall in classes not met yet: {row['classes_unmet']}"}
    return row | _estimated(known, blocks, weights[met], target, conf_level)


def _counts(known: pd.DataFrame, n_unknown: int) -> dict:
    counts = three_methods.counts(known)
    return {name: counts[name] for name in ("n_site_years", "n_places", "n_seasons")} | {
        "n_unknown": n_unknown,
        "reason": "",
        "warnings": "",
    }


def _classes(mean_shares: pd.Series, met: list[str]) -> dict:
    unmet = [name for name in RAINFALL_CLASSES if name not in met and mean_shares[name] > 0]
    return {
        "classes_met": ", ".join(met),
        "classes_unmet": ", ".join(unmet),
        "unmet_share": float(mean_shares[unmet].sum()),
    }


def _estimated(known, blocks, weights, target, conf_level) -> dict:
    """Estimate, delta-method standard error and spread, from one fit of the block gains."""
    design = _design(blocks)
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return {"reason": CONFOUNDED["classes"]}
    if len(known) - design.shape[1] < FEWEST_DF:
        needed = design.shape[1] + FEWEST_DF
        return {"reason": TOO_FEW_FOR_CLASSES.format(n=len(known), needed=needed)}
    if target == TO_COME and _spare_seasons(known) < 1:
        return {"reason": CONFOUNDED["seasons"]}
    mix, combined = _mix(known, weights, list(design.columns))
    model = _fit(blocks, design, combined, target)
    if model is None:
        return {"reason": rules.ADJUSTMENTS["not fitted"]}
    coefficients, covariance = model.fit.coefficients["estimate"].to_numpy(), model.fit.covariance
    df = one_stage.capped_df(model.fit.joint_test[2], model)
    mean = two_stage.Mean(float(combined @ coefficients), float(np.sqrt(combined @ covariance @ combined)), df)
    row = three_methods.interval(mean, conf_level, "Satterthwaite, at most site-years less classes")
    warnings = list(model.warnings)
    if "season" in model.terms and model.fit.is_zero(model.fit.variance("season")):
        at_long_run = _gains_at_long_run(known, design.columns, combined, coefficients)
        row = _wider(row, at_long_run, known, conf_level)
        warnings.append(rules.ADJUSTMENTS["season zero, long run"])
    between = _between(mix, coefficients, covariance)
    if model.has_no_spread:
        warnings.append(rules.ADJUSTMENTS["singular"])
    return row | {
        "tau2": np.nan if model.has_no_spread else model.tau2 + between,
        "tau2_within_classes": model.tau2,
        "tau2_between_classes": between,
        "formula": f"{model.fit.formula}; reweighted to reference shares",
        "warnings": joined(warnings),
    }


def _design(frame: pd.DataFrame) -> pd.DataFrame:
    """Intercept and one column for each further drainage group and rainfall class."""
    columns = {"mean": np.ones(len(frame))}
    for name in CLASSES:
        for level in sorted(frame[name].unique())[1:]:
            columns[f"{name}_{level}"] = (frame[name] == level).astype(float)
    return pd.DataFrame(columns, index=frame.index)


def _mix(known, weights, columns) -> tuple[pd.DataFrame, np.ndarray]:
    """The long-run mix: each site-year's drainage group in each class met, with its weight; and its mean.

    A place all of whose reference years fall in classes not met takes the mean of the others.
    """
    weights = weights.div(weights.sum(axis=1), axis=0)
    weights = weights.fillna(weights.mean())
    parts = []
    for name in weights:
        as_if = _rows_as(known.assign(rainfall_class=name), columns)
        parts.append(as_if.assign(weight=weights[name].to_numpy() / len(known)))
    mix = pd.concat(parts, ignore_index=True)
    return mix, mix["weight"].to_numpy() @ mix[columns].to_numpy()


def _rows_as(frame: pd.DataFrame, columns) -> pd.DataFrame:
    """Rows of the design for these classes, with the columns of the fitted one."""
    found = {"mean": np.ones(len(frame))}
    for column in list(columns)[1:]:
        name, level = column.rsplit("_", 1)
        found[column] = (frame[name] == level).to_numpy(float)
    return pd.DataFrame(found)


def _fit(blocks, design, combined, target) -> one_stage.OneStage | None:
    terms = one_stage.terms_for(blocks, target, levels=blocks["rainfall_class"])
    # seasons that go with the rainfall classes leave nothing to tell how much seasons differ
    if not terms or (set(one_stage.terms_for(blocks, target)) - set(terms)) & {"season", "place"}:
        return None
    fixed = f"0 + {' + '.join(design.columns)}"
    return one_stage.fit_terms(blocks, terms, fixed, design, contrasts=combined[None, :])


def _gains_at_long_run(known, columns, combined, coefficients) -> np.ndarray:
    """Site-year gains, each moved from its own class to the long-run mix."""
    own = _rows_as(known, columns).to_numpy() @ coefficients
    return known["gain"].to_numpy(float) - own + combined @ coefficients


def _spare_seasons(known: pd.DataFrame) -> int:
    """Seasons beyond those that the class gains use up: what is left to see how seasons of one class differ."""
    shares = pd.crosstab(known["season"], known["rainfall_class"], normalize="index")
    return len(shares) - int(np.linalg.matrix_rank(shares.to_numpy()))


def _wider(row: dict, gains: np.ndarray, known: pd.DataFrame, conf_level: float) -> dict:
    """The wider of the model's interval and that of the season means, both scaled by the seasons that are left.

    The class gains were fitted to the same seasons and drew their means together, so both errors come out too small
    where few seasons are left. The factor, the root of (seasons - 1) / (seasons left), was found by simulation, not
    derived. Of 400 programs each on five layouts and spreads (22 to 35 site-years, 4 or 5 seasons of which 1 or 2 are
    left, seasons carrying a half or four fifths of the spread) 15 to 39% came to a season variance of zero; 93 to 99%
    of their intervals held the truth, against 89 to 93% with the season means alone scaled; of all, 98 to 100%. On the
    hardest layout tried (32 site-years, 4 seasons, 1 left) it was 91% of those at zero.
    """
    means = two_stage.season_means(gains, known["season"].to_numpy(), shared=shared_error(known))
    # not means.df, which are fewer where plots that come back share an error
    scale = np.sqrt((known["season"].nunique() - 1) / _spare_seasons(known))
    guard = two_stage.Mean(row["estimate"], means.std_error * scale, means.df)
    model = two_stage.Mean(row["estimate"], row["std_error"] * scale, row["df"])
    widened = three_methods.interval(model, conf_level, f"{row['df_method']}; scaled by the seasons left")
    return three_methods.at_least(widened, guard, conf_level, three_methods.SEASON_MEANS)


def _no_narrower(row: dict, tested: dict, conf_level: float) -> dict:
    found = three_methods.no_narrower(row, tested, conf_level)
    if found is row:
        return row
    return found | {"warnings": joined([row["warnings"], rules.ADJUSTMENTS["no narrower"]])}


def _between(mix: pd.DataFrame, coefficients: np.ndarray, covariance: np.ndarray) -> float:
    """Variance of true class gains over the long-run mix, freed from their own sampling error."""
    weight, rows = mix["weight"].to_numpy(), mix.drop(columns="weight").to_numpy()
    centered = rows - weight @ rows
    form = (centered * weight[:, None]).T @ centered
    return max(0.0, float(coefficients @ form @ coefficients - np.trace(form @ covariance)))
