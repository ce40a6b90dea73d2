import pytest

from pipeline.contract.vocabulary import TARGETS, TESTED, TO_COME
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines.interval_rules import MIXED, PLAIN

# target, site-years, seasons -> which method leads, whether there is an estimate, words of the sentence
DRAWN = [
    (TESTED, 0, 0, PLAIN, False, "No site-year"),
    (TESTED, 1, 1, PLAIN, False, "Too few"),
    (TESTED, 2, 2, PLAIN, False, "Too few"),
    (TESTED, 3, 1, PLAIN, True, "very wide"),
    (TESTED, 4, 1, PLAIN, True, "exact"),
    (TESTED, 5, 3, PLAIN, True, "exact"),
    (TESTED, 6, 1, MIXED, True, "one field is rough"),
    (TESTED, 9, 3, MIXED, True, "one field is rough"),
    (TESTED, 10, 3, MIXED, True, "With 10 or more"),
    (TESTED, 400, 9, MIXED, True, "mixed model"),
    (TO_COME, 2, 2, PLAIN, False, "Too few"),
    (TO_COME, 3, 2, PLAIN, False, "Not estimable"),
    (TO_COME, 36, 2, PLAIN, False, "Not estimable"),
    (TO_COME, 3, 3, PLAIN, True, "season means"),
    (TO_COME, 5, 5, PLAIN, True, "season means"),
    (TO_COME, 6, 3, MIXED, True, "Only 3 or 4 seasons"),
    (TO_COME, 36, 4, MIXED, True, "Only 3 or 4 seasons"),
    (TO_COME, 36, 5, MIXED, True, "5 or more seasons"),
]


@pytest.mark.parametrize("target, site_years, seasons, headline, has_estimate, words", DRAWN)
def test_drawn_table(target, site_years, seasons, headline, has_estimate, words):
    rule = rules.rule_for(target, site_years, seasons)
    assert (rule.headline, rule.has_estimate) == (headline, has_estimate)
    assert words in rule.sentence


@pytest.mark.parametrize("target", TARGETS)
def test_every_count_has_exactly_one_rule(target):
    for site_years in range(40):
        for seasons in range(min(site_years, 12) + 1):
            if (site_years == 0) != (seasons == 0):
                continue
            holding = [
                rule
                for rule in rules.RULES
                if rule.target == target
                and rule.site_years[0] <= site_years <= rule.site_years[1]
                and rule.seasons[0] <= seasons <= rule.seasons[1]
            ]
            assert len(holding) == 1, (site_years, seasons)


@pytest.mark.parametrize(
    "site_years, seasons, shown",
    [(1, 1, "count"), (2, 2, "count"), (3, 1, "grey"), (5, 4, "grey"), (6, 1, "grey"), (6, 2, "sentence")],
)
def test_how_much_is_shown(site_years, seasons, shown):
    assert rules.shown_as(site_years, seasons) == shown


@pytest.mark.parametrize("plain, is_apart", [(10.99, False), (11.0, False), (11.01, True), (8.99, True)])
def test_disagreement_is_more_than_half_a_standard_error(plain, is_apart):
    assert rules.disagrees(10.0, 2.0, plain) is is_apart
