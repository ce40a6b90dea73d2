"""The views of nitrogen, money and traits carry stored units into the reader's, and nothing else."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline.estimate_ids import FIGURES
from tests.declared_shapes import whole
from tests.tiny_program import write_tiny_program

LB_AC = 0.45359237 / (43560 * 0.3048**2) * 10_000
BU = 56 * LB_AC
COMPARISON = "corn-blend-vs-urea"
ESTIMATES = {
    "estimates.comparisons": pd.DataFrame(
        [{"comparison_id": COMPARISON, "position": 0, "says": "blend against urea", "crop": "corn",
          "target": "seasons tested", "rates": "{}", "declared": date(2090, 11, 15)}]
    ),
    "estimates.n_response": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "level": "pooled", "model": "quadratic-plateau", "is_primary": True,
          "flag": "found", "a": 100 * BU, "b": 0.8 * BU, "c": -0.004 * BU,
          "join": 100.0, "plateau": 140 * BU, "aonr": 100 * LB_AC, "eonr": 80 * LB_AC, "highest_rate": 200.0,
          "n_site_years": 3},
         {"crop": "corn", "family": "flat", "level": "pooled", "model": "quadratic-plateau", "is_primary": True,
          "flag": "no response", "a": 100 * BU,
          "b": 0.0, "join": 50.0, "highest_rate": 200.0, "n_site_years": 3},
         {"crop": "corn", "family": "rising", "level": "pooled", "model": "quadratic-plateau", "is_primary": True,
          "flag": "join beyond the highest rate",
          "a": 100 * BU, "b": 0.8 * BU, "c": -0.001 * BU, "highest_rate": 200.0, "n_site_years": 2},
         {"crop": "corn", "family": "urea", "level": "trial", "trial_id": "2091-A-corn", "site_year_id": "alder-2091",
          "model": "quadratic-plateau",
          "is_primary": True, "flag": "found", "eonr": 90 * LB_AC, "eonr_high": 110 * LB_AC, "highest_rate": 200.0}]
    ),
    "estimates.rate_means": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "site_year_id": s, "trial_id": s, "variant": "", "n_rate_kg_ha": rate,
          "mean": mean * BU, "n_plots": 4}
         for s, means in (("low", {0.0: 50, 120.0: 90}), ("high", {0.0: 110, 120.0: 170, 134.5: 190})) for rate,
         mean in means.items()]
        + [{"crop": "corn", "family": "rising", "site_year_id": s, "trial_id": s, "variant": "", "n_rate_kg_ha": rate,
            "mean": 90 * BU, "n_plots": 0}
           for s, rates in (("low", (0.0, 60.0, 130.0)), ("high", (0.0, 80.0, 150.0))) for rate in rates]
        + [{"crop": "corn", "family": "two trials", "site_year_id": "low", "trial_id": t, "variant": "",
            "n_rate_kg_ha": rate, "mean": mean * BU, "n_plots": 4}
           for t, means in (("poor", {0.0: 50, 120.0: 90}), ("rich", {0.0: 110, 134.5: 190})) for rate, mean in
           means.items()]
    ),
    "estimates.eonr_grid": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "level": "pooled", "model": "quadratic-plateau", "price_ratio": 5.6,
          "is_planning_ratio": True, "flag": "found", "eonr": 80 * LB_AC}]
    ),
    "estimates.rate_losses": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "n_rate_kg_ha": 120 * LB_AC, "eonr": 80 * LB_AC, "loss_kg_ha": 2 * BU,
          "conf_low": 0.0, "conf_high": 3 * BU,
          "n_site_years": 2, "n_curve_site_years": 3, "warnings": ""}]
    ),
    "estimates.source_prices": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "n_price_per_lb": 0.5, "currency": "$", "worth_1_per_ac_kg_ha": BU / 4.5,
          "lacking": "",
          "priced_as": "urea", "coated_n_fraction": 0.25, "harvest_cost": 0.1}]
    ),
    "estimates.nitrogen_prices": pd.DataFrame([{"n_source": "urea", "price_per_lb_n": 0.5, "product_n_pct": 46.0}]),
    "estimates.response_draws": pd.DataFrame([{"crop": "corn", "family": "urea", "draw": draw, "b": 0.8, "join": join,
                                               "is_below": False} for draw, join in ((1, 101.0), (0, 99.0))]),
    "estimates.efficiencies": pd.DataFrame(
        [{"crop": "corn", "family": "urea", "n_rate_kg_ha": 120 * LB_AC, "efficiency": "agronomic efficiency",
          "estimate": 20.0, "status": "estimated", "n_site_years": 3}]
    ),
    "estimates.budgets": pd.DataFrame(
        [{"comparison_id": COMPARISON, "unit": "bu/ac", "kg_ha_per_unit": BU, "net_change": 10.0, "conf_high": 19.0,
          "value_per_unit": 4.5, "break_even_gain_kg_ha": 2 * BU}]
    ),
    "estimates.noninferiority": pd.DataFrame(
        [{"comparison_id": COMPARISON, "target": "seasons tested", "scale": scale, "margin": margin,
          "economic_margin_kg_ha": -BU} for scale, margin in (("kg/ha", 3 * BU), ("ratio", 0.05))]
    ),
    "estimates.trait_gains": pd.DataFrame(
        [{"comparison_id": COMPARISON, "trait": trait, "unit": unit, "target": "seasons tested", "estimate": size}
         for trait, unit, size in (("plant height", "cm", 25.4), ("stem diameter", "mm", 2.54),
                                   ("final stand", "plants/ha", 24710.538146716534), ("bolls", "per plant", 3.0))]
    ),
}  # fmt: skip
for figure in (f"estimates.{name}" for name in FIGURES if f"estimates.{name}" in ESTIMATES):
    ESTIMATES[figure] = ESTIMATES[figure].assign(estimate_id=lambda rows, of=figure: [f"{of}-{i}" for i in rows.index])
ESTIMATES = {name: whole(name.removeprefix("estimates."), rows) for name, rows in ESTIMATES.items()}


def estimate(warehouse, program, card, tell):
    return ESTIMATES, card


@pytest.fixture(scope="module")
def views(tmp_path_factory):
    """The tiny program with these estimates, loaded once: only to be looked at."""
    return write_tiny_program(tmp_path_factory.mktemp("views") / "program").load(estimate)


def test_curves_and_their_lines(views):
    curve = views["reports.response_curves"].set_index("family").loc["urea"]
    assert (curve["zero_n_yield"], curve["plateau"], curve["aonr"], curve["eonr"]) == pytest.approx((100, 140, 100, 80))
    lines = views["reports.response_lines"]
    assert set(lines["family"]) == {"urea", "rising"}, "no line where there is no response"
    rising, lines = (lines[lines["family"] == family] for family in ("rising", "urea"))
    # still rising at the highest rate: drawn to the rate that both site-years reach, though they tested no rate but
    # zero alike
    assert rising["n_rate"].max() * LB_AC == pytest.approx(130)
    assert rising["yield"].iloc[-1] == pytest.approx(100 + 0.8 * 130 - 0.001 * 130**2)
    # a quadratic-plateau that joins at 100 kg/ha, drawn up to 120, which both site-years have
    kg_ha = lines["n_rate"] * LB_AC
    assert kg_ha.tolist() == pytest.approx([1.2 * step for step in range(101)])
    rise = 0.8 * (kg_ha.clip(upper=100) - kg_ha.clip(upper=100) ** 2 / 200)
    assert lines["yield"].tolist() == pytest.approx((100 + rise).tolist())


def test_a_rate_of_some_site_years_is_placed_by_its_rise_over_zero_n(views):
    means = views["reports.response_means"].query("family == 'urea'").sort_values("n_rate")
    assert means["yield"].tolist() == pytest.approx([80, 130, 160])
    assert means["has_all_site_years"].tolist() == [True, True, False]
    assert means["n_rate"].tolist() == pytest.approx([0, 120 / LB_AC, 134.5 / LB_AC])


def test_a_rate_of_one_trial_rises_over_the_zero_n_of_that_trial(views):
    """80 at zero-N on average, 40 more in the poor field and 80 more in the rich one."""
    means = views["reports.response_means"].query("family == 'two trials'").sort_values("n_rate")
    assert means["yield"].tolist() == pytest.approx([80, 120, 160])
    assert means["n_site_years"].tolist() == [1, 1, 1] and means["has_all_site_years"].all()


def test_price_ratio_losses_and_efficiency(views):
    assert views["reports.eonr_grid"]["price_ratio"][0] == pytest.approx(0.1), (
        "0.10 money per lb N over money per bushel is 5.6 kg per kg"
    )
    lost = views["reports.rate_losses"].iloc[0]
    assert (lost["n_rate"], lost["eonr"], lost["loss"], lost["conf_low"], lost["conf_high"]) == pytest.approx(
        (120, 80, 9, 0, 13.5)
    ), "two bushels at 4.50 are 9 per acre"
    assert pd.isna(lost["nearly_within"]) and not lost["nearly_is_late"], "no band unless one is declared"
    urea = views["reports.response_curves"].set_index("family").loc["urea"]
    assert (urea["n_price_per_lb"], urea["priced_as"], urea["coated_n_fraction"], urea["harvest_cost"]) == (
        0.5,
        "urea",
        0.25,
        0.1,
    )
    assert (urea["kg_ha_per_unit"], urea["kg_ha_per_n_unit"]) == pytest.approx((BU, LB_AC))
    assert views["reports.response_draws"]["join_kg_ha"].tolist() == [99.0, 101.0], "in order of the draws"
    assert views["reports.nitrogen_prices"].iloc[0].to_dict() == {
        "n_source": "urea",
        "price_per_lb_n": 0.5,
        "product_n_pct": 46.0,
    }
    # 20 kg/kg is 0.357 bushels of corn per lb of N (56 lb bushels)
    assert views["reports.efficiencies"]["estimate_display"][0] == pytest.approx(20 / 56)


def test_a_trial_has_its_own_optimum_rates(views):
    (own,) = views["reports.trial_curves"].itertuples()
    assert (own.trial_id, own.eonr, own.eonr_high) == ("2091-A-corn", pytest.approx(90), pytest.approx(110))


BAND = (
    "prices: {fixed_on: 2094-11-01, crops: {corn: {price_per_bu: 4.5}}}\nnearly_as_well_within: {value: 6, unit: $/ac,"
    " basis: half a pass, fixed_on: %s}\ncomparisons:"
)


@pytest.mark.parametrize(("day", "is_late"), [("2090-11-15", False), ("2099-11-15", True)])
def test_a_declared_band_stands_beside_each_loss_and_says_if_it_came_after_the_first_harvest(tiny, day, is_late):
    tiny.settings("comparisons:", BAND % day)
    tables = tiny.load(estimate)
    lost = tables["reports.rate_losses"].iloc[0]
    assert (lost["nearly_within"], lost["nearly_basis"], lost["nearly_is_late"]) == (6, "half a pass", is_late)
    late = tables["reports.findings"].query("check_name == 'fixed after harvest'")["found"]
    assert late.str.startswith("nearly_as_well_within fixed on").any() == is_late


def test_money_and_margins(views):
    money = views["reports.money"].iloc[0]
    assert (money["half_width"], money["break_even_display"], money["net_change_per_ha"]) == pytest.approx(
        (2, 2, 10 / 0.40468564224)
    )
    margins = views["reports.as_good"].set_index("scale")["margin"]
    assert margins.to_dict() == pytest.approx({"kg/ha": 3, "ratio": 0.05})
    assert views["reports.as_good"]["economic_margin"].tolist() == pytest.approx([-1, -1])


def test_traits_in_us_units(views):
    found = views["reports.trait_gains"].set_index("trait")
    assert found["estimate"].to_dict() == pytest.approx(
        {"plant height": 10, "stem diameter": 0.1, "final stand": 10000, "bolls": 3}
    )
    assert found["unit"].to_dict() == {
        "plant height": "in",
        "stem diameter": "in",
        "final stand": "plants/ac",
        "bolls": "per plant",
    }


def test_a_trial_of_zero_n_and_one_treatment_has_the_error_that_its_zero_n_plots_give(tiny):
    """Without them no plot noise is left to see, and its page said so beside an interval of the same trial."""
    tiny.change("plots", 3, "harvest_weight_lb", "40.1")
    tiny.change("plots", 3, "harvest_weight_lb", "40.1", 2092)
    heads, *rows = tiny.rows("plots")
    trial, code = heads.index("trial_id"), heads.index("treatment_code")
    left = [row for row in rows if row[trial] != "2091-A-corn" or row[code] != "C-120"]
    tiny.write("plots", [heads, *left])
    tables = tiny.load_and_estimate()
    trials = tables["reports.trials"].set_index("trial_id")
    analyses = tables["estimates.trial_analyses"].set_index(["trial_id", "zero_n_in_error"])
    with_zero_n = analyses.loc[("2091-A-corn", True), "lsd_5pct"]
    assert pd.isna(analyses.loc[("2091-A-corn", False), "lsd_5pct"]) and with_zero_n > 0
    assert trials.loc["2091-A-corn", "lsd_5pct"] * BU == pytest.approx(with_zero_n)
    other = analyses.loc[("2092-A-corn", False), "lsd_5pct"]
    assert trials.loc["2092-A-corn", "lsd_5pct"] * BU == pytest.approx(other), "elsewhere zero-N stays out of it"


@pytest.mark.parametrize("display", ["us", "metric"])
def test_what_a_site_year_returns_an_acre_does_not_depend_on_the_units_of_the_pages(tiny, display):
    """A gain of 10 bushels at $4.50, for $12 more an acre: $33 (arithmetic)."""
    gained = {"comparison_id": COMPARISON, "site_year_id": "alder-2091", "place": "Alder", "season": 2091}
    budget = ESTIMATES["estimates.budgets"].assign(cost=12.0, currency="$")
    found = {"budgets": budget, "site_year_gains": pd.DataFrame([gained | {"gain": 10 * BU}])}
    found = ESTIMATES | {f"estimates.{name}": whole(name, rows) for name, rows in found.items()}

    tiny.settings("program: Tiny trials\n", f"program: Tiny trials\ndisplay_units: {display}\n")
    tables = tiny.load(lambda warehouse, program, card, tell: (found, card))
    assert tables["reports.site_year_gains"]["net_change"].tolist() == pytest.approx([33])
