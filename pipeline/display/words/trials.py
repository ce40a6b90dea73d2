"""Sentences on trials, their data and their rain: what stands beside the results.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from pipeline.contract.tables import HOLDS_TRIAL, NOTED, SETS_ASIDE
from pipeline.display.words import declarations
from pipeline.display.words.numbers import count, listed, month_day, number, percent, seasons, text

DESIGN = {
    "RCBD": "randomized complete blocks",
    "CRD": "completely randomized",
    "split-plot": "split-plot",
    "strips": "strips across the field",
}

PLANNED = "planned, not yet harvested"

# Checks on yields only note, so these trials stay in until somebody corrects them.
UNIT_SLIPS = ("kilograms under pounds", "yield beyond reach")
FILE_NOT_READ = "file not read"


def crop_of(row: Mapping) -> str:
    """Of a trial or a site-year; a held trial may lack it."""
    return text(row["crop"]) or "crop not known"


def place_and_season(place: object, season: object) -> str:
    """'Alder 2091', of a trial; of a held one that lacks either, that it is not known."""
    if text(place) and pd.notna(season):
        return f"{place} {season}"
    return f"{text(place) or 'place not known'}, {'season not known' if pd.isna(season) else season}"


def flow(row: Mapping) -> str:
    """The count of trials from listed to used; its parts add up."""
    steps = [
        (row["n_held"], "kept out until questions about their data are resolved"),
        (row["n_planned"], PLANNED),
        (row["n_not_harvested"], "not harvested"),
        (row["n_not_eligible"], "without what this comparison needs"),
    ]
    told = [f"{n} {words}" for n, words in steps if n] + [
        f"{row['n_used']} used, at {count(row['n_site_years'], 'site-year')}"
    ]
    return f"{count(row['n_listed'], row['crop'] + ' trial')} listed: {', '.join(told)}."


FLOW = ["n_listed", "n_held", "n_planned", "n_not_harvested", "n_not_eligible", "n_used", "n_site_years"]


def flows(rows: pd.DataFrame, says: Mapping[str, str]) -> list[str]:
    """The flow of each comparison of a crop; those that count alike share a sentence, which names them where others
    differ.

    Args:
        rows: rows of reports.flow of the crop.
        says: what each comparison compares, by its id.
    """
    alike = [of for _, of in rows.groupby(FLOW, sort=False)]
    if len(alike) < 2:
        return [flow(of.iloc[0]) for of in alike]
    return [f"For {listed(dict.fromkeys(of['comparison_id'].map(says)))}: {flow(of.iloc[0])}" for of in alike]


def seasons_of(trials: pd.DataFrame) -> str:
    """The seasons that a page on these trials is of, in words: those that are only planned where there are no others.

    trials: rows of reports.trials.
    """
    told = trials[trials["season"].notna()]  # a held trial may lack it
    known = told[told["status"] != "planned"]
    return seasons(", ".join(map(str, sorted((known if len(known) else told)["season"].unique()))))


def planned(trials: pd.DataFrame, what: str = "trial") -> str:
    """How many trials have their harvest still ahead, with their seasons; empty where none has. trials: rows of
    reports.trials.
    """
    ahead = trials[trials["status"] == "planned"]
    years = ", ".join(map(str, sorted(ahead["season"].unique())))
    return f"{count(len(ahead), what)} {are(len(ahead))} {PLANNED} ({seasons(years)})." if len(ahead) else ""


def held(n: int, what: str = "trial") -> str:
    """The provisional mark, empty where nothing is held."""
    return f"{count(n, what)} {are(n)} kept out until questions about the data are resolved." if n else ""


def provisional(
    trials: pd.DataFrame, findings: pd.DataFrame, what: str = "trial", all_findings: pd.DataFrame | None = None
) -> str:
    """The provisional mark: trials held or used in doubt, and delivered files that are not read.

    all_findings: rows of reports.findings of the whole program, where `findings` are of some trials.
    """
    unread = findings if all_findings is None else all_findings
    files = sorted(set(unread.loc[unread["check_name"] == FILE_NOT_READ, "file"]))
    said = (
        f"{count(len(files), 'delivered file')} could not be read, and nothing in {'it' if len(files) == 1 else 'them'}"
        f" is counted: {listed(files)}."
    )
    return f"{_held_or_doubted(trials, findings, what)} {said if files else ''}".strip()


def _held_or_doubted(trials: pd.DataFrame, findings: pd.DataFrame, what: str) -> str:
    """Trials held, and trials used though their yields look like a slip of the unit.

    Args:
        trials: rows of reports.trials.
        findings: rows of reports.findings.
    """
    is_held = trials["status"] == "held"
    doubted = set(findings.loc[findings["check_name"].isin(UNIT_SLIPS), "trial_id"]) & set(
        trials.loc[~is_held, "trial_id"]
    )
    n_held, n_doubted = int(is_held.sum()), len(doubted)
    if not n_doubted:
        return held(n_held, what)
    used = f"{are(n_doubted)} used, though the unit of {'its' if n_doubted == 1 else 'their'} yields is in doubt."
    if not n_held:
        return f"{count(n_doubted, what)} {used}"
    return f"{count(n_held, what)} {are(n_held)} kept out until questions are resolved; {n_doubted} more {used}"


def are(n: int) -> str:
    return "is" if n == 1 else "are"


def plot_noise(trial: Mapping) -> str:
    """What stands under a table of treatment means."""
    if pd.isna(trial["lsd_5pct"]):
        reason = text(trial["no_error_reason"])
        return f"Plot noise cannot be estimated for this trial{f': {reason}' if reason else ''}."
    usual, largest = (number(trial[lsd], trial["digits"]) for lsd in ("lsd_5pct", "lsd_5pct_largest"))
    # with one fertilized plot in each main plot no two treatments are compared within one
    is_split = trial["design"] == "split-plot" and trial["subplots_per_main_plot"] != 1
    if pd.isna(trial["lsd_5pct_largest"]):
        others = "; between main plots it is not known" if is_split else ""
    elif is_split:
        others = f"; between main plots, under {largest} {trial['unit']}"
    else:
        others = f"; for the two that are known least precisely, under {largest} {trial['unit']}" * (largest != usual)
    cv = f"the CV, plot noise as a share of the mean, is {percent(trial['cv_pct'], 1)}"
    return (
        f"{'Within a main plot, a' if is_split else 'A'} difference between two treatments under {usual} "
        f"{trial['unit']} could be plot noise (the least significant difference, LSD, at 5%; {cv}){others}."
    )


def rainfall(row: Mapping, display_units: str) -> str:
    """A site-year's rainfall class, with what it rests on."""
    if not text(row["crop"]):
        return "No rainfall class is given: the crop is not known."
    if not text(row["rainfall_class"]):
        return (
            f"For {row['crop']} no rainfall class is given:"
            f" {text(row['rainfall_reason']) or 'there is no rainfall window for it'}."
        )
    window = f"{month_day(row['window_from'])} to {month_day(row['window_to'])}"
    millimeters = f"{number(row['rain_mm'])} mm"
    inches = f"{number(row['rain_inch'], 1)} in ({millimeters})"
    near = " This is within 0.2 of a cut point: another rule could class it differently." if row["near_cut"] else ""
    return (
        f"For {row['crop']}, {window}: {inches if display_units == 'us' else millimeters}, "
        f"{percent(row['percent_of_normal'])} of the reference mean; classed {row['rainfall_class']} "
        f"(standardized precipitation index {number(row['spi'], 2)}, {row['spi_class']}).{near}"
    )


