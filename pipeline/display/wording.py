"""One row of results to one plain sentence. No sentence claims more than its interval shows.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from pipeline.display.numbers import NBSP, between, count, day, listed, month_day, number, p_value, percent, seasons, text, with_metric

TESTED, TO_COME = "seasons tested", "seasons to come"
TARGET = {TESTED: "in the seasons tested", TO_COME: "for seasons to come"}
DRAINAGE = {
    "P": "P: somewhat poorly drained and wetter",
    "W": "W: well and moderately well drained",
    "R": "R: excessively and somewhat excessively drained",
}
DESIGN = {
    "RCBD": "randomized complete blocks",
    "CRD": "completely randomized",
    "split-plot": "split-plot",
    "strips": "strips across the field",
}
# A difference between classes is put in words only below this; it goes with the 95 % intervals.
ALPHA = 0.05


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def arms(says: str) -> tuple[str, str] | None:
    """The two sides of 'half-coated blend, against urea'; None where it is not said in that form."""
    sides = [side.strip(" ,") for side in says.split(" against ")]
    return (sides[0], sides[1]) if len(sides) == 2 else None


def verdict(row: Mapping) -> str:
    """What a pooled row allows to be said: 'none', 'few', 'gain', 'loss' or 'not shown'."""
    if pd.isna(row["estimate"]) or pd.isna(row["conf_low"]):
        return "none"
    if row["shown_as"] != "sentence":
        return "few"
    if row["conf_low"] > 0:
        return "gain"
    return "loss" if row["conf_high"] < 0 else "not shown"


def answer(row: Mapping) -> str:
    """The average gain in one sentence: target, size, interval, site-years, and whether it is shown at all."""
    found = verdict(row)
    where = f"{count(row['n_site_years'], 'site-year')} in {count(row['n_seasons'], 'season')}"
    if found == "none":
        return f"{capital(row['says'])}, {_target(row)}: {row['rule'][:1].lower()}{row['rule'][1:]}"
    if found == "not shown":
        word = "gain" if row["estimate"] >= 0 else "loss"
        return (
            f"A {word} is not shown {_target(row)}: {_averaged(row)}, over {where}, "
            f"but the average difference could be zero ({interval(row)})."
        )
    if found == "few":
        return f"{capital(_target(row))} {_averaged(row)}, but over only {where}: too few to claim anything from ({interval(row)})."
    if row["target"] == TO_COME:
        expected = _averaged(row, "is expected to yield")
        return f"{capital(_target(row))}, {expected}, on average over fields and seasons like the {where} tested ({interval(row)})."
    return f"{capital(_target(row))}, {_averaged(row)}, on average over {where} ({interval(row)})."


def _target(row: Mapping) -> str:
    """The target in words; the seasons tested are named."""
    words = TARGET[row["target"]]
    return f"{words} ({seasons(row['seasons'])})" if row["target"] == TESTED and row["seasons"] else words


def _averaged(row: Mapping, verb: str = "yielded") -> str:
    size = {column: abs(row[column]) for column in ("estimate", "estimate_kg_ha")} | {"unit": row["unit"], "digits": row["digits"]}
    direction = "more" if row["estimate"] >= 0 else "less"
    sides = arms(row["says"])
    if sides is None:
        return f"the difference ({row['says']}) averaged {with_metric(size, 'estimate')} {direction}"
    comma = "," if "," in sides[0] else ""  # closes what a comma opened
    return f"{sides[0]}{comma} {verb} {with_metric(size, 'estimate')} {direction} than {sides[1]}"


def interval(row: Mapping) -> str:
    return f"{percent(100 * row['conf_level'])} interval {between(row['conf_low'], row['conf_high'], row['digits'])} {row['unit']}"


def one_field(row: Mapping, tested: Mapping) -> str:
    """How far one field can lie from the average: `row` of the declared target, `tested` of the seasons tested."""
    if not pd.isna(row["pred_low"]):
        when = "in a season to come" if row["target"] == TO_COME else "in seasons like those tested"
        metric = "" if row["unit"] == "kg/ha" else f" ({between(row['pred_low_kg_ha'], row['pred_high_kg_ha'])} kg/ha)"
        return (
            f"One field can differ. {capital(when)}, the true gain of one more field like these is expected "
            f"from {between(row['pred_low'], row['pred_high'], row['digits'])} {row['unit']}{metric}, 19 times in 20."
        )
    if not pd.isna(tested["observed_low"]):
        return (
            "One field can differ. How much the true gain differs between fields is not estimable from these site-years; "
            "the result of one more trial like these, plot noise included, is expected "
            f"from {between(tested['observed_low'], tested['observed_high'], tested['digits'])} {tested['unit']}, 19 times in 20."
        )
    return "One field can differ; by how much is not estimable from so few site-years."


def cross_check(rows: pd.DataFrame) -> str:
    """Whether the other methods say the same as the leading one, with their estimates."""
    leading = rows[rows["is_headline"]].iloc[0]
    others = [row for _, row in rows[~rows["is_headline"] & rows["estimate"].notna()].iterrows()]
    if verdict(leading) == "none" or not others:
        return "none"
    if all(verdict(row) == verdict(leading) for row in others):
        return f"agree: {listed(number(row['estimate'], row['digits']) for row in others)}"
    told = [f"{row['method']} {_with_range(row)}" for row in others if verdict(row) != verdict(leading)]
    return f"differ: {listed(told)}"


def _with_range(row: Mapping) -> str:
    return f"{number(row['estimate'], row['digits'])} ({between(row['conf_low'], row['conf_high'], row['digits'])})"


def class_difference(test: Mapping) -> str:
    """Whether the gain is shown to differ between the classes of a moderator."""
    classes = {
        "drainage group": "drainage groups",
        "rainfall class": "rainfall classes",
        "drainage group x rainfall class": "the cells of drainage and rainfall",
    }[test["moderator"]]
    if pd.isna(test["p_value"]):
        return f"Whether the gain differs between {classes} cannot be tested: {text(test['warnings']) or 'no model fits'}."
    caution = " The model behind this test gave a warning, so take it lightly." if text(test["warnings"]) else ""
    if test["p_value"] < ALPHA:
        return f"The gain differs between {classes} ({p_value(test['p_value'])}).{caution}"
    return f"The gain is not shown to differ between {classes} ({p_value(test['p_value'])}).{caution}"


def class_sentences(rows: pd.DataFrame, test: Mapping) -> list[str]:
    """A sentence per class that has enough site-years, and only where the classes are shown to differ."""
    if pd.isna(test["p_value"]) or test["p_value"] >= ALPHA:
        return []
    said = []
    for _, row in rows[rows["shown_as"] == "sentence"].iterrows():
        shown = {"gain": "a gain is shown", "loss": "a loss is shown", "not shown": "the average could be zero"}.get(verdict(row))
        if shown:
            name = DRAINAGE.get(row["level"], row["level"])
            said.append(f"{capital(name)}: {shown}, {_with_range(row)} {row['unit']}, {count(row['n_site_years'], 'site-year')}.")
    return said


def flow(row: Mapping) -> str:
    """The count of trials from listed to used; its parts add up."""
    steps = [
        (row["n_held"], "held until questions about their data are settled"),
        (row["n_not_harvested"], "not harvested"),
        (row["n_not_eligible"], "without what this comparison needs"),
    ]
    told = [f"{n} {words}" for n, words in steps if n] + [f"{row['n_used']} used, at {count(row['n_site_years'], 'site-year')}"]
    return f"{count(row['n_listed'], row['crop'] + ' trial')} listed: {', '.join(told)}."


def held(n: int, what: str = "trial") -> str:
    """The provisional mark, empty where nothing is held."""
    return f"{count(n, what)} {'is' if n == 1 else 'are'} held until questions about the data are settled." if n else ""


def plot_noise(trial: Mapping) -> str:
    """What stands under a table of treatment means."""
    if pd.isna(trial["lsd_5pct"]):
        reason = text(trial["no_error_reason"])
        return f"How large plot noise is cannot be told for this trial{f': {reason}' if reason else ''}."
    return (
        f"A difference between two treatments under {number(trial['lsd_5pct'], trial['digits'])} {trial['unit']} "
        f"could be plot noise (LSD 5{NBSP}%, CV {percent(trial['cv_pct'], 1)})."
    )


def place_in_range(gain: float, low: float, high: float) -> str:
    """Where a site-year's result lies in the range expected of one trial."""
    if pd.isna(low) or pd.isna(gain):
        return "not known"
    return "inside" if low <= gain <= high else "above" if gain > high else "below"


