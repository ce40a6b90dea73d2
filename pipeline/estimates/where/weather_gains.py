"""What the line says along the values met, and averaged over the reference years of a place.

The error of the average at the center and that of the slope enter together; the covariate's values are taken as known.
Nothing is told beyond the values that the trials met: a reference year outside counts as the nearest value met, and
where more than a fifth of the years lie outside there is no figure (long_run.MOST_UNMET).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.contract.results import blank
from pipeline.estimates.average import three_methods
from pipeline.estimates.engines.interval_rules import CONF_LEVEL
from pipeline.estimates.engines.two_stage import Mean
from pipeline.estimates.where import weather_rules
from pipeline.estimates.where.long_run import MOST_UNMET
from pipeline.estimates.where.season_guard import combined, wider
from pipeline.estimates.where.weather_lines import Line
from pipeline.estimates.where.weather_values import Values

N_POINTS = 21
ALL = "all"
OF_LINE = "Satterthwaite of the average at the center and the slope"


def on_line(line: Line, distance: float) -> Mean:
    """The average gain so far from the center of the covariate (in its unit), no surer than at the center.

    Away from it more of the error is the slope's, whose df are more, so that the interval by itself could be narrower
    there.
    """
    if distance == 0:
        return line.gain
    return wider(combined([line.gain, line.slope], np.array([1.0, distance]), line.correlation), line.gain)


def line_rows(values: Values, line: Line, tested: Line | None) -> list[dict]:
    """Columns of weather_lines but for the key of the slope; tested: the line of the seasons tested, no wider than this
    one.
    """
    rows = []
    for at in np.linspace(values.x.min(), values.x.max(), N_POINTS):
        row = _no_narrower(line, tested, at - values.center)
        rows.append({"at": at} | {name: row[name] for name in ("estimate", "conf_low", "conf_high")})
    return rows


def gain_rows(values: Values, line: Line, tested: Line | None, reference: pd.DataFrame) -> list[dict]:
    """Columns of weather_gains but for the key of the slope: all places, each drainage group, each place.

    reference: place, drainage_group, year, value of this comparison and covariate. A place counts as often as it has
    site-years, as for the average at long-run weather; its years count alike.
    """
    known = reference[np.isfinite(reference["value"].astype(float))]
    n_site_years = values.site_years["place"].value_counts()
    known = known[known["place"].isin(n_site_years.index)].assign(level=ALL)
    n_years = known.groupby("place")["year"].transform("size")
    known = known.assign(weight=known["place"].map(n_site_years) / n_years)
    if known.empty:
        return [_empty_row(ALL, 0, np.nan, weather_rules.REASONS["no years"], values)]
    groups = known.assign(level=known["drainage_group"]).dropna(subset="level")
    taken = {ALL, *groups["level"]}  # a place may have the name of a group
    places = known.assign(level=[f"{place} (place)" if place in taken else place for place in known["place"]])
    return [
        _gain_row(level, rows, values, line, tested)
        for frame in (known, groups, places)
        for level, rows in frame.groupby("level", sort=True)
    ]


def _gain_row(level: str, rows: pd.DataFrame, values: Values, line: Line, tested: Line | None) -> dict:
    x, weight = rows["value"].to_numpy(float), rows["weight"].to_numpy(float)
    low, high = values.x.min(), values.x.max()
    slack = 1e-9 * values.scale
    share = float(np.average((x < low - slack) | (x > high + slack), weights=weight))
    percent = {"percent": f"{100 * share:.0f}%"}
    if share > MOST_UNMET + 1e-9:
        return _empty_row(level, len(rows), share, weather_rules.REASONS["outside"], values, **percent)
    distance = float(np.average(np.clip(x, low, high), weights=weight)) - values.center
    held = weather_rules.ADJUSTMENTS["held"].format(**percent) if share > 0 else ""
    counts = {"level": str(level), "n_years": len(rows), "share_outside": share, "conf_level": CONF_LEVEL}
    return blank("weather_gains") | counts | _no_narrower(line, tested, distance) | {"reason": "", "warnings": held}


def _empty_row(level: str, n_years: int, share: float, reason: str, values: Values, **told: str) -> dict:
    reason = reason.format(covariate=values.covariate, **told)
    row = {"level": str(level), "n_years": n_years, "share_outside": share, "conf_level": CONF_LEVEL, "reason": reason}
    return blank("weather_gains") | row | {"warnings": ""}


def _no_narrower(line: Line, tested: Line | None, distance: float) -> dict:
    row = three_methods.interval(on_line(line, distance), CONF_LEVEL, OF_LINE)
    if tested is None:
        return row
    of_tested = three_methods.interval(on_line(tested, distance), CONF_LEVEL, OF_LINE)
    return three_methods.no_narrower(row, of_tested, CONF_LEVEL)
