"""The reviewer's page, comparison by comparison: question, counts that add up, model and components, cross-checks.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.contract.vocabulary import AS_GOOD, TESTED, TO_COME
from pipeline.display.words.answers import TARGET, TARGET_NAMES, these_places
from pipeline.display.words.checks import check_words
from pipeline.display.words.declarations import declared, properties
from pipeline.display.words.numbers import between, capital, count, listed, number, percent, seasons, text
from pipeline.display.words.tables import Markdown, anchored_id, escaped, pipe_table
from pipeline.trace import JOINING, NOT_BEHIND

COMPONENTS = {
    "site-year": "A, site-year",
    "place": "P, place",
    "season": "S, season",
    "trial": "T, trial",
    "plots, lasting": "L, plots",
    "residual": "e, block",
}
# what is drawn at random, in the order of COMPONENTS; the last two are in a model only where trials call for them
DRAWN = {
    "site-year": "site-year A",
    "place": "place P",
    "season": "season S (for future seasons only)",
    "trial": "trial T (where site-years have several)",
    "plots, lasting": "plots L (error that lasts where trials are on the same plots)",
}
WHERE_CALLED_FOR = ("trial", "plots, lasting")
MODEL = (
    "The mixed model: gain of a block = \u03bc + {} + e. \u03bc is the average; {} are drawn from normal distributions"
    " with mean 0; e is what one block scatters around that, blocks weighted by the precision of their trial."
)


def question(comparison: Mapping, rates: str) -> list[str]:
    """The question and what exactly is estimated, in words."""
    asked = (
        "is the first as good as the second"
        if comparison["question"] == AS_GOOD
        else "how much more does the first yield"
    )
    return [
        f"Question: {comparison['says']}: {asked}{rates}?",
        (
            f"What is estimated: the average true gain in {comparison['unit']}, first less second, {_over(comparison)}."
            f" {capital(declared(comparison))}."
        ),
        (
            f"What else may differ between the two, as declared: {properties(comparison['may_differ']) or 'nothing'}. "
            f"What also differed: {text(comparison['also_differs']) or 'nothing that was recorded'}."
        ),
    ]


def _over(comparison: Mapping) -> str:
    at = these_places(comparison["n_places"])
    if comparison["declared_target"] == TO_COME:
        return (
            f"over seasons like those tested {at}"
            if at
            else "over seasons and places like those tested, future seasons included"
        )
    named = f" ({seasons(comparison['seasons'])})" if text(comparison["seasons"]) else ""
    return f"over the seasons tested{named} {at or 'and places like these'}"


def flow(counts: Mapping) -> str:
    """Trials from listed to used, as a sum that adds up.

    Args:
        counts: the comparison's row of reports.flow.
    """
    planned = f"{number(counts['n_planned'])} planned, not yet harvested + " if counts["n_planned"] else ""
    return (
        f"{count(counts['n_listed'], 'trial')} of the crop listed = {number(counts['n_used'])} used"
        f" ({count(counts['n_site_years'], 'site-year')}) + {planned}{number(counts['n_not_harvested'])} not harvested"
        f" (lost or not reported) + {number(counts['n_held'])} held (questions about their data are open) +"
        f" {number(counts['n_not_eligible'])} without what this comparison needs (an arm, a rate, blocks or a random"
        " order)."
    )


def left_out(rows: pd.DataFrame) -> str:
    """Trials that were not used, each with its reason; empty where all were."""
    return f"Left out: {'; '.join(f'{row.trial_id}, {row.reason}' for row in rows.itertuples())}." if len(rows) else ""


def plots(sources: pd.DataFrame) -> str:
    """What became of the rows of both arms in the trials that are used: every fate with its count, and they add up.

    Args:
        sources: a comparison's rows of reports.sources.
    """
    of_arms = sources[sources["arm"].ne(JOINING)]
    reasons = of_arms[of_arms["fate"].isin(NOT_BEHIND)].groupby("fate")["reason"].unique()
    why = {fate: f" ({listed(reasons[fate])})" for fate in reasons.index}
    fates = [f"{number(n)} {fate}{why.get(fate, '')}" for fate, n in of_arms["fate"].value_counts().items()]
    return f"Plots and printed means of both arms in these trials: {number(len(of_arms))}, of which {listed(fates)}."


def findings(all_findings: pd.DataFrame, sources: pd.DataFrame, corrections: pd.DataFrame) -> str:
    """What the checks found on the used trials, and what was corrected in their data.

    Args:
        all_findings: reports.findings. sources: a comparison's rows of reports.sources. corrections: those of its
            trace.
    """
    mine = all_findings[all_findings["trial_id"].isin(sources["trial_id"])]
    told = [
        f"{check_words(name)} ({severity}, {count(n, 'row')})"
        for (name, severity), n in mine.groupby(["check_name", "severity"], sort=False).size().items()
    ]
    corrected = listed(
        f"{count(n, 'cell')} by {name}" for name, n in corrections["correction"].value_counts(sort=False).items()
    )
    return f"Findings on these trials: {listed(told) or 'none'}. Corrected in their data: {corrected or 'nothing'}."


def rules(leading: pd.DataFrame) -> list[str]:
    """Which interval rule applied to each target, the declared one first."""
    ordered = leading.sort_values("is_declared", ascending=False)
    return [f"{capital(TARGET[row['target']])}: {row['rule']}" for _, row in ordered.iterrows()]


def model(components: pd.DataFrame) -> str:
    """The mixed model in a sentence, with all that it has; components: as for components_table."""
    has = set(components["component"])
    drawn = [name for name in DRAWN if name in has or name not in WHERE_CALLED_FOR]
    return MODEL.format(" + ".join(COMPONENTS[name][0] for name in drawn), listed(DRAWN[name] for name in drawn))


def components_table(components: pd.DataFrame, leading: pd.DataFrame, *, label: str) -> Markdown:
    """The standard deviations behind each headline, with its method and df.

    Args:
        components: a comparison's rows of reports.variance_components.
        leading: its leading rows of reports.gains over all site-years.
    """
    of_model = components[components["component"].isin(COMPONENTS)]
    columns = [name for name in COMPONENTS if name in set(of_model["component"])]
    rows = []
    for _, row in leading.sort_values("is_declared", ascending=False).iterrows():
        mine = of_model[of_model["target"] == row["target"]] if row["method"] == "mixed model" else of_model.iloc[:0]
        deviations = dict(zip(mine["component"], mine["standard_deviation"], strict=True))
        method = (
            row["method"]
            if len(deviations)
            else f"{row['method']}: {text(row['formula']) or 'no average can be given'}"
        )
        df = "" if pd.isna(row["df"]) else f"{number(row['df'], 1)} ({text(row['df_method'])})"
        sds = {COMPONENTS[name]: _sd(deviations.get(name), row["digits"]) for name in columns}
        rows.append(
            {"Target": capital(TARGET_NAMES[row["target"]]), "Leads": capital(method), **sds, "df of the average": df}
        )
    caption = (
        f"Standard deviations of the model's parts in {leading['unit'].iloc[0]}; zero: estimated as zero."
        if columns
        else "Which method leads for each target. The mixed model is not fitted, so none of its parts is estimated."
    )
    widths = {"Target": 16, "Leads": 13, "df of the average": 44} | dict.fromkeys(
        [COMPONENTS[name] for name in columns], 10
    )
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def _sd(value: float | None, digits: int) -> str:
    if value is None:
        return "not in it"
    return "zero" if value == 0 else number(value, digits)


def spread(gains: pd.DataFrame) -> str:
    """How much site-years differ beyond plot error, by the two-stage analysis; empty where it has no figure.

    Args:
        gains: a comparison's rows of reports.gains with moderator 'all'.
    """
    two_stage = gains[(gains["target"] == TESTED) & gains["q_stat"].notna()]
    if two_stage.empty:
        return ""
    row = two_stage.iloc[0]
    tau = f"tau {_sd(row['tau'], row['digits'])}{'' if row['tau'] == 0 else ' ' + row['unit']}"
    return (
        f"Spread between site-years beyond plot error (two-stage, restricted maximum likelihood): {tau}; Q ="
        f" {number(row['q_stat'], 1)} on {count(row['n_site_years'] - 1, 'df', 'df')}, I\u00b2"
        f" {percent(row['i2_pct'])}."
    )


def heaviest(site_years: pd.DataFrame) -> str:
    """The site-year that weighs most in the headline, as a trace gives them; empty where none is weighed."""
    weighed = site_years[site_years["weight"].notna()]
    if weighed.empty:
        return ""
    most = weighed.loc[weighed["weight"].astype(float).idxmax()]
    return (
        f"The heaviest site-year, {most['place']} {most['season']}, has {percent(100 * most['weight'], 1)} of the"
        " weight in this average; all weights are in headline_weights.csv."
    )


def methods_table(gains: pd.DataFrame, *, label: str) -> Markdown:
    """Every method for both targets, with the id that leads here from the reports.

    Args:
        gains: a comparison's rows of reports.gains with moderator 'all'.
    """
    rows = []
    for _, row in gains.sort_values(["target", "is_headline"], ascending=[False, False]).iterrows():
        shown = "none" if pd.isna(row["estimate"]) else number(row["estimate"], row["digits"])
        leads = "leads" if row["is_headline"] else ""
        target = capital(TARGET_NAMES[row["target"]]) + (", declared" if row["is_declared"] and leads else "")
        rows.append(
            {
                "Target": target,
                "Method": capital(row["method"]),
                "Gain": Markdown(f"**{escaped(shown)}**") if leads else shown,
                "95% interval": (
                    "" if pd.isna(row["conf_low"]) else between(row["conf_low"], row["conf_high"], row["digits"])
                ),
                "One field": (
                    "" if pd.isna(row["pred_low"]) else between(row["pred_low"], row["pred_high"], row["digits"])
                ),
                "Role": leads,
                "Id": anchored_id(row["estimate_id"]),
            }
        )
    first = gains.iloc[0]
    caption = (
        f"Average gain in {first['unit']} by every method. One field: the range in which the true gain of one more"
        " field is expected, 19 times in 20."
    )
    widths = {"Target": 17, "Method": 25, "Gain": 7, "95% interval": 14, "One field": 14, "Role": 9, "Id": 17}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def agreement(rows: pd.DataFrame) -> list[str]:
    """Whether the roads to each headline agree, with the third road's figure."""
    said = []
    for _, row in rows.iterrows():
        third = (
            ""
            if pd.isna(row["third_road"])
            else (
                f" The mixed model refitted by other code gives {number(row['third_road'], row['digits'] + 1)}"
                f" {row['unit']} (standard error {number(row['third_road_std_error'], row['digits'] + 1)}; headline's"
                f" {number(row['std_error'], row['digits'] + 1)})."
            )
        )
        said.append(f"{capital(TARGET[row['target']])}: {row['sentence']}{third}")
    return said