def own_results(gains: pd.DataFrame, averages: pd.DataFrame) -> str:
    """How a site-year's results lie in the ranges expected of one trial, in one sentence."""
    both = gains.merge(averages[["comparison_id", "observed_low", "observed_high"]], on="comparison_id", how="left")
    places = [place_in_range(row.gain, row.observed_low, row.observed_high) for row in both.itertuples()]
    outside = [row.says for row, place in zip(both.itertuples(), places, strict=True) if place in ("above", "below")]
    known = [place for place in places if place != "not known"]
    if not known:
        return "The program has too few site-years to say what range one trial is expected in."
    if outside:
        return f"Outside the range expected of one trial: {listed(outside)}. The others lie inside it."
    return "Every result here lies inside the range expected of one trial."


def rainfall(row: Mapping, display_units: str) -> str:
    """A site-year's rainfall class, with what it rests on."""
    if not text(row["rainfall_class"]):
        return f"For {row['crop']} no rainfall class is given: {text(row['rainfall_reason']) or 'no rain was delivered'}."
    window = f"{month_day(row['window_from'])} to {month_day(row['window_to'])}"
    millimetres = f"{number(row['rain_mm'])} mm"
    inches = f"{number(row['rain_inch'], 1)} in ({millimetres})"
    near = " This is within 0.2 of a cut point: another rule could class it differently." if row["near_cut"] else ""
    return (
        f"For {row['crop']}, {window}: {inches if display_units == 'us' else millimetres}, "
        f"{percent(row['percent_of_normal'])} of the reference mean; classed {row['rainfall_class']} "
        f"(standardized precipitation index {number(row['spi'], 2)}, {row['spi_class']}).{near}"
    )


