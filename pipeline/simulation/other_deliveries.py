"""What some cooperators deliver beside the plots of one weighing: a second pick of cotton, plant heights and stands,
weather under another name of its place."""

from __future__ import annotations

import numpy as np
import pandas as pd

Tables = dict[str, pd.DataFrame]
FIRST_PICK = (0.70, 0.85)  # INV: share of the seed cotton taken with the first pick, by plot
PICK_DATES = ("09-28", "10-19")  # INV
PLANT_HEIGHT_IN = {"corn": (92.0, 4.0), "cotton": (41.0, 3.0)}  # INV: mean and SD of a plot
SUBSAMPLES = (1, 2)
OTHER_NAME = " Station"  # added to a place's own name


def picked_twice(tables: Tables, trial_id: str, rng: np.random.Generator) -> Tables:
    """The trial's weights moved from plots into a harvests table, two picks a plot that add up to them."""
    plots = tables["plots"].copy()
    own = plots[(plots["trial_id"] == trial_id) & plots["harvest_weight_lb"].notna()]
    first = (own["harvest_weight_lb"] * rng.uniform(*FIRST_PICK, len(own))).round(1)
    weights = (first, (own["harvest_weight_lb"] - first).round(2))
    picks = [
        pd.DataFrame(
            {
                "trial_id": trial_id,
                "plot": own["plot"],
                "pick": number,
                "picked": f"{trial_id[:4]}-{day}",
                "harvest_weight_lb": weight,
            }
        )
        for number, day, weight in zip((1, 2), PICK_DATES, weights, strict=True)
    ]
    plots.loc[own.index, "harvest_weight_lb"] = np.nan
    return tables | {"plots": plots, "harvests": pd.concat(picks, ignore_index=True)}


def measured(tables: Tables, trial_ids: list[str], rng: np.random.Generator) -> pd.DataFrame:
    """A measurements table of the trials: plant height of two plants a plot, final stand of each plot."""
    trials = tables["trials"].set_index("trial_id")
    readings = []
    for trial_id in trial_ids:
        plots = tables["plots"].query("trial_id == @trial_id and outcome == 'harvested'")
        crop, planted = trials.loc[trial_id, "crop"], trials.loc[trial_id, "planted"]
        mean, sd = PLANT_HEIGHT_IN[crop]
        plot_height = rng.normal(mean, sd, len(plots))
        for subsample in SUBSAMPLES:
            height = (plot_height + rng.normal(0, 2.0, len(plots))).round(1)
            readings.append(_readings(plots, "plant height", planted, 60, subsample, height, "in"))
        readings.append(_readings(plots, "final stand", planted, 21, "", plots["stand_plants_ac"], "plants/ac"))
    return pd.concat(readings, ignore_index=True)


def _readings(
    plots: pd.DataFrame, trait: str, planted: pd.Timestamp, days: int, subsample: int | str, values, unit: str
) -> pd.DataFrame:
    date = (planted + pd.Timedelta(days=days)).date().isoformat()
    return pd.DataFrame({
        "trial_id": plots["trial_id"], "plot": plots["plot"], "trait": trait, "date": date, "subsample": subsample,
        "value": values, "unit": unit,
    })  # fmt: skip


def weather_under_another_name(tables: Tables, season: int) -> Tables:
    """The first place's weather of a season under another name, which the sites table lists as also_called."""
    place = tables["sites"]["place"].iloc[0]
    sites, weather = tables["sites"].copy(), tables["weather_daily"].copy()
    sites.insert(2, "also_called", np.where(sites["place"] == place, place + OTHER_NAME, ""))
    weather.loc[(weather["place"] == place) & (weather["season"] == season), "place"] = place + OTHER_NAME
    return tables | {"sites": sites, "weather_daily": weather}
