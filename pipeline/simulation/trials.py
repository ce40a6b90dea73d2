"""Trials and true plot yields with known gains.

plot yield = response(N) + site + season + site x season + block + gain + residual

The gain of a blend over urea is its drainage x rainfall cell value plus one normal deviation (SD tau) per
site-year and contrast, so the true gain of every site-year is known exactly. At zero N there is none.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.simulation.scenario import (
    BLEND_GAIN_FACTOR,
    BLOCKS,
    CROPS,
    GAIN_WEIGHT_AT_HIGH_RATE,
    ODD_BLOCKS,
    SITE_NAMED,
    SITES,
    CropScenario,
    cell_gain,
    kind_of,
)

MOST_SD_FROM_MEAN = 2.5  # INV: of a trial's yield level
ROTATION_STEP = 3  # sites left out in one season lie this far apart in SITES, so no drainage group is left out whole


def sites_left_out(crop: CropScenario, season_index: int) -> list[str]:
    """Sites of a crop that rest in a season; the turn goes round, so each site rests about equally often."""
    sites = [site.name for site in SITES if crop.name in site.crops]
    resting = len(sites) - crop.trials_per_season
    return [sites[(season_index * resting + turn) * ROTATION_STEP % len(sites)] for turn in range(resting)]


def _planned(seasons: tuple[int, ...]) -> list[dict]:
    """Every trial listed: those harvested, one lost in each wet season, one not reported in the last season."""
    rows = []
    for index, season in enumerate(seasons):
        for crop in CROPS.values():
            resting = sites_left_out(crop, index)
            rows += [
                {
                    "season": season,
                    "site_id": site.name,
                    "crop": crop.name,
                    "outcome": "harvested",
                    "outcome_reason": "",
                }
                for site in SITES
                if crop.name in site.crops and site.name not in resting
            ]
            if crop.name == "corn" and kind_of(season).name == "wet":
                why = "stand drowned out"
                rows.append(
                    {
                        "season": season,
                        "site_id": resting[0],
                        "crop": crop.name,
                        "outcome": "lost",
                        "outcome_reason": why,
                    }
                )
            if crop.name == "cotton" and index == len(seasons) - 1:
                why = "harvest not reported"
                rows.append(
                    {
                        "season": season,
                        "site_id": resting[0],
                        "crop": crop.name,
                        "outcome": "planted",
                        "outcome_reason": why,
                    }
                )
    return rows


def _day(season: int, month_day: str, rng: np.random.Generator) -> pd.Timestamp:
    return pd.Timestamp(f"{season}-{month_day}") + pd.Timedelta(days=int(rng.integers(-4, 5)))


def trials_table(rng: np.random.Generator, seasons: tuple[int, ...]) -> pd.DataFrame:
    """The trials as delivered, plus `drainage_group`, `starter` and `n_blocks` for the generator."""
    rows = []
    for trial in _planned(seasons):
        site, crop = SITE_NAMED[trial["site_id"]], CROPS[trial["crop"]]
        previous = [name for name in site.crops if name != crop.name]
        harvested = _day(trial["season"], crop.harvested, rng) if trial["outcome"] == "harvested" else pd.NaT
        rows.append({
            "trial_id": f"{trial['season']}-{site.initials}-{crop.name}",
            "season": trial["season"], "site_id": site.name, "crop": crop.name, "series": "coated blends",
            "design": "RCBD",
            "irrigated": site.irrigated, "artificial_drainage": site.artificial_drainage,
            "planted": _day(trial["season"], crop.planted, rng), "harvested": harvested,
            "row_spacing_in": crop.row_spacing_in, "previous_crop": str(rng.choice(previous)),
            "tillage": str(rng.choice(["no-till", "chisel"])), "cultivar": crop.cultivar,
            "gin": "small sample gin" if crop.gin_turnout else "",
            "cooperator": f"coop-{SITES.index(site) + 1:02d}", "paid_by": "program", "product_given_by": "none",
            "outcome": trial["outcome"], "outcome_reason": trial["outcome_reason"],
            "drainage_group": site.drainage_group, "starter": bool(rng.random() < 0.3),
        })  # fmt: skip
    trials = pd.DataFrame(rows)
    turn = (trials["outcome"] == "harvested").cumsum().where(trials["outcome"] == "harvested", 0)
    return trials.assign(n_blocks=turn.map(ODD_BLOCKS).fillna(BLOCKS).astype(int).where(turn > 0, 0))


def site_years_table(rng: np.random.Generator, trials: pd.DataFrame, classes: pd.DataFrame) -> pd.DataFrame:
    """Harvested trials with their cell, their true gains of C50 and their shared yield level (yield units per acre).

    Columns gain_over_urea_once and gain_over_urea_split hold the true site-year gains, cell_gain_... their cell
    means; the split ones are NaN for soybean, where no split is run.
    """
    site_years = trials[trials["outcome"] == "harvested"].assign(place=lambda t: t["site_id"].str.split().str[0])
    site_years = site_years.merge(
        classes[["place", "season", "rainfall_class"]], on=["place", "season"], how="left", validate="m:1"
    )
    crop_values = {
        name: site_years["crop"].map({c.name: getattr(c, name) for c in CROPS.values()})
        for name in ("sd_site", "sd_season", "sd_site_season", "tau")
    }
    level = crop_values["sd_site"] * _shared_draws(rng, site_years["site_id"] + site_years["crop"])
    level += crop_values["sd_season"] * _shared_draws(rng, site_years["season"].astype(str) + site_years["crop"])
    level += crop_values["sd_site_season"] * rng.standard_normal(len(site_years))
    total = np.sqrt(sum(crop_values[sd] ** 2 for sd in ("sd_site", "sd_season", "sd_site_season")))
    # a field far beyond what the crop ever yields would be no field of this region
    site_years["yield_level"] = level.clip(-MOST_SD_FROM_MEAN * total, MOST_SD_FROM_MEAN * total)
    for contrast in ("urea once", "urea split"):
        cells = [
            _cell_or_nan(contrast, row.crop, row.drainage_group, row.rainfall_class) for row in site_years.itertuples()
        ]
        column = contrast.replace(" ", "_")
        site_years[f"cell_gain_over_{column}"] = cells
        site_years[f"gain_over_{column}"] = cells + crop_values["tau"] * rng.standard_normal(len(site_years))
    kept = [
        "trial_id",
        "place",
        "site_id",
        "season",
        "crop",
        "drainage_group",
        "rainfall_class",
        "n_blocks",
        "yield_level",
    ]
    return site_years[kept + [column for column in site_years if "gain_over" in column]]


def _shared_draws(rng: np.random.Generator, labels: pd.Series) -> np.ndarray:
    """One standard normal draw per distinct label."""
    codes, uniques = pd.factorize(labels)
    return rng.standard_normal(len(uniques))[codes]


def _cell_or_nan(contrast: str, crop: str, drainage_group: str, rainfall_class: str) -> float:
    if contrast == "urea split" and CROPS[crop].first_pass_share is None:
        return float("nan")
    return cell_gain(contrast, crop, drainage_group, rainfall_class)


def urea_once_yield(crop: CropScenario, drainage_group: str, n_rate: float) -> float:
    """Mean yield of urea, one application: quadratic-plateau in N, through mean_yield at the middle rate."""
    if not crop.join_lb_ac:
        return crop.mean_yield if n_rate > 0 else crop.mean_yield - crop.flat_n_response
    zero, join = crop.zero_n_fraction[drainage_group], crop.join_lb_ac[drainage_group]

    def of_plateau(n: float) -> float:
        return 1 - (1 - zero) * (1 - min(n, join) / join) ** 2

    return crop.mean_yield * of_plateau(n_rate) / of_plateau(crop.middle_rate)


def gain_over_urea_once(family: str, n_rate: float, once: float, split: float) -> float:
    """A treatment's true mean above urea once at the same rate, from the site-year's two true gains of C50."""
    weight = GAIN_WEIGHT_AT_HIGH_RATE.get(n_rate, 1.0)
    if family == "U2":
        return weight * (once - split)
    return weight * BLEND_GAIN_FACTOR.get(family, 0.0) * once


def expected_yields(site_years: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """One row per site-year and treatment with its true mean, `expected` (yield units)."""
    arms = site_years.merge(treatments[["trial_id", "treatment_code", "n_rate_lb_ac"]], on="trial_id", validate="1:m")
    family = arms["treatment_code"].str.split("-").str[0]
    gains = arms["gain_over_urea_once"], arms["gain_over_urea_split"]
    arms["expected"] = [
        urea_once_yield(CROPS[crop], group, rate) + level + gain_over_urea_once(kind, rate, once, split)
        for crop, group, rate, level, kind, once, split in zip(
            arms["crop"],
            arms["drainage_group"],
            arms["n_rate_lb_ac"],
            arms["yield_level"],
            family,
            *gains,
            strict=True,
        )
    ]
    return arms


def plot_yields(rng: np.random.Generator, site_years: pd.DataFrame, treatments: pd.DataFrame) -> pd.DataFrame:
    """One row per plot in field order: trial_id, crop, block, plot, treatment_code, yield_per_ac (yield units)."""
    arms = expected_yields(site_years, treatments)
    plots = arms.loc[arms.index.repeat(arms["n_blocks"])].reset_index(drop=True)
    plots["block"] = plots.groupby(["trial_id", "treatment_code"]).cumcount() + 1
    plots["place_in_block"] = rng.random(len(plots))
    plots = plots.sort_values(["season", "trial_id", "block", "place_in_block"], ignore_index=True)
    plots["plot"] = plots["block"] * 100 + plots.groupby(["trial_id", "block"]).cumcount() + 1
    sd_block, sd_plot = (
        plots["crop"].map({c.name: getattr(c, sd) for c in CROPS.values()}) for sd in ("sd_block", "sd_plot")
    )
    noise = sd_block * _shared_draws(rng, plots["trial_id"] + "/" + plots["block"].astype(str))
    noise += sd_plot * rng.standard_normal(len(plots))
    plots["yield_per_ac"] = _within_reach(plots, plots["expected"] + noise)
    return plots[["trial_id", "crop", "block", "plot", "treatment_code", "yield_per_ac"]]


def _within_reach(plots: pd.DataFrame, yields: pd.Series) -> pd.Series:
    """No plot yields less than nothing, and fertilized plots stay in the crop's usual range; few draws come near."""
    usual = plots["crop"].map({c.name: c.usual_yield for c in CROPS.values()})
    fertilized = plots["n_rate_lb_ac"] > 0
    return yields.clip(usual.str[0].where(fertilized, 1.0), usual.str[1])
