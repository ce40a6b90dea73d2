"""What more site-years, blocks or seasons would buy: expected half-widths, and how many are needed.

These are expectations: components from few site-years or seasons are themselves uncertain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pandas as pd

from pipeline.contract.results import blank, frame_of, narrowed
from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME
from pipeline.errors import UserError
from pipeline.estimates.engines import interval_rules as rules
from pipeline.planning.precision import (
    NO_SPREAD,
    Components,
    Precision,
    components_of,
    expected_precision,
    multiplied,
    with_more,
)

POWER = 0.80
MOST_SITE_YEARS = 400
GROWN = ("blocks", "site-years", "seasons")
NO_SEASON = "Not estimable: future seasons need a season component, from at least 3 seasons."
HOPEFUL = (
    "The {0} variance is estimated as zero, often by chance. The plan assumes that {0}s do not differ, so its figures"
    " are likely too optimistic."
)
OUT_OF_REACH = "Not reached with {0}, even with {1} more site-years."

Answer = Callable[[pd.DataFrame, Components], list[dict]]


def layout_of(site_year_gains: pd.DataFrame) -> pd.DataFrame:
    """place, season and n_blocks of the pooled site-years of one comparison."""
    return site_year_gains[["place", "season", "n_blocks"]].reset_index(drop=True)


def outlook(
    comparison_id: str,
    layout: pd.DataFrame,
    variance_components: pd.DataFrame,
    *,
    more_site_years: Iterable[int],
    n_blocks: Iterable[int],
    more_seasons: Iterable[int],
) -> pd.DataFrame:
    """Half-width expected for each choice, for both targets; columns of outlook, unit of the gains.

    layout: place, season, n_blocks per site-year so far; it is the first row of each target.
    """
    choices = [(k, r, j) for j in more_seasons for k in more_site_years for r in n_blocks if 1 <= j <= k]

    def answer(layout: pd.DataFrame, components: Components) -> list[dict]:
        rows = [{"more_site_years": 0, "n_blocks": None, "more_seasons": 0} | _expected(layout, components)]
        for k, r, j in choices:
            grown = with_more(layout, site_years=k, n_blocks=r, seasons=j)
            choice = {"more_site_years": k, "n_blocks": r, "more_seasons": j}
            rows.append(choice | _expected(grown, components))
        return rows

    return frame_of(_for_both_targets("outlook", comparison_id, layout, variance_components, answer), "outlook")


def substitution(
    comparison_id: str,
    layout: pd.DataFrame,
    variance_components: pd.DataFrame,
    *,
    times: Iterable[int] = (1, 2, 4, 8),
) -> pd.DataFrame:
    """Half-width when only blocks, only site-years (at new places) or only seasons are multiplied.

    Shows why blocks cannot replace site-years, nor site-years seasons. Columns of substitution.
    """
    factors = tuple(times)

    def answer(layout: pd.DataFrame, components: Components) -> list[dict]:
        rows = []
        for grown in GROWN:
            for factor in factors:
                expected = _expected(multiplied(layout, grown, factor), components)
                rows.append({"grown": grown, "times": factor} | expected)
        return rows

    return narrowed(
        _for_both_targets("substitution", comparison_id, layout, variance_components, answer), "substitution"
    )


def site_years_needed(
    comparison_id: str,
    layout: pd.DataFrame,
    variance_components: pd.DataFrame,
    *,
    half_width: float | None = None,
    margin: float | None = None,
    expected_gain: float = 0.0,
    n_blocks: int = 4,
    more_seasons: Iterable[int] = (1, 2, 3),
) -> pd.DataFrame:
    """Fewest more site-years for a half-width, or to show non-inferiority at a margin; columns of needed.

    With a margin: so many that a treatment whose true gain is expected_gain is shown to be
    as good (one-sided 2.5%) with 80% chance. `reached` is the half-width or the chance
    then had; where no number up to 400 suffices, what 400 would give.
    """
    if (half_width is None) == (margin is None):
        raise UserError("plan: state either a half-width or a margin to plan for, not both")
    size = half_width if margin is None else margin
    if not size > 0:
        raise UserError(f"plan: the half-width or margin is {size:g}; it must be above zero")
    shared = {"aim": "half-width" if margin is None else "margin", "size": size, "n_blocks": n_blocks}
    shared |= {"expected_gain": None, "power": None}
    if margin is not None:
        shared |= {"expected_gain": expected_gain, "power": POWER}

    def reaches(expected: Precision) -> tuple[bool, float]:
        if margin is None:
            return expected.half_width() <= size, expected.half_width()
        chance = expected.power(margin + expected_gain)
        return chance >= POWER, chance

    seasons = tuple(more_seasons)

    def answer(layout: pd.DataFrame, components: Components) -> list[dict]:
        return [shared | {"more_seasons": j} | _fewest(layout, components, reaches, n_blocks, j) for j in seasons]

    rows = _for_both_targets("needed", comparison_id, layout, variance_components, answer)
    return frame_of([row | shared for row in rows], "needed")


def _for_both_targets(table: str, comparison_id: str, layout, variance_components, answer: Answer) -> list[dict]:
    """The answer's rows for each target with its reserve; one row with the reason where there is none."""
    rows = []
    for target in TARGETS:
        key = {"comparison_id": comparison_id, "target": target}
        components, reason = _usable(layout, variance_components, comparison_id, target)
        if components is None:
            rows.append(blank(table) | key | {"reason": reason})
            continue
        for row in answer(layout, components):
            rows.append(key | row | {"reason": " ".join(filter(None, [row.get("reason"), reason]))})
    return rows


