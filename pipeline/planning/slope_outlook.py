"""Which slope on a weather covariate the trials could show, now and after more seasons.

By the model of future seasons, which a slope must pass to be shown: its expected error follows from the layout, the
variance components of the gains and how much the covariate differs (generalised least squares); weather to come is
drawn from the years of the reference period. The sign checks of a shown slope are left out. On 12 layouts, spreads and
slopes (24 to 48 site-years in 3 to 6 seasons, 80 simulated programs each, seed 3) the chance lay within 9 points of the
share that was shown, 2 points above it on average.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
from scipy import optimize

from pipeline.contract.results import blank, frame_of
from pipeline.contract.vocabulary import DECLARED, TO_COME
from pipeline.estimates.engines.crossed_units import solved_at, times_inverse, units_of
from pipeline.estimates.where import weather_rules
from pipeline.planning.next_season import NO_SEASON, POWER
from pipeline.planning.precision import Components, Precision, components_of, with_more

DRAWS, SEED = 20, 1  # of the weather to come
NO_HISTORY = "The weather history of these places has no values for {covariate}, so future seasons cannot be drawn."


def expected_slope(layout: pd.DataFrame, components: Components) -> Precision:
    """Standard error and df that a slope over a layout is expected to have.

    layout: place, season, n_blocks and the covariate x, one row per site-year of at least 3 seasons. The df weigh those
    within seasons (site-years less seasons less 1) and between them (seasons less 2) by the information of each part.
    """
    return expected_slopes(layout, layout[["x"]].to_numpy(float), components)[0]


def expected_slopes(layout: pd.DataFrame, drawn: np.ndarray, components: Components) -> list[Precision]:
    """The same of several covariates over one layout (site-years x covariates)."""
    drawn = drawn - drawn.mean(axis=0)  # changes no slope, and saves digits
    k, seasons = len(layout), pd.factorize(layout["season"].astype(str))[0]
    n_seasons = seasons.max() + 1
    of_seasons = np.equal.outer(seasons, np.arange(n_seasons)).astype(float)
    groups = {"site_year": np.arange(k), "place": layout["place"].to_numpy()}
    variances = [components.site_year, components.place, components.residual]
    within = _information(drawn, of_seasons, layout, groups, variances)
    groups["season"], variances[2:2] = seasons, [components.season]
    total = _information(drawn, np.ones((k, 1)), layout, groups, variances)
    within = np.minimum(within, total)
    df_within, df_between = max(k - n_seasons - 1, 1), max(n_seasons - 2, 1)
    df = total**2 / (within**2 / df_within + (total - within) ** 2 / df_between)
    return [
        Precision(float(information**-0.5), float(min(of_one, k - 2)))
        for information, of_one in zip(total, df, strict=True)
    ]


def _information(
    drawn: np.ndarray, others: np.ndarray, layout: pd.DataFrame, groups: dict[str, np.ndarray], variances: list[float]
) -> np.ndarray:
    """What a fit by generalised least squares knows of each slope beside the other columns: 1 over its variance."""
    units = units_of(np.zeros(len(layout)), layout["n_blocks"].to_numpy(float), groups)
    solved = times_inverse(solved_at(units, np.array(variances)), np.column_stack([drawn, others]))
    n_drawn = drawn.shape[1]
    cross = others.T @ solved
    taken = np.sum(cross[:, :n_drawn] * np.linalg.solve(cross[:, n_drawn:], cross[:, :n_drawn]), axis=0)
    return np.maximum(np.sum(drawn * solved[:, :n_drawn], axis=0) - taken, 1e-300)


def slope_outlook(
    comparison_id: str,
    values: pd.DataFrame,
    site_years: pd.DataFrame,
    reference: pd.DataFrame,
    variance_components: pd.DataFrame,
    *,
    worth_finding: dict[str, float],
    more_seasons: Iterable[int],
) -> pd.DataFrame:
    """By declared covariate and number of more seasons, the slope that 8 of 10 such programs would show; columns of
    slope_outlook.

    values: covariate, kind, site_year_id, value, unit, of this comparison; site_years: its pooled site-year gains;
    reference: covariate, place, year, value. worth_finding: by covariate, the slope (kg/ha per its unit) whose chance
    is asked for.
    """
    components = components_of(variance_components, comparison_id, TO_COME)
    seasons, rows = tuple(more_seasons), []
    declared = values[values["kind"].eq(DECLARED)]
    for covariate, of_covariate in declared.groupby("covariate", sort=True):
        known = of_covariate[of_covariate["value"].notna()].rename(columns={"value": "x"})
        layout = site_years.merge(known[["site_year_id", "x"]], on="site_year_id")[["place", "season", "n_blocks", "x"]]
        alpha = weather_rules.ALPHA / declared["covariate"].nunique()
        key = {"comparison_id": comparison_id, "covariate": covariate, "covariate_unit": of_covariate["unit"].iloc[0]}
        key |= {"n_tests": declared["covariate"].nunique(), "worth_finding": worth_finding.get(covariate)}
        reason = _too_few(covariate, layout) or ("" if components else NO_SEASON)
        if reason:
            rows.append(blank("slope_outlook") | key | {"more_seasons": 0, "reason": reason})
            continue
        years = reference[reference["covariate"].eq(covariate)]
        for more in (0, *seasons):
            rows.append(
                blank("slope_outlook")
                | key
                | {"more_seasons": more}
                | _row(layout, components, years, more, covariate, alpha, key["worth_finding"])
            )
    return frame_of(rows, "slope_outlook")


def _too_few(covariate: str, layout: pd.DataFrame) -> str:
    return weather_rules.too_few(covariate, len(layout), layout["season"].nunique(), layout["x"].nunique())


def _row(layout, components, years, more: int, covariate: str, alpha: float, worth: float | None) -> dict:
    """One number of more seasons, each with as many site-years as a season has had on average."""
    added = more * round(len(layout) / layout["season"].nunique())
    counts = {
        "more_site_years": added,
        "n_site_years": len(layout) + added,
        "n_seasons": layout["season"].nunique() + more,
    }
    if more and years.empty:
        return counts | {"reason": NO_HISTORY.format(covariate=covariate)}
    expected = expected_slopes(*_grown(layout, years, added, more), components)
    detectable = np.mean([_detectable(one, alpha) for one in expected])
    return counts | {
        "std_error": float(np.mean([one.std_error for one in expected])),
        "df": float(np.mean([one.df for one in expected])),
        "detectable": float(detectable),
        "chance": None if worth is None else float(np.mean([one.power(abs(worth), alpha) for one in expected])),
        "reason": "",
    }


def _grown(layout: pd.DataFrame, years: pd.DataFrame, added: int, more: int) -> tuple[pd.DataFrame, np.ndarray]:
    """The layout with more seasons, and draws of the covariate there: in each of these seasons one year of the
    reference period, at its places.
    """
    known = layout["x"].to_numpy(float)
    if not more:
        return layout, known[:, None]
    rng = np.random.default_rng(SEED)
    by_place = years.pivot_table(index="year", columns="place", values="value", aggfunc="mean")
    n_blocks = int(layout["n_blocks"].median())
    grown = with_more(layout.drop(columns="x"), site_years=added, n_blocks=n_blocks, seasons=more)
    new = grown.iloc[len(layout) :]
    season, names = pd.factorize(new["season"])
    place = by_place.columns.get_indexer(new["place"])
    draws = []
    for _ in range(DRAWS):
        of_years = by_place.reindex([rng.choice(by_place.index) for _ in names]).to_numpy(float)
        draws.append([*known, *_values(of_years, season, place, rng)])
    return grown, np.column_stack(draws)


def _values(of_years: np.ndarray, season: np.ndarray, place: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The places' values in the years of their seasons (seasons x places); that of another place where one has none."""
    found = np.where(place < 0, np.nan, of_years[season, place])
    have_one = [of_year[np.isfinite(of_year)] for of_year in of_years]
    for row in np.flatnonzero(np.isnan(found)):
        found[row] = rng.choice(have_one[season[row]])
    return found


def _detectable(expected: Precision, alpha: float) -> float:
    """The slope whose chance to be found is POWER."""
    return float(
        optimize.brentq(
            lambda size: expected.power(size, alpha) - POWER, 1e-9 * expected.std_error, 1e3 * expected.std_error
        )
    )
