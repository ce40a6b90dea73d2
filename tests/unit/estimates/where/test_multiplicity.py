import numpy as np
import pytest

from pipeline.contract.results import blank, frame_of
from pipeline.contract.vocabulary import MODERATORS
from pipeline.estimates.where import multiplicity

ASKED = ("comparison_id", "target", "moderator", "p_value")
DRAINAGE, RAIN, BOTH = MODERATORS


def frame_with(*rows):
    told = (dict(zip(ASKED, row, strict=True)) for row in rows)
    counts = {"n_levels": 2, "n_site_years": 9, "n_unknown": 0}
    tests = [blank("interaction_tests", without=multiplicity.ADJUSTED) | counts | row for row in told]
    return frame_of(tests, "interaction_tests", without=multiplicity.ADJUSTED)


def test_family_is_one_comparison_target_and_kind():
    found = multiplicity.with_holm(
        frame_with(
            ("c", "a", DRAINAGE, 0.01),
            ("c", "a", RAIN, 0.03),
            ("c", "a", BOTH, 0.04),
            ("c", "a", "previous crop", 0.02),
            ("c", "b", DRAINAGE, 0.04),
            ("d", "a", DRAINAGE, 0.04),
            ("d", "a", RAIN, np.nan),
        )
    )
    assert found["p_value_holm"].to_list() == pytest.approx([0.03, 0.06, 0.06, 0.02, 0.04, 0.04, np.nan], nan_ok=True)
    assert found["n_tests"].to_list() == [3, 3, 3, 1, 1, 1, 1]
    assert found["kind"].to_list() == ["declared"] * 3 + ["exploratory"] + ["declared"] * 3
    assert [text.split()[2] for text in found["sentence"].iloc[:4]] == ["differs", "is", "is", "seems"]
    assert "to be tested in new trials" in found["sentence"].iloc[3]
    assert found["sentence"].iloc[6] == "Not tested."


def test_no_tests_keep_their_columns():
    assert "p_value_holm" in multiplicity.with_holm(frame_with())
