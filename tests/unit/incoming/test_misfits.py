"""What is proposed for a table whose headings are its sender's own."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.misfits import check_fit
from pipeline.incoming.sheet import Sheet, tidy_heading

FOLDER = "seasons/2094/oak"


def told(*measured: str) -> str:
    """What is said of a table of plots with the usual headings and these."""
    typed = ["Trial", "Rep", "Plot #", "Trt", *measured]
    headings = [tidy_heading(each) for each in typed]
    sheet = Sheet("plots", None, headings, typed, 1, {heading: ["1"] for heading in headings}, [2])
    with pytest.raises(UserError) as caught:
        check_fit([sheet], SendersWords(), file=f"{FOLDER}/plots.csv", folder=FOLDER, season=2094)
    return str(caught.value)


def test_the_only_weight_is_proposed():
    said = told("Seed cotton (lb)", "Turnout %")
    assert '"Seed cotton (lb)": harvest_weight_lb' in said and "may be harvest_weight_lb" not in said


def test_turnout_and_what_was_harvested_are_proposed():
    said = told("Seed cotton (lb)", "Turnout %", "Length (ft)", "Width, feet", "Rows")
    for typed, ours in (
        ('"Turnout %"', "gin_turnout_pct"),
        ('"Length (ft)"', "harvest_length_ft"),
        ('"Width, feet"', "harvest_width_ft"),
        ("Rows", "rows_harvested"),
    ):
        assert f"{typed}: {ours}" in said
    bare = told("Turnout", "Lint lb/ac", "Row length", "Rows planted")
    assert "gin_turnout" not in bare and "harvest_length" not in bare and "rows_harvested" not in bare


@pytest.mark.parametrize(
    ("weights", "named"),
    [
        (["1st pick (lb)", "2nd pick (lb)"], '"1st pick (lb)" or "2nd pick (lb)" may be harvest_weight_lb'),
        (["Pick 1 lb"], '"Pick 1 lb" may be harvest_weight_lb'),
        (["Gross lbs", "Tare lbs", "Net lbs"], '"Gross lbs" or "Tare lbs" or "Net lbs" may be harvest_weight_lb'),
    ],
)
def test_the_weight_of_a_pick_or_one_of_several_is_not_proposed_as_that_of_the_plot(weights, named):
    said = told(*weights)
    assert named in said and ": harvest_weight_lb," not in said and '": harvest_weight_lb}' not in said
    assert ("Deliver picks in the table harvests" in said) == ("ick" in weights[0])
