"""Which corrections make the pages that speak for a season anew: those of what an average or its worth rests on."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.steps.season_inputs import season_inputs


def data() -> dict[str, pd.DataFrame]:
    """A trial in each of three seasons, the last on the plots of the second; one more is held and has no season."""
    trials = pd.DataFrame({"trial_id": ["a", "b", "c"], "season": [2091, 2092, 2093], "place": "Elm"})
    trials["plot_set"] = [None, "b", "b"]
    of_each = pd.DataFrame({"trial_id": ["a", "b", "c", "held"], "treatment_code": "U"})
    printed = of_each.assign(mean_kg_ha=None, compared_with="C", difference_kg_ha=50.0, error_value=9.0)
    plots = of_each.assign(value=9000.0, block="1", moisture_pct=18.0)
    return {
        "trials": _with(trials, "site_year_id", "crop", "design", "drainage_group", "rainfall_class",
                        "artificial_drainage", "previous_crop"),
        "treatments": of_each.assign(n_rate_kg_ha=134.0),
        "plots": _with(plots, "main_plot", "plot"),
        "printed_means": _with(printed, "n_blocks", "error_kind", "error_alpha", "error_df"),
        "arms": _with(of_each.assign(arm="treatment"), "comparison_id", "rate_kg_ha", "rate_weight"),
    }  # fmt: skip


def _with(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    return frame.assign(**{column: "as it is" for column in columns})


def hashes(frames: dict[str, pd.DataFrame]) -> dict[int, str]:
    found = season_inputs(frames)
    return dict(zip(found["season"], found["data_sha256"], strict=True))


def moved(frames: dict[str, pd.DataFrame]) -> list[int]:
    before, after = hashes(data()), hashes(frames)
    return [season for season in before if before[season] != after.get(season)]


@pytest.mark.parametrize(
    ("name", "column", "value"),
    [
        ("trials", "rainfall_class", "wet"),
        ("treatments", "n_rate_kg_ha", 150.0),
        ("plots", "value", 9001.0),
        ("plots", "block", "2"),
        ("plots", "moisture_pct", 19.0),
        ("printed_means", "difference_kg_ha", -50.0),
        ("printed_means", "compared_with", "Z"),
        ("printed_means", "error_value", 8.0),
        ("arms", "arm", "comparator"),
    ],
)
def test_a_correction_is_of_its_season_and_of_all_after_it(name, column, value):
    frames = data()
    frames[name].loc[frames[name]["trial_id"] == "b", column] = value
    assert moved(frames) == [2092, 2093]
    if name != "trials":
        frames = data()
        frames[name].loc[frames[name]["trial_id"] == "held", column] = value
        assert moved(frames) == []


def test_a_later_season_moves_none_before_it_though_it_stands_on_the_same_plots():
    without = {name: frame[frame["trial_id"] != "c"] for name, frame in data().items()}
    without["trials"] = without["trials"].assign(plot_set=None)
    assert moved(without) == [2093] and 2093 not in hashes(without)


def test_that_plots_were_there_before_is_of_the_season_that_says_so():
    frames = data()
    frames["trials"]["plot_set"] = None
    assert moved(frames) == [2093]
