"""Cotton in picks: what a plot's weight and turnout are, by the picks that came."""

from __future__ import annotations

import pytest

from tests.tiny_program import TinyProgram, write_tiny_program

HEADS = ["trial_id", "plot", "pick", "harvest_weight_lb", "gin_turnout_fraction"]
# picks of plot 101 as (pick, lb of seed cotton, turnout), the turnout of the plot, lb of seed cotton and of lint
CASES = {
    "turnout by pick": ([("1", "8", "0.40"), ("2", "2", "0.35")], "", 10, 3.9),
    "turnout of the plot for the pick without one": ([("1", "8", ""), ("2", "2", "0.35")], "0.40", 10, 3.9),
    "a pick without any turnout": ([("1", "8", ""), ("2", "2", "0.35")], "", 10, None),
    "nothing left to pick": ([("1", "8", "0.40"), ("2", "0", "")], "", 8, 3.2),
    "nothing at all": ([("1", "0", "0.40"), ("2", "0", "")], "", 0, 0),
}


def _write_picks(tiny: TinyProgram, name: str, where: str) -> None:
    """Picks of plot 101, and of the others half of their weight in each."""
    of_first, turnout, *_ = CASES[name]
    tiny.change("plots", 2, "gin_turnout_fraction", turnout, where)
    heads, *plots = tiny.rows("plots", where)
    plot, weight = heads.index("plot"), heads.index("harvest_weight_lb")
    others = [
        [name, row[plot], pick, str(float(row[weight]) / 2), ""] for row in plots if row[plot] != "101" for pick in "12"
    ]
    tiny.fill("plots", "harvest_weight_lb", "", where)
    tiny.write("harvests", [HEADS, *([name, "101", *pick] for pick in of_first), *others], where)


@pytest.fixture(scope="module")
def plots(tmp_path_factory):
    """Plot 101 of each case, and of each case once more with a file, or a row of it, delivered twice."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("picks") / "program")
    for name in CASES:
        tiny.add_delivery(name, like="2091-B-cotton")
        _write_picks(tiny, name, f"2091/{name}")
    with tiny.loaded() as warehouse:
        once = warehouse.table("trials.plots")
    first, second, third, fourth, _ = CASES
    tiny.write("harvests", tiny.rows("harvests", f"2091/{first}"), f"2091/{first}/again")
    tiny.write("plots", tiny.rows("plots", f"2091/{second}"), f"2091/{second}/again")
    tiny.repeat("plots", 2, f"2091/{third}")
    tiny.repeat("harvests", 3, f"2091/{fourth}")
    with tiny.loaded() as warehouse:
        return once, warehouse.table("trials.plots")


@pytest.mark.parametrize("name", CASES)
def test_a_plot_is_its_picks_whatever_is_delivered_twice(plots, name):
    *_, seed_cotton, lint = CASES[name]
    for delivered in plots:
        row = delivered[(delivered["trial_id"] == name) & (delivered["plot"] == "101")].iloc[-1]
        assert row["harvest_weight_kg"] == pytest.approx(seed_cotton * 0.45359237)
        assert row["n_picks"] == 2
        if lint is None:
            assert row["fate"] == "set aside" and row["reason"].endswith("no gin_turnout")
        else:
            assert row["yield_kg_ha"] == pytest.approx(lint * 0.45359237 / row["area_m2"] * 10_000)
