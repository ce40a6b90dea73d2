"""Does the weather explain the gain? The four tables: slopes, what they rest on, their lines, and what they expect.

Declared covariates alone can be shown, and they alone say what to expect in the reference years: nobody is told to
expect what was looked for after the fact.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from pipeline.contract.results import blank, frame_of
from pipeline.contract.vocabulary import ALL_DIFFERENCES, BETWEEN_SEASONS, DECLARED, TESTED, TO_COME, WITHIN_SEASONS
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.frames import joined
from pipeline.estimates.where import weather_checks, weather_gains, weather_lines, weather_rules
from pipeline.estimates.where.multiplicity import holm
from pipeline.estimates.where.weather_lines import Line
from pipeline.estimates.where.weather_slopes import Slope, failed_checks, p_value, part_tests, slopes_of
from pipeline.estimates.where.weather_values import Values, values_of

TABLES = ("weather_slopes", "weather_slope_checks", "weather_lines", "weather_gains")
OF_PARTS = {
    WITHIN_SEASONS: "Satterthwaite, at most site-years less coefficients",
    BETWEEN_SEASONS: "Satterthwaite, or that of a line through the season means if wider",
}


def weather_tables(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    comparison_ids: Iterable[str],
    covariates: pd.DataFrame | None,
    reference: pd.DataFrame | None,
) -> dict[str, pd.DataFrame]:
    """The four tables by name; nothing of a comparison without covariates.

    site_year_gains and model_blocks as for pooled_gains; covariates and reference have the columns of
    trials.weather_covariates and trials.reference_covariates.
    """
    rows: dict[str, list[dict]] = {name: [] for name in TABLES}
    for comparison_id in comparison_ids if covariates is not None else ():
        asked = covariates[covariates["comparison_id"] == comparison_id]
        if asked.empty:
            continue
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        slopes = slopes_of(values_of(asked, site_years, blocks))
        known = reference[reference["comparison_id"] == comparison_id] if reference is not None else None
        for name, found in _rows(slopes, known).items():
            rows[name] += [row | {"comparison_id": comparison_id} for row in found]
    return {name: frame_of(found, name) for name, found in rows.items()}


def _rows(slopes: list[Slope], reference: pd.DataFrame | None) -> dict[str, list[dict]]:
    """The rows of one comparison's tables: adjusted p values first, then what is shown by them."""
    adjusted, beside = _adjusted(slopes), _Beside()
    lines = {(slope.values.covariate, slope.target): slope.line for slope in slopes}
    rows: dict[str, list[dict]] = {name: [] for name in TABLES}
    for slope in slopes:
        values, line = slope.values, slope.line
        key = {"target": slope.target, "covariate": values.covariate}
        rows["weather_slopes"] += [row | key for row in _slope_rows(slope, adjusted, beside)]
        if line is None:
            continue
        tested = lines[values.covariate, TESTED] if slope.target == TO_COME else None
        rows["weather_slope_checks"] += [row | key for row in weather_checks.check_rows(slope.left_out, line.slope)]
        of_line = key | {"covariate_unit": values.unit}
        rows["weather_lines"] += [row | of_line for row in weather_gains.line_rows(values, line, tested)]
        if reference is not None and values.kind == DECLARED:
            years = reference[reference["covariate"] == values.covariate]
            rows["weather_gains"] += [row | key for row in weather_gains.gain_rows(values, line, tested, years)]
    return rows


def _adjusted(slopes: list[Slope]) -> dict[tuple[str, str], tuple[float, int]]:
    """(p value by Holm, tests it counts) by covariate and target; the family is the covariates of one target and
    kind.
    """
    found = {}
    families: dict[tuple[str, str], list[Slope]] = {}
    for slope in slopes:
        families.setdefault((slope.target, slope.values.kind), []).append(slope)
    for family in families.values():
        p_values = np.array([slope.p_value for slope in family])
        for slope, p in zip(family, holm(p_values), strict=True):
            found[slope.values.covariate, slope.target] = (float(p), int(np.sum(~np.isnan(p_values))))
    return found


