"""The methods page prints the objects that the code follows: every rule is there, as it stands."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline import verdicts
from pipeline.display.methods import money
from pipeline.display.methods import rules as printed
from pipeline.display.methods.page import MethodsPage
from pipeline.display.words.tables import escaped
from pipeline.estimates.average import chances, pooling, three_methods
from pipeline.estimates.average.three_methods import MethodRow
from pipeline.estimates.engines import interval_rules as rules
from pipeline.estimates.engines import two_stage
from pipeline.estimates.money import partial_budget
from pipeline.estimates.n_response import curves, resampling
from pipeline.estimates.passes import noninferiority
from pipeline.estimates.trials import designs, moderation
from pipeline.estimates.where import long_run
from pipeline.folders import REPORTS
from pipeline.publishing.dictionary import dictionary_tables
from pipeline.simulation import season_zero
from tests.unit.display.rows import DECLARED


def test_every_interval_rule_is_printed():
    table = printed.rules_table()
    assert all(escaped(rule.sentence) in table for rule in rules.RULES)
    assert table.count("\n| ") == len(rules.RULES)


def test_every_adjustment_class_rule_and_verdict_is_printed():
    assert all(escaped(sentence) in printed.adjustments_table() for sentence in rules.ADJUSTMENTS.values())
    assert all(escaped(sentence) in printed.classes_table() for sentence in rules.CLASS_RULES.values())
    assert all(
        escaped(words[1:]) in printed.verdicts_table()
        for words in (*verdicts.VERDICTS.values(), *verdicts.AS_GOOD_VERDICTS.values())
    )


def test_what_makes_the_plain_mean_lead_is_the_mean_that_the_code_compares():
    """For seasons to come the plain mean is that of the season means, but the rule looks at site-years counted
    alike.
    """
    gains = pd.DataFrame({"gain": [0.0, 0.0, 0.0, 8.0], "season": [1, 1, 1, 2], "std_error": 1.0})
    model = MethodRow({"estimate": 2.0, "std_error": 1.0})
    rule = rules.rule_for(rules.TO_COME, 10, 5)
    assert two_stage.season_means(gains["gain"].to_numpy(), gains["season"].to_numpy()).estimate == 4.0
    assert pooling.leading({rules.MIXED: model}, rule, gains)[0] == rules.MIXED
    assert any("counts every site-year alike" in line and "decides nothing" in line for line in printed.limits())


def test_what_a_season_variance_of_zero_hides_is_told_by_the_kept_study():
    kept = pd.read_csv(season_zero.FILE)
    kept = kept[kept["n_seasons"].isin([3, 4]) & kept["per_season"].eq(8) & kept["ratio"].isin([0.25, 0.5, 1.0])]
    alike, found = printed.season_zero()
    assert "does not show that seasons are alike" in alike
    assert f"{kept['n'].min():,} a case: 3 or 4 seasons of 8 site-years" in found
    for name in ("coverage", "coverage_zero", "coverage_above_zero"):
        assert f"in {100 * kept[name].min():.1f} to {100 * kept[name].max():.1f}% of" in found
    page = MethodsPage({"program": pd.DataFrame([{}])}).interval_rules
    assert escaped(alike) in page and escaped(found) in page


def test_as_good_and_n_response_print_what_the_code_uses():
    table = printed.as_good_table()
    assert all(escaped(reason) in table for reason in noninferiority.REASONS.values())
    assert "one-sided 2.5%" in table and "one-sided tests at 5%" in table
    said = " ".join(printed.n_response())
    assert (
        f"The {curves.PRIMARY} curve" in said
        and f"({resampling.RANDOM_SEED})" in said
        and f"{resampling.N_RESAMPLES:,} resamples" in said
    )


def test_the_methods_page_names_what_the_code_does_where_a_source_leaves_a_choice():
    """Whoever works an interval out again from the page needs the factor's floor, what future seasons average, the
    range's own source and what the zero-N plots are held against.
    """
    page = (REPORTS / "methods.qmd").read_text(encoding="utf-8")
    gains, errors = np.array([1.0, 1.0, 1.0]), np.array([1.0, 1.0, 1.0])
    mean = two_stage.random_effects_mean(gains, errors, 0.0)
    assert mean.std_error == pytest.approx(1 / np.sqrt(3)) and "their factor on the error not below 1" in page
    assert "are means of season means, with df of seasons less 1" in page
    named = ("Nagashima, Noma and Furukawa 2019", "Higgins and Thompson 2002")
    documented = f"{two_stage.prediction_interval_fiducial.__doc__} {two_stage.Heterogeneity.__doc__}"
    assert all(source in page and source in documented for source in named)
    assert "lower limit of their plain mean difference must lie above the margin" in page
    quantile = np.array([4.0])
    spread = two_stage._tau2_where_q_is(quantile, np.array([0.0, 3.0, 9.0]), errors, 1.0)[0]
    assert np.sum((np.array([-4.0, -1.0, 5.0])) ** 2) / (1.0 + spread) == pytest.approx(quantile[0])
    assert "from the generalized Q statistic: each quantile of chi-square" in page


def test_the_methods_page_says_how_errors_are_moderated_and_which_strata_a_split_plot_has():
    page = (REPORTS / "methods.qmd").read_text(encoding="utf-8")
    alike, dfs = np.array([1.0, 1.01, 0.99]), np.array([10.0, 20.0, 30.0])
    assert moderation.squeeze(alike, dfs) == pytest.approx(np.average(alike, weights=dfs))
    assert list(moderation.moderated_dfs(alike, dfs)) == [60.0] * 3
    assert "all have the pooled variance, with the df of all together" in page
    rows = {"block": list("1122"), "main_plot": list("ABAB"), "treatment_code": list("ABAB"), "value": [1.0, 3, 4, 7]}
    as_block = designs.error_strata(pd.DataFrame(rows), "RCBD").error_variance
    assert designs.error_strata(pd.DataFrame(rows), "split-plot").error_variance == as_block
    assert "one fertilized plot in each main plot is analyzed as a randomized block" in page
    assert not designs.RANDOMIZED["CRD"] and "A trial without blocks gives one gain" in page


def test_the_wider_of_two_intervals_lies_where_the_methods_page_says():
    row = three_methods.interval(two_stage.Mean(5.0, 1.0, 9.0), 0.95, "own")
    guarded = three_methods.at_least(row, two_stage.Mean(7.0, 2.0, 4.0), 0.95, "guard")
    assert guarded["estimate"] == 5.0 and guarded["conf_high"] + guarded["conf_low"] == pytest.approx(10.0)
    assert any("around the average that leads" in line for line in printed.limits())


def test_money_prints_the_gates_that_the_code_follows():
    said = " ".join(money.rules())
    gates = {"half_width": 1.0, "std_error": 1.0, "df": 9.0}
    assert np.isnan(chances.pay_chances(0.0, tau=0.5, **gates)["fields_pay_tenths"])
    assert chances.pay_chances(0.0, tau=1.0, **gates)["fields_pay_tenths"] == 5.0
    assert f"wider than {chances.WIDEST_SHARE} tenths is not given" in said
    assert chances.tenths(1 / 21) == 0.0 and chances.tenths(1 / 20) == 1.0 and "from 1 in 20 to 19 in 20" in said
    assert f"more than {100 * long_run.MOST_UNMET:.0f}% of reference years" in said
    assert f"{partial_budget.FEWEST_SITE_YEARS} site-years and {partial_budget.FEWEST_SEASONS} seasons" in said
    assert f"With {rules.TOO_FEW_DF_FOR_MONEY} degrees of freedom or fewer" in said


def test_verdicts_stand_in_the_order_in_which_they_are_tried():
    table = printed.verdicts_table()
    found = {
        "target": "seasons tested",
        "n_site_years": 5,
        "n_seasons": 1,
        "estimate": 1.0,
        "conf_low": -1.0,
        "conf_high": 2.0,
    }
    assert verdicts.verdict(9.0, found, rounding=0.1) == verdicts.TOO_FEW
    assert verdicts.verdict(9.0, found | {"n_site_years": 9, "n_seasons": 2}, rounding=0.1) == verdicts.CONTRADICTED
    places = [
        table.index(f"| {name.capitalize()} |")
        for name in (
            verdicts.TOO_FEW,
            verdicts.CONTRADICTED,
            verdicts.NOT_SHOWN,
            verdicts.BORNE_OUT,
            verdicts.SAYS_MORE,
        )
    ]
    assert places == sorted(places)


def test_every_declared_range_is_printed():
    columns = dictionary_tables()["dictionary_columns"]
    table = printed.ranges_table(columns)
    for row in columns[columns["hard"] != ""].itertuples():
        assert escaped(row.heading) in table and escaped(row.hard) in table


def test_rates_with_their_weights_and_the_target_in_the_words_of_the_pages():
    row = pd.Series(
        {
            "says": "a against b",
            "crop": "corn",
            "declared_target": rules.TO_COME,
            "rates": '{"89.7": 1.0, "134.5": 2.0}',
            "rates_lb_ac": [80.0, 120.0],
            "may_differ": "n_source",
            **DECLARED,
        }
    )
    table = printed.comparisons_table(pd.DataFrame([row]), "us")
    assert "80 (1) and 120 (2)" in table
    assert "future seasons" in table and rules.TO_COME not in table


def test_what_was_checked_against_is_named():
    row = {"module": "published/test_someone_1990.py", "source": "Someone, A. 1990. Spans.", "place": "table 2"}
    checks = pd.DataFrame(
        [
            row | {"what": "means", "standing": "from memory", "by": "", "digits": "2 decimals"},
            row | {"what": "errors", "standing": "computed", "by": "R 4.2.2", "digits": "relative 1e-7"},
        ]
    )
    told = "means: from memory, 2 decimals; errors: computed (R 4.2.2), relative 1e-7"
    assert f"| Someone, A. 1990. Spans. | table 2 | {told} |" in printed.checked_table(checks).replace("\\", "")
