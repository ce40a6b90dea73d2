"""Drainage class to drainage group, in all words of the USDA-NRCS soil survey (Soil Survey Manual, chapter 3).

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

from __future__ import annotations

import pytest

from pipeline.display.words.where import drained
from tests.tiny_program import write_tiny_program

GROUPS = {
    "Excessively drained": "R",
    "Somewhat excessively drained": "R",
    "Well drained": "W",
    "Moderately well drained": "W",
    "Somewhat poorly drained": "P",
    "Poorly drained": "P",
    "Very poorly drained": "P",
    "  very  POORLY drained ": "P",
    "Subaqueous": None,  # permanently under water: no cropland
    "mod. well": None,
}


@pytest.fixture(scope="module")
def tables(tmp_path_factory):
    tiny = write_tiny_program(tmp_path_factory.mktemp("drainage") / "program")
    for number, drainage_class in enumerate(GROUPS):
        tiny.append("sites", site_id=f"site {number}", place="Alder", drainage_class=drainage_class)
        tiny.add_delivery(f"trial {number}")
        tiny.change("trials", 2, "site_id", f"site {number}", f"2091/trial {number}")
    tiny.append("sites", site_id="nobody's soil", place="Alder")
    tiny.add_delivery("on nobody's soil")
    tiny.change("trials", 2, "site_id", "nobody's soil", "2091/on nobody's soil")
    # tile does not change the natural class
    tiny.fill("trials", "artificial_drainage", "subsurface", "2091/trial 5")
    return tiny.checked()


@pytest.mark.parametrize("number", range(len(GROUPS)), ids=[word.strip() for word in GROUPS])
def test_each_class_has_its_group_and_an_unknown_word_holds_the_trial(tables, number):
    group = list(GROUPS.values())[number]
    (trial,) = tables["reports.trials"].query("trial_id == @name", local_dict={"name": f"trial {number}"}).itertuples()
    assert trial.drainage_group == group
    assert trial.status == ("accepted" if group else "held")
    findings = tables["reports.findings"].query("site_id == @name", local_dict={"name": f"site {number}"})
    assert findings["check_name"].tolist() == ([] if group else ["sites.drainage_class is not a known word"])


def test_a_trial_whose_drainage_nobody_knows_counts_all_the_same(tables):
    (trial,) = tables["reports.trials"].query('trial_id == "on nobody\'s soil"').itertuples()
    assert (trial.status, trial.site_year_id) == ("accepted", "alder-2091") and trial.drainage_group is None


def test_a_shortened_word_is_answered_with_the_nearest(tables):
    findings = tables["reports.findings"].set_index("site_id")
    assert findings.loc["site 9", "mend"].startswith('nearest known word: "moderately well drained"')


def test_a_site_year_on_soils_of_two_groups_is_told_as_mixed(tiny):
    """Its trials' mean is of neither group, so no page may name one of them, and each says the same."""
    tiny.append("sites", site_id="Alder Bottom", place="Alder", drainage_class="poorly drained")
    tiny.add_delivery("coop-2")
    tiny.change("trials", 2, "site_id", "Alder Bottom", "2091/coop-2")
    tables = tiny.load_and_estimate()
    (site_year,) = tables["reports.site_years"].query("place == 'Alder' and season == 2091").itertuples()
    assert site_year.drainage_classes == "poorly drained, well drained"
    assert drained(site_year, "not reported") == "mixed"
    gains = tables["reports.site_year_gains"].query("place == 'Alder' and season == 2091")
    assert len(gains) and gains["n_trials"].eq(2).all() and gains["drainage_group"].isna().all()
    assert {drained(row, "not known") for row in gains.itertuples()} == {"mixed"}
