"""A number that can be no harvest year holds its trial, and nothing is told as of such a season."""

from __future__ import annotations

import pytest

FAR_OFF = ("-1", "0", "1899", "2200", "2000000000", "twenty")


@pytest.fixture
def found(tiny):
    for text in (*FAR_OFF, "1900", "2199"):
        tiny.add_delivery(f"of {text}")
        tiny.change("trials", 2, "season", text, f"2091/of {text}")
    return tiny.load()


def test_a_season_that_cannot_be_has_no_site_year(found):
    trials = found["reports.trials"].set_index("trial_id")
    assert set(trials.loc[[f"of {text}" for text in FAR_OFF], "status"]) == {"held"}
    named = trials["site_year_id"].dropna().to_dict()
    assert named == {
        "of 1900": "alder-1900",
        "2091-A-corn": "alder-2091",
        "2091-B-cotton": "birch-2091",
        "2092-A-corn": "alder-2092",
        "of 2199": "alder-2199",
    }
    assert trials["season"].dropna().astype(int).to_dict() == {name: int(each[-4:]) for name, each in named.items()}
    assert sorted(found["reports.site_years"]["site_year_id"]) == sorted(named.values())
    assert {"-1", "2000000000"} <= set(found["reports.findings"]["found"])
