"""What one lb of N costs by the way it is given, and how many kg of yield pay for one kg of it.

A coated source costs more per lb N than the urea in it, so it pays best at a lower rate on the same curve. A pass
costs the same at every rate: it moves no optimum and stands in the partial budget.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.estimates.money.inputs import Prices, bought_as
from pipeline.estimates.money.program_budgets import moistures_of, prices_of
from pipeline.estimates.n_response.ladders import families
from pipeline.settings.program import Program

NO_CROP_PRICE = "a price of {}"
# what a row leaves empty where a price is lacking
NOT_PRICED = dict.fromkeys(
    (
        "currency",
        "prices_fixed_on",
        "n_price_per_lb",
        "priced_as",
        "harvest_cost",
        "price_ratio",
        "worth_1_per_ac_kg_ha",
    )
)
CROP_PAYS_NOTHING = "a price of {} above its harvest costs"


def prices_of_sources(program: Program, found, crops: pd.DataFrame) -> pd.DataFrame:
    """What each way of giving N costs per lb N, and the price ratio that its best paying rate rests on."""
    priced = {crop: prices_of(program, crops, crop) for crop in (program.prices.crops if program.prices else ())}
    sizes = crops["kg_ha_per_display_unit"].astype(float).to_dict()
    return source_prices(found.treatments, found.trials, moistures_of(found.plots), prices=priced, kg_ha_per_unit=sizes)


def source_prices(
    treatments: pd.DataFrame,
    trials: pd.DataFrame,
    moistures: pd.DataFrame,
    *,
    prices: Mapping[str, Prices],
    kg_ha_per_unit: Mapping[str, float],
) -> pd.DataFrame:
    """One row per crop and family, columns of source_prices; `lacking` says what is missing, and there is no ratio
    then.

    moistures: trial_id, treatment_code, moisture_pct, of which the family's mean is taken for drying. prices: by
    crop, per lb N and per unit of yield; kg_ha_per_unit: size of that unit.
    """
    given = families(treatments).merge(trials[["trial_id", "crop"]], on="trial_id")
    given = given.merge(moistures, on=["trial_id", "treatment_code"], how="left")
    rows = []
    for (crop, family), of_family in given.groupby(["crop", "family"], sort=True):
        first = of_family.iloc[0]
        share = 0.0 if pd.isna(first["coated_n_fraction"]) else float(first["coated_n_fraction"])
        row = {"crop": crop, "family": family, "n_source": first["n_source"], "coated_n_fraction": share}
        moisture = pd.to_numeric(of_family["moisture_pct"]).mean()
        rows.append(
            NOT_PRICED
            | row
            | _priced(crop, row["n_source"], share, moisture, prices.get(crop), kg_ha_per_unit.get(crop))
        )
    return frame_of(rows, "source_prices")


def price_ratios(of_sources: pd.DataFrame) -> dict[tuple[str, str], float]:
    """Price of 1 kg N over that of 1 kg of yield, by crop and family; those without one are left out."""
    known = of_sources.dropna(subset=["price_ratio"])
    return {(row.crop, row.family): float(row.price_ratio) for row in known.itertuples()}


def _priced(crop: str, source: str, share: float, moisture: float, prices: Prices | None, kg_ha: float | None) -> dict:
    if prices is None:
        return {"lacking": NO_CROP_PRICE.format(crop)}
    row = {
        "currency": prices.currency,
        "prices_fixed_on": prices.fixed_on,
        "n_price_per_lb": prices.of_source(source, share),
        "priced_as": bought_as(source),
        "harvest_cost": prices.harvest_cost(moisture),
    }
    worth = prices.worth_of_unit(moisture)
    lacking = prices.lacking_for(source, share) + ([] if worth > 0 else [CROP_PAYS_NOTHING.format(crop)])
    if lacking:
        return row | {"lacking": "; ".join(lacking)}
    # money per lb/ac is money per acre, and so is that of the yield it is worth
    one_per_acre = kg_ha / worth
    ratio = row["n_price_per_lb"] * one_per_acre / KG_HA_PER_LB_AC
    return row | {"lacking": "", "price_ratio": ratio, "worth_1_per_ac_kg_ha": one_per_acre}
