"""Trials that are told otherwise than by fertilized plots: two cultivars without a word on nitrogen, and a difference
in print.
"""

from __future__ import annotations

import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC
from tests.tiny_program import write_tiny_program

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


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    """A trial of cultivars in 2091 and one of 2090 that a paper prints as a difference from urea."""
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
