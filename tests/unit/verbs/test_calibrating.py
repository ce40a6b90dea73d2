"""make calibrate: the loaded layout is simulated, the result stored and printed; other inputs make it void."""

from __future__ import annotations

from functools import partial

import pandas as pd
import pytest

from pipeline.__main__ import main
from pipeline.display.review import checks
from pipeline.errors import UserError
from pipeline.simulation.calibration import calibrate
from pipeline.verbs import calibrating, made_from
from pipeline.verbs.calibrating import calibrate_program
from pipeline.warehouse import open_warehouse
from tests.tiny_program import SETTINGS

OF_ONE_SITE_YEAR = SETTINGS[SETTINGS.index("  - id: corn") :].replace("corn", "cotton")


def test_without_a_report_there_is_no_layout(tiny):
    with pytest.raises(UserError, match="Run make report first"):
        calibrate_program(tiny.folder, 2)


@pytest.mark.usefixtures("fitted_by_own_code")
@pytest.mark.parametrize("lacks", ["a third site-year", "a plot error"])
def test_without_an_interval_or_an_error_there_is_nothing_to_try(tiny, lacks):
    if lacks == "a plot error":
        tiny.add_delivery("third")
        tiny.change("trials", 2, "site_id", "Birch Flats", "2091/third")
    else:
        tiny.scatter(2091, 2092)
    tiny.load_and_estimate()
    with pytest.raises(UserError, match="there is no interval to try on simulated programs"):
        calibrate_program(tiny.folder, 2)


@pytest.mark.usefixtures("fitted_by_own_code")
def test_the_result_is_stored_and_printed_until_the_inputs_change(tiny, capsys, monkeypatch):
    monkeypatch.setattr(
        calibrating, "calibrate", partial(calibrate, n_processes=1)
    )  # two processes take longer to start
    tiny.add_delivery("third")
    tiny.change("trials", 2, "site_id", "Birch Flats", "2091/third")
    tiny.scatter(2091, "2091/third", 2092)
    with tiny.settings_file.open("a", encoding="utf-8") as settings:
        settings.write(OF_ONE_SITE_YEAR)
    tiny.load_and_estimate()
    made_from_file = tiny.folder / "published" / made_from.FILE
    made_from_file.parent.mkdir(parents=True)
    made_from_file.write_text("{}")
    assert main(["calibrate", "--program", str(tiny.folder), "--programs", "3"]) == 0
    assert not made_from_file.exists(), "the next report would print no such table"
    said = capsys.readouterr().out
    assert "simulated programs each" in said
    assert "Not tried, without an average or a known plot error: cotton-blend-vs-urea." in said
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        found = warehouse.table("reports.calibration")
    assert set(found["comparison_id"]) == {"corn-blend-vs-urea"} and set(found["n_programs"]) == {3}
    assert found["coverage"].between(0, 1).all() and set(found["n_site_years"]) == {3}
    assert (found["mean_width"] > 0).all()
    table = checks.calibration_table(found, "seasons tested", label="k")
    assert "in 3 simulated programs" in table and "No gain anywhere" in table
    assert len(tiny.load_and_estimate()["reports.calibration"]) == len(found)
    tiny.change("plots", 2, "harvest_weight_lb", "23.0")
    assert tiny.load_and_estimate()["reports.calibration"].empty


@pytest.mark.parametrize(
    ("n", "averages", "of_slopes"),
    [(1, "1 interval tried on 1 simulated program each", "weather, 1 program each"),
     (200, "1 interval tried on 200 simulated programs each", "weather, 200 programs each")],
)  # fmt: skip
def test_one_program_is_not_told_as_several(n, averages, of_slopes):
    published = pd.DataFrame({"verdict": ["as stated"], "coverage_mc_error": [0.015]})
    slopes = pd.DataFrame({"n_programs": [n], "coverage": [0.95], "shown_falsely": [0.04]})
    said = list(calibrating._told(published, slopes, n))
    assert said[0].startswith(averages) and said[1] == "   1: as stated" and of_slopes in said[2]
    assert "caught the true slope in 95% or more" in said[2] and "in at most 4%." in said[2]
