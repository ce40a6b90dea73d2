"""A cooperator's gains beside the average: odd ones told as such, with what they return."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.site_year import own_results
from tests.unit.display.rows import NONE, gain_row, site_year_row

MONEY = {"net_change": 19.4, "currency": "$"}


def test_own_results_stand_beside_the_average_and_the_range_of_one_trial():
    own = pd.DataFrame(
        [
            site_year_row("Alder", 2091, 25.0) | MONEY,
            site_year_row("Alder", 2091, 4.0, comparison_id="split", half_width=NONE) | MONEY | {"net_change": NONE},
        ]
    )
    averages = pd.DataFrame([gain_row()])
    own = own_results.ranked(own, averages, own)
    table = own_results.results_table(own, averages)
    rows = [line.strip("| ").split(" | ")[1:] for line in table.splitlines() if line.startswith("| Corn")]
    assert rows == [
        ["25.0 bu/ac (16.0 to 34.0)", "5.8", "\\$19", "\u22128.9 to 20.3: above"],
        ["4.0 bu/ac", "not known", "not known", "not known"],
    ]
    unpriced = own_results.results_table(own.assign(net_change=NONE), averages)
    assert "Net" not in unpriced and "| 5.8 |" in unpriced
    assert "Net: at the planning prices, what the gain here adds" in table


@pytest.mark.parametrize(
    ("gain", "place"), [(-9.0, "below"), (-8.9, "inside"), (20.3, "inside"), (20.4, "above"), (NONE, "not known")]
)
def test_place_in_range(gain, place):
    assert own_results.place_in_range(gain, -8.9, 20.3) == place


ODD = "Your corn trial gained 50.0 bu/ac with a against b, the largest gain of 4 site-years. The average is 4.0."
OTHERS = "Too few site-years to say what range is expected: e against f."


@pytest.mark.parametrize(
    ("gains", "says"),
    [
        ([5.0, 6.0], ["Every result of yours lies in the range expected of one trial."]),
        ([50.0, 6.0], [ODD, own_results.WHY_ODD, "Your other result lies in the range expected of one trial."]),
        ([50.0], [ODD, own_results.WHY_ODD]),
        ([5.0, 6.0, 7.0], ["2 results of yours lie in the range expected of one trial.", OTHERS]),
        (
            [50.0, 60.0, 7.0],
            [ODD, ODD.replace("50.0", "60.0").replace("a against b", "c against d"), own_results.WHY_ODD, OTHERS],
        ),
    ],
)
def test_an_odd_result_is_told_as_such_and_the_others_in_one_sentence(gains, says):
    ids, names = ["one", "two", "three"], ["a against b", "c against d", "e against f"]
    own = pd.DataFrame({"comparison_id": ids, "says": names})[: len(gains)]
    own = own.assign(gain=gains, half_width=9.0, crop="corn", digits=1, unit="bu/ac")
    own = own.assign(treatment_in_short=None, comparator_in_short=None)
    averages = pd.DataFrame(
        {"comparison_id": ids, "estimate": 4.0, "observed_low": [0.0, 0.0, NONE], "observed_high": [9.0, 9.0, NONE]}
    )
    others = pd.DataFrame([{"comparison_id": name, "gain": gain} for name in ids for gain in (1.0, 2.0, 3.0)])
    every = pd.concat([own[["comparison_id", "gain"]], others])
    assert own_results.told(own_results.ranked(own, averages, every), averages) == says


def test_where_no_range_is_known_this_is_said_once_and_not_of_each_result():
    own = pd.DataFrame([site_year_row("Alder", 2091, 4.0), site_year_row("Alder", 2091, 9.0, comparison_id="split")])
    unknown = gain_row(observed_low=NONE, observed_high=NONE)
    averages = pd.DataFrame([unknown, unknown | {"comparison_id": "split"}])
    assert own_results.told(own_results.ranked(own, averages, own), averages) == [own_results.NO_RANGE]
    known = pd.DataFrame([gain_row(), unknown | {"comparison_id": "split"}])
    said = own_results.told(own_results.ranked(own, known, own), known)
    assert said[0] == "1 result of yours lies in the range expected of one trial."


@pytest.mark.parametrize(
    ("gain", "expected", "larger", "smaller", "says"),
    [
        (-14.4, (10.0, 30.0), (7.0, 8.0), (), "lost 14.4 bu/ac with a against b, the largest loss of 3 site-years"),
        (-14.4, (10.0, 30.0), (7.0, 8.0), (-15.0,), "lost 14.4 bu/ac with a against b, one of the largest losses of 4"),
        (0.5, (10.0, 30.0), (7.0, 8.0), (), "gained 0.5 bu/ac with a against b, the smallest gain of 3 site-years"),
        (50.0, (10.0, 30.0), (60.0,), (7.0,), "gained 50.0 bu/ac with a against b, one of the largest gains of 3"),
        (-0.5, (-30.0, -10.0), (), (-7.0, -8.0), "lost 0.5 bu/ac with a against b, the smallest loss of 3 site-years"),
        (-0.5, (-30.0, -10.0), (-0.2,), (-7.0,), "lost 0.5 bu/ac with a against b, one of the smallest losses of 3"),
    ],
)
def test_how_far_out_a_result_lies(gain, expected, larger, smaller, says):
    own = pd.DataFrame([{"comparison_id": "x", "says": "a against b", "gain": gain, "crop": "corn", "digits": 1,
                         "unit": "bu/ac", "half_width": 9.0,
                         "treatment_in_short": None, "comparator_in_short": None}])  # fmt: skip
    range_of_one = dict(zip(("observed_low", "observed_high"), expected, strict=True))
    averages = pd.DataFrame([{"comparison_id": "x", "estimate": 20.0, **range_of_one}])
    every = pd.DataFrame({"comparison_id": "x", "gain": [gain, *larger, *smaller]})
    assert says in own_results.told(own_results.ranked(own, averages, every), averages)[0]


@pytest.mark.parametrize(
    ("widths", "said"),
    [
        ([2.0, 3.0], "in this trial. "),
        ([2.0, None], "in this trial; without one, plot noise is not known. "),
        ([None, None], "without intervals"),
    ],
)
def test_a_caption_speaks_of_intervals_only_where_there_are_some(widths, said):
    shared = {"comparison_id": "c", "crop": "corn", "says": "blend against urea", "gain": 4.0, "conf_low": 1.0}
    rows = pd.DataFrame(
        [shared | {"conf_high": 7.0, "half_width": each, "digits": 1, "unit": "bu/ac"} for each in widths]
    )
    averages = pd.DataFrame({"comparison_id": ["c"], "estimate": [4.0], "observed_low": [0.0], "observed_high": [9.0]})
    rows = own_results.ranked(rows.assign(net_change=NONE, currency=None), averages, rows)
    assert said in own_results.results_table(rows, averages)
