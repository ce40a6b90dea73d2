"""What the average gain is worth: a partial budget by its four boxes.

Net change = added returns + reduced costs - added costs - reduced returns, only of what
changes (CIMMYT 1988, From Agronomic Data to Farmer Recommendations). Per acre, in the
currency of one dated set of prices; the yield unit is bu/ac or, for lint, lb/ac. Nothing is
rounded on the way. With g the gain and y the comparator's mean yield (both in the yield
unit), the rest per acre, t treatment and c comparator:

    premium    = coated_premium x (coated_lb_t - coated_lb_c)
    nitrogen   = n_rate_t x n_price_t - n_rate_c x n_price_c
    passes     = pass_cost x (passes_t - passes_c)
    moisture   = drying x y x (points_t - points_c)       points above standard moisture
    cost       = premium + nitrogen + passes + moisture   negative when costs are saved
    value      = crop_price - hauling - ginning - drying x points_t
    net change = g x value - cost
    interval   = net change -+ t x SE(g) x value          only the gain is uncertain here
    break-even = cost / value
    chance the average pays  = T((g - break-even) / SE(g))  T: Student's t, its df
    share of fields that pay = F((g - break-even) / tau)    F: standard normal;
        also at both ends of the interval of g
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.contract.results import blank, frame_of
from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.estimates.average.chances import pay_chances
from pipeline.estimates.money.inputs import COMPARATOR, TREATMENT, Prices, missing_inputs

FEWEST_SITE_YEARS, FEWEST_SEASONS = 6, 3
# A spread between fields this small beside the standard error is an estimate of zero.
NO_SPREAD = 1e-3
INTERVAL_COVERS = "Only the gain is uncertain in this interval: prices, rates, passes and moisture are taken as given."
BOXES = ADDED_RETURNS, REDUCED_COSTS, ADDED_COSTS, REDUCED_RETURNS = (
    "added returns",
    "reduced costs",
    "added costs",
    "reduced returns",
)
# What program_budgets adds to a budget: whose weather its gain stands for, and what its closed formula takes.
FORMULA_INPUTS = (
    "crop_price", "coated_premium", "pass_cost", "hauling_and_ginning", "drying", "coated_lb", "treatment_rate_lb",
    "comparator_rate_lb", "treatment_n_price", "comparator_n_price", "treatment_priced_as", "comparator_priced_as",
    "passes", "treatment_points", "comparator_points",
)  # fmt: skip
OF_THE_PROGRAM = ("weather", "weather_reason", *FORMULA_INPUTS, "gives_chances")
NO_COMPARATOR_YIELD = "missing: the comparator's mean yield, by which the cost of drying grows"
NO_CHANCES = dict.fromkeys(
    ("average_pays_tenths", "fields_pay_tenths", "fields_pay_low_tenths", "fields_pay_high_tenths")
)
GRID_FACTORS = (0.5, 0.75, 1.0, 1.25, 1.5)


@dataclass(frozen=True)
class Terms:
    """The parts of one budget, per acre; costs are treatment minus comparator."""

    premium: float
    nitrogen: float
    passes: float
    moisture: float
    crop_price: float
    harvest_cost: float

    @property
    def cost(self) -> float:
        return self.premium + self.nitrogen + self.passes + self.moisture

    @property
    def value(self) -> float:
        """Worth of one more unit of yield after the costs that grow with yield."""
        return self.crop_price - self.harvest_cost

    @property
    def break_even_gain(self) -> float:
        return self.cost / self.value

    def net_change(self, gain: float) -> float:
        return gain * self.value - self.cost


def terms_of(arms: dict[str, pd.Series], prices: Prices, comparator_yield: float) -> Terms:
    """The parts of one comparison's budget.

    arms: 'treatment' and 'comparator', rows of inputs.arm_inputs. comparator_yield
    in the yield unit, NaN where only differences are known: moisture is NaN then if the arms differ in it. Call it
    only where missing_inputs finds nothing missing.
    """
    treatment, comparator = arms[TREATMENT], arms[COMPARATOR]
    lb = {side: arm["n_rate_kg_ha"] / KG_HA_PER_LB_AC for side, arm in arms.items()}
    coated_lb = (treatment["coated_n_kg_ha"] - comparator["coated_n_kg_ha"]) / KG_HA_PER_LB_AC
    spent = {side: lb[side] * prices.of_nitrogen(arm["n_source"]) if lb[side] else 0.0 for side, arm in arms.items()}
    points = {side: prices.points_to_dry(arm["moisture_pct"]) for side, arm in arms.items()}
    more_points = points[TREATMENT] - points[COMPARATOR]
    return Terms(
        premium=prices.premium * coated_lb if coated_lb else 0.0,
        nitrogen=spent[TREATMENT] - spent[COMPARATOR],
        passes=(prices.pass_cost or 0.0) * (treatment["passes"] - comparator["passes"]),
        moisture=prices.drying * comparator_yield * more_points if more_points else 0.0,
        crop_price=prices.crop_price,
        harvest_cost=prices.harvest_cost(treatment["moisture_pct"]),
    )


def budget(
    gain_row: pd.Series,
    arm_inputs: pd.DataFrame,
    prices: Prices | None,
    *,
    comparator_yield_kg_ha: float,
    unit: str,
    kg_ha_per_unit: float,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """One comparison and target: its row of budgets without OF_THE_PROGRAM, budget_items, price_grid.

    gain_row: of long_run_gains or pooled_gains (estimate, std_error, df, conf_level, tau2 in
    kg/ha; n_site_years, n_seasons). arm_inputs: of this comparison. Where something is
    missing, the one budget row says what, and there are no items and no grid.
    """
    row = {name: gain_row[name] for name in ("comparison_id", "target", "n_site_years", "n_seasons")}
    row |= {"unit": unit, "kg_ha_per_unit": kg_ha_per_unit}
    arms = {arm["arm"]: arm for _, arm in arm_inputs.iterrows()}
    if reason := _why_not(gain_row, arms, prices):
        return _tables(row | {"reason": reason}, [], [])
    gain = _Gain.of(gain_row, kg_ha_per_unit)
    terms = terms_of(arms, prices, comparator_yield_kg_ha / kg_ha_per_unit)
    row |= _head(gain, prices) | {"comparator_yield": comparator_yield_kg_ha / kg_ha_per_unit, "reason": ""}
    row |= {"not_counted": prices.not_counted(arms)}
    if np.isnan(terms.cost):
        return _tables(row | {"reason": NO_COMPARATOR_YIELD}, [], [])
    if not terms.value > 0:
        reason = "the crop price does not exceed the harvest costs of one unit of yield"
        return _tables(row | {"reason": reason}, [], [])
    key = {name: row[name] for name in ("comparison_id", "target")}
    items = [key | item for item in _items(terms, gain.estimate)]
    row |= _boxes(items) | _net(terms, gain) | _chances(terms, gain, row)
    row["break_even_gain_kg_ha"] = terms.break_even_gain * kg_ha_per_unit
    grid = [key | cell for cell in _grid(arms, prices, row["comparator_yield"], gain)]
    return _tables(row, items, grid)


def _tables(row: dict, items: list[dict], grid: list[dict]) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """The budget with its items and grid; without any, the row says only why."""
    row = row if items or grid else blank("budgets", without=OF_THE_PROGRAM) | row
    budgets = frame_of([row], "budgets", without=OF_THE_PROGRAM)
    return budgets, frame_of(items, "budget_items"), frame_of(grid, "price_grid")


@dataclass(frozen=True)
class _Gain:
    """The average gain and its spread between fields, in the yield unit."""

    estimate: float
    std_error: float
    df: float
    conf_level: float
    tau: float

    @classmethod
    def of(cls, row: pd.Series, kg_ha_per_unit: float) -> _Gain:
        estimate, std_error = (float(row[name]) / kg_ha_per_unit for name in ("estimate", "std_error"))
        tau = np.sqrt(float(row.get("tau2", np.nan))) / kg_ha_per_unit
        tau = tau if tau > NO_SPREAD * std_error else np.nan
        return cls(estimate, std_error, float(row["df"]), float(row["conf_level"]), tau)

    @property
    def half_width(self) -> float:
        return float(stats.t.ppf((1 + self.conf_level) / 2, self.df) * self.std_error)


def _why_not(gain_row: pd.Series, arms: dict[str, pd.Series], prices: Prices | None) -> str:
    """Why there is no budget, in words; '' where there is one."""
    if prices is None:
        return "program.yml has no prices for this crop, so there is no money table"
    if pd.isna(gain_row.get("estimate")) or pd.isna(gain_row.get("std_error")):
        why = gain_row.get("reason") or gain_row.get("rule")
        return f"no average gain: {why[0].lower()}{why[1:]}" if why else "no average gain"
    missing = missing_inputs(arms, prices)
    return f"missing: {'; '.join(missing)}" if missing else ""


def _head(gain: _Gain, prices: Prices) -> dict:
    return {
        "currency": prices.currency,
        "prices_fixed_on": prices.fixed_on,
        "gain": gain.estimate,
        "gain_std_error": gain.std_error,
        "df": gain.df,
        "tau": gain.tau,
        "conf_level": gain.conf_level,
        "interval_covers": INTERVAL_COVERS,
    }


def _items(terms: Terms, gain: float) -> list[dict]:
    """Each item in the box its sign puts it in; amounts are positive."""
    worth, extra = gain * terms.crop_price, gain * terms.harvest_cost
    returns = [("yield at the crop price", worth, ADDED_RETURNS, REDUCED_RETURNS)]
    costs = {
        "premium for coated nitrogen": terms.premium,
        "nitrogen at the price of its source": terms.nitrogen,
        "passes over the field": terms.passes,
        "drying at each arm's own moisture": terms.moisture,
        "harvest costs of the difference in yield": extra,
    }
    signed = returns + [(item, amount, ADDED_COSTS, REDUCED_COSTS) for item, amount in costs.items()]
    return [
        {"box": more if amount > 0 else less, "item": item, "amount": abs(amount)}
        for item, amount, more, less in signed
        if amount
    ]


def _boxes(items: list[dict]) -> dict[str, float]:
    return {box.replace(" ", "_"): sum(i["amount"] for i in items if i["box"] == box) for box in BOXES}


def _net(terms: Terms, gain: _Gain) -> dict[str, float]:
    net, half = terms.net_change(gain.estimate), gain.half_width * terms.value
    return {
        "cost": terms.cost,
        "value_per_unit": terms.value,
        "net_change": net,
        "conf_low": net - half,
        "conf_high": net + half,
        "break_even_gain": terms.break_even_gain,
    }


def _chances(terms: Terms, gain: _Gain, row: dict) -> dict:
    """Chances in tenths, where the gates let them be said; else the reason."""
    if row["n_site_years"] < FEWEST_SITE_YEARS or row["n_seasons"] < FEWEST_SEASONS:
        few = f"fewer than {FEWEST_SITE_YEARS} site-years or {FEWEST_SEASONS} seasons"
        return NO_CHANCES | {"chances_reason": f"{few}: no chances are given"}
    if np.isnan(gain.tau):
        return NO_CHANCES | {"chances_reason": "the spread between fields cannot be estimated: no chances are given"}
    above = gain.estimate - terms.break_even_gain
    return pay_chances(above, half_width=gain.half_width, std_error=gain.std_error, df=gain.df, tau=gain.tau)


def _grid(arms: dict[str, pd.Series], prices: Prices, comparator_yield: float, gain: _Gain) -> list[dict]:
    """Net change over premium and crop price, all else as in the budget; cells that cannot pay are left out."""
    premiums = [factor * prices.premium for factor in GRID_FACTORS] if prices.premium else [prices.premium]
    cells = []
    for premium in premiums:
        for factor in GRID_FACTORS:
            priced = prices.with_prices(premium, factor * prices.crop_price)
            terms = terms_of(arms, priced, comparator_yield)
            if terms.value > 0:
                cell = {"coated_premium": premium, "crop_price": priced.crop_price}
                cells.append(cell | _net(terms, gain))
    return cells
