"""What the review file says where there is nothing to print."""

from __future__ import annotations

import pandas as pd

from pipeline.display.review.page import ReviewPage
from pipeline.display.words.n_response import nothing_told


def test_a_crop_of_whose_n_rates_nothing_is_known_is_said_so(tmp_path):
    comparisons = [("a", "corn"), ("b", "corn"), ("c", "cotton")]
    views = {
        "program": pd.DataFrame({"program": ["Tiny trials"]}),
        "comparisons": pd.DataFrame(comparisons, columns=["comparison_id", "crop"]).assign(
            declared_target="seasons tested", says="blend against urea"
        ),
        "response_curves": pd.DataFrame(columns=["crop"]),
    }
    said = ReviewPage(views, tmp_path).n_rates
    assert said.split("\n\n") == [nothing_told("corn"), nothing_told("cotton")]
