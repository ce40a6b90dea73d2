"""What to plant next, on the screen: the half-widths to expect, and the proposed trials."""

from __future__ import annotations

import pandas as pd

from pipeline.console import count, say
from pipeline.display.season import next_season
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import capital
from pipeline.display.words.where import DRAINAGE

# A place is visited at most once a season
FEWER_PLACES = (
    "Over more seasons as many site-years come back to fewer places; these differ, so the interval can be wider."
)


def tell_plan(
    outlook: pd.DataFrame,
    slope_outlook: pd.DataFrame,
    evidence: pd.DataFrame,
    proposed_trials: pd.DataFrame,
    comparisons: pd.DataFrame,
) -> None:
    """For each crop what to add first; for each comparison the half-widths to expect on its declared target, the slopes
    on the weather that could be shown, and its empty cells; for each crop the proposed trials."""
    outlook = outlook[outlook["is_declared"]]
    leads = comparisons.sort_values(["is_against_standard", "position"], ascending=[False, True])
    for lead in leads.drop_duplicates("crop").sort_values("position").itertuples():
        of_lead = outlook[outlook["comparison_id"] == lead.comparison_id]
        if len(of_lead):
            say(f"{capital(lead.crop)}, {lead.says}. {next_season.advice(of_lead)}")
    for _, of_comparison in outlook.groupby("position"):
        first = of_comparison.iloc[0]
        of_target = f"{first['comparison_id']}, {TARGET_NAMES[first['target']]}"
        say(f"\n{of_target}: half-width of the 95% interval to expect ({first['unit']})")
        known = of_comparison[of_comparison["half_width"].notna()]
        if len(known):
            say(f"   the interval printed now: {first['printed_half_width']:.{int(first['digits'])}f}")
        for (more, seasons), rows in known.groupby(["more_site_years", "more_seasons"]):
            widths = "   ".join(_expected(row) for row in rows.itertuples())
            grown = (
                "as now, by the plan"
                if more == 0
                else f"{count(more, 'more site-year')} in {count(seasons, 'more season')}"
            )
            say(f"   {grown}: {widths}")
        if _widens_with_seasons(known):
            say(f"   {FEWER_PLACES}")
        for reason in dict.fromkeys(reason for reason in of_comparison["reason"] if reason):
            say(f"   {reason}")
        slopes = slope_outlook[slope_outlook["comparison_id"] == first["comparison_id"]]
        if len(slopes):
            say(f"   {next_season.slopes(slopes)}")
        empty = evidence[(evidence["comparison_id"] == first["comparison_id"]) & (evidence["n_site_years"] == 0)]
        cells = ", ".join(f"{row.drainage_group} x {row.rainfall_class}" for row in empty.itertuples())
        say(f"   empty cells of drainage x rainfall: {cells or 'none'}")
    for crop, of_crop in proposed_trials.groupby("crop", sort=False):
        lead = of_crop[of_crop["position"] == of_crop["position"].min()]
        say(f"\nProposed {crop} trials for {lead['comparison_id'].iloc[0]}, the most useful first")
        for row in lead.itertuples():
            say(f"   {row.rank}. {row.site_id} ({row.drainage_group}): {row.why}")
    groups = {*evidence["drainage_group"].dropna(), *proposed_trials["drainage_group"].dropna()}
    if told := [says for group, says in DRAINAGE.items() if group in groups]:
        say(f"\nDrainage groups. {'; '.join(told)}")
    say("\nThese are expectations from what was loaded, not promises. Next: make layout TRIAL=...")


def _widens_with_seasons(known: pd.DataFrame) -> bool:
    """Whether, as printed, the same number of site-years gives a wider interval over more seasons."""
    grown = known[known["more_site_years"] > 0].sort_values("more_seasons")
    printed = grown["half_width"].round(int(grown["digits"].max())) if len(grown) else grown["half_width"]
    steps = printed.groupby([grown["more_site_years"], grown["n_blocks"]]).diff()
    return bool((steps > 0).any())


def _expected(row) -> str:
    blocks = "" if pd.isna(row.n_blocks) else f" ({row.n_blocks:.0f} blocks)"
    return f"{row.half_width:.{int(row.digits)}f}{blocks}"