def _usable(layout, variance_components, comparison_id, target) -> tuple[Components | None, str]:
    """Components to plan with and a reserve about them; or None and why not."""
    rule = rules.rule_for(target, len(layout), layout["season"].nunique())
    if rule.headline != rules.MIXED:
        return None, f"{rule.sentence} There are no variances to plan from yet."
    components = components_of(variance_components, comparison_id, target)
    if components is None:
        is_fitted = components_of(variance_components, comparison_id, TESTED) is not None
        return None, NO_SEASON if target == TO_COME and is_fitted else rules.ADJUSTMENTS["not fitted"]
    least = NO_SPREAD * (components.site_year + components.residual)
    if target == TO_COME and components.season <= least:
        return components, HOPEFUL.format("season")
    if components.site_year + components.place <= least:
        return components, HOPEFUL.format("site-year")
    return components, ""


def _expected(layout: pd.DataFrame, components: Components) -> dict:
    expected = expected_precision(layout, components)
    return {
        "n_site_years": len(layout),
        "n_places": layout["place"].nunique(),
        "n_seasons": layout["season"].nunique(),
        "std_error": expected.std_error,
        "df": expected.df,
        "half_width": expected.half_width(),
    }


def _fewest(layout, components, reaches, n_blocks: int, seasons: int) -> dict:
    """Fewest more site-years that reach the aim: doubled until they do, then bisected."""

    def tried(site_years: int) -> tuple[bool, float]:
        grown = with_more(layout, site_years=site_years, n_blocks=n_blocks, seasons=seasons)
        return reaches(expected_precision(grown, components))

    is_reached, reached = reaches(expected_precision(layout, components))
    if is_reached:
        return {"more_site_years": 0, "reached": reached}
    low, high = seasons - 1, seasons
    while not (answer := tried(high))[0]:
        if high == MOST_SITE_YEARS:
            more = "1 more season" if seasons == 1 else f"{seasons} more seasons"
            return {"more_site_years": None, "reached": answer[1], "reason": OUT_OF_REACH.format(more, high)}
        low, high = high, min(2 * high, MOST_SITE_YEARS)
    while high - low > 1:
        middle = (low + high) // 2
        found = tried(middle)
        low, high, answer = (low, middle, found) if found[0] else (middle, high, answer)
    return {"more_site_years": high, "reached": answer[1]}
