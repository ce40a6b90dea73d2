"""The range of one field lies about the average of its own row."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.estimates.average.one_field import centered

NONE = float("nan")


def test_a_range_moves_onto_its_average_and_keeps_its_width():
    rows = pd.DataFrame(
        {
            "estimate": [4.4, 7.0, NONE, 2.0],
            "pred_low": [-71.4, -3.0, NONE, NONE],
            "pred_high": [81.3, 17.0, NONE, NONE],
        }
    )
    found = centered(rows)
    assert found.loc[0, ["pred_low", "pred_high"]].tolist() == pytest.approx([4.4 - 76.35, 4.4 + 76.35])
    assert found.loc[1].tolist() == rows.loc[1].tolist()
    assert found.loc[2:, ["pred_low", "pred_high"]].isna().all(axis=None)
