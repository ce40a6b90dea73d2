import time

import pandas as pd
import pytest

from pipeline.estimates.engines import mixed
from pipeline.estimates.n_response import optimum
from pipeline.estimates.n_response.estimate_n_response import estimate_n_response
from pipeline.estimates.n_response.trial_curves import fitted_ladders
from pipeline.kept import kept_in
from tests.declared_shapes import check_shapes

TABLES = {
    "rate_means",
    "ladder_plots",
    "n_response",
    "eonr_grid",
    "response_draws",
    "site_year_optima",
    "nitrogen_saved",
    "efficiencies",
    "rate_losses",
}


@pytest.fixture(scope="module")
def estimated(make):
    return lambda frames, sources=None: estimate_n_response(*frames, make.sources() if sources is None else sources)


@pytest.fixture(scope="module")
def both_sources(make):
    return make.program(8, joins={make.UREA: 160.0, make.BLEND: 140.0})


@pytest.fixture(scope="module")
def found(both_sources, estimated):
    return estimated(both_sources)


def test_every_table_has_its_columns(found):
    assert set(found) == TABLES
    check_shapes(found)
    assert all(len(frame) for frame in found.values())


def test_empty_frames_keep_their_shape(both_sources, estimated):
    empty = estimated([frame.iloc[:0] for frame in both_sources])
    assert set(empty) == TABLES
    check_shapes(empty)
    assert all(frame.empty for frame in empty.values())


def test_one_row_per_ladder_and_model(found, make):
    rows = found["n_response"]
    assert not rows.duplicated(["crop", "family", "level", "trial_id", "variant", "model"]).any()
    assert rows.groupby(["level", "family"]).size().to_dict() == {
        (level, family): n for level, n in (("trial", 8 * 3), ("pooled", 4)) for family in (make.UREA, make.BLEND)
    }
    assert rows[rows["is_primary"]]["model"].unique().tolist() == ["quadratic-plateau"]


def test_only_the_trial_that_changed_is_fitted_again(both_sources, estimated, monkeypatch, tmp_path):
    """All tables are those of a run that keeps nothing, to the last bit."""
    fitted = []

    def noted(ladders, **options):
        fitted.append(ladders["trial_id"].iloc[0])
        return fitted_ladders(ladders, **options)

    monkeypatch.setenv(mixed.FIT_BY, mixed.OWN)
    monkeypatch.setattr("pipeline.estimates.n_response.estimate_n_response.fitted_ladders", noted)
    trials, treatments, plots, arms = both_sources
    one = trials["trial_id"].iloc[3]
    first_of_it = plots.index[plots["trial_id"] == one][0]
    corrected = plots.assign(value=plots["value"].where(plots.index != first_of_it, plots["value"] + 90.0))
    for frames in (both_sources, (trials, treatments, corrected, arms)):
        with kept_in(tmp_path / "results") as results:
            found = estimated(frames)
            results.forget_unused()
    assert fitted == [*sorted(trials["trial_id"]), one]
    by_itself = estimated((trials, treatments, corrected, arms))
    for name, frame in by_itself.items():
        pd.testing.assert_frame_equal(found[name], frame, check_exact=True)


def test_nothing_is_found_outside_the_rates_tested(make, estimated):
    """Weak and strong, short and long ladders: every optimum and bound lies in [0, highest rate] or is missing."""
    for seed, options in enumerate(
        ({"slope": 5}, {"joins": {make.UREA: 400.0}}, {"plot_sd": 1500}, {"rates": (20, 30, 200)})
    ):
        rows = estimated(make.program(seed, **options))["n_response"]
        for column in (
            "join",
            "aonr",
            "aonr_low",
            "aonr_high",
            "eonr",
            "eonr_low",
            "eonr_high",
            "eonr_boot_low",
            "eonr_boot_high",
        ):
            values = rows[column].astype(float)
            assert ((values.isna()) | ((values >= 0) & (values <= rows["highest_rate"].astype(float)))).all(), column
        unknown = rows["flag"].isin([optimum.NO_RESPONSE, optimum.NEGATIVE, optimum.BELOW])
        assert rows.loc[unknown, ["aonr", "eonr", "join"]].isna().all(axis=None)


