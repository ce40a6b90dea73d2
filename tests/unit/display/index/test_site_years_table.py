"""Every site-year on the home page: what each row says where something is not known, planned or not compared."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.index.site_years_table import site_years_table
from pipeline.display.words.numbers import MINUS
from pipeline.display.words.trials import PLANNED
from tests.unit.display.rows import NONE
from tests.unit.display.season.test_comparisons import rows_of

PAGES = pd.DataFrame(
    [("site-year", "alder-2091", "site-years/alder-2091"), ("season", None, "corn")],
    columns=["kind", "site_year_id", "path"],
)
SITE_YEAR = {"site_year_id": "alder-2091", "crop": "corn", "season": 2091, "place": "Alder", "drainage_group": "W",
             "drainage_classes": "well drained", "rainfall_class": "dry", "n_planned": 0, "n_trials": 2}  # fmt: skip
GAIN = {"comparison_id": "blend", "crop": "corn", "site_year_id": "alder-2091", "gain": 4.25, "digits": 1,
        "unit": "bu/ac"}  # fmt: skip


def row_of(gains: list[dict], **changed) -> list[str]:
    site_years = pd.DataFrame([SITE_YEAR | changed, SITE_YEAR | {"site_year_id": "birch-2091", "place": "Birch"}])
    frame = pd.DataFrame(gains, columns=list(GAIN))
    (row,) = [cells for crop, cells in rows_of(site_years_table(PAGES, site_years, frame, {"corn": "blend"})).items()
              if crop != "Crop"]  # fmt: skip
    return row


@pytest.mark.parametrize(
    ("gains", "changed", "rain", "gain"),
    [
        ([GAIN], {}, "dry", "+4.2 bu/ac"),
        ([GAIN | {"gain": -4.25}], {}, "dry", f"{MINUS}4.2 bu/ac"),
        ([GAIN | {"gain": 0.0}], {}, "dry", "+0.0 bu/ac"),
        ([GAIN | {"gain": NONE}], {}, "dry", "not compared"),
        ([GAIN | {"comparison_id": "other"}], {}, "dry", "not compared"),
        ([GAIN], {"crop": "cotton"}, "dry", "not compared"),
        # its rain may well be delivered: the crop has no window, or days are missing
        ([GAIN], {"rainfall_class": None}, "no class", "+4.2 bu/ac"),
        ([], {"rainfall_class": None, "n_planned": 1}, "no class", "not compared"),
        ([], {"rainfall_class": None, "n_planned": 2}, "not known yet", PLANNED),
    ],
)
def test_a_site_year_has_its_rain_and_its_gain_or_what_is_missing(gains, changed, rain, gain):
    row = row_of(gains, **changed)
    assert row == ["2091", "[Alder](site-years/alder-2091.html)", "well", rain, gain]


def test_soil_and_crop_may_be_missing():
    lacking = pd.DataFrame([SITE_YEAR | {"crop": None, "drainage_group": None, "drainage_classes": None}])
    table = rows_of(site_years_table(PAGES, lacking, pd.DataFrame(columns=list(GAIN)), {}))
    assert table["Crop not known"][2:] == ["not reported", "dry", "not compared"]


def test_without_a_page_of_a_site_year_there_is_no_table():
    assert site_years_table(PAGES[1:], pd.DataFrame([SITE_YEAR]), pd.DataFrame(columns=list(GAIN)), {}) == ""
