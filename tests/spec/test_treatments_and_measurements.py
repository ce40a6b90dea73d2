"""What is stored of a treatment, of its nitrogen and of what was measured on its plots: cells in, values expected."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.declared_shapes import whole
from tests.tiny_program import write_tiny_program

# a treatment's source, coated share, rate (lb/ac), is_zero_n and is_grower_standard as delivered; the share that is
# stored, whether it is zero-N and whether it is the growers' standard
TREATMENTS = {
    "zero-N, told": (("none", "", "0", "yes", ""), (0, True, False)),
    "zero-N by its rate": (("none", "", "0", "", ""), (0, True, False)),
    "growers' standard": (("urea", "", "120", "", "yes"), (0, False, True)),
    "no N, and not the check": (("none", "0", "0", "no", "no"), (0, False, False)),
    "blend": (("coated blend", "0.5", "120", "", ""), (0.5, False, False)),
    "coated throughout": (("coated urea", "", "120", "", ""), (1, False, False)),
}
# the application's name and its applied_on as delivered; the day that is stored
APPLICATIONS = {
    "the day in its name": (("2091-05-02 urea", ""), "2091-05-02"),
    "its own day before that of its name": (("2091-05-02 urea", "2091-05-09"), "2091-05-09"),
    "a growth stage": (("V6 urea", ""), None),
}
# plot, trait, value and unit as delivered, by subsample; the stored mean and its unit, None where the plot is set aside
MEASUREMENTS = {
    "101": ("plant height", [("40", "in"), ("110", "cm")], (105.8, "cm")),
    "102": ("tissue nitrogen", [("31", "g/kg")], (3.1, "pct")),
    "103": ("stem diameter", [("2", "cm")], (20, "mm")),
    "201": ("final stand", [("40", "plants/ha")], (40, "plants/ha")),
    "202": ("plant height", [("41", "in")], None),
}


@pytest.fixture(scope="module")
def stored(tmp_path_factory) -> dict[str, pd.DataFrame]:
    tiny = write_tiny_program(tmp_path_factory.mktemp("stored") / "program")
    for folder in ("told", "dated", "measured"):
        tiny.add_delivery(folder)
    heads = ["trial_id", "treatment_code", "n_source", "coated_n_fraction", "n_rate_lb_ac", "is_zero_n",
             "is_grower_standard", "timing", "passes"]  # fmt: skip
    told = [["told", code, *cells, "at planting", "1"] for code, (cells, _) in TREATMENTS.items()]
    tiny.write("treatments", [heads, *told], "2091/told")
    tiny.change("trials", 2, "design", "CRD", "2091/told")
    for row, code in enumerate(TREATMENTS, start=2):
        tiny.change("plots", row, "treatment_code", code, "2091/told")
    tiny.path("nitrogen_applications", "2091/told").unlink()
    heads = ["trial_id", "treatment_code", "application", "applied_on", "product", "n_rate_lb_ac", "counts_toward"]
    given = [["dated", "U-120", *cells, "urea", "40", "treatment"] for cells, _ in APPLICATIONS.values()]
    of_all = ["dated", "ALL", "2091-04-20", "", "starter", "10", "background"]
    tiny.write("nitrogen_applications", [heads, *given, of_all], "2091/dated")
    heads = ["trial_id", "plot", "trait", "date", "subsample", "value", "unit"]
    of_plots = [
        ["measured", plot, trait, "2091-07-01", str(number), *reading]
        for plot, (trait, readings, _) in MEASUREMENTS.items()
        for number, reading in enumerate(readings, start=1)
    ]
    tiny.write("measurements", [heads, *of_plots, of_plots[0]], "2091/measured")
    tiny.change("plots", 6, "outcome", "damaged", "2091/measured")
    with tiny.loaded() as warehouse:
        return {name: warehouse.table(f"trials.{name}") for name in ("treatments", "nitrogen_given", "measurements")}


@pytest.mark.parametrize("code", TREATMENTS)
def test_a_treatment_is_what_its_row_says(stored, code):
    treatments = stored["treatments"].query("trial_id == 'told'").set_index("treatment_code")
    found = treatments.loc[code, ["coated_n_fraction", "is_zero_n", "is_grower_standard"]]
    assert tuple(found) == TREATMENTS[code][1]


def test_an_application_has_the_day_that_is_told_of_it(stored):
    given = stored["nitrogen_given"].query("trial_id == 'dated'")
    days = [None if pd.isna(day) else f"{day:%Y-%m-%d}" for day in given["applied_on"]]
    assert sorted(days, key=str) == sorted((day for _, day in APPLICATIONS.values()), key=str)


@pytest.mark.parametrize("plot", MEASUREMENTS)
def test_subsamples_are_averaged_to_their_plot_in_the_stored_unit(stored, plot):
    found = stored["measurements"].query("trial_id == 'measured' and plot == @plot", local_dict={"plot": plot})
    _, readings, expected = MEASUREMENTS[plot]
    if expected is None:
        assert found.empty
    else:
        (row,) = found.itertuples()
        assert (row.value, row.unit, row.n_subsamples) == (pytest.approx(expected[0]), expected[1], len(readings))


# trait: (plot, date as delivered, whether an average difference in the trait takes it); 201 is set aside
TAKEN = {
    "plant height": [("102", "2091-06-01", False), ("102", "2091-07-01", True), ("103", "", False),
                     ("103", "2091-07-01", True)],
    "final stand": [("102", "2091-06-01", True), ("103", "2091-06-01", True), ("201", "2091-08-01", False)],
    "tissue nitrogen": [("102", "", True), ("103", "", True)],
}  # fmt: skip
READINGS = {"plant height": ["40", "in"], "final stand": ["40", "plants/ha"], "tissue nitrogen": ["31", "g/kg"]}


def test_a_difference_in_another_trait_leads_to_the_measurements_of_its_last_date_alone(tmp_path):
    """As it is estimated: the last date of a plot that is used, or all where no date is known."""
    tiny = write_tiny_program(tmp_path / "program")
    heads = ["trial_id", "plot", "trait", "date", "subsample", "value", "unit"]
    rows = [
        ["2091-A-corn", plot, trait, day, "1", *READINGS[trait]]
        for trait, measured in TAKEN.items()
        for plot, day, _ in measured
    ]
    tiny.write("measurements", [heads, *rows])
    tiny.change("plots", 5, "outcome", "damaged")
    comparison = {"comparison_id": "corn-blend-vs-urea", "crop": "corn", "rates": "{}"}
    comparisons = {"estimates.comparisons": whole("comparisons", pd.DataFrame([comparison]))}
    found = tiny.load(lambda warehouse, program, card, tell: (comparisons, card))["reports.trait_sources"]
    days = found["measured"].dt.strftime("%Y-%m-%d").fillna("")
    assert sorted(zip(found["trait"], found["plot"], days, strict=True)) == sorted(
        (trait, plot, day) for trait, measured in TAKEN.items() for plot, day, is_taken in measured if is_taken
    )
