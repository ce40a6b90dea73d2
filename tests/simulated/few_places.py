"""Do the printed intervals catch the truth with 2 to 4 places, and with trials that come back on the same plots?

`python -m tests.simulated.few_places [programs]` simulates programs on each layout and truth below (100 by default,
seed 1) and writes few_places.csv beside this file. Half of the plot error, or nearly all, lasts on plots that come
back.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

from pipeline.simulation import calibration
from pipeline.simulation.calibration import Truth

FILE = Path(__file__).with_suffix(".csv")
SEED = 1
TAU = 1.5  # in standard errors of a site-year
SIX_SETS = {f"set{number}": 2 + number % 2 for number in range(6)}
TRUTHS = {
    "places": (
        Truth("site-years differ"),
        Truth("two thirds of the spread with the place", place_share=2 / 3),
        Truth("two thirds of the spread with the season", season_share=2 / 3),
        Truth("a third with each", place_share=1 / 3, season_share=1 / 3),
    ),
    "plots": (
        Truth("half of the plot error lasts", place_share=1 / 3, season_share=1 / 3),
        Truth("nine tenths of the plot error last", place_share=1 / 3, season_share=1 / 3, lasting_share=0.9),
        Truth("no plot error lasts", place_share=1 / 3, season_share=1 / 3, lasting_share=0.0),
        Truth("the same gain everywhere, half lasts", varies=False),
    ),
}


def layout(
    name: str, years: dict[str, int], *, linked: tuple[str, ...] = (), n_seasons: int | None = None
) -> pd.DataFrame:
    """One trial of 4 blocks a year at each place; years: place -> how many, its first year moved on from place to
    place.

    linked: places whose trials stand on the same plots every year.
    """
    n_seasons = n_seasons or max(years.values())
    rows = []
    for number, (place, n) in enumerate(years.items()):
        for year in range(n):
            season = 2091 + (year + number * (n < n_seasons)) % n_seasons
            trial = f"{place}-{season}"
            plots = place if place in linked else trial
            rows += [
                {
                    "comparison_id": name,
                    "trial_id": trial,
                    "site_year_id": trial,
                    "place": place,
                    "season": season,
                    "block": str(block),
                    "plot_set": place if place in linked else None,
                    "plots": f"{plots} block {block}",
                }
                for block in range(4)
            ]
    same = {
        "crop": "corn",
        "design": "RCBD",
        "drainage_group": "W",
        "rainfall_class": "normal",
        "variance": 4.0,
        "variance_df": 12.0,
    }
    same |= {
        "own_variance": 4.0,
        "own_variance_df": 12.0,
        "comparator_mean": 0.0,
        "n_treatment_plots": 1,
        "n_comparator_plots": 1,
    }
    same |= {"n_rates": 1, "rates_missing": "", "zero_n_in_error": False, "variance_factor": 2.0, "warnings": ""}
    return pd.DataFrame(rows).assign(**same)


def _each(n_places: int, n_seasons: int) -> dict[str, int]:
    return {f"p{number}": n_seasons for number in range(n_places)}


def layouts() -> dict[str, pd.DataFrame]:
    """By kind of truth, all layouts under each other."""
    crossed = [layout(f"{s} places x {j} seasons", _each(s, j)) for s in (2, 3, 4) for j in (2, 3, 4, 5)]
    uneven = [
        layout(
            f"places with {', '.join(map(str, counts))} seasons",
            {f"p{i}": n for i, n in enumerate(counts)},
            n_seasons=5,
        )
        for counts in ((5, 1), (5, 1, 1), (5, 3, 2), (5, 2, 1, 1), (2, 2, 1))
    ]
    shared = [
        layout("one set of plots, 5 years", {"set0": 5}, linked=("set0",)),
        layout("3 sets of plots, 4 years each", {f"set{i}": 4 for i in range(3)}, linked=("set0", "set1", "set2")),
        layout(
            "6 sets of plots, 2 or 3 years each, beside 6 fresh ones",
            SIX_SETS | _once(6),
            linked=tuple(SIX_SETS),
            n_seasons=5,
        ),
        layout(
            "2 sets of plots, 5 years each, beside 8 fresh ones",
            {"set0": 5, "set1": 5} | _once(8),
            linked=("set0", "set1"),
        ),
    ]
    return {"places": pd.concat([*crossed, *uneven]), "plots": pd.concat(shared)}


def _once(n: int) -> dict[str, int]:
    return {f"fresh{number}": 1 for number in range(n)}


def study(n: int, *, n_processes: int | None = None) -> pd.DataFrame:
    """Coverage and width of the printed intervals; columns of the table calibration and `kind`."""
    found = []
    for kind, rows in layouts().items():
        taus = {name: TAU for name in rows["comparison_id"].unique()}
        of_kind = calibration.calibrate(rows, TRUTHS[kind], n=n, seed=SEED, taus=taus, n_processes=n_processes)
        found.append(of_kind[of_kind["method"] == calibration.PUBLISHED].assign(kind=kind))
    return pd.concat(found, ignore_index=True)


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    found = study(n).drop(columns=["method"])
    found.round(4).to_csv(FILE, index=False)
    print(found.groupby(["kind", "target"])["coverage"].describe().round(3).to_string())


if __name__ == "__main__":
    main()
