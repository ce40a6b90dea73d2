"""The trials of a drawn program, with treatments, applications, plots or printed means, as a season folder delivers
them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.drawn_programs.choices import COOPERATORS, CROPS, FIRST_SEASON, Choices, Crop, stream

# family: N source, coated share, timing, passes
SOURCES = {
    "ZERO": ("none", "", "none", 0),
    "U1": ("urea", "", "at planting", 1),
    "U2": ("urea", "", "split", 2),
    "C50": ("coated blend", 0.5, "at planting", 1),
    "CU": ("coated urea", 1, "at planting", 1),
}
TURNOUT, LENGTH_FT, WIDTH_FT, ACRE_FT2 = 0.392, 30.0, 5.0, 43560.0
KG_HA_PER_LB_AC = 1.120851156
ERROR_KINDS = ("LSD", "CV", "SED", "SE of mean", "MSE", "p", "none")


@dataclass(frozen=True)
class Treatment:
    code: str
    family: str
    rate: int
    mean: float


def delivered_trials(seed: int, chosen: Choices, sites: list[dict]) -> dict[int, dict[str, list[dict]]]:
    """Tables by season; every season has its trials, treatments and plots."""
    seasons = range(FIRST_SEASON, FIRST_SEASON + chosen.n_seasons)
    names = ["trials", "treatments", "plots"] + (["nitrogen_applications"] if chosen.applications else [])
    by_season: dict[int, dict[str, list[dict]]] = {season: {name: [] for name in names} for season in seasons}
    for trial in _listed(seed, chosen, sites, list(seasons)):
        tables = by_season[trial["season"]]
        _deliver(seed, chosen, trial, tables)
    return {season: tables for season, tables in by_season.items() if tables["trials"]}


def _listed(seed: int, chosen: Choices, sites: list[dict], seasons: list[int]) -> list[dict]:
    """The rows of the trials table: places and seasons drawn without repeats, so that few trials leave seasons and
    places out.
    """
    rng = stream(seed, "where")
    spots = [(season, site["site_id"], crop) for season in seasons for site in sites for crop in chosen.crops]
    rng.shuffle(spots)
    lost_season = int(rng.choice(seasons))
    rows, earlier = [], {}
    for season, site, crop in sorted(spots[: chosen.n_trials]):
        trial_id = f"{season}-{site.replace(' ', '')}-{crop.replace(' ', '')}"
        is_lost = (
            chosen.lost == "all"
            or (chosen.lost == "a season" and season == lost_season)
            or (chosen.lost == "some" and rng.random() < 0.3)
        )
        outcome = str(rng.choice(["lost", "planned", "planted"])) if is_lost else "harvested"
        rows.append({
            "trial_id": trial_id, "season": season, "site_id": site, "crop": crop,
            "design": str(rng.choice(chosen.designs)),
            "planted": f"{season}-05-02", "harvested": f"{season}-10-04" if outcome == "harvested" else "",
            "row_spacing_in": 30,
            "previous_crop": str(rng.choice(["corn", "soybean", ""])),
            "artificial_drainage": str(rng.choice(["none", "subsurface", ""])),
            "outcome": outcome, "outcome_reason": "stand drowned" if outcome == "lost" else "",
            "cooperator": COOPERATORS[len(rows) % len(COOPERATORS)],
            "same_plots_as": earlier.get((site, crop), "") if chosen.same_plots else "",
        })  # fmt: skip
        if chosen.weather != "none":
            rows[-1]["irrigated"] = "yes" if site.startswith("Birch") else "no"
        earlier[site, crop] = trial_id
    return rows


def _deliver(seed: int, chosen: Choices, trial: dict, tables: dict[str, list[dict]]) -> None:
    """Adds a trial's rows to its season's tables."""
    rng = stream(seed, trial["trial_id"])
    crop = CROPS[trial["crop"]]
    treatments = _treatments(rng, chosen, crop)
    tables["trials"].append(trial)
    tables["treatments"] += [_treatment_row(trial, each) for each in treatments]
    if chosen.applications:
        tables["nitrogen_applications"] += [row for each in treatments for row in _applications(trial, each)]
    if trial["outcome"] != "harvested":
        return
    is_printed = chosen.printed == "all" or (chosen.printed == "some" and rng.random() < 0.4)
    if is_printed:
        tables.setdefault("printed_means", []).extend(_printed(rng, chosen, trial, crop, treatments))
        return
    plots = _plots(rng, chosen, trial, crop, treatments)
    tables["plots"] += plots
    if chosen.traits:
        tables.setdefault("measurements", []).extend(_heights(rng, trial, plots))


def _treatments(rng: np.random.Generator, chosen: Choices, crop: Crop) -> list[Treatment]:
    """Each trial may lack a family or a rate, and has a level and gains of its own."""
    level = crop.level * (1 + 0.1 * rng.normal())
    rates = [rate for rate in crop.rates[: chosen.n_rates] if rng.random() < 0.92] or [crop.rates[0]]
    families = [family for family in chosen.families if rng.random() < 0.92] or ["U1"]
    found = [Treatment("ZERO", "ZERO", 0, 0.6 * level)] if chosen.zero_n else []
    own = {family: chosen.spread * rng.normal() for family in SOURCES}
    shift = {"C50": chosen.gain, "CU": chosen.gain / 2, "U2": 0.02}
    for family in families:
        for rate in rates:
            response = 0.6 + 0.4 * min(1.0, rate / crop.rates[-1] + 0.3)
            gain = 0.0 if family == "U1" else shift.get(family, 0.0) + own[family]
            found.append(Treatment(f"{family}-{rate}", family, rate, level * (response + gain)))
    return found


def _treatment_row(trial: dict, each: Treatment) -> dict:
    source, share, timing, passes = SOURCES[each.family]
    is_zero = each.family == "ZERO"
    return {
        "trial_id": trial["trial_id"],
        "treatment_code": each.code,
        "n_source": source,
        "coated_n_fraction": share,
        "n_rate_lb_ac": each.rate,
        "timing": timing,
        "passes": passes,
        "placement": "none" if is_zero else "broadcast",
        "is_zero_n": "yes" if is_zero else "no",
        "is_grower_standard": "yes" if each.family == "U2" else "no",
    }


def _applications(trial: dict, each: Treatment) -> list[dict]:
    coated = {"C50": 0.5, "CU": 1.0}.get(each.family, 0.0) * each.rate
    parts = [("coated urea", 44, coated), ("urea", 46, each.rate - coated)]
    return [
        {
            "trial_id": trial["trial_id"], "treatment_code": each.code, "application": f"{trial['planted']} {product}",
            "product": product,
            "product_n_pct": n_pct, "n_rate_lb_ac": rate, "placement": "broadcast", "counts_toward": "treatment",
        }
        for product, n_pct, rate in parts if rate
    ]  # fmt: skip


def _printed(rng, chosen: Choices, trial: dict, crop: Crop, treatments: list[Treatment]) -> list[dict]:
    kind = str(rng.choice(ERROR_KINDS))
    sd, n_blocks = max(chosen.noise, 0.01) * crop.level, max(chosen.n_blocks, 2)
    value = {
        "LSD": 2.1 * sd * (2 / n_blocks) ** 0.5,
        "CV": 100 * sd / crop.level,
        "SED": sd * (2 / n_blocks) ** 0.5,
        "SE of mean": sd / n_blocks**0.5,
        "MSE": sd**2,
        "p": 0.03,
    }
    error = round(value[kind], 3) if kind in value else ""
    rows = []
    for each in treatments:
        mean = each.mean + sd / n_blocks**0.5 * rng.normal()
        rows.append({
            "trial_id": trial["trial_id"], "treatment_code": each.code,
            **_yield_cell(crop, mean, "mean_yield", metric=False), "n_blocks": n_blocks,
            "error_kind": kind, "error_value": error, "error_alpha": 0.05 if kind == "LSD" else "",
            "citation": "annual report, p. 14",
        })  # fmt: skip
    return rows


def _plots(rng, chosen: Choices, trial: dict, crop: Crop, treatments: list[Treatment]) -> list[dict]:
    rows = []
    for block, stand in _stand(rng, chosen.n_blocks, trial["design"], treatments):
        block_effect = 0.02 * crop.level * (np.sin(int(block) * 1.7) if chosen.noise else 0)
        for number, (main_plot, each) in enumerate(stand, start=1):
            value = max(each.mean + block_effect + chosen.noise * crop.level * rng.normal(), 0.05 * crop.level)
            row = {
                "trial_id": trial["trial_id"],
                "block": block,
                "main_plot": main_plot,
                "plot": f"{block}{number:02d}",
                "treatment_code": each.code,
            }
            is_lost = rng.random() < 0.03
            row |= (
                {"outcome": "damaged", "cause": "hail", "caused_by_treatment": "no"}
                if is_lost
                else {"outcome": "harvested"}
            )
            rows.append(row | ({} if is_lost else _harvest(chosen, crop, value)))
    return rows


def _stand(rng, n_blocks: int, design: str, treatments: list[Treatment]):
    """(block, [(main plot, treatment)]) by the design's own rules."""
    if design == "Latin square":
        n_blocks = len(treatments)
    if design == "CRD":
        plots = [("", each) for each in treatments for _ in range(n_blocks)]
        rng.shuffle(plots)
        yield "1", plots
        return
    for block in range(1, (1 if design == "unreplicated" else n_blocks) + 1):
        order = [treatments[i] for i in rng.permutation(len(treatments))]
        if design == "strips":
            yield str(block), [("", each) for each in order for _ in range(3)]
        elif design == "incomplete block":
            yield str(block), [("", each) for each in order[: max(2, len(order) - 2)]]
        elif design == "split-plot":
            families = [family for family in dict.fromkeys(each.family for each in order) if family != "ZERO"]
            yield str(block), [(f, each) for f in families for each in order if each.family in (f, "ZERO")]
        else:
            yield str(block), [("", each) for each in order]


