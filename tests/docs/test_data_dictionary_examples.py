"""The examples printed in the data dictionary are read by what reads a delivery."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from pipeline.incoming.corrections import read_corrections
from pipeline.incoming.headings import read_senders_words
from pipeline.settings.comparisons import ARM_COLUMNS
from pipeline.settings.file import REQUIRED, Section
from pipeline.settings.keys import ALWAYS, named_keys
from pipeline.settings.program import Program, read_program

PAGE = Path(__file__).parents[2] / "reports" / "data_dictionary.qmd"


def _examples() -> list[str]:
    """The blocks of the page that are no code cells."""
    fenced = re.findall(r"^```(.*?)\n(.*?)^```$", PAGE.read_text(), flags=re.S | re.M)
    return [text for kind, text in fenced if not kind]


def test_headings_and_corrections_can_be_pasted_as_printed(tmp_path):
    _, headings, corrections = _examples()
    season = tmp_path / "seasons" / "2094"
    season.mkdir(parents=True)
    (season / "headings.yml").write_text(headings)
    (season / "corrections.yml").write_text(corrections)
    words = read_senders_words(season, tmp_path)
    assert words.table("plot_data") == "plots" and words.headings[("plots", "wt_(lbs)")] == "harvest_weight_lb"
    assert words.words[("treatments", "n_source", "half coated")] == "coated blend" and words.table("photos") == "none"
    assert words.same_for_all == {("plots", "trial_id"): "2094-{sheet}-{Crop}", ("plots", "outcome"): "harvested"}
    assert words.read_as == {"harvest.csv": ("semicolons", "decimal commas", "Windows-1252")}
    assert words.wide[("plots", "u-120_r3")].holds == "harvest_weight_lb"
    assert words.wide[("plots", "u-120_r3")].same == (("block", "3"), ("treatment_code", "U-120"))
    asked = set(
        re.findall(r'file\.take_section\("(\w+)"', (PAGE.parents[1] / "pipeline/incoming/headings.py").read_text())
    )
    assert asked == set(yaml.safe_load(headings)), "every section of headings.yml is shown"
    (correction,) = read_corrections(season, tmp_path)
    assert correction.change == {"harvest_weight_lb": ("42.6", "46.2")} and not correction.treatment_known


@pytest.fixture
def asked(monkeypatch) -> set[tuple[str, str, bool]]:
    """(place, key, whether it must be there) of everything that is asked of a Section while the test runs."""
    found: set[tuple[str, str, bool]] = set()
    node, places = Section._node, {}

    def recorded(self, key, default):
        place = places.setdefault(id(self._nodes), "the file")
        found.add((place, key, default is REQUIRED))
        value = node(self, key, default)
        for child in value.value if isinstance(value, yaml.SequenceNode) else [value]:
            if isinstance(child, yaml.MappingNode):
                below[id(child)] = key if place == "the file" else f"{place}: {key}"
        return value

    below: dict[int, str] = {}
    init = Section.__init__

    def placed(self, mapping, file, name):
        init(self, mapping, file, name)
        places[id(self._nodes)] = below.get(id(mapping), "the file")
        kept.append(self)

    kept: list[Section] = []  # so that no id is given twice
    monkeypatch.setattr(Section, "_node", recorded)
    monkeypatch.setattr(Section, "__init__", placed)
    return found


def test_every_key_of_program_yml_stands_on_the_page_and_its_example_is_read(tmp_path, asked):
    (tmp_path / "program.yml").write_text(_examples()[0])
    program = read_program(tmp_path)
    assert [claim.states for claim in program.claims] == [
        "gain",
        "gain",
        "gain",
        "more with",
        "as good",
        "net change",
        "gain",
    ]
    on_page = {(key.place, key.name): key.filled for key in named_keys(Program)}
    asked_for = {(_own_words(place), _own_word(place, key)): required for place, key, required in asked}
    assert set(asked_for) <= set(on_page), "asked for by the reader and not on the page"
    untaken = set(on_page) - set(asked_for) - {(f"comparisons: {side}", key) for side in SIDES for key in ARM_KEYS}
    assert not untaken, "on the page and not asked for"
    needed = {key for key, required in asked_for.items() if required and not _is_own(key)}
    # an empty list of comparisons is refused by name: tests/unit/settings
    assert needed | {("the file", "comparisons")} == {key for key, filled in on_page.items() if filled == ALWAYS}


SIDES = ("treatment", "comparator")
ARM_KEYS = {*ARM_COLUMNS, "codes", "role", "factor_..."}
OWN_WORDS = {
    "rainfall: windows": "<crop>",
    "crops": "<crop>",
    "prices: crops": "<crop>",
    "prices: nitrogen_per_lb_n": "<source>",
    "prices: nitrogen_per_ton": "<source>",
    "comparisons: rates_lb_ac": "<rate>",
    "growers_n_rates": "<crop>",
    "release_tests: percent_out": "<days>",
}


def _is_own(key: tuple[str, str]) -> bool:
    """Whether the user chooses that it is there: a word of his own, or a condition of an arm."""
    return key[1].startswith("<") or key[1] in ARM_KEYS


def _own_word(place: str, key: str) -> str:
    return OWN_WORDS.get(place, key)


def _own_words(place: str) -> str:
    """A place whose last key is a word of the user's own."""
    above, _, last = place.rpartition(": ")
    return f"{above}: {OWN_WORDS[above]}" if above in OWN_WORDS else place
