"""Units and meanings of the columns beside the pages come from what is declared."""

from __future__ import annotations

import pytest

from pipeline.contract.results import EVERY_VIEW, view_columns
from pipeline.publishing.exports import dictionary
from pipeline.publishing.pages import views_of
from pipeline.publishing.view_columns import told_of
from pipeline.verbs.answers import stored_views

# view, column, the columns of the view that name a unit -> its unit
UNITS = [
    ("gains", "estimate", ["unit"], "see the row's unit"),
    ("gains", "estimate_kg_ha", ["unit"], "kg/ha"),
    ("gains", "i2_pct", ["unit"], "%"),
    ("gains", "df", ["unit"], ""),
    ("money", "conf_low", ["unit"], "currency/ac"),
    ("money", "gain", ["unit"], "see the row's unit"),
    ("rate_losses", "conf_low", ["n_unit"], "currency/ac"),
    ("rate_losses", "eonr", ["n_unit"], "see the row's n_unit"),
    ("response_curves", "join_kg_ha", ["unit", "n_unit"], "kg N/ha"),
    ("site_years", "rain_mm", [], "mm"),
    ("findings", "found", [], ""),
]


@pytest.mark.parametrize(("view", "column", "naming", "unit"), UNITS, ids=lambda value: str(value))
def test_a_column_has_the_unit_that_the_view_states_it_in(view, column, naming, unit):
    assert told_of(view, column, naming).unit == unit


def test_a_column_of_a_result_has_its_meaning_and_one_of_nothing_declared_has_none():
    assert told_of("gains", "tau", ["unit"]).meaning == "standard deviation of true gains between fields"
    assert told_of("gains", "estimate_kg_ha", []).meaning == told_of("gains", "estimate", []).meaning != ""
    assert told_of("applications", "product", []).meaning == "what was spread, in generic words"
    assert told_of("corrections", "product", []).meaning == ""


def test_every_exported_column_has_a_meaning_and_what_is_declared_is_of_views_that_are_there(
    estimated_program, tmp_path
):
    stored = {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}
    told = dictionary(views_of(stored, tmp_path / "published"))
    untold = told[told["meaning"].eq("")]
    assert list(zip(untold["table"], untold["column"])) == []
    assert set(view_columns()) - {EVERY_VIEW} <= set(told["table"])


def test_means_and_counts_of_a_trial_are_told_of_the_plots_that_they_are_of(estimated_program):
    """Both means are of yields at standard moisture; a trial's leave zero-N out, as its error does."""
    views = stored_views(estimated_program, ("plots", "treatment_means", "trials"))
    means = views["treatment_means"].set_index(["trial_id", "treatment_code"])
    used = views["plots"].query("fate == 'used'")
    by_code = used.groupby(["trial_id", "treatment_code"])["yield"].mean()
    assert by_code.to_numpy() == pytest.approx(means.loc[by_code.index, "mean"].to_numpy())
    assert told_of("treatment_means", "mean", ["unit"]).meaning == "mean yield of its plots, not adjusted for blocks"
    zero_n = means.index[means["is_zero_n"]]
    fertilized = used.set_index(["trial_id", "treatment_code"]).drop(zero_n).reset_index().groupby("trial_id")
    trials = views["trials"].set_index("trial_id").loc[list(fertilized.groups)]
    assert len(zero_n) and trials["mean"].to_numpy() == pytest.approx(fertilized["yield"].mean().to_numpy())
    assert trials["n_treatments"].tolist() == fertilized["treatment_code"].nunique().tolist()
    told = {name: told_of("trials", name, ["unit"]) for name in ("n_plots", "n_treatments", "n_blocks", "mean")}
    assert "fertilized" in told["n_plots"].meaning and told["mean"].unit == "see the row's unit"
    assert all("these plots" in told[name].meaning for name in ("n_treatments", "n_blocks", "mean"))


def test_days_of_a_file_are_not_told_as_those_of_the_window():
    shared = "days that the file tells of and that count here"
    assert told_of("weather_sources", "n_days", []).meaning == told_of("rain_sources", "n_days", []).meaning == shared
    assert told_of("weather_covariates", "n_days", []).meaning == "days in the window"
