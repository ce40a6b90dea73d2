"""What a partial budget is fed: one dated set of prices, and what each arm uses per acre."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.errors import UserError

TREATMENT, COMPARATOR = "treatment", "comparator"
# Whose weather an average stands for that money rests on.
LONG_RUN, AS_TESTED = "long-run weather", "weather as tested"
NO_N_PRICE = "the price of {} per lb N"
NO_ONE_PRICE = "one price per lb N ({} are bought apart)"
BESIDE = " | "  # between the words that an arm of several sources or additives has
NO_PREMIUM = "the premium per lb of coated N (or a price of coated urea)"
# The uncoated part of these is urea; the coating is paid by the premium.
BOUGHT_AS = {"coated urea": "urea", "coated blend": "urea"}
# what stands for nothing at all
ARM_WORDS = {"n_source": set(), "additive": {"none"}}


@dataclass(frozen=True)
class Prices:
    """Planning prices of one crop, all fixed on one date.

    crop_price, hauling and ginning (net of the seed credit; may be negative): per bushel,
    or per lb of lint. drying: per point of moisture and bushel. nitrogen: source word ->
    price per lb N. coated_premium: per lb of coated N, over the same N as urea; left out it
    is the price of coated urea less that of urea. pass_cost: per acre and pass. Raises
    UserError for a price that cannot be.
    """

    fixed_on: date
    crop_price: float
    nitrogen: dict[str, float] = field(default_factory=dict)
    coated_premium: float | None = None
    pass_cost: float | None = None
    hauling: float = 0.0
    ginning: float = 0.0
    drying: float = 0.0
    standard_moisture_pct: float | None = None
    currency: str = "$"

    def __post_init__(self) -> None:
        if not isinstance(self.fixed_on, date):
            raise UserError("prices: the date on which they were fixed is missing; without it no money is reported")
        amounts = {"crop price": self.crop_price, "hauling": self.hauling, "drying": self.drying}
        amounts |= {"pass cost": self.pass_cost} | {f"price of {word}": p for word, p in self.nitrogen.items()}
        for name, amount in amounts.items():
            if amount is not None and not (np.isfinite(amount) and amount >= 0):
                raise UserError(f"prices: the {name} is {amount:g}; it must be zero or more")
        if not self.crop_price > 0:
            raise UserError("prices: the crop price must be above zero")

    @property
    def premium(self) -> float | None:
        """Per lb of coated N; None where it is neither given nor can be derived."""
        if self.coated_premium is not None:
            return self.coated_premium
        prices = [self.nitrogen.get(word) for word in ("coated urea", "urea")]
        return None if None in prices else prices[0] - prices[1]

    def of_nitrogen(self, source: str) -> float | None:
        """Per lb N before any coating premium."""
        return self.nitrogen.get(bought_as(source))

    def of_source(self, source: str, coated_share: float) -> float | None:
        """Per lb N as it is spread: its price and the premium on the share that is coated; None where one is
        lacking.
        """
        if self.lacking_for(source, coated_share):
            return None
        return self.of_nitrogen(source) + (self.premium * coated_share if coated_share else 0.0)

    def lacking_for(self, source: str, coated_share: float) -> list[str]:
        """What the price of a source cannot be made without, in words."""
        bought = bought_as(source)
        no_price = NO_ONE_PRICE if BESIDE in bought else NO_N_PRICE
        lacking = [] if self.of_nitrogen(source) is not None else [no_price.format(bought.replace(BESIDE, " and "))]
        return lacking + ([NO_PREMIUM] if coated_share and self.premium is None else [])

    def worth_of_unit(self, moisture_pct: float) -> float:
        """Of one more unit of yield, harvested at this moisture, after the costs that grow with yield."""
        return self.crop_price - self.harvest_cost(moisture_pct)

    def harvest_cost(self, moisture_pct: float) -> float:
        """Per unit of yield: hauling, ginning net of seed, and drying."""
        return self.hauling + self.ginning + self.drying * self.points_to_dry(moisture_pct)

    def points_to_dry(self, moisture_pct: float) -> float:
        """Points of moisture above standard; 0 where either is unknown or grain came in dry."""
        if self.standard_moisture_pct is None or pd.isna(moisture_pct):
            return 0.0
        return max(0.0, float(moisture_pct) - self.standard_moisture_pct)

    def with_prices(self, premium: float | None, crop_price: float) -> Prices:
        """The same prices but for these two."""
        return replace(self, coated_premium=premium, crop_price=crop_price)

    def not_counted(self, arms: dict[str, pd.Series]) -> str:
        """What this budget leaves out for want of a price or a measurement; '' for nothing."""
        left_out = []
        if self.standard_moisture_pct is not None:
            if not self.drying:
                left_out.append("drying (no price)")
            elif any(pd.isna(arm["moisture_pct"]) for arm in arms.values()):
                left_out.append("drying (moisture not measured in both arms)")
        additives = {side: arm["additive"] for side, arm in arms.items()}
        if len(set(additives.values())) > 1:
            left_out.append(
                "; ".join(f"{additive} of the {side} (no price)" for side, additive in additives.items() if additive)
            )
        return "; ".join(left_out)


def bought_as(source: str) -> str:
    """The source word under which the N of a source is priced before any coating premium; of an arm of several
    sources the words of all.
    """
    return BESIDE.join(sorted({BOUGHT_AS.get(word, word) for word in source.split(BESIDE)}))


def arm_inputs(arms: pd.DataFrame, treatments: pd.DataFrame, moistures: pd.DataFrame | None = None) -> pd.DataFrame:
    """What each arm uses, columns of arm_inputs: averaged over the named rates with their weights, then over trials.

    Moisture counts at the rates of a trial where it was measured in both arms: else one arm would be charged for drying
    of its own, or for the grain of other rates or fields.
    treatments: trial_id, treatment_code, n_source, additive, coated_n_fraction, n_rate_kg_ha, passes.
    moistures: trial_id, treatment_code, moisture_pct (mean harvest moisture). n_source and additive
    list all words met, joined by ' | '; no additive is ''.
    """
    used = arms.merge(treatments, on=["trial_id", "treatment_code"], how="left")
    if moistures is None:
        moistures = pd.DataFrame(columns=["trial_id", "treatment_code", "moisture_pct"])
    used = used.merge(moistures, on=["trial_id", "treatment_code"], how="left")
    numeric = ["coated_n_fraction", "n_rate_kg_ha", "passes", "moisture_pct"]
    used[numeric] = used[numeric].apply(pd.to_numeric)
    of_rate = [used["comparison_id"], used["trial_id"], used["rate_kg_ha"]]
    n_measured = used["arm"].where(used["moisture_pct"].notna()).groupby(of_rate, dropna=False).transform("nunique")
    used["moisture_pct"] = used["moisture_pct"].where(n_measured == 2)
    used["coated_n_kg_ha"] = used["coated_n_fraction"].fillna(0.0) * used["n_rate_kg_ha"]
    rows = [
        {"comparison_id": comparison_id, "arm": arm} | _means(of_arm)
        for (comparison_id, arm), of_arm in used.groupby(["comparison_id", "arm"])
    ]
    return frame_of(rows, "arm_inputs")


def missing_inputs(arms: dict[str, pd.Series], prices: Prices) -> list[str]:
    """Prices and measured inputs that this comparison's budget cannot do without, in words."""
    if set(arms) != {TREATMENT, COMPARATOR}:
        return ["treatments of both arms"]
    treatment, comparator = arms[TREATMENT], arms[COMPARATOR]
    missing = []
    for side, arm in arms.items():
        if pd.isna(arm["n_rate_kg_ha"]) or pd.isna(arm["passes"]):
            missing.append(f"N rate or passes of the {side}")
        elif arm["n_rate_kg_ha"] > 0 and prices.of_nitrogen(arm["n_source"]) is None:
            missing += prices.lacking_for(arm["n_source"], coated_share=0.0)
    if treatment["coated_n_kg_ha"] != comparator["coated_n_kg_ha"] and prices.premium is None:
        missing.append(NO_PREMIUM)
    if treatment["passes"] != comparator["passes"] and prices.pass_cost is None:
        missing.append("the cost of a pass per acre")
    return list(dict.fromkeys(missing))


def _means(of_arm: pd.DataFrame) -> dict:
    columns = ["n_rate_kg_ha", "coated_n_kg_ha", "passes", "moisture_pct"]
    # codes that share a rate share its weight
    weight = of_arm["rate_weight"] / of_arm.groupby(["trial_id", "rate_kg_ha"], dropna=False)["rate_weight"].transform(
        "size"
    )
    by_trial = pd.DataFrame({name: _weighted(of_arm[name], weight, of_arm["trial_id"]) for name in columns})
    words = {name: BESIDE.join(sorted(set(of_arm[name].dropna()) - unsaid)) for name, unsaid in ARM_WORDS.items()}
    return words | {"n_trials": len(by_trial)} | by_trial.mean().to_dict()


def _weighted(values: pd.Series, weight: pd.Series, trials: pd.Series) -> pd.Series:
    """Weighted mean by trial over what is known."""
    known = values.notna()
    return (values * weight)[known].groupby(trials).sum() / weight[known].groupby(trials).sum()
