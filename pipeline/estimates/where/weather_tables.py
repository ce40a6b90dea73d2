"""Does the weather explain the gain? The four tables: slopes, what they rest on, their lines, and what they expect.

Declared covariates alone can be shown, and they alone say what to expect in the reference years: nobody is told to expect
what was looked for after the fact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pandas as pd

from pipeline.contract.results import blank, frame_of
from pipeline.contract.vocabulary import ALL_DIFFERENCES, BETWEEN_SEASONS, DECLARED, TESTED, TO_COME, WITHIN_SEASONS
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.frames import joined
from pipeline.estimates.where import weather_checks, weather_gains, weather_rules
from pipeline.estimates.where.multiplicity import holm
from pipeline.estimates.where.weather_lines import Line
from pipeline.estimates.where.weather_slopes import Slope, p_value, slopes_of
from pipeline.estimates.where.weather_values import Values, values_of

TABLES = ("weather_slopes", "weather_slope_checks", "weather_lines", "weather_gains")
UNKNOWN = Mean(np.nan, np.nan, np.nan)


def weather_tables(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    comparison_ids: Iterable[str],
    covariates: pd.DataFrame | None,
    reference: pd.DataFrame | None,
    *,
    progress: Callable[[str], None] | None = None,
) -> dict[str, pd.DataFrame]:
    """The four tables by name; empty without covariates.

    site_year_gains and model_blocks as for pooled_gains; covariates and reference have the columns of
    trials.weather_covariates and trials.reference_covariates.
    """
    rows: dict[str, list[dict]] = {name: [] for name in TABLES}
    for comparison_id in comparison_ids if covariates is not None else ():
        asked = covariates[covariates["comparison_id"] == comparison_id]
        if asked.empty:
            continue
        if progress:
            progress(f"{comparison_id}: what the weather explains")
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        slopes = slopes_of(values_of(asked, site_years, blocks))
        known = reference[reference["comparison_id"] == comparison_id] if reference is not None else None
        for name, found in _rows(slopes, known).items():
            rows[name] += [row | {"comparison_id": comparison_id} for row in found]
    return {name: frame_of(found, name) for name, found in rows.items()}


def _rows(slopes: list[Slope], reference: pd.DataFrame | None) -> dict[str, list[dict]]:
    """The rows of one comparison's tables: adjusted p values first, then what is shown by them."""
    adjusted = _adjusted(slopes)
    by_target = {(slope.values.covariate, slope.target): slope for slope in slopes}
    rows: dict[str, list[dict]] = {name: [] for name in TABLES}
    for slope in slopes:
        values, line = slope.values, slope.line
        key = {"target": slope.target, "covariate": values.covariate}
        rows["weather_slopes"] += [row | key for row in _slope_rows(slope, adjusted)]
        if line is None:
            continue
        tested = by_target[values.covariate, TESTED].line if slope.target == TO_COME else None
        rows["weather_slope_checks"] += [row | key for row in weather_checks.check_rows(slope.left_out, line.slope)]
        of_line = {"covariate_unit": values.unit}
        rows["weather_lines"] += [key | of_line | row for row in weather_gains.line_rows(values, line, tested)]
        if reference is not None and values.kind == DECLARED:
            years = reference[reference["covariate"] == values.covariate]
            rows["weather_gains"] += [row | key for row in weather_gains.gain_rows(values, line, tested, years)]
    return rows


def _adjusted(slopes: list[Slope]) -> dict[tuple[str, str], tuple[float, int]]:
    """(p value by Holm, tests it counts) by covariate and target; the family is the covariates of one target and kind."""
    found = {}
    families: dict[tuple[str, str], list[Slope]] = {}
    for slope in slopes:
        families.setdefault((slope.target, slope.values.kind), []).append(slope)
    for family in families.values():
        p_values = np.array([slope.p_value for slope in family])
        for slope, p in zip(family, holm(p_values), strict=True):
            found[slope.values.covariate, slope.target] = (float(p), int(np.sum(~np.isnan(p_values))))
    return found


