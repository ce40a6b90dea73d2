"""When a slope on the weather is there at all, what it rests on, and when it is shown: the rules as tables."""

import numpy as np
import pytest

from pipeline.contract.vocabulary import BETWEEN_SEASONS, TESTED, TO_COME, WITHIN_SEASONS
from pipeline.estimates.where import weather_rules
from pipeline.estimates.where.weather_rules import BOTH_PARTS, NEITHER_PART, Shown

NOTHING = (np.nan, np.nan)
# target, p, p with seasons random, slopes without a season, without a site-year, (slope, p) within, between: failed
# checks
CASES = [
    (TO_COME, 0.05, 0.05, [0.1, 2], [0.5], (1, 0.01), (1, 0.3), []),
    (TO_COME, 0.051, 0.051, [0.1, 2], [0.5], (1, 0.01), (1, 0.3), [0]),
    (TO_COME, np.nan, np.nan, [0.1, 2], [0.5], NOTHING, NOTHING, [0]),
    (TESTED, 0.001, 0.05, [0.1, 2], [0.5], (1, 0.2), (1, 0.01), []),
    (TESTED, 0.001, 0.06, [0.1, 2], [0.5], (1, 0.2), (1, 0.01), [1]),
    (TO_COME, 0.01, 0.01, [-0.1, 2], [0.5], NOTHING, (1, 0.01), [2]),
    (TO_COME, 0.01, 0.01, [np.nan, 2], [0.5], NOTHING, (1, 0.01), [2]),
    (TO_COME, 0.01, 0.01, [0.1, 2], [0.5, -0.2], NOTHING, (1, 0.01), [3]),
    (TO_COME, 0.01, 0.01, [0.1, 2], [0.5], (1, 0.001), (-2, 0.04), [4]),
    (TO_COME, 0.01, 0.01, [0.1, 2], [0.5], (1, 0.001), (-2, 0.06), []),
]


@pytest.mark.parametrize("target, p, p_to_come, seasons_out, site_years_out, within, between, failed", CASES)
def test_what_keeps_a_slope_from_being_shown(
    target, p, p_to_come, seasons_out, site_years_out, within, between, failed
):
    shown = Shown(target, 1.0, p, p_to_come, np.array(seasons_out), np.array(site_years_out), within, between)
    assert weather_rules.failed(shown) == [weather_rules.CHECKS[number].sentence for number in failed]


@pytest.mark.parametrize(
    "n_site_years, n_seasons, n_distinct, words",
    [
        (10, 3, 6, ""),
        (9, 3, 6, "a slope needs 10 site-years with a value for excess water, and there are 9."),
        (10, 2, 6, "a slope needs 3 seasons with values for excess water, and there are 2."),
        (10, 3, 5, "a slope needs 6 different values of excess water, and there are 5."),
        (0, 0, 0, "and there are 0."),
    ],
)
def test_fewest(n_site_years, n_seasons, n_distinct, words):
    found = weather_rules.too_few("excess water", n_site_years, n_seasons, n_distinct)
    assert words in found and bool(words) == bool(found)


@pytest.mark.parametrize(
    "within_share, rests_on",
    [(0.0, BETWEEN_SEASONS), (0.049, BETWEEN_SEASONS), (0.05, BOTH_PARTS), (0.95, BOTH_PARTS), (0.96, WITHIN_SEASONS)],
)
def test_what_a_slope_rests_on(within_share, rests_on):
    assert weather_rules.rests_on(within_share) == rests_on
    assert rests_on in weather_rules.RESTS_ON


@pytest.mark.parametrize(
    "within, between, carried",
    [
        ((1, 0.01), (1, 0.3), WITHIN_SEASONS),
        ((1, 0.3), (1, 0.01), BETWEEN_SEASONS),
        ((1, 0.01), (2, 0.01), BOTH_PARTS),
        ((1, 0.2), (2, 0.2), NEITHER_PART),
        ((-1, 0.01), (2, 0.01), BETWEEN_SEASONS),
        (NOTHING, (2, 0.01), BETWEEN_SEASONS),
    ],
)
def test_which_part_carries_it(within, between, carried):
    assert weather_rules.carried_by(1.0, within, between) == carried