def fewer_passes(row: Mapping) -> str:
    """What may not be read from a comparison that saves passes; empty for the others."""
    if pd.isna(row["treatment_passes"]) or not 0 < row["treatment_passes"] < row["comparator_passes"]:
        return ""
    return (
        "Here the comparator takes more passes over the field. That fewer passes yield as well is not claimed. "
        "That takes a margin fixed before harvest: finding no difference is not proof that there is none."
    )


def who_paid(trials: pd.DataFrame) -> str:
    """Who paid for the trials and who gave product, with how many trials each; empty without trials."""
    if trials.empty:
        return ""
    paid = _counted(trials["paid_by"], "not reported")
    given = _counted(trials["product_given_by"], "not reported")
    return f"Funded by: {paid}. Product donated by: {given}."


def _counted(column: Iterable, unsaid: str) -> str:
    counts = pd.Series(list(column), dtype=object).fillna(unsaid).value_counts()
    return listed(f"{who} ({count(n, 'trial')})" for who, n in counts.items())


def findings_count(findings: pd.DataFrame) -> str:
    """How many rows the checks spoke about, by what follows from it."""
    if findings.empty:
        return "The checks flagged nothing in these trials' data."
    counts = findings["severity"].value_counts()
    kinds = (
        (HOLDS_TRIAL, "keeps a trial out until resolved", "keep a trial out until resolved"),
        (SETS_ASIDE, "sets its row aside", "set their row aside"),
        (NOTED, "is noted, its row used as it is", "are noted, their rows used as they are"),
    )
    told = [count(counts[severity], one, many) for severity, one, many in kinds if severity in counts]
    return f"The checks flagged {count(len(findings), 'issue')} in these trials' data: {', '.join(told)}."


def rates(comparison: Mapping, display_units: str) -> str:
    """', at the same N rate (80, 120 and 160 lb/ac)', empty where rates are not matched."""
    column, unit = ("rates_lb_ac", "lb/ac") if display_units == "us" else ("rates_kg_ha", "kg/ha")
    if len(comparison[column]) == 0:
        return ""
    return f", at the same N rate ({listed(number(rate) for rate in sorted(comparison[column]))} {unit})"


def rainfall_rule(rules: pd.DataFrame, crop: str) -> str:
    """By which window and reference years site-years of a crop are classed."""
    of_crop = rules[rules["crop"] == crop]
    if of_crop.empty:
        return f"No rainfall window was declared for {crop}, so its site-years have no rainfall class."
    rule = of_crop.iloc[0]
    late = declarations.rainfall_rule(rule)
    return (
        f"Rainfall classes follow the standardized precipitation index of {month_day(rule['first_day'])} to "
        f"{month_day(rule['last_day'])} against {rule['first_year']} to {rule['last_year']}.{late and ' ' + late}"
    )
