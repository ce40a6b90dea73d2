"""The rules of the methods page, printed from the objects that the code itself follows, so that the page cannot
drift.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import pandas as pd

from pipeline import verdicts
from pipeline.contract.vocabulary import DOES_NOT_APPLY, MODERATORS
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.declarations import properties
from pipeline.display.words.numbers import between, capital, count, day, listed, number
from pipeline.display.words.passes import UNABLE
from pipeline.display.words.tables import Markdown, grey, pipe_table
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.n_response import curves, optimum, pooled_curves, resampling
from pipeline.estimates.passes import noninferiority
from pipeline.settings.program import N_RATE, PREVIOUS_CROP, TILES
from pipeline.simulation import season_zero as kept_study

ADJUSTMENT_NAMES = {
    "singular": "No spread found",
    "season zero": "Season variance zero",
    "place zero": "Place variance zero",
    "plots zero": "Same plots, no lasting error",
    "plots in the plain mean": "Same plots, plain mean",
    "season zero, long run": "Season variance zero, at long-run weather",
    "season zero, classes": "Season variance zero, by class",
    "no narrower": "Seasons tested wider",
    "disagreement": "Model and plain mean disagree",
    "not fitted": "Model not fitted",
}
CLASS_NAMES = {
    "count": "Only counted",
    "grey": "In gray",
    "none": "No mean",
    "to come": "Future seasons",
    rules.MIXED: "Leads: mixed model",
    rules.PLAIN: "Leads: plain mean",
    "separate": "Leads: plain mean, spread differs",
}


def rules_table() -> Markdown:
    """Which method leads, by target and by how many site-years and seasons there are."""
    frame = pd.DataFrame(
        {
            "Target": capital(TARGET_NAMES[rule.target]),
            "Site-years": _range(rule.site_years),
            "Seasons": _range(rule.seasons),
            "Leads": rule.headline if rule.has_estimate else "no average",
            "What is printed": rule.sentence,
        }
        for rule in rules.RULES
    )
    widths = {"Target": 16, "Site-years": 11, "Seasons": 11, "Leads": 13, "What is printed": 52}
    return pipe_table(frame, caption="Which interval is printed.", label="rules", widths=widths)


def places_table() -> Markdown:
    """What is done, and said, by how many places there are."""
    frame = pd.DataFrame(
        {
            "Places": _range(rule.places),
            "What is printed": rule.sentence or "Place is random; nothing is printed.",
        }
        for rule in rules.PLACE_RULES
    )
    widths = {"Places": 16, "What is printed": 84}
    return pipe_table(frame, caption="Few places.", label="places", widths=widths)


def _range(ends: tuple[int, int]) -> str:
    low, high = ends
    if high == rules.MANY:
        return "any" if low <= 0 else f"{low} or more"
    return str(low) if low == high else f"{low} to {high}"


def adjustments_table() -> Markdown:
    """What is done, and said, when the fit itself calls for it."""
    frame = pd.DataFrame(
        {"Case": ADJUSTMENT_NAMES[name], "What is done": sentence} for name, sentence in rules.ADJUSTMENTS.items()
    )
    return pipe_table(
        frame,
        caption="When the fit itself calls for more.",
        label="adjustments",
        widths={"Case": 26, "What is done": 74},
    )


def classes_table() -> Markdown:
    """How a class of a breakdown is shown."""
    frame = pd.DataFrame(
        {"Class": CLASS_NAMES[name], "What is said": sentence}
        for name, sentence in rules.CLASS_RULES.items()
        if sentence
    )
    return pipe_table(
        frame, caption="One class of a breakdown.", label="classes", widths={"Class": 32, "What is said": 68}
    )


def verdicts_table() -> Markdown:
    """The verdicts on claims, in the order in which they are tried."""
    order = (verdicts.TOO_FEW, verdicts.CONTRADICTED, verdicts.NOT_SHOWN, verdicts.BORNE_OUT, verdicts.SAYS_MORE)
    frame = pd.DataFrame(
        {
            "Verdict": capital(name),
            "Of a gain, a loss or money": capital(verdicts.VERDICTS[name]),
            "Of \u201cas good\u201d": capital(verdicts.AS_GOOD_VERDICTS.get(name, DOES_NOT_APPLY)),
            "Of more or less with the weather": capital(verdicts.SLOPE_VERDICTS.get(name, DOES_NOT_APPLY)),
            "The sentence": _may_stand(name),
        }
        for name in order
    )
    widths = dict(zip(frame.columns, (13, 26, 26, 20, 15), strict=True))
    return pipe_table(frame, caption="Verdicts on claims; the first that fits holds.", label="verdicts", widths=widths)


def _may_stand(verdict: str) -> str:
    if verdict in verdicts.BLOCKING:
        return "must not be printed"
    return "may stand" if verdict == verdicts.BORNE_OUT else "is not supported; the review file has one that is"


def comparisons_table(comparisons: pd.DataFrame, display_units: str) -> Markdown:
    """What program.yml declares: each comparison with its target, rates and weights, and what may differ."""
    column, unit = ("rates_lb_ac", "lb/ac") if display_units == "us" else ("rates_kg_ha", "kg/ha")
    rows = [
        {
            "Comparison": capital(row["says"]),
            "Crop": row["crop"],
            "Target": TARGET_NAMES[row["declared_target"]],
            f"N rates, {unit} (weight)": _rates(row, column),
            "May also differ": properties(row["may_differ"]) or "nothing",
            "Declared": day(row["declared"]),
        }
        for _, row in comparisons.iterrows()
    ]
    widths = dict(zip(rows[0], (32, 9, 15, 18, 26, 14), strict=True))
    return pipe_table(
        pd.DataFrame(rows), caption="Comparisons, as declared in program.yml.", label="comparisons", widths=widths
    )


def _rates(row: pd.Series, column: str) -> str:
    weights = json.loads(row["rates"]).values()
    return (
        listed(f"{number(rate)} ({weight:g})" for rate, weight in zip(row[column], weights, strict=True))
        or "not matched"
    )


def ranges_table(columns: pd.DataFrame) -> Markdown:
    """Every range of the delivered columns: beyond the hard one a value is refused, beyond the typical one it is
    noted.
    """
    ranged = columns[(columns["hard"] != "") | (columns["typical"] != "")]
    frame = pd.DataFrame(
        {
            "Table": ranged["table_name"].str.replace("_", " "),
            "Column": ranged["heading"],
            "Hard range": ranged["hard"],
            "Typical range": ranged["typical"],
            "Beyond the hard range": ranged["severity"],
        }
    )
    widths = {"Table": 16, "Column": 28, "Hard range": 24, "Typical range": 24, "Beyond the hard range": 16}
    return pipe_table(frame, caption="Ranges, in the unit of the first heading.", label="ranges", widths=widths)


def limits() -> list[str]:
    """The numbers that decide how much is said, from the modules that use them."""
    return [
        (
            f"A mean needs {rules.FEWEST_FOR_A_MEAN} site-years; the mixed model leads from"
            f" {rules.FEWEST_FOR_THE_MODEL}; a sentence on a class needs {rules.FEWEST_FOR_THE_MODEL} site-years in 2"
            " seasons."
        ),
        f"Future seasons need {count(rules.FEWEST_SEASONS_TO_COME, 'season')}.",
        (
            "Where the mixed model and the mean that counts every site-year alike differ by more than"
            f" {rules.DISAGREEMENT_IN_STD_ERRORS:g} standard errors, the plain mean leads: of site-years in the seasons"
            " tested, of season means in future seasons. How far the season means themselves lie from the mixed model"
            " is told beside it (methods disagree) and decides nothing."
        ),
        (
            "Where the wider of two intervals is given, it lies around the average that leads: the half-width is what"
            " is taken from the other."
        ),
        (
            "Classes of 1 or 2 site-years are in the model and in the test between classes too. The df of a class mean"
            " and of the test are at most site-years less classes, rates among them. Differences between"
            " seasons that are left once each class has its mean: seasons less 1 where every season has all classes in"
            " equal shares, fewer the more a class goes with certain seasons. It is the sum of squares to expect of"
            " the season means of what the class means leave, divided by the season variance."
        ),
        (
            f"Where the spread of classes of {rules.FEWEST_FOR_THE_MODEL} or more site-years differs more than"
            f" {rules.NOTABLE_SD_RATIO:g}-fold, each class has its own mean."
        ),
    ]


def season_zero() -> list[str]:
    """What a season variance estimated as zero hides where there are few seasons, from the kept study."""
    few, most = rules.rule_for(rules.TO_COME, rules.FEWEST_FOR_THE_MODEL, rules.FEWEST_SEASONS_TO_COME).seasons
    rows = kept_study.where_seasons_differ(most)
    rows = rows[rows["per_season"] == rows["per_season"].max()]
    low, high = kept_study.DIFFER
    every, zero, above = (
        f"{between(100 * rows[name].min(), 100 * rows[name].max(), 1)}%"
        for name in ("coverage", "coverage_zero", "coverage_above_zero")
    )
    return [
        kept_study.NOT_ALIKE,
        (
            f"Balanced programs were simulated, {number(rows['n'].min())} a case: {few} or {most} seasons of"
            f" {rows['per_season'].max()} site-years, with a season variance {low:g} to {high:g} times that between"
            f" site-years. The interval for future seasons held the true average in {every} of all programs, in {zero}"
            f" of those with a season variance estimated as zero, and in {above} of the others."
        ),
    ]


def divided() -> list[str]:
    """In which ways site-years are divided, which of them are declared, and how the rates of one site-year are
    handled.
    """
    further = listed((TILES, PREVIOUS_CROP, N_RATE))
    return [
        (
            f"Every program declares these ways of dividing: {listed(MODERATORS)}. Further ones are exploratory unless"
            f" program.yml declares them under also_divide_by: {further}. Holm (1979) adjusts the tests of one"
            " comparison and target within each of the two kinds. Site-years whose class is not known are left out and"
            " counted; so are those whose trials lie on soils of two drainage groups, for their mean is of neither."
        ),
        (
            f"Tiled is separated from untiled only in a drainage group with {rules.FEWEST_FOR_A_MEAN} site-years or"
            " more of both; tile does not change the drainage group."
        ),
        (
            "The gain at one N rate rests on the plots of that rate alone, with the error variance that so few plots"
            " have. One model of all rates keeps those of a site-year correlated: site-year is random, and site-year x"
            " rate where some have several blocks; where arms lie in different main plots the block is too. The plain"
            " mean of each rate is given with it."
        ),
    ]


def as_good_table() -> Markdown:
    """The verdicts on whether a treatment is as good as its comparator, with the rule of each."""
    reasons = noninferiority.REASONS | {
        noninferiority.NOT_SHOWN_AS_GOOD: (
            f"{noninferiority.REASONS[noninferiority.NOT_SHOWN_AS_GOOD]} Or: {noninferiority.LATE} Or: {UNABLE}"
        )
    }
    frame = pd.DataFrame({"Verdict": capital(verdict), "When": reason} for verdict, reason in reasons.items())
    caption = (
        f"As good? The margin's limit against the lower limit of a one-sided {100 * noninferiority.ONE_SIDED_ALPHA:g}%"
        f" interval; two one-sided tests at {100 * noninferiority.TOST_ALPHA:g}% are given with it."
    )
    return pipe_table(frame, caption=caption, label="as-good", widths={"Verdict": 32, "When": 68})


def n_response() -> list[str]:
    """Which curves are fitted to N rates, and what an optimum needs."""
    others = listed(model for model in curves.POOLED_MODELS if model != curves.PRIMARY)
    return [
        (
            f"The {curves.PRIMARY} curve was declared beforehand; {others} are given with it and never replace it for"
            " fitting better. Mitscherlich is fitted over site-years only."
        ),
        (
            "The curve over site-years is fitted by least squares to the mean yields of each site-year at each rate,"
            " zero-N among them and needed, adjusted for blocks where plots are lacking. Each site-year has an"
            " intercept of its own and weighs the same; how yield rises with N is common. The curve ends at the"
            f" highest rate that {pooled_curves.FEWEST_SITE_YEARS} site-years reach."
        ),
        (
            "N is priced as it is spread: the price of its source per lb N, and the premium on the share that is"
            " coated. One more unit of yield is worth the crop price less hauling, ginning and drying at the moisture"
            " it was harvested at, averaged over the treatments of all trials. Without a price there is a rate of"
            " highest yield and no economic optimum."
        ),
        (
            "What a tested rate loses against the economic optimum is read off the same common curve, in net return per"
            " acre. Each resample finds its own best rate, so the interval of a loss carries what is not known of the"
            " best. A rate inside the interval of the best rate is not shown to pay less. That statement holds at 95%"
            " for all rates of one curve together; each interval of a loss holds for its rate alone."
        ),
        (
            "No band around the best rate counts as nearly as well unless program.yml declares one under"
            " nearly_as_well_within, with its basis and the day it was fixed. A rate is shown to pay nearly as well"
            " where the upper end of its loss lies within that band."
        ),
        "An end of an interval that lies beyond the highest rate tested is open, unless both print as the same rate.",
        (
            "A trial with published means only counts in the common curve with its printed means, as a trial without"
            " replicates does. It has no curve of its own."
        ),
        (
            f"A trial's curve needs {optimum.FEWEST_RATES} rates, zero-N among them; a curve over site-years needs"
            f" {pooled_curves.FEWEST_SITE_YEARS}, its interval {pooled_curves.FEWEST_FOR_INTERVAL}."
        ),
        (
            f"Intervals over site-years come from {resampling.N_RESAMPLES:,} resamples of whole site-years, always with"
            f" the same random seed ({resampling.RANDOM_SEED}). The ends are percentiles taken further out, as a t"
            " interval on site-years less 1 would lie (expanded percentiles; Hesterberg 2015)."
        ),
    ]


def checked_table(checks: pd.DataFrame) -> Markdown:
    """The sources that the tests check against, with what is compared and where each number is from.

    Args:
        checks: module, source, place, what, standing, by, digits; rows of a module stand together.
    """
    rows = []
    for (module, source, place), of_module in checks.groupby(["module", "source", "place"], sort=False):
        rows.append(
            {
                "Source": source,
                "Place": place,
                "What, from where": "; ".join(_compared(row) for row in of_module.to_dict("records")),
                "In": grey(module),
            }
        )
    caption = (
        "What the tests check against. Printed: in the source, read there. Quoted: as another source gives it. "
        "Computed: by independent code from the data of the source. From memory: not looked up. "
        "Names, titles and pages of the sources are from memory."
    )
    widths = {"Source": 30, "Place": 17, "What, from where": 33, "In": 20}
    return pipe_table(pd.DataFrame(rows), caption=caption, label="checked", widths=widths)


def _compared(row: Mapping) -> str:
    """'tau2 and Q: quoted (test suite of a package), 4 decimals'."""
    by = f" ({row['by']})" if row["by"] else ""
    return f"{row['what']}: {row['standing']}{by}, {row['digits']}"
