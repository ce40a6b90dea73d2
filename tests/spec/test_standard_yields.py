"""Yields at standard moisture (grain) and as lint: worked examples, and two roads to each number.

Examples by hand from the rules of UF/IFAS AG442 and Ohio State AGF-502: standard weight = wet weight x (100 - moisture)
/ (100 - standard moisture); a bushel is 56 lb of corn at 15.5 % or 60 lb of soybean at 13 % moisture; an acre is
43,560 square feet. Lint = seed cotton x gin turnout (common practice, no source).

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.contract.units import KG_PER_LB, M_PER_FT, bushel_kg_ha
from tests.tiny_program import TinyProgram, write_tiny_program
from tests.yields_by_hand import grain_yield_kg_ha, lint_yield_kg_ha

STANDARD = {"corn": (56, 15.5), "soybean": (60, 13.0)}
ROW_SPACING_IN = {"corn": 30, "soybean": 15, "cotton": 38}

#  crop, lb as weighed, moisture % or turnout, length ft, rows: yield in bu/ac or lb lint/ac, kg/ha
EXAMPLES = [
    ("corn", 42.6, 18.2, 30, 2, 213.85, 13_423),
    ("soybean", 17.9, 10.8, 40, 4, 66.62, 4_480),  # drier than the standard raises the yield
    ("cotton", 17.6, 0.392, 40, 2, 1_186, 1_330),
    ("corn", 56, 15.5, 43_560 / 5 / 1000, 2, 1000, 62_768),  # a bushel at standard moisture on a thousandth of an acre
]


def _plot(crop: str, weight_lb: float, moisture_or_turnout: float, length_ft: float, rows: float) -> dict[str, str]:
    cells = {
        "harvest_weight_lb": f"{weight_lb!r}",
        "harvest_length_ft": f"{length_ft!r}",
        "rows_harvested": f"{rows!r}",
    }
    return cells | {"gin_turnout_fraction" if crop == "cotton" else "moisture_pct": f"{moisture_or_turnout!r}"}


def _by_sql(tiny: TinyProgram, plots: list[tuple]) -> list[float]:
    """kg/ha of each plot (crop, weight, moisture or turnout, length, rows) as the warehouse computes it."""
    for crop, row_spacing in ROW_SPACING_IN.items():
        tiny.add_delivery(crop)
        tiny.change("trials", 2, "crop", crop, f"2091/{crop}")
        tiny.change("trials", 2, "row_spacing_in", str(row_spacing), f"2091/{crop}")
    for number, plot in enumerate(plots):
        where = f"2091/{plot[0]}"
        tiny.append(
            "plots",
            where,
            trial_id=plot[0],
            block="1",
            plot=f"n{number}",
            treatment_code="U-120",
            outcome="harvested",
            **_plot(*plot),
        )
    with tiny.loaded() as warehouse:
        found = warehouse.read("select plot, yield_kg_ha from trials.plots where plot like 'n%'")
    yields = dict(zip(found["plot"], found["yield_kg_ha"], strict=True))
    return [yields[f"n{number}"] for number in range(len(plots))]


def _by_python(crop: str, weight_lb: float, moisture_or_turnout: float, length_ft: float, rows: float) -> float:
    area_m2 = length_ft * M_PER_FT * rows * ROW_SPACING_IN[crop] * 0.0254
    if crop == "cotton":
        return lint_yield_kg_ha(weight_lb * KG_PER_LB, moisture_or_turnout, area_m2)
    return grain_yield_kg_ha(weight_lb * KG_PER_LB, moisture_or_turnout, STANDARD[crop][1], area_m2)


def _by_hand(crop: str, weight_lb: float, moisture_or_turnout: float, length_ft: float, rows: float) -> float:
    """bu/ac or lb lint/ac in US units from beginning to end."""
    acres = length_ft * rows * ROW_SPACING_IN[crop] / 12 / 43_560
    if crop == "cotton":
        return weight_lb * moisture_or_turnout / acres
    bushel_lb, standard_pct = STANDARD[crop]
    return weight_lb * (100 - moisture_or_turnout) / (100 - standard_pct) / bushel_lb / acres


def _display_unit_kg_ha(crop: str) -> float:
    return bushel_kg_ha(STANDARD[crop][0]) if crop in STANDARD else bushel_kg_ha(1)


@pytest.fixture(scope="module")
def examples_by_sql(tmp_path_factory) -> list[float]:
    tiny = write_tiny_program(tmp_path_factory.mktemp("yields") / "program")
    return _by_sql(tiny, [example[:5] for example in EXAMPLES])


@pytest.mark.parametrize("index", range(len(EXAMPLES)))
def test_worked_examples_by_both_roads(examples_by_sql, index):
    *plot, display, kg_ha = EXAMPLES[index]
    for road in (_by_python(*plot), examples_by_sql[index]):
        assert road == pytest.approx(kg_ha, abs=0.5)
        assert road / _display_unit_kg_ha(plot[0]) == pytest.approx(display, abs=0.5 if plot[0] == "cotton" else 0.005)


def test_wet_corn_is_not_taken_at_its_wet_weight():
    """Without the correction the first example would give 220.91 bu/ac."""
    assert _by_hand("corn", 42.6, 15.5, 30, 2) == pytest.approx(220.91, abs=0.005)
    assert _by_hand(*EXAMPLES[0][:5]) == pytest.approx(213.85, abs=0.005)


weighed = st.one_of(
    st.tuples(st.just("corn"), st.floats(1, 4000), st.floats(8, 45)),
    st.tuples(st.just("soybean"), st.floats(1, 2000), st.floats(5, 30)),
    st.tuples(st.just("cotton"), st.floats(1, 1500), st.floats(0.20, 0.52)),
)
plots = st.tuples(weighed, st.floats(1, 2000), st.sampled_from([1.0, 2.0, 4.0, 8.0])).map(lambda p: (*p[0], p[1], p[2]))


@pytest.mark.thorough
@settings(
    max_examples=2, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(drawn=st.lists(plots, min_size=30, max_size=60))
def test_sql_agrees_with_python_on_any_plots(tmp_path_factory, drawn):
    tiny = write_tiny_program(tmp_path_factory.mktemp("roads") / "program")
    assert _by_sql(tiny, drawn) == pytest.approx([_by_python(*plot) for plot in drawn], rel=1e-12)


@settings(max_examples=200, deadline=None)
@given(plot=plots)
def test_python_agrees_with_the_us_rule(plot):
    assert _by_python(*plot) / _display_unit_kg_ha(plot[0]) == pytest.approx(_by_hand(*plot), rel=1e-12)
