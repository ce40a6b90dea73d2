"""Where the gain is larger: by drainage group, rainfall class, and both together.

One interaction model per moderator with a common spread between site-years, and
the separate mean of each class beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pandas as pd
from scipy import stats

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import BY_BOTH, BY_DRAINAGE, BY_RAINFALL, TARGETS, TO_COME
from pipeline.estimates.average import three_methods
from pipeline.estimates.average.three_methods import MethodRow
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import one_stage, two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED, PLAIN
from pipeline.estimates.frames import joined
from pipeline.estimates.where import multiplicity

MODERATORS = {
    BY_DRAINAGE: ("drainage_group",),
    BY_RAINFALL: ("rainfall_class",),
    BY_BOTH: ("drainage_group", "rainfall_class"),
}
# The model of all classes: blocks and target, the classes of the blocks as `levels`.
Fit = Callable[..., one_stage.OneStage | None]
# Below this many df for spread, after one mean per class, the model is not asked.
FEWEST_DF = 3


def breakdowns(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    comparison_ids: list[str],
    *,
    moderators: Mapping[str, tuple[str, ...]] = MODERATORS,
    conf_level: float = CONF_LEVEL,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows by class (two methods for each class, moderator and target) and interaction tests.

    Site-years of unknown or mixed class are left out of that breakdown and counted in n_unknown.
    """
    rows, tests = [], []
    for comparison_id in comparison_ids:
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        for moderator, columns in moderators.items():
            key = {"comparison_id": comparison_id, "moderator": moderator}
            found, of_test = of_both_targets(key, site_years, blocks, columns, conf_level=conf_level)
            rows, tests = rows + found, tests + of_test
    return frame_of(rows, "pooled_gains"), frame_of(tests, "interaction_tests", without=multiplicity.ADJUSTED)


def levels_of(frame: pd.DataFrame, columns: tuple[str, ...]) -> pd.Series:
    """The class of each row ('P', 'wet', 'P x wet'); None where a part is unknown."""
    known = frame[list(columns)].notna().all(axis=1)
    text = frame[list(columns)].astype(str).agg(" x ".join, axis=1) if len(frame) else pd.Series(dtype=object)
    return text.where(known, None).astype(object)


def of_both_targets(
    key: dict,
    site_years: pd.DataFrame,
    blocks: pd.DataFrame,
    columns: tuple[str, ...],
    *,
    conf_level: float,
    fit: Fit = one_stage.fit_gains,
) -> tuple[list[dict], list[dict]]:
    """Rows by class and interaction tests of one breakdown; `fit` is the model of all classes together."""
    rows, tests, tested = [], [], {}
    for target in TARGETS:  # the seasons tested first
        found, test = _break_down(site_years, blocks, columns, target, conf_level, fit)
        found = [_no_narrower(row, tested, conf_level) for row in found]
        tested = {row["level"]: row for row in found if row["is_headline"]}
        rows += [three_methods.NO_ESTIMATE | key | {"target": target} | row for row in found]
        tests += [key | {"target": target} | test] if test else []
    return rows, tests


def _break_down(site_years, blocks, columns, target, conf_level, fit) -> tuple[list[dict], dict | None]:
    levels = levels_of(site_years, columns)
    known, levels = site_years[levels.notna()], levels.dropna()
    n_unknown = len(site_years) - len(known)
    if known.empty:
        return [], None
    of_blocks = levels_of(blocks, columns)
    n_site_years = known["site_year_id"].nunique()
    rule = rules.rule_for(target, n_site_years, known["season"].nunique())
    model = None
    if rule.headline == MIXED and n_site_years - levels.nunique() >= FEWEST_DF:
        model = fit(blocks[of_blocks.notna()], target, levels=of_blocks.dropna())
    separate_lead = _spread_differs(known, levels)
    rows = []
    for level, of_level in known.groupby(levels):
        shared = {"level": level, "conf_level": conf_level, "n_unknown": n_unknown}
        common = _common_row(model, level, conf_level, of_level, target, is_whole=levels.nunique() == 1)
        rows += [shared | row for row in _level_rows(of_level, common, target, conf_level, separate_lead)]
    test = {"n_levels": levels.nunique(), "n_site_years": n_site_years, "n_unknown": n_unknown}
    return rows, test | _test(model, levels.nunique())


