"""One comparison's evidence: how firm as good is stands with the headline's robustness, on the declared target."""

from __future__ import annotations

import pandas as pd

from pipeline.display.review.checks import LOSES_AS_GOOD
from pipeline.display.review.comparison import ComparisonEvidence
from pipeline.estimates.passes.noninferiority import NOT_SHOWN_AS_GOOD
from tests.unit.display.review.test_checks import robust_row
from tests.unit.display.rows import gain_row
from tests.unit.display.words.test_passes import row as pass_row

TARGET = "seasons to come"


def robustness_of(folder, **test) -> str:
    of_blend = {"comparison_id": "blend", "target": TARGET}
    rows = [robust_row(conf_low=-2.0, ratio_low=0.94), robust_row(left_out="2092", conf_low=-4.0, ratio_low=0.96)]
    views = {
        "gains": pd.DataFrame([gain_row(target=TARGET)]),
        "as_good": pd.DataFrame([pass_row(**{**of_blend, **test})]),
        "robustness": pd.DataFrame(rows).assign(**of_blend, moderator="all"),
        "claims": pd.DataFrame(),
    }
    comparison = {"comparison_id": "blend", "crop": "corn", "says": "blend against urea", "declared_target": TARGET}
    return ComparisonEvidence(views, pd.Series(comparison), 1, folder).robustness


def test_as_good_that_a_season_carries_is_counted_and_drawn_with_its_margin(tmp_path):
    said = robustness_of(tmp_path)
    assert LOSES_AS_GOOD in said and "| never | 1 time: 2092 |" in said and "The margin is at" in said


def test_a_ratio_is_counted_by_its_own_limits_and_its_margin_is_not_drawn_in_yield(tmp_path):
    said = robustness_of(tmp_path, unit="ratio", margin_limit=0.95)
    assert LOSES_AS_GOOD in said and "| never | 1 time: 2091 |" in said and "The margin is at" not in said


def test_what_is_not_shown_is_not_counted(tmp_path):
    said = robustness_of(tmp_path, verdict=NOT_SHOWN_AS_GOOD)
    assert LOSES_AS_GOOD not in said and "The margin is at" in said