class _Beside:
    """What is told beside a slope and decides nothing; worked out once where targets or covariates share it."""

    def __init__(self) -> None:
        self._before: dict[tuple, float] = {}
        self._told: dict[str, dict] = {}

    def tau2_before(self, values: Values, target: str, method: str) -> float:
        """The spread without the covariate, of the same site-years (two stages: of those whose error is known)."""
        key = (method, target if method == MIXED else "", *values.site_years["site_year_id"])
        if key not in self._before:
            self._before[key] = (
                weather_lines.tau2_before(values, target) if method == MIXED else _two_stage_tau2(values)
            )
        return self._before[key]

    def told(self, values: Values) -> dict:
        """Permutations within seasons, and AICc of a line and a curve."""
        if values.covariate not in self._told:
            p, n = np.nan, None
            if not values.is_between_only:
                line = weather_lines.two_stage_line(values, TESTED)
                weights = weather_lines.weights_of(values, line)[0] if line else np.ones(len(values.x))
                n = weather_checks.N_PERMUTATIONS
                p = weather_checks.permuted(values, weights, n)
            straight, curved = weather_checks.line_and_curve(values)
            told = {"p_permutation": p, "n_permutations": n, "aicc_line": straight, "aicc_curve": curved}
            self._told[values.covariate] = told
        return self._told[values.covariate]


def _slope_rows(slope: Slope, adjusted: dict, beside: _Beside) -> list[dict]:
    values, name = slope.values, slope.values.covariate
    p_holm, n_tests = adjusted[name, slope.target]
    shared = (
        blank("weather_slopes")
        | values.counts()
        | _met(values)
        | {
            "kind": values.kind,
            "conf_level": CONF_LEVEL,
            "covariate_unit": values.unit,
            "n_tests": n_tests,
            "is_headline": False,
            "is_shown": False,
            "reason": slope.reason,
            "warnings": "",
            "part": ALL_DIFFERENCES,
        }
    )
    if slope.line is None:
        return [shared | {"method": MIXED, "is_headline": True, "rule": slope.reason}]
    shared |= {"rule": weather_rules.RESTS_ON[values.rests_on]}
    rows = []
    for method, line in slope.lines.items():
        before = {"method": method, "tau2_before": beside.tau2_before(values, slope.target, method)}
        row = shared | before | _columns(line.slope, line.df_method) | _of_line(line)
        if method == slope.method:
            failed = failed_checks(slope, p_holm, adjusted[name, TO_COME][0])
            row |= beside.told(values) | _of_headline(slope, p_holm, failed)
        rows.append(row)
    return rows + [_part_row(slope, part, shared) for part in (WITHIN_SEASONS, BETWEEN_SEASONS)]


def _met(values: Values) -> dict:
    """Where the covariate's values lie; empty where there are none."""
    if not len(values.x):
        return {}
    return {
        "center": values.center,
        "lowest": values.x.min(),
        "highest": values.x.max(),
        "within_share": values.within_share,
    }


def _of_headline(slope: Slope, p_holm: float, failed: list[str]) -> dict:
    line, tests = slope.line, part_tests(slope)
    missing = weather_rules.ADJUSTMENTS["model missing"] if slope.method != MIXED else ""
    not_shown = (
        [f"Not shown, since this does not hold: {sentence}" for sentence in failed]
        if p_holm <= weather_rules.ALPHA
        else []
    )
    return {
        "is_headline": True,
        "is_shown": slope.values.kind == DECLARED and not failed,
        "p_value_holm": p_holm,
        "carried_by": weather_rules.carried_by(line.slope.estimate, *tests.values()),
        "warnings": joined([missing, *line.warnings, *not_shown]),
    }


def _part_row(slope: Slope, part: str, shared: dict) -> dict:
    values, row = slope.values, shared | {"part": part, "method": slope.method}
    if part in slope.parts:
        return row | _columns(slope.parts[part], OF_PARTS[part])
    if values.rests_on == part:  # all differences are of this part
        return row | _columns(slope.line.slope, slope.line.df_method) | _of_line(slope.line)
    reason = "not fitted" if values.rests_on == weather_rules.BOTH_PARTS else part
    return row | {"reason": weather_rules.REASONS[reason].format(covariate=values.covariate)}


def _columns(slope: Mean, df_method: str) -> dict:
    return three_methods.interval(slope, CONF_LEVEL, df_method) | {"p_value": p_value(slope)}


def _of_line(line: Line) -> dict:
    return {
        "gain_at_center": line.gain.estimate,
        "tau2_after": line.tau2,
        "formula": line.formula,
        "warnings": joined(list(line.warnings)),
    }


def _two_stage_tau2(values: Values) -> float:
    known, _ = three_methods.known_errors(values.site_years)
    return two_stage.tau2_reml(*three_methods.independent_gains(known))