def _spread_differs(known: pd.DataFrame, levels: pd.Series) -> bool:
    """Whether every class has 6 site-years and their SDs differ more than twofold."""
    sizes, sds = known.groupby(levels).size(), known["gain"].groupby(levels).std(ddof=1)
    if sizes.min() < rules.FEWEST_FOR_THE_MODEL:
        return False
    return bool(sds.max() > rules.NOTABLE_SD_RATIO * sds.min())


def _level_rows(of_level, common, target, conf_level, separate_lead) -> list[dict]:
    counts = three_methods.counts(of_level)
    found = {MIXED: MethodRow(), PLAIN: MethodRow()}
    if counts["shown_as"] != "count":
        found[MIXED] = common
        found[PLAIN] = _separate_row(of_level, counts, target, conf_level)
    leader = PLAIN if found[PLAIN].has_estimate and (separate_lead or not found[MIXED].has_estimate) else MIXED
    sentence = _sentence(counts, found, leader, target)
    return [
        counts | {"method": method, "is_headline": method == leader, "rule": sentence, "warnings": ""} | row.columns
        for method, row in found.items()
    ]


def _common_row(
    model: one_stage.OneStage | None,
    level: str,
    conf_level: float,
    of_level: pd.DataFrame,
    target: str,
    *,
    is_whole: bool,
) -> MethodRow:
    """The class mean from the interaction model; df no more than site-years less classes.

    is_whole: the only class there is; it is the average of its site-years and has the average's guards.
    """
    if model is None:
        return MethodRow()
    term = "(Intercept)" if is_whole else f"level{level}"
    coefficients = model.fit.coefficients
    (found,) = coefficients[coefficients["term"] == term].to_dict("records")
    df = one_stage.capped_df(found["df"], model)
    mean = two_stage.Mean(float(found["estimate"]), float(found["std_error"]), df)
    row = three_methods.interval(mean, conf_level, "Satterthwaite, at most site-years less classes")
    if is_whole:
        terms, at_zero = model.terms, model.terms_at_zero()
        row = three_methods.model_interval(mean, of_level, target, conf_level, terms=terms, at_zero=at_zero)
    return MethodRow(row | {"tau2": model.tau2, "formula": model.fit.formula, "warnings": joined(list(model.warnings))})


def _separate_row(of_level, counts, target, conf_level) -> MethodRow:
    """The plain mean of the class alone, from 4 site-years (and 3 seasons for seasons to come)."""
    rule = rules.rule_for(target, counts["n_site_years"], counts["n_seasons"])
    if counts["n_site_years"] < rules.FEWEST_FOR_A_SEPARATE_MEAN or not rule.has_estimate:
        return MethodRow()
    return three_methods.plain_mean(of_level, target, conf_level)


def _no_narrower(row: dict, tested: dict[str, dict], conf_level: float) -> dict:
    """The row that leads for seasons to come, no narrower than the class's for the seasons tested."""
    found = three_methods.no_narrower(row, tested.get(row["level"], {}), conf_level) if row["is_headline"] else row
    return found if found is row else found | {"rule": f"{row['rule']} {rules.ADJUSTMENTS['no narrower']}"}


def _sentence(counts: dict, found: dict[str, MethodRow], leader: str, target: str) -> str:
    if counts["shown_as"] == "count":
        return rules.CLASS_RULES["count"]
    if not found[leader].has_estimate:
        return rules.CLASS_RULES["to come" if target == TO_COME else "none"]
    key = "separate" if leader == PLAIN and found[MIXED].has_estimate else leader
    of_places = rules.place_sentence(counts["n_places"]) if leader == PLAIN else ""
    return " ".join(filter(None, [rules.CLASS_RULES[key], rules.CLASS_RULES[counts["shown_as"]], of_places]))


def _test(model: one_stage.OneStage | None, n_levels: int) -> dict:
    """F test that all classes gain alike; denominator df as for the class means."""
    if model is None or n_levels < 2:
        reason = "one class only" if n_levels < 2 else "too few site-years or seasons for an interaction model"
        return {"f_stat": None, "df1": None, "df2": None, "p_value": None, "warnings": reason}
    f_stat, df1, satterthwaite = model.fit.joint_test
    df2 = one_stage.capped_df(satterthwaite, model)
    p_value = float(stats.f.sf(f_stat, df1, df2))
    warnings = joined(list(model.warnings))
    return {"f_stat": f_stat, "df1": df1, "df2": df2, "p_value": p_value, "warnings": warnings}
