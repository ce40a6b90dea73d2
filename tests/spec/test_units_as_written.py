"""Units, percents and weights of product as people write them: read, shown, and never taken for something else."""

from __future__ import annotations

import pytest

from tests.mail import Mail

PLOT = {"trial_id": "corn-1", "block": "1", "plot": "1", "treatment_code": "C-120", "outcome": "harvested"}
STATED = (
    "a heading says that the yield is stated at 13% moisture, and no column does; put into"
    " seasons/2091/mail/headings.yml: same_for_all: {plots: {yield_moisture_pct: 13}}"
)


@pytest.fixture
def mail(tiny):
    return Mail(tiny, "corn-1")


def staged(mail, columns: str) -> tuple:
    with mail.tiny.staged() as warehouse:
        return warehouse.execute(f"select {columns} from staging.plots where file like '%/mail/%'").fetchone()


@pytest.mark.parametrize("unit", ["bu/ac @ 13%", "(bu/ac at 13 %)", "bu/a @13%"])
def test_a_unit_that_states_a_moisture(mail, unit):
    mail.csv([*PLOT, "Yield"], ["", "", "no.", "", "", unit], [*PLOT.values(), "160"])
    assert STATED in mail.said()
    mail.says("same_for_all: {plots: {yield_moisture_pct: 13}}\n")
    assert staged(mail, "yield_bu_ac, yield_moisture_pct") == (160.0, 13.0)


def test_a_heading_that_states_a_moisture(mail):
    mail.csv([*PLOT, "Yield (bu/ac @ 13%)"], [*PLOT.values(), "160"])
    mail.says('headings: {plots: {"Yield (bu/ac @ 13%)": yield_bu_ac}}\n')
    assert STATED in mail.said()


@pytest.mark.parametrize("theirs", ["Wet weight", "Wet weight lbs", "Wet weight (lbs)"])
def test_headings_yml_may_name_a_heading_with_the_unit_beneath_it_or_without(mail, theirs):
    unit = "(lbs)" if "(" in theirs else "lbs"
    mail.csv([*PLOT, "Wet weight", "moisture"], ["", "", "", "", "", unit, "%"], [*PLOT.values(), "100", "18.5"])
    mail.says(f'headings: {{plots: {{"{theirs}": harvest_weight_lb}}}}\n')
    assert staged(mail, "harvest_weight_kg, moisture_pct") == (45.359237, 18.5)


def test_percent_signs_are_read_by_the_unit_of_their_heading(mail):
    mail.csv(
        [*PLOT, "moisture_pct", "gin_turnout_fraction", "harvest_weight_lb"], [*PLOT.values(), "18.2%", "39.2 %", "41%"]
    )
    with mail.tiny.loaded() as warehouse:
        cells = warehouse.execute(
            "select moisture_pct, gin_turnout_fraction, harvest_weight_kg from staging.plots where file like '%/mail/%'"
        ).fetchone()
        findings = warehouse.read("select * from reports.findings where file like '%/mail/%'")
    assert cells == (18.2, 0.392, None)
    noted = findings[findings["check_name"].str.contains("percent signs")]
    assert sorted(noted["column_name"]) == ["gin_turnout_fraction", "moisture_pct"] and set(noted["severity"]) == {
        "noted"
    }


def test_n_is_worked_out_from_the_product_and_shown(tiny):
    tiny.rename("nitrogen_applications", "n_rate_lb_ac", "product_rate_lb_ac")
    for row, cells in enumerate(tiny.rows("nitrogen_applications")[1:], start=2):
        product = {"120": "260.9", "60": "130.4" if "46" in cells else "136.4", "5": "50"}[cells[5]]
        tiny.change("nitrogen_applications", row, "product_rate_lb_ac", product)
    tables = tiny.checked()
    said = tables["reports.findings"].query("file == 'seasons/2091/nitrogen_applications.csv'")
    (told,) = said[said["check_name"].str.contains("worked out from the product")].itertuples()
    assert told.found == "8 rows; the first: 260.9 lb/ac of product at 46.0% N is 120.0 lb N/ac"
    assert "applications do not add up" not in set(said["check_name"])
    assert set(tables["reports.trials"]["status"]) == {"accepted"}


def _n_rate_lacks(tiny):
    return tiny.checked()["reports.findings"].query(
        "row_number == 2 and check_name == 'nitrogen_applications.n_rate is empty'"
    )


@pytest.mark.parametrize("percent", ["460", "0.046"])
def test_no_n_is_worked_out_from_a_percent_that_no_product_has(tiny, percent):
    tiny.rename("nitrogen_applications", "n_rate_lb_ac", "product_rate_lb_ac")
    tiny.change("nitrogen_applications", 2, "product_n_pct", percent)
    assert len(_n_rate_lacks(tiny)) == 1


def test_without_the_percent_n_of_the_product_nothing_is_worked_out(tiny):
    tiny.rename("nitrogen_applications", "n_rate_lb_ac", "product_rate_lb_ac")
    tiny.change("nitrogen_applications", 2, "product_n_pct", "")
    assert len(_n_rate_lacks(tiny)) == 1
    tiny.rename("nitrogen_applications", "product_n_pct", "label")
    (said,) = tiny.held().values()
    assert "lacks the column n_rate_lb_ac or n_rate_kg_ha" in said
