"""Several tests of one comparison: Holm's adjustment, declared and exploratory tests apart.

Holm 1979, Scandinavian Journal of Statistics 6:65-70. A class may be said to gain more
than another only where the adjusted test of a declared breakdown says so.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import DECLARED, EXPLORATORY, MODERATORS

# The breakdowns every program declares by using this pipeline, fixed before any yield was seen.
FAMILY_ALPHA = 0.05  # of all declared tests of a comparison and target together
ADJUSTED = ("kind", "n_tests", "p_value_holm", "sentence")  # what with_holm adds

SAYS = {
    (DECLARED, True): "The gain differs between these classes.",
    (DECLARED, False): "The gain is not shown to differ between these classes.",
    (
        EXPLORATORY,
        True,
    ): "The gain seems to differ between these classes: looked for after the fact, to be tested in new trials.",
    (EXPLORATORY, False): "The gain is not shown to differ between these classes.",
    None: "Not tested.",
}


def with_holm(tests: pd.DataFrame, also_declared: Collection[str] = ()) -> pd.DataFrame:
    """Interaction tests with kind, n_tests, p_value_holm and sentence; the family is a comparison's tests of one target
    and kind.
    """
    declared = {*MODERATORS, *also_declared}
    kinds = [DECLARED if name in declared else EXPLORATORY for name in tests["moderator"]]
    tests = tests.assign(kind=kinds, n_tests=0, p_value_holm=np.nan, sentence=None)
    for (_, _, kind), family in tests.groupby(["comparison_id", "target", "kind"]):
        adjusted = holm(family["p_value"].to_numpy())
        tests.loc[family.index, "n_tests"] = int(family["p_value"].notna().sum())
        tests.loc[family.index, "p_value_holm"] = adjusted
        tests.loc[family.index, "sentence"] = [
            SAYS[None if np.isnan(p) else (kind, bool(p < FAMILY_ALPHA))] for p in adjusted
        ]
    return frame_of(tests, "interaction_tests")


def holm(p_values: np.ndarray) -> np.ndarray:
    """Adjusted p-values in the order given; a missing one stays missing and is not counted. As statsmodels has it, but
    that has Python look through all its memory for garbage each time.
    """
    adjusted = np.full(len(p_values), np.nan)
    known = np.flatnonzero(~np.isnan(p_values))
    by_size = known[np.argsort(p_values[known])]
    stepwise = np.maximum.accumulate(p_values[by_size] * np.arange(len(by_size), 0, -1))
    adjusted[by_size] = np.minimum(stepwise, 1.0)
    return adjusted
