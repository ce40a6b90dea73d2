"""Which method leads: the comparison that tells is with site-years counted alike, not with seasons counted alike."""

import pandas as pd
import pytest

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.estimates.average.pooling import leading
from pipeline.estimates.average.three_methods import MethodRow
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN, TWO_STAGE

SEASONS = [2090, *[2091] * 8, *[2092] * 8, *[2093] * 8, *[2094] * 8]
# one odd season of one site-year: the mean of season means is 8, that of site-years is 5.5
GAINS = [21.0, *[4.0] * 8, *[5.0] * 8, *[6.0] * 8, *[5.0] * 8]


def found(model_estimate: float, std_error: float = 2.0) -> dict[str, MethodRow]:
    model = MethodRow({"estimate": model_estimate, "std_error": std_error})
    return {MIXED: model, PLAIN: MethodRow({"estimate": 8.2, "std_error": 3.0}), TWO_STAGE: MethodRow()}


def site_years() -> pd.DataFrame:
    return pd.DataFrame({"season": SEASONS, "gain": GAINS, "std_error": 4.0})


@pytest.mark.parametrize("target", [TESTED, TO_COME])
@pytest.mark.parametrize(("model_estimate", "leader"), [(5.5, MIXED), (6.4, MIXED), (6.6, PLAIN), (4.4, PLAIN)])
def test_the_plain_mean_leads_where_trial_size_moves_the_model(target, model_estimate, leader):
    """Mean of the 33 site-years 5.485; half a standard error of the model is 1."""
    chosen, sentence = leading(found(model_estimate), rules.rule_for(target, 33, 5), site_years())
    assert chosen == leader
    assert ("each alike" in sentence) is (leader == PLAIN)


def test_one_season_of_one_site_year_does_not_take_the_lead():
    """The season means lie 1.35 standard errors from the model; that is the odd season's weight, not a fault of the
    model.
    """
    chosen, _ = leading(found(5.5), rules.rule_for(TO_COME, 33, 5), site_years())
    assert chosen == MIXED


@pytest.mark.parametrize(
    ("target", "error", "leader"), [(TESTED, 4.0, TWO_STAGE), (TESTED, 0.0, PLAIN), (TO_COME, 4.0, PLAIN)]
)
def test_without_a_model_two_stages_lead_for_the_seasons_tested_where_every_error_is_known(target, error, leader):
    rows = site_years().assign(std_error=[error, *[4.0] * 32])
    chosen, sentence = leading(found(5.5) | {MIXED: MethodRow()}, rules.rule_for(target, 33, 5), rows)
    assert chosen == leader and sentence == f"{rules.ADJUSTMENTS['not fitted']} Instead the {leader} leads."


def test_what_widens_the_plain_mean_is_said_where_it_leads():
    noted = found(6.6) | {PLAIN: MethodRow({"estimate": 8.2, "std_error": 3.0}, notes=("Plots come back.",))}
    rule = rules.rule_for(TO_COME, 33, 5)
    assert leading(noted, rule, site_years())[1].endswith("Plots come back.")
    assert "Plots come back." not in leading(noted | {MIXED: found(5.5)[MIXED]}, rule, site_years())[1]
