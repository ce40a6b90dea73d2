"""What the headline would have been: with something left out, season by season, and by other estimators.

Each refit uses the method that leads, or, where too few site-years are left for it or it
cannot be fitted to them, the method that the rules then give. The mixed model is refitted by direct restricted
likelihood, which the agreement table holds against the headline's own fit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

import pandas as pd

from pipeline.contract.results import narrowed
from pipeline.contract.vocabulary import TARGETS, TO_COME
from pipeline.estimates.average import pooling, three_methods
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import one_stage, restricted_likelihood, two_stage
from pipeline.estimates.engines.interval_rules import CONF_LEVEL, MIXED, PLAIN, TWO_STAGE
from pipeline.estimates.engines.left_out import means_without
from pipeline.estimates.engines.restricted_likelihood import RemlMean

SITE_YEAR, PLACE, SEASON = "one site-year left out", "one place left out", "one season left out"
CUMULATIVE = "cumulative by season"
ESTIMATOR = "other estimator"
NOTED = "site-years with findings left out"
PRINTED = "trials known only by print left out"
NOT_REPORTED = "planned, no result: counted as no gain"
SHARED_SPREAD = "a third of the spread assumed to go with the season, a third with the place"

# of site-years or places, up to which the model is fitted again without each; a larger program leaves them out at once
MOST_REFITS = 100
RULE = (
    "Each site-year, place and season is left out in turn, and the average is worked out again from the rest. With more"
    f" than {MOST_REFITS} site-years or places, leaving one of them out keeps the variances that all gave."
)
LEAVE_OUT = {SITE_YEAR: "site_year_id", PLACE: "place", SEASON: "season"}
# How a reason begins where a trial was meant to answer but has no result.
NO_RESULT = ("held: ", "not harvested: ", "no harvested plots of both arms")
ASSUMED_SHARE = 1 / 3
# What a row leaves empty where the rules allow no estimate, nothing warns of it, or no margin is a ratio.
NOTHING = dict.fromkeys(("estimate", "conf_low", "conf_high", "ratio_low", "warnings"))


def robustness(
    site_year_gains: pd.DataFrame,
    model_blocks: pd.DataFrame,
    pooled_gains: pd.DataFrame,
    comparison_ids: list[str],
    *,
    noted: Iterable[str] = (),
    eligibility: pd.DataFrame | None = None,
    conf_level: float = CONF_LEVEL,
) -> pd.DataFrame:
    """One row per comparison, target and change, columns of robustness, in the unit of gain.

    site_year_gains and model_blocks as for pooled_gains, whose overall rows are given;
    noted: site_year_ids with findings; eligibility: comparison_id, trial_id, site_year_id,
    place, season, is_used, reason. changes_conclusion: the interval then lies otherwise to zero
    than the headline's; None where there is nothing to compare.
    """
    rows, noted = [], set(noted)
    for comparison_id in comparison_ids:
        site_years = site_year_gains[site_year_gains["comparison_id"] == comparison_id]
        blocks = model_blocks[model_blocks["comparison_id"] == comparison_id]
        unreported = _unreported(eligibility, comparison_id, site_years)
        tested: dict = {}
        for target in TARGETS:  # the seasons tested first
            headline = _headline(pooled_gains, comparison_id, target)
            key = {"comparison_id": comparison_id, "target": target, "moderator": "all", "level": "all"}
            found = list(_rows(site_years, blocks, headline, target, noted, unreported, conf_level))
            if target == TO_COME:
                found = [three_methods.no_narrower(row, tested.get(_changed_as(row), {}), conf_level) for row in found]
            tested = {_changed_as(row): row for row in found if row["kind"] != ESTIMATOR}
            rows += [NOTHING | key | row | changes(row, headline) for row in found]
    return narrowed(rows, "robustness")


def _changed_as(row: dict) -> tuple[str, str]:
    return row["kind"], row["left_out"]


def relation_to_zero(conf_low: float, conf_high: float) -> str | None:
    """'above', 'below' or 'spans' zero; None without an interval."""
    if conf_low is None or pd.isna(conf_low):
        return None
    return "above" if conf_low > 0 else "below" if conf_high < 0 else "spans"


def _headline(pooled_gains: pd.DataFrame, comparison_id: str, target: str) -> dict:
    is_wanted = (pooled_gains["comparison_id"] == comparison_id) & (pooled_gains["target"] == target)
    is_wanted &= (pooled_gains["moderator"] == "all") & pooled_gains["is_headline"]
    return pooled_gains[is_wanted].iloc[0].to_dict()


def changes(row: dict, headline: dict) -> dict:
    """Whether the row's interval lies otherwise to zero than the headline's; None without both."""
    before = relation_to_zero(headline["conf_low"], headline["conf_high"])
    after = relation_to_zero(row.get("conf_low"), row.get("conf_high"))
    known = before is not None and after is not None
    return {"changes_conclusion": before != after if known else None}


def _rows(site_years, blocks, headline, target, noted, unreported, conf_level) -> Iterator[dict]:
    """Every changed headline of one comparison and target."""
    if target == TO_COME and 0 < site_years["season"].nunique() < rules.FEWEST_SEASONS_TO_COME:
        yield from _shared_spread(site_years, conf_level)
    if pd.isna(headline["estimate"]):
        return
    at_once = _at_once(site_years, blocks, target, headline["method"])
    for kind, left_out, is_kept in changed(site_years, noted):
        kept, mean = site_years[is_kept], at_once.get((kind, left_out))
        counts = {"n_site_years": len(kept), "n_seasons": kept["season"].nunique()}
        if mean is None or rules.rule_for(target, counts["n_site_years"], counts["n_seasons"]).headline != MIXED:
            row = refit(kept, blocks, target, headline["method"], conf_level)
        else:
            row = counts | {"method": MIXED} | _interval_of(mean, kept, target, conf_level)
        yield {"kind": kind, "left_out": left_out} | row
    yield from _estimators(site_years, blocks, target, headline["method"], conf_level)
    if len(unreported):
        yield _as_no_gain(site_years, unreported, target, conf_level)


def _at_once(site_years, blocks, target: str, method: str) -> dict[tuple[str, str], RemlMean]:
    """The mixed model's mean without each site-year or place by (kind, what is left out), where they are many.

    One of many moves the variances little, and a fit for each takes the square of their number in time.
    """
    kinds = [kind for kind in (SITE_YEAR, PLACE) if site_years[LEAVE_OUT[kind]].nunique() > MOST_REFITS]
    if method != MIXED:
        return {}
    found = {kind: means_without(blocks, target, LEAVE_OUT[kind]) for kind in kinds}
    return {(kind, str(level)): mean for kind, means in found.items() for level, mean in means.items()}


def changed(site_years: pd.DataFrame, noted: Collection[str]) -> Iterator[tuple[str, str, pd.Series]]:
    """(kind, what is left out, which site-years are kept)."""
    for kind, column in LEAVE_OUT.items():
        values = sorted(site_years[column].unique())
        for value in values if len(values) > 1 else []:
            yield kind, str(value), site_years[column] != value
    seasons = sorted(site_years["season"].unique())
    for last in seasons if len(seasons) > 1 else []:
        later = ", ".join(str(season) for season in seasons if season > last)
        yield CUMULATIVE, later, site_years["season"] <= last
    for kind, is_meant in (
        (NOTED, site_years["site_year_id"].isin(noted)),
        (PRINTED, site_years["n_plots"] == 0),
    ):
        if is_meant.any():
            yield kind, ", ".join(sorted(site_years.loc[is_meant, "site_year_id"])), ~is_meant


def refit(site_years: pd.DataFrame, blocks: pd.DataFrame, target: str, method: str, conf_level: float) -> dict:
    """The columns of a pooled interval for these site-years by this method, or by what the rules then give."""
    row = {"n_site_years": len(site_years), "n_seasons": site_years["season"].nunique()}
    rule = rules.rule_for(target, row["n_site_years"], row["n_seasons"])
    if not rule.has_estimate:
        return row | {"method": rule.headline, "warnings": rule.sentence}
    if method == MIXED and rule.headline == MIXED:
        of_kept = blocks[blocks["site_year_id"].isin(site_years["site_year_id"])]
        model = _mixed_interval(site_years, of_kept, target, conf_level)
        if model:
            return row | {"method": MIXED} | model
        method = pooling.instead_of_the_model(site_years, target)
    if method == TWO_STAGE:
        return row | _two_stage(site_years, target, conf_level)
    return row | {"method": PLAIN} | three_methods.plain_mean(site_years, target, conf_level).columns


def _mixed_interval(site_years, blocks, target, conf_level, *, weighted: bool = True) -> dict:
    model = restricted_likelihood.fit_gains(blocks, target, weighted=weighted)
    return {} if model is None else _interval_of(model, site_years, target, conf_level)


def _interval_of(model: RemlMean, site_years: pd.DataFrame, target: str, conf_level: float) -> dict:
    mean = two_stage.Mean(model.estimate, model.std_error, one_stage.capped_df(model.df, model))
    terms, at_zero = tuple(model.variances), model.terms_at_zero()
    return three_methods.model_interval(mean, site_years, target, conf_level, terms=terms, at_zero=at_zero)


def _two_stage(site_years, target, conf_level, *, tau2=two_stage.tau2_reml, error: str = "std_error") -> dict:
    """Two-stage interval with this tau2 estimator and this standard error of the site-years."""
    known, _ = three_methods.known_errors(site_years, error)
    row = {"method": TWO_STAGE, "n_site_years": len(known), "n_seasons": known["season"].nunique()}
    if not rules.rule_for(target, row["n_site_years"], row["n_seasons"]).has_estimate:
        return row
    return row | three_methods.weighted_mean(known, target, conf_level, tau2=tau2, error=error)


def _estimators(site_years, blocks, target, leader, conf_level) -> Iterator[dict]:
    """The same site-years by every other estimator that the rules name."""
    shared = {"kind": ESTIMATOR, "left_out": ""}
    found = {method: refit(site_years, blocks, target, method, conf_level) for method in rules.METHODS}
    yield from (shared | row for method, row in found.items() if row["method"] == method != leader)
    for name, options in {
        "two-stage, DerSimonian-Laird": {"tau2": two_stage.tau2_dersimonian_laird},
        "two-stage, Paule-Mandel": {"tau2": two_stage.tau2_paule_mandel},
        "two-stage, each trial's own error": {"error": "own_std_error"},
        "two-stage, error from the spread of blocks": {"error": "block_std_error"},
    }.items():
        yield shared | _two_stage(site_years, target, conf_level, **options) | {"method": name}
    if found[MIXED]["method"] == MIXED:
        alike = _mixed_interval(site_years, blocks, target, conf_level, weighted=False)
        counts = {"n_site_years": len(site_years), "n_seasons": site_years["season"].nunique()}
        yield shared | counts | alike | {"method": "mixed model, block gains weighted alike"}


def _shared_spread(site_years, conf_level) -> Iterator[dict]:
    """A what-if for seasons to come where 1 or 2 seasons cannot show how much seasons differ."""
    known, _ = three_methods.known_errors(site_years)
    if len(known) < rules.FEWEST_FOR_A_MEAN:
        return
    groupings = [known["season"].to_numpy(), known["place"].to_numpy()]
    variances = known["std_error"].to_numpy(float) ** 2
    mean = two_stage.mean_with_shared_spread(known["gain"].to_numpy(float), variances, groupings, ASSUMED_SHARE)
    counts = {"n_site_years": len(known), "n_seasons": known["season"].nunique()}
    words = {"kind": SHARED_SPREAD, "left_out": "", "method": TWO_STAGE}
    warnings = {"warnings": "an assumption, not an estimate: no 95% can be claimed for it"}
    yield words | counts | three_methods.interval(mean, conf_level, "site-years less 1") | warnings


def _unreported(eligibility, comparison_id, site_years) -> pd.DataFrame:
    """Site-years meant to answer this comparison that have no result: site_year_id, place, season."""
    columns = ["site_year_id", "place", "season"]
    if eligibility is None:
        return pd.DataFrame(columns=columns)
    of_comparison = eligibility[eligibility["comparison_id"] == comparison_id]
    is_unreported = of_comparison["reason"].fillna("").str.startswith(NO_RESULT)
    is_unreported &= ~of_comparison["site_year_id"].isin(site_years["site_year_id"])
    is_unreported &= of_comparison["site_year_id"].notna()
    return of_comparison.loc[is_unreported, columns].drop_duplicates()


def _as_no_gain(site_years, unreported, target, conf_level) -> dict:
    """The plain mean if every planned site-year without a result had gained nothing."""
    every = pd.concat([site_years, unreported.assign(gain=0.0)])
    return {
        "kind": NOT_REPORTED,
        "left_out": ", ".join(sorted(unreported["site_year_id"])),
        "n_site_years": len(every),
        "n_seasons": every["season"].nunique(),
        "method": PLAIN,
    } | three_methods.plain_mean(every, target, conf_level).columns