def fewer_passes(row: Mapping) -> str:
    """What may not be read from a comparison that saves passes; empty for the others."""
    if pd.isna(row["treatment_passes"]) or not 0 < row["treatment_passes"] < row["comparator_passes"]:
        return ""
    return (
        "Here the comparator takes more passes over the field. That fewer passes yield as well is not claimed: "
        "it takes a margin fixed beforehand, and a difference that is not shown is not the same as no difference."
    )


def who_paid(trials: pd.DataFrame) -> str:
    """Who paid for the trials and who gave product, with how many trials each."""
    paid = _counted(trials["paid_by"], "not said")
    given = _counted(trials["product_given_by"], "not said")
    return f"Paid by: {paid}. Product given by: {given}."


def _counted(column: Iterable, unsaid: str) -> str:
    counts = pd.Series(list(column), dtype=object).fillna(unsaid).value_counts()
    return listed(f"{who} ({count(n, 'trial')})" for who, n in counts.items())


def findings_count(findings: pd.DataFrame) -> str:
    """How many rows the checks spoke about, by what follows from it."""
    if findings.empty:
        return "The checks found nothing in these trials' data."
    counts = findings["severity"].value_counts()
    kinds = (
        ("holds the trial", "hold a trial until settled"),
        ("sets the row aside", "set their row aside"),
        ("noted", "are noted and change nothing"),
    )
    told = [f"{counts[severity]} {words}" for severity, words in kinds if severity in counts]
    return f"The checks made {count(len(findings), 'finding')} in these trials' data: {', '.join(told)}."


def rates(comparison: Mapping, display_units: str) -> str:
    """', at the same N rate (80, 120 and 160 lb/ac)', empty where rates are not matched."""
    column, unit = ("rates_lb_ac", "lb/ac") if display_units == "us" else ("rates_kg_ha", "kg/ha")
    if len(comparison[column]) == 0:
        return ""
    return f", at the same N rate ({listed(number(rate) for rate in sorted(comparison[column]))} {unit})"


def declared_on(comparisons: pd.DataFrame) -> str:
    return listed(day(declared) for declared in sorted(comparisons["declared"].unique()))


def rainfall_rule(rules: pd.DataFrame, crop: str) -> str:
    """By which window and reference years site-years of a crop are classed."""
    found = rules[rules["crop"] == crop]
    if found.empty:
        return f"No rainfall window was declared for {crop}, so its site-years have no rainfall class."
    rule = found.iloc[0]
    return (
        f"Rainfall classes follow the standardized precipitation index of {month_day(rule['first_day'])} to "
        f"{month_day(rule['last_day'])} against {rule['first_year']} to {rule['last_year']}, without looking at yields."
    )
