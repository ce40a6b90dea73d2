import json

import numpy as np
import pandas as pd
import pytest

from pipeline.estimates.n_response.ladders import LADDERS, ladder_plots, ladders, rate_levels, rate_means

TRIAL = pd.DataFrame([{"trial_id": "t", "site_year_id": "s", "crop": "corn", "design": "RCBD"}])


def plots_of(treatments, n_blocks=2):
    rows = [
        {
            "trial_id": "t",
            "block": str(block),
            "main_plot": None,
            "plot": f"{block}-{code}",
            "treatment_code": code,
            "value": 100.0 * block + i,
        }
        for block in range(1, n_blocks + 1)
        for i, code in enumerate(treatments["treatment_code"])
    ]
    return pd.DataFrame(rows)


def rates_by_ladder(found):
    return {key: sorted(set(of["n_rate_kg_ha"])) for key, of in found.groupby(["family", "variant"])}


def test_zero_n_stands_in_every_ladder(make):
    treatments = pd.DataFrame(
        [make.treatment("t", "Z", "none", 0)]
        + [make.treatment("t", f"U{r}", make.UREA, r) for r in (90, 180)]
        + [make.treatment("t", f"C{r}", make.BLEND, r) for r in (90, 180)]
        + [make.treatment("t", "S90", make.SPLIT, 90)]
    )
    plots = plots_of(treatments).assign(crop="corn", design="as delivered")  # more columns than are needed
    found = ladders(ladder_plots(plots, treatments, TRIAL))
    assert list(found.columns) == LADDERS
    assert set(found["design"]) == {"RCBD"}
    assert rates_by_ladder(found) == {
        (make.BLEND, ""): [0, 90, 180],
        (make.UREA, ""): [0, 90, 180],
        (make.SPLIT, ""): [0, 90],
    }
    assert len(found) == 2 * (3 + 3 + 2)


def test_a_split_plot_ladder_takes_the_zero_n_of_its_own_main_plots(make):
    treatments = pd.DataFrame(
        [make.treatment("t", "Z", "none", 0)]
        + [make.treatment("t", f"U{r}", make.UREA, r) for r in (90, 180)]
        + [make.treatment("t", f"S{r}", make.SPLIT, r) for r in (90, 180)]
    )
    plots = plots_of(treatments)
    plots["main_plot"] = plots["treatment_code"].str[0].map({"Z": "A", "U": "A", "S": "B"})
    second = plots[plots["treatment_code"] == "Z"].assign(main_plot="B", plot="z2", value=900.0)
    split_plot = TRIAL.assign(design="split-plot")
    found = ladders(ladder_plots(pd.concat([plots, second]), treatments, split_plot))
    zeros = found[found["n_rate_kg_ha"] == 0].groupby("family")["main_plot"].unique().map(list).to_dict()
    assert zeros == {make.UREA: ["A"], make.SPLIT: ["B"]}
    one_only = ladders(ladder_plots(plots, treatments, split_plot))
    assert one_only[one_only["n_rate_kg_ha"] == 0].groupby("family").size().to_dict() == {make.UREA: 2, make.SPLIT: 2}
    assert len(ladders(ladder_plots(pd.concat([plots, second]), treatments, TRIAL))) == 16, (
        "in other designs main plots mean nothing"
    )


def test_another_placement_or_factor_is_another_ladder(make):
    """Zero-N that names a variety serves that variety only; zero-N that names none serves all."""
    k1, k2 = json.dumps({"variety": "K1"}), json.dumps({"variety": "K2"})
    treatments = pd.DataFrame(
        [
            make.treatment("t", "Z1", "none", 0, factors=k1),
            make.treatment("t", "U90K1", make.UREA, 90, factors=k1),
            make.treatment("t", "U90K2", make.UREA, 90, factors=k2),
            make.treatment("t", "U180K2", make.UREA, 180, factors=k2, placement="banded"),
        ]
    )
    found = rates_by_ladder(ladders(ladder_plots(plots_of(treatments), treatments, TRIAL)))
    assert found == {
        (make.UREA, "broadcast, variety K1"): [0, 90],
        (make.UREA, "broadcast, variety K2"): [90],
        (make.UREA, "banded, variety K2"): [180],
    }
    for_all = treatments.assign(factors=[None, k1, k2, k2])
    assert all(
        0 in rates for rates in rates_by_ladder(ladders(ladder_plots(plots_of(for_all), for_all, TRIAL))).values()
    )


def test_points_along_a_strip_are_averaged(make):
    treatments = pd.DataFrame([make.treatment("t", "Z", "none", 0), make.treatment("t", "U90", make.UREA, 90)])
    points = pd.concat([plots_of(treatments).assign(plot=str(i), value=lambda p: p["value"] + i) for i in range(10)])
    found = ladders(ladder_plots(points, treatments, TRIAL.assign(design="strips")))
    assert len(found) == 4  # one per strip
    assert found["value"].tolist() == [104.5, 204.5, 105.5, 205.5]


def test_rate_means_are_adjusted_for_blocks(make):
    """The zero-N of the better block is lost: its mean is not pulled down by that."""
    trials, treatments, plots = make.trial(
        {"none": {0.0: [10.0, 30.0, 50.0]}, make.UREA: {90.0: [20.0, 40.0, 60.0], 180.0: [25.0, 45.0, 65.0]}}
    )
    lost = plots.drop(plots.index[2])
    found = rate_means(ladders(ladder_plots(lost, treatments, trials))).set_index("n_rate_kg_ha")
    assert found["mean"].to_dict() == pytest.approx({0.0: 30.0, 90.0: 40.0, 180.0: 45.0})
    assert found["n_plots"].to_dict() == {0.0: 2, 90.0: 3, 180.0: 3}


@pytest.mark.parametrize("gap, expected", [(5.9, 1), (6.0, 2), (6.1, 2)])
def test_rate_levels(gap, expected):
    levels = rate_levels(np.array([90.0, 90.0 + gap, 90.0]), 6.0)
    assert len(set(levels)) == expected
    assert levels[0] == levels[2]


def test_levels_do_not_run_together():
    """Each level is measured from its lowest rate, so a chain of small steps does not become one rate."""
    assert len(set(rate_levels(np.array([90.0, 94, 98, 102]), 6.0))) == 2


def test_no_rows_keep_their_shape(make):
    treatments = pd.DataFrame([make.treatment("t", "Z", "none", 0)])
    assert list(ladders(ladder_plots(plots_of(treatments), treatments, TRIAL)).columns) == LADDERS
    assert ladders(ladder_plots(plots_of(treatments), treatments, TRIAL)).empty
