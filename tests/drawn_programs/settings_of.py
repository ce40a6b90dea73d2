"""The program.yml of a drawn program."""

from __future__ import annotations

from pipeline.contract.vocabulary import COVARIATE_UNITS, COVARIATES, EXCESS_WATER, NITROGEN_RELEASED
from tests.drawn_programs.choices import CROPS, Choices, stream

ARMS = {
    "U1": {"n_source": "urea", "passes": 1},
    "U2": {"n_source": "urea", "passes": 2, "timing": "split"},
    "C50": {"n_source": "coated blend", "coated_n_fraction": 0.5},
    "CU": {"n_source": "coated urea"},
}
SAYS = {
    "U1": "urea, one application",
    "U2": "urea split in two",
    "C50": "half-coated blend",
    "CU": "coated urea alone",
    "ZERO": "no nitrogen",
}
MAY_DIFFER = ["n_source", "coated_n_fraction", "timing", "passes", "placement"]
TARGETS = ("seasons tested", "seasons to come")
RELEASE = {"product": "coated urea", "percent_out": {10: 20, 30: 50, 60: 80}, "q10": 2, "source": "the maker's sheet"}
EARLY, LATE = "2090-11-15", "2098-01-01"


def settings_of(seed: int, chosen: Choices) -> dict:
    """The settings as a mapping; all of them may be asked of the trials, whatever the trials can answer."""
    comparisons = [_comparison(seed, chosen, position) for position in range(chosen.n_comparisons)]
    window = {"first_day": "05-01", "last_day": "05-05"}
    has_window = chosen.rain != "none" or seed % 2 == 0
    settings = {
        "program": f"Drawn program {seed}",
        "display_units": chosen.display_units,
        "may_be_named": chosen.may_be_named,
        "rainfall": {
            "reference": {"first_year": 2071, "last_year": 2090},
            "windows": {crop: window for crop in chosen.crops[: None if has_window else 0]},
            "fewest_reference_years": 15,
            "fixed_on": EARLY,
        },
        "fewest_blocks": int(stream(seed, "fewest blocks").choice([1, 2, 2, 3])),
        "comparisons": comparisons,
    }
    own = {crop: CROPS[crop].own for crop in chosen.crops if CROPS[crop].own}
    if own:
        settings["crops"] = own
    if chosen.prices != "none":
        settings["prices"] = _prices(seed, chosen)
    if chosen.n_claims:
        settings["claims"] = [_claim(seed, chosen, comparisons, position) for position in range(chosen.n_claims)]
    if chosen.weather == "whole":
        settings["release_tests"] = [RELEASE]
    if chosen.also_divided:
        classes = ["tiled and untiled within a drainage group", "previous crop", "N rate"]
        settings["also_divide_by"] = {"classes": classes, "declared": EARLY}
    return settings


def named_rates(seed: int, chosen: Choices) -> dict[str, dict[float, float]]:
    """The weights of each comparison's named rates, by rate (lb/ac)."""
    return {each["id"]: each.get("rates_lb_ac", {}) for each in settings_of(seed, chosen)["comparisons"]}


