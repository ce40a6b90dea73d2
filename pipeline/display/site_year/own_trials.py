"""What of a site-year is one cooperator's own, where others have trials in it too."""

from __future__ import annotations

import pandas as pd


def keep(here: dict[str, pd.DataFrame], comparisons: pd.DataFrame, cooperator: str) -> list[str]:
    """Leaves in the frames of a site-year what tells of a cooperator's own trials alone.

    A gain, and what the weather of a gain was, is of a crop in a site-year: it is left out where another has a trial of
    that crop.

    Args:
        here: rows of reports.* views of one site-year, by name; changed in place.
        comparisons: rows of reports.comparisons.

    Returns: the cooperator's crops of which others have trials here.
    """
    trials = here["trials"]
    is_own = trials["cooperator"] == cooperator
    own, others = trials[is_own], trials[~is_own]
    alone = set(own["crop"]) - set(others["crop"])
    answered = comparisons.loc[comparisons["crop"].isin(alone), "comparison_id"]
    for name, frame in here.items():
        if "trial_id" in frame:
            here[name] = frame[frame["trial_id"].isin(own["trial_id"])]
        elif "comparison_id" in frame:
            here[name] = frame[frame["comparison_id"].isin(answered)]
        elif "crop" in frame:
            here[name] = frame[frame["crop"].isin(own["crop"])]
    return sorted(set(own["crop"]) & set(others["crop"]))
