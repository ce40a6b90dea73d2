"""The slope of the gain on each weather covariate, for both targets, with what it rests on.

One stage leads and two stages stand beside it. The slopes within and between seasons, of one model with seasons random,
say which differences carry it. weather_rules has every rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from pipeline.contract.vocabulary import TARGETS, TESTED
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines import interval_rules
from pipeline.estimates.engines.interval_rules import MIXED, TWO_STAGE
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where import weather_checks, weather_lines, weather_rules
from pipeline.estimates.where.weather_lines import Line
from pipeline.estimates.where.weather_values import Values


@dataclass(frozen=True)
class Slope:
    """One covariate for one target: the line of each method that gives one, and the slopes of both parts.

    Without a line, `reason` says why. told: what is the same for both targets.
    """

    values: Values
    target: str
    reason: str
    lines: dict[str, Line]
    parts: dict[str, Mean]
    left_out: list[weather_checks.LeftOut]
    told: dict

    @property
    def method(self) -> str:
        return MIXED if MIXED in self.lines or not self.lines else TWO_STAGE

    @property
    def line(self) -> Line | None:
        return self.lines.get(self.method)

    @property
    def p_value(self) -> float:
        return p_value(self.line.slope) if self.line else np.nan


def p_value(slope: Mean) -> float:
    """Of the test that the slope is zero, by the t interval that is printed."""
    if np.isnan(slope.estimate):
        return np.nan
    return float(2 * stats.t.sf(abs(slope.estimate) / slope.std_error, slope.df))


def slopes_of(covariates: Iterable[Values]) -> list[Slope]:
    """Every covariate of a comparison for both targets; those for seasons to come are no surer than for the seasons tested."""
    found: list[Slope] = []
    before: dict[tuple, float] = {}  # of the model without a covariate, which those of the same site-years share
    for values in covariates:
        counts = values.counts()
        reason = weather_rules.too_few(values.covariate, *(counts[n] for n in ("n_site_years", "n_seasons", "n_distinct")))  # fmt: skip
        if reason:
            found += [Slope(values, target, reason, {}, {}, [], {}) for target in TARGETS]
            continue
        parts, told, tested = _parts(values), _told(values), None
        for target in TARGETS:  # the seasons tested first
            key = (target, *values.site_years["site_year_id"])
            if key not in before:
                before[key] = weather_lines.tau2_before(values, target)
            tested = _slope(values, target, parts, told | {"tau2_before": before[key]}, tested)
            found.append(tested)
    return found


def _slope(values: Values, target: str, parts: dict[str, Mean], told: dict, tested: Slope | None) -> Slope:
    fits = {
        MIXED: weather_lines.mixed_line(values, target),
        TWO_STAGE: weather_lines.two_stage_line(values, target),
    }
    lines = {method: line for method, line in fits.items() if line}
    if tested:
        lines = {method: _no_narrower(line, tested.lines.get(method)) for method, line in lines.items()}
    reason = "" if lines else weather_rules.REASONS["not fitted"]
    slope = Slope(values, target, reason, lines, parts, [], told)
    if not slope.line:
        return slope
    weights, season_variance = weather_lines.weights_of(values, slope.line)
    return replace(slope, left_out=weather_checks.left_out(values, slope.line.slope, weights, season_variance))


def _no_narrower(line: Line, tested: Line | None) -> Line:
    """The line for seasons to come, its slope and its average no narrower than for the seasons tested."""
    if tested is None:
        return line
    slope, gain = (weather_lines.wider(*both) for both in ((line.slope, tested.slope), (line.gain, tested.gain)))
    if slope is line.slope and gain is line.gain:
        return line
    method = line.df_method if slope is line.slope else three_methods.AS_TESTED
    warnings = (*line.warnings, interval_rules.ADJUSTMENTS["no narrower"])
    return replace(line, slope=slope, gain=gain, df_method=method, warnings=warnings)


def _parts(values: Values) -> dict[str, Mean]:
    """Slopes within and between seasons where both can be told; the one part there is has the slope of all differences."""
    return (weather_lines.part_lines(values) or {}) if values.rests_on == weather_rules.BOTH_PARTS else {}


def _told(values: Values) -> dict:
    """What stands beside the headlines of both targets and decides nothing."""
    told = {"p_permutation": np.nan, "n_permutations": None}
    if not values.is_between_only:
        line = weather_lines.two_stage_line(values, TESTED)
        weights = weather_lines.weights_of(values, line)[0] if line else np.ones(len(values.x))
        n = weather_checks.N_PERMUTATIONS
        told = {"p_permutation": weather_checks.permuted(values, weights, n), "n_permutations": n}
    return told | dict(zip(("aicc_line", "aicc_curve"), weather_checks.line_and_curve(values), strict=True))