def test_order_of_rows_and_names_of_blocks_do_not_matter(both_sources, found, estimated):
    trials, treatments, plots, arms = both_sources
    shuffled = [frame.sample(frac=1, random_state=1) for frame in (trials, treatments, plots, arms)]
    renamed = shuffled[2].assign(block="rep " + shuffled[2]["block"])
    again = estimated([shuffled[0], shuffled[1], renamed, shuffled[3]])
    blocks_named = again["ladder_plots"].assign(block=again["ladder_plots"]["block"].str.removeprefix("rep "))
    for name, frame in found.items():
        if name == "ladder_plots":
            pd.testing.assert_frame_equal(blocks_named, frame, check_dtype=False)
        elif name == "n_response":  # the bootstrap of blocks draws them in order of their names, which is kept here
            pd.testing.assert_frame_equal(again[name], frame, check_dtype=False, rtol=1e-5)
        else:
            pd.testing.assert_frame_equal(again[name], frame, check_dtype=False, rtol=1e-4)


def test_a_source_without_a_price_keeps_its_agronomic_optimum(both_sources, estimated, make):
    rows = estimated(both_sources, make.sources(make.UREA))
    unpriced = rows["n_response"][rows["n_response"]["family"] == make.BLEND]
    assert unpriced["eonr"].isna().all() and unpriced["aonr"].notna().any()
    assert set(rows["eonr_grid"]["family"]) == set(rows["rate_losses"]["family"]) == {make.UREA}
    assert rows["n_response"].query("family == @make.UREA and level == 'pooled'")["eonr"].notna().all()


def test_a_dearer_source_pays_best_at_a_lower_rate(make, estimated):
    """Two alike responses, one priced at 6 and one at 8 kg of yield per kg of N: join x (1 - ratio / slope) each."""
    frames = make.program(8, joins={make.UREA: 160.0, make.BLEND: 160.0}, plot_sd=0.0, slope_sd=0.0)
    sources = pd.concat([make.sources(make.UREA), make.sources(make.BLEND, ratio=8.0)])
    rows = estimated(frames, sources)
    pooled = rows["n_response"].query("level == 'pooled' and is_primary").set_index("family")
    assert pooled.loc[make.UREA, "eonr"] == pytest.approx(160 * (1 - 6 / 55), rel=1e-4)
    assert pooled.loc[make.BLEND, "eonr"] == pytest.approx(160 * (1 - 8 / 55), rel=1e-4)
    planned = rows["eonr_grid"].query("is_planning_ratio").groupby("family")["price_ratio"].unique().explode()
    assert planned.to_dict() == {make.UREA: 6.0, make.BLEND: 8.0}
    saved = rows["nitrogen_saved"].query('at == "comparator\'s EONR"').iloc[0]
    assert saved["comparator_rate"] == pytest.approx(160 * (1 - 6 / 55), rel=1e-4), (
        "the comparator's own price sets its rate"
    )


def test_a_trial_that_was_not_randomized_is_listed_and_stays_out_of_averages(both_sources, estimated):
    trials, treatments, plots, arms = both_sources
    marked = trials.assign(design=trials["design"].where(trials["trial_id"] != "t00", "not randomized"))
    rows = estimated((marked, treatments, plots, arms))["n_response"]
    assert set(rows[rows["trial_id"].eq("t00")]["flag"]) == {optimum.NOT_RANDOMIZED}
    assert set(rows[rows["level"].eq("pooled")]["n_site_years"]) == {7}


@pytest.mark.thorough
def test_a_hundred_site_years_are_quick(make, estimated):
    """100 site-years x 3 sources x 3 models, bootstrap check and price grid: 9 s of processor time when written."""
    frames = make.program(0, n_site_years=100, joins={make.UREA: 160.0, make.BLEND: 150.0, make.SPLIT: 155.0})
    started = time.process_time()
    estimated(frames)
    assert time.process_time() - started < 30
