"""The average gain of each comparison: two targets, three methods, and the rule that says which leads."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME
from pipeline.estimates.average import three_methods
from pipeline.estimates.average.three_methods import MethodRow
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import two_stage
from pipeline.estimates.engines.interval_rules import CLUSTERED, CONF_LEVEL, MIXED, PLAIN, TWO_STAGE
from pipeline.estimates.trials.shared_plots import linked_sets


def pooled_gains(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    comparison_ids: list[str],
    *,
    conf_level: float = CONF_LEVEL,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Pooled rows (three methods for each comparison and target) and variance components.

    site_year_gains are the pooled ones; model_blocks their block gains with variances
    and groups. A row without an estimate says in `rule` why there is none;
    is_headline marks the row that leads.
    """
    rows, components = [], []
    for comparison_id in comparison_ids:
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        tested: dict = {}
        for target in TARGETS:  # the seasons tested first
            found, rule = _methods(site_years, blocks, target, conf_level)
            leader, sentence = leading(found, rule, site_years)
            if rule.has_estimate:
                sentence = f"{sentence} {rules.place_sentence(site_years['place'].nunique())}".strip()
            if target == TO_COME:
                found[leader], sentence = _guarded(found[leader], tested, sentence, conf_level)
            tested = found[leader].columns
            key = {"comparison_id": comparison_id, "target": target}
            rows += _rows(key, site_years, found, leader, sentence, conf_level)
            components += _components(key, found)
    return frame_of(rows, "pooled_gains"), frame_of(components, "variance_components")


def model_blocks(block_gains: pd.DataFrame, trials: pd.DataFrame, site_year_gains: pd.DataFrame) -> pd.DataFrame:
    """Block gains of these site-years with the columns that the mixed model groups by.

    plots: the same for a block that comes back on its very plots in another season.
    """
    groups = trials[["trial_id", "site_year_id", "place", "season", *trials.columns.intersection(["plot_set"])]]
    kept = site_year_gains[["comparison_id", "site_year_id", "drainage_group", "rainfall_class"]]
    blocks = block_gains.merge(groups, on="trial_id").merge(kept, on=["comparison_id", "site_year_id"])
    first = linked_sets(blocks).fillna(blocks["trial_id"])
    return blocks.assign(plots=first + " block " + blocks["block"].astype(str))


def _methods(site_years, blocks, target, conf_level) -> tuple[dict[str, MethodRow], rules.Rule]:
    """The three methods' rows, as far as the rule for these counts lets them speak."""
    rule = rules.rule_for(target, len(site_years), site_years["season"].nunique())
    found = {method: MethodRow() for method in rules.METHODS}
    if rule.has_estimate:
        found[PLAIN] = three_methods.plain_mean(site_years, target, conf_level)
        found[TWO_STAGE] = three_methods.meta_analysis(site_years, target, conf_level)
    if rule.has_estimate and rule.headline == MIXED:
        found[MIXED] = three_methods.mixed_model(site_years, blocks, target, conf_level)
    if rule.has_estimate and target == TO_COME:
        found[CLUSTERED] = three_methods.clustered(site_years, conf_level)
    return found, rule


def _guarded(row: MethodRow, tested: dict, sentence: str, conf_level) -> tuple[MethodRow, str]:
    """The headline for seasons to come, no narrower than that for the seasons tested, and its sentence."""
    columns = three_methods.no_narrower(row.columns, tested, conf_level)
    if columns is row.columns:
        return row, sentence
    return replace(row, columns=columns), f"{sentence} {rules.ADJUSTMENTS['no narrower']}"


def _rows(key, site_years, found, leader, sentence, conf_level) -> list[dict]:
    shared = (
        three_methods.NO_ESTIMATE
        | key
        | {
            "moderator": "all",
            "level": "all",
            "conf_level": conf_level,
            "n_unknown": 0,
            "rule": sentence,
            "warnings": "",
        }
    )
    return [
        shared
        | three_methods.counts(site_years)
        | {"method": method, "is_headline": method == leader}
        | three_methods.with_prediction_beyond(row.columns, conf_level)
        | (three_methods.observed(site_years, key["target"], conf_level) if row.has_estimate else {})
        for method, row in found.items()
    ]


def leading(found: dict[str, MethodRow], rule: rules.Rule, site_years: pd.DataFrame) -> tuple[str, str]:
    """The method that leads, and the sentence that says why."""
    if rule.headline != MIXED:
        return rule.headline, " ".join([rule.sentence, *found[rule.headline].notes])
    model = found[MIXED]
    if not model.has_estimate:
        leader = instead_of_the_model(site_years, rule.target)
        why = f"{rules.ADJUSTMENTS['not fitted']} Instead the {leader} leads."
        return leader, " ".join([why, *found[leader].notes])
    columns = model.columns
    # site-years alike, for both targets: season means also weigh seasons alike, which is another matter
    site_years_alike = two_stage.plain_mean(site_years["gain"].to_numpy(float)).estimate
    if rules.disagrees(columns["estimate"], columns["std_error"], site_years_alike):
        return PLAIN, " ".join([rule.sentence, rules.ADJUSTMENTS["disagreement"], *model.notes, *found[PLAIN].notes])
    return MIXED, " ".join([rule.sentence, *model.notes])


def instead_of_the_model(site_years: pd.DataFrame, target: str) -> str:
    """The method that leads where the mixed model should and cannot be fitted."""
    all_known = target == TESTED and (site_years["std_error"] > 0).all()
    return TWO_STAGE if all_known else PLAIN


def _components(key: dict, found: dict[str, MethodRow]) -> list[dict]:
    return [
        key | {"component": name, "variance": variance}
        for row in found.values()
        for name, variance in row.components.items()
    ]