def _harvest(chosen: Choices, crop: Crop, value: float) -> dict:
    """What is delivered of a yield per acre: a weight with all it takes, or the yield."""
    if chosen.yields != "weighed":
        return _yield_cell(crop, value, "yield", metric=chosen.yields == "metric")
    acres = LENGTH_FT * WIDTH_FT / ACRE_FT2
    area = {"harvest_length_ft": LENGTH_FT, "harvest_width_ft": WIDTH_FT, "rows_harvested": 2}
    if crop.moisture is None:
        return area | {"harvest_weight_lb": round(value * acres / TURNOUT, 3), "gin_turnout_fraction": TURNOUT}
    pounds = value * (crop.bushel_lb if crop.unit == "bu/ac" else 1.0)
    at, standard = crop.moisture
    return area | {"harvest_weight_lb": round(pounds * acres * (100 - standard) / (100 - at), 3), "moisture_pct": at}


def _yield_cell(crop: Crop, value: float, name: str, *, metric: bool) -> dict:
    if crop.unit == "bu/ac" and not metric:
        return {f"{name}_bu_ac": round(value, 2)}
    pounds = value * (crop.bushel_lb if crop.unit == "bu/ac" else 1.0)
    return {f"{name}_kg_ha": round(pounds * KG_HA_PER_LB_AC, 1)} if metric else {f"{name}_lb_ac": round(pounds, 1)}


def _heights(rng, trial: dict, plots: list[dict]) -> list[dict]:
    return [
        {"trial_id": trial["trial_id"], "plot": plot["plot"], "trait": "plant height",
         "date": f"{trial['season']}-07-02", "value": round(40 + 3 * rng.normal(), 1), "unit": "in"}
        for plot in plots
    ]  # fmt: skip