def _part_tests(slope: Slope) -> dict[str, tuple[float, float]]:
    """(slope, p value) of each part; a covariate that differs in one part only has its headline there."""
    if slope.values.rests_on == weather_rules.BOTH_PARTS:
        found = slope.parts
    else:
        found = {slope.values.rests_on: slope.line.slope}
    both = {name: found.get(name, UNKNOWN) for name in (WITHIN_SEASONS, BETWEEN_SEASONS)}
    return {name: (part.estimate, p_value(part)) for name, part in both.items()}


def _failed(slope: Slope, adjusted: dict) -> list[str]:
    """The checks that this slope fails, as sentences."""
    tests, name = _part_tests(slope), slope.values.covariate
    by_kind = {
        kind: np.array([one.slope.estimate for one in slope.left_out if one.kind == kind])
        for kind in (weather_checks.SEASON_OUT, weather_checks.SITE_YEAR_OUT)
    }
    shown = weather_rules.Shown(
        slope.target, slope.line.slope.estimate, adjusted[name, slope.target][0], adjusted[name, TO_COME][0],
        *by_kind.values(), tests[WITHIN_SEASONS], tests[BETWEEN_SEASONS],
    )  # fmt: skip
    return weather_rules.failed(shown)


def _slope_rows(slope: Slope, adjusted: dict) -> list[dict]:
    values, (p_holm, n_tests) = slope.values, adjusted[slope.values.covariate, slope.target]
    shared = blank("weather_slopes") | values.counts() | {
        "kind": values.kind, "conf_level": CONF_LEVEL, "covariate_unit": values.unit, "n_tests": n_tests,
        "is_headline": False, "is_shown": False, "center": values.center if len(values.x) else np.nan,
        "lowest": values.x.min() if len(values.x) else np.nan, "highest": values.x.max() if len(values.x) else np.nan,
        "within_share": values.within_share if len(values.x) else np.nan, "reason": slope.reason, "warnings": "",
    }  # fmt: skip
    whole = shared | {"part": ALL_DIFFERENCES}
    if slope.line is None:
        return [whole | {"method": MIXED, "is_headline": True, "rule": slope.reason}]
    rule = weather_rules.RESTS_ON[values.rests_on]
    rows = [
        whole | {"method": method, "rule": rule} | _columns(line.slope, line.df_method) | _of_line(line)
        for method, line in slope.lines.items()
    ]
    for row in rows:
        if row["method"] == MIXED:
            row["tau2_before"] = slope.told["tau2_before"]
        else:
            row["tau2_before"] = _two_stage_tau2(values)
        if row["method"] == slope.method:
            row |= _of_headline(slope, p_holm, _failed(slope, adjusted), row["warnings"])
    return rows + [_part_row(slope, name, shared | {"rule": rule}) for name in (WITHIN_SEASONS, BETWEEN_SEASONS)]


def _of_headline(slope: Slope, p_holm: float, failed: list[str], warnings: str) -> dict:
    tests, told = _part_tests(slope), {n: v for n, v in slope.told.items() if n != "tau2_before"}
    missing = weather_rules.ADJUSTMENTS["model missing"] if slope.method != MIXED else ""
    not_shown = [f"Not shown: {sentence}" for sentence in failed] if p_holm <= weather_rules.ALPHA else []
    return told | {
        "is_headline": True,
        "is_shown": slope.values.kind == DECLARED and not failed,
        "p_value_holm": p_holm,
        "carried_by": weather_rules.carried_by(slope.line.slope.estimate, tests[WITHIN_SEASONS], tests[BETWEEN_SEASONS]),
        "warnings": joined([missing, warnings, *not_shown]),
    }  # fmt: skip


def _part_row(slope: Slope, name: str, row: dict) -> dict:
    values, other = slope.values, {WITHIN_SEASONS: BETWEEN_SEASONS, BETWEEN_SEASONS: WITHIN_SEASONS}
    row = row | {"part": name, "method": slope.method}
    if name in slope.parts:
        return row | _columns(slope.parts[name], "Satterthwaite; between seasons at most seasons less 2")
    if values.rests_on == name:  # all differences are of this part
        return row | _columns(slope.line.slope, slope.line.df_method) | _of_line(slope.line)
    reason = name if values.rests_on == other[name] else "not fitted"
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
    """The two-stage spread without the covariate, of the site-years whose error is known."""
    known, _ = three_methods.known_errors(values.site_years)
    return two_stage.tau2_reml(*three_methods.independent_gains(known))
