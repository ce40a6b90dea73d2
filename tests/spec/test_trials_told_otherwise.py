"""Trials that are told otherwise than by fertilized plots: two cultivars without a word on nitrogen, a difference in
print, means in print of plots that were lost, and of a trial that lost one arm.
"""

from __future__ import annotations

import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC
from pipeline.trace import NOT_BEHIND
from tests.tiny_program import HEADS_OF_PRINTED_MEANS, write_tiny_program

CULTIVARS = """\
comparisons:
  - id: corn-k2-vs-k1
    says: cultivar K2 against cultivar K1
    crop: corn
    target: seasons tested
    treatment: {factor_cultivar: K2}
    comparator: {factor_cultivar: K1}
    match: none
    may_differ: [factor_cultivar]
    declared: 2090-11-15
"""
KG_HA_PER_BU_AC = 56 * KG_HA_PER_LB_AC
DIFFERENCE, SED, DF = 7.1, 2.4, 12
LOST = {"outcome": "damaged", "cause": "hail", "caused_by_treatment": "no", "harvest_weight_lb": ""}
PRINTED = {"U-120": "171", "C-120": "176"}


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    """A trial of cultivars in 2091, one of 2090 that a paper prints as a difference from urea, and two of 2092 of which
    a report prints means: all plots of the one have hail, of the other those of the blend alone.
    """
    tiny = write_tiny_program(tmp_path_factory.mktemp("otherwise") / "program")
    tiny.settings("comparisons:\n", CULTIVARS)
    heads = ["trial_id", "treatment_code", "factor_cultivar"]
    tiny.add_delivery("cultivars")
    tiny.write(
        "treatments",
        [heads, *(["cultivars", code, k] for code, k in zip(("ZERO", "U-120", "C-120"), ("K1", "K2", "K3")))],
        "2091/cultivars",
    )
    tiny.path("nitrogen_applications", "2091/cultivars").unlink()
    tiny.add_delivery("paper")
    for table in ("plots", "nitrogen_applications"):
        tiny.path(table, "2091/paper").unlink()
    tiny.print_difference("2091/paper", "U-120", str(DIFFERENCE), error=str(SED), df=str(DF))
    tiny.change("trials", 2, "site_id", "Birch Flats", "2091/paper")
    tiny.add_delivery("hail", like="2092-A-corn", season=2092)
    tiny.change("trials", 2, "site_id", "Birch Flats", "2092/hail")
    for column, word in LOST.items():
        tiny.fill("plots", column, word, "2092/hail")
    tiny.add_delivery("half", like="2092-A-corn", season=2092)
    tiny.change("trials", 2, "site_id", "Birch Flats", "2092/half")
    codes = [row[tiny.rows("plots", "2092/half")[0].index("treatment_code")] for row in tiny.rows("plots", "2092/half")]
    for column, word in LOST.items():
        for number in (number for number, code in enumerate(codes, start=1) if code == "C-120"):
            tiny.change("plots", number, column, word, "2092/half")
    for trial in ("hail", "half"):
        means = [[trial, code, mean, "4", "LSD", "9.0", "0.05", "a report"] for code, mean in PRINTED.items()]
        tiny.write("printed_means", [HEADS_OF_PRINTED_MEANS, *means], f"2092/{trial}")
    return tiny.load_and_estimate()


def gain(tables, comparison_id: str, site_year_id: str):
    gains = tables["reports.site_year_gains"]
    return gains[(gains["comparison_id"] == comparison_id) & (gains["site_year_id"] == site_year_id)].iloc[0]


def test_a_comparison_that_is_not_about_nitrogen_needs_no_n_source(tables):
    """K2 less K1 in the plots of the cultivar trial: 41.0 less 22.0 lb a plot in both blocks, alike, 18.2 % moisture,
    150 sq ft.
    """
    assert not tables["reports.findings"]["file"].str.contains("/cultivars/").any()
    (left,) = tables["reports.site_year_gains"].query("comparison_id == 'corn-k2-vs-k1'").itertuples()
    assert left.gain == pytest.approx(19.0 * (100 - 18.2) / (100 - 15.5) * 43560 / 150 / 56)


def test_a_printed_difference_is_one_site_year_gain(tables):
    found = gain(tables, "corn-blend-vs-urea", "birch-2091")
    assert (found["gain"], found["std_error"], found["df"]) == pytest.approx((DIFFERENCE, SED, DF))
    assert found[["comparator_mean"]].isna().all() and "percentages leave it out" in found["warnings"]


def test_percentages_rest_on_the_site_years_whose_comparator_is_known(tables):
    of_comparison = tables["reports.site_year_gains"].query("comparison_id == 'corn-blend-vs-urea'")
    known = of_comparison["comparator_mean"].dropna()
    assert len(known) == len(of_comparison) - 1
    mean = tables["reports.comparisons"].set_index("comparison_id").loc["corn-blend-vs-urea", "comparator_mean"]
    assert mean == pytest.approx(known.mean())


def test_the_walk_names_the_printed_difference_and_what_it_was_taken_from(tables):
    sources = tables["reports.sources"]
    (row,) = sources[sources["trial_id"] == "paper"].itertuples()
    assert row.reason.startswith(
        f"difference of {DIFFERENCE} bu/ac from U-120, mean of 4 blocks, its error: SED; a journal"
    )


def test_the_walk_names_the_printed_means_that_stand_in_for_lost_plots(tables):
    """The gain is that of the print: its rows are behind it, and those of the plots are told of as set aside."""
    assert gain(tables, "corn-blend-vs-urea", "birch-2092")["gain"] == pytest.approx(5.0)
    sources = tables["reports.sources"].query("trial_id == 'hail'")
    behind = sources[~sources["fate"].isin(NOT_BEHIND)]
    assert dict(zip(behind["treatment_code"], behind["yield"], strict=True)) == {"U-120": 171, "C-120": 176}
    assert behind["file"].unique() == ["seasons/2092/hail/printed_means.csv"] and len(sources) == 2 + 4


def test_a_print_beside_plots_does_not_make_a_trial_count(tables):
    """Its plots are the trial, and those of one arm give no gain: it is left out, with the reason."""
    left_out = tables["reports.left_out"].query("comparison_id == 'corn-blend-vs-urea'").set_index("trial_id")["reason"]
    assert left_out["half"] == "no harvested plots of both arms"
    assert "half" not in set(tables["reports.sources"]["trial_id"])
