"""R10mm, R20mm and RX5day of the ETCCDI on a season made by hand.

Source, place and standing of the numbers: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import pytest

from pipeline.contract.vocabulary import HEAVY_RAIN_DAYS, RAIN_AFTER, WET_DAYS, WETTEST_5_DAYS
from tests.unit.site_years.weather.made_by_hand import case, days, known

# 12 days: 10 and 20 mm count, 9.9 and 19.9 do not; the wettest 5 days are those of 25, 0, 20, 0 and 19.9
RAIN = [9.9, 10.0, 0, 25.0, 0, 20.0, 0, 19.9, 0, 0, 1.0, 3.0]


@pytest.mark.parametrize(
    ("covariate", "value"), [(WET_DAYS, 4), (HEAVY_RAIN_DAYS, 2), (WETTEST_5_DAYS, 64.9), (RAIN_AFTER, 88.8)]
)
def test_indices_are_as_defined(covariate, value):
    from pipeline.site_years.weather.covariates import worked_out

    found = worked_out(case(covariate, n_days=len(RAIN)), known(days(RAIN)))
    assert found["value"].tolist() == [pytest.approx(value)] and found["reason"].tolist() == [None]
