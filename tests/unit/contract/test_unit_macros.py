"""SQL converts by the factors of `units`, to the last digit."""

from __future__ import annotations

import pytest

from pipeline.contract import unit_macros, units
from pipeline.warehouse import open_warehouse


@pytest.fixture
def warehouse(tmp_path):
    with open_warehouse(tmp_path / "warehouse.duckdb") as warehouse:
        warehouse.build([])
        yield warehouse


def test_sizes_and_values_are_those_of_python(warehouse):
    def result(expression: str) -> float:
        return warehouse.read(f"select cast({expression} as double) as x")["x"][0]

    for name, size in unit_macros.SIZES.items():
        assert result(f"units.{name}()") == size
    for us_unit, (_, size) in unit_macros.VALUES.items():
        for x in (1.0, 0.1, 134.50213874333472, 1e-300, 1234567.891):
            assert result(f"units.{us_unit}(cast('{x!r}' as double))") == x / unit_macros.SIZES[size]
    for bushel_lb in (56, 60, 48, 32.5):
        assert result(f"units.kg_ha_per_bu_ac({bushel_lb})") == units.bushel_kg_ha(bushel_lb)


@pytest.mark.parametrize(
    ("expression", "us", "metric"),
    [
        ("said_n_rate(134.5, {})", "120.0 lb N/ac", "134.5 kg N/ha"),
        ("said_width(1.524, {})", "5.0 ft", "1.52 m"),
        ("said_weight(4.5359237, {})", "10.0 lb", "4.54 kg"),
    ],
)
def test_a_value_is_told_in_the_unit_of_the_reader(warehouse, expression, us, metric):
    told = [expression.format(f"'{display}'") for display in ("us", "metric")]
    row = warehouse.read(f"select units.{told[0]} as us, units.{told[1]} as metric").iloc[0]
    assert (row["us"], row["metric"]) == (us, metric)


def test_another_client_reads_views_that_convert(tiny, tmp_path):
    """Macros stay in the file; also where it is attached under a name beside another database."""
    tiny.load()
    with open_warehouse(tmp_path / "other.duckdb") as other:
        other.execute(f"attach '{tiny.folder / 'warehouse.duckdb'}' as season (read_only)")
        plot = other.read("select * from season.reports.plots where harvest_weight_kg is not null").iloc[0]
    assert plot["harvest_weight_lb"] == plot["harvest_weight_kg"] / units.KG_PER_LB