def _comparison(seed: int, chosen: Choices, position: int) -> dict:
    rng = stream(seed, f"comparison {position}")
    crop = CROPS[chosen.crops[position % len(chosen.crops)]]
    treatment = "C50" if position == 0 else str(rng.choice([f for f in chosen.families if f != "U1"]))
    others = [f for f in chosen.families if f != treatment] + ["ZERO"]
    comparator = "U1" if position == 0 else str(rng.choice(others))
    declared = LATE if chosen.declared_late else EARLY
    rates = crop.rates[: chosen.n_rates]
    found = {
        "id": f"{crop.word.replace(' ', '-')}-{position + 1}-{treatment}-vs-{comparator}",
        "says": f"{SAYS[treatment]} against {SAYS[comparator]}, question {position + 1}",
        "crop": crop.word,
        "target": TARGETS[int(rng.integers(2))],
        "treatment": ARMS[treatment],
        "comparator": {"role": "zero-N"} if comparator == "ZERO" else ARMS[comparator],
        "may_differ": MAY_DIFFER,
        "declared": declared,
    }
    if comparator == "ZERO":
        found |= {
            "match": "none",
            "may_differ": [*MAY_DIFFER, "n_rate_kg_ha"],
            "treatment": ARMS[treatment] | {"n_rate_lb_ac": rates[0]},
        }
    else:
        asked = rates[: int(rng.integers(1, len(rates) + 1))]
        found |= {"match": "same N rate", "rates_lb_ac": {rate: int(rng.integers(1, 3)) for rate in asked}}
    if rng.random() < 0.4:
        unit = str(rng.choice([crop.unit, "kg/ha", "ratio"]))
        size = {"ratio": 0.04, "kg/ha": 150}.get(unit, round(crop.level * 0.03, 1))
        found["noninferiority"] = {
            "margin": size,
            "unit": unit,
            "basis": "half an LSD of these trials",
            "fixed_on": declared,
        }
        found["question"] = str(rng.choice(["as good", "gain"]))
    if chosen.weather != "none" and position < 2:
        asked = stream(seed, f"explained {position}").permutation(COVARIATES)[: 1 + position]
        found["explained_by"] = [_explanation(str(covariate), declared) for covariate in asked]
    return found


def _explanation(covariate: str, declared: str) -> dict:
    until = {"until": "06-25"} if covariate in (EXCESS_WATER, NITROGEN_RELEASED) else {"days": 20}
    worth = {"worth_finding": {"slope": 1.0, "unit": "kg/ha per mm"}} if COVARIATE_UNITS[covariate] == "mm" else {}
    return {"covariate": covariate, "declared": declared} | until | worth


def _prices(seed: int, chosen: Choices) -> dict:
    rng = stream(seed, "prices")
    crops = {
        word: (
            {"price_per_bu": 4.5, "hauling_per_bu": 0.1, "drying_per_point_bu": 0.045}
            if CROPS[word].unit == "bu/ac"
            else {"price_per_lb": 0.72}
        )
        for word in chosen.crops
    }
    if chosen.prices == "no crop":
        return {
            "fixed_on": EARLY,
            "crops": {
                "soybean" if "soybean" not in chosen.crops else "cotton": {
                    "price_per_bu" if "soybean" not in chosen.crops else "price_per_lb": 11
                }
            },
            "nitrogen_per_lb_n": {"urea": 0.5},
        }
    if chosen.prices == "thin":
        return {"fixed_on": EARLY, "crops": crops} | (
            {"nitrogen_per_lb_n": {"urea": 0.5}} if rng.random() < 0.5 else {}
        )
    return {
        "fixed_on": EARLY,
        "currency": "$",
        "nitrogen_per_lb_n": {"urea": 0.5},
        "coated_premium_per_lb_n": 0.18,
        "pass_cost_per_ac": 12,
        "crops": crops,
    }


def _claim(seed: int, chosen: Choices, comparisons: list[dict], position: int) -> dict:
    rng = stream(seed, f"claim {position}")
    about = comparisons[int(rng.integers(len(comparisons)))]
    crop = CROPS[about["crop"]]
    claim = {
        "sentence": f"Sentence number {position + 1} of the flyer.",
        "where": "flyer, back page",
        "comparison": about["id"],
    }
    kind = str(rng.choice(["gain", "gain", "percent", "class", "money", "as good"]))
    if kind == "as good" and "noninferiority" in about:
        return claim | {"states": "as good"}
    if kind == "money" and chosen.prices in ("whole", "thin"):
        return claim | {"gain": float(rng.choice([15, -10])), "unit": "$/ac"}
    if chosen.weather != "none" and position == 2:
        states = str(rng.choice(["more with", "less with"]))
        return claim | {"states": states, "weather": str(rng.choice(COVARIATES))}
    if kind == "percent":
        return claim | {"gain": float(rng.choice([2, 30])), "unit": "%"}
    size = round(crop.level * float(rng.choice([0.02, 0.05, -0.03, 0.3])), 1)
    claim |= {"gain": size, "unit": crop.unit, "target": TARGETS[int(rng.integers(2))]}
    return claim | ({"only_in": str(rng.choice(["dry", "wet", "P", "W x normal"]))} if kind == "class" else {})
