"""Treatments and their applications."""

from __future__ import annotations

import pytest

from pipeline.simulation.protocol import treatments_of
from pipeline.simulation.scenario import CORN, COTTON, SOYBEAN


def codes(crop, **options) -> list[str]:
    return [treatment["treatment_code"] for treatment in treatments_of(crop, **options)]


def test_codes_by_crop():
    assert codes(COTTON) == "ZERO U1-40 U1-70 U1-100 C50-40 C50-70 C50-100 U2-40 U2-70 U2-100 C25-70 C75-70".split()
    assert codes(SOYBEAN) == "ZERO U1-40 U1-80 C50-40 C50-80".split()
    assert set(codes(CORN, high_rates=True)) - set(codes(CORN)) == {
        f"{family}-{rate}" for family in ("U1", "C50", "U2") for rate in (200, 240)
    }


def test_growers_standard_is_split_urea_and_in_soybean_no_nitrogen():
    for crop, standard in ((CORN, {"U2-80", "U2-120", "U2-160"}), (SOYBEAN, {"ZERO"})):
        assert {t["treatment_code"] for t in treatments_of(crop) if t["is_grower_standard"] == "yes"} == standard


def test_applications_add_up_to_the_planned_rate(program):
    applications = program.tables["nitrogen_applications"]
    own = applications[applications["counts_toward"] == "treatment"]
    applied = own.groupby(["trial_id", "treatment_code"])["n_rate_lb_ac"].sum()
    planned = program.tables["treatments"].set_index(["trial_id", "treatment_code"])["n_rate_lb_ac"]
    assert (planned[planned > 0].index.isin(applied.index)).all()
    assert (applied.reindex(planned.index, fill_value=0) - planned).abs().max() < 1e-9


def test_coated_share_of_a_blend_is_by_nitrogen(program):
    applications = program.tables["nitrogen_applications"]
    blends = applications[applications["treatment_code"].str.startswith("C25")]
    rates = blends.pivot_table(index="trial_id", columns="product", values="n_rate_lb_ac")
    share = rates["coated urea"] / (rates["coated urea"] + rates["urea"])
    assert share.to_numpy() == pytest.approx(0.25)
    assert len(share) == 36 + 24 + 2  # two of these trials were planned and gave no plots


def test_split_urea_goes_out_on_two_dates_and_starter_on_all_plots(program):
    applications = program.tables["nitrogen_applications"]
    dates = applications.assign(date=applications["application"].str[:10]).groupby(["trial_id", "treatment_code"])[
        "date"
    ]
    n_dates = dates.nunique().reset_index()
    assert set(n_dates.loc[n_dates["treatment_code"].str.startswith("U2"), "date"]) == {2}
    assert set(n_dates.loc[~n_dates["treatment_code"].str.startswith("U2"), "date"]) == {1}
    background = applications[applications["counts_toward"] == "background"]
    assert set(background["treatment_code"]) == {"ALL"}
    assert set(background["product"]) == {"starter"}
    assert 0 < len(background) < 86
