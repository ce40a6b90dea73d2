"""Drawn programs run through every page and verb; many more: python -m tests.drawn_programs --programs 200 --seed 1."""

from __future__ import annotations

import pytest

from tests.drawn_programs import lint
from tests.drawn_programs.choices import DESIGNS, choose
from tests.drawn_programs.draw import write_drawn
from tests.drawn_programs.read import faults
from tests.drawn_programs.run_drawn import run_drawn

# each for what it holds: seven designs, five crops, printed means, lost seasons, no rain, no noise, one season brought
# in
SAMPLE = (2506, 2352, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in (881, 4, 346)))


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_drawn_program_says_what_its_tables_hold(seed, tmp_path):
    found = faults(run_drawn(seed, tmp_path / "program"))
    assert not found, "\n".join([f"seed {seed}: {choose(seed)}", *found])


@pytest.mark.thorough
@pytest.mark.parametrize("seed", [76329, 76330, 76332])
def test_its_figures_have_all_their_words(seed, tmp_path):
    found = faults(run_drawn(seed, tmp_path / "program", pictures=True))
    assert not found, "\n".join([f"seed {seed}: {choose(seed)}", *found])


@pytest.mark.parametrize("seed", [2006, 2007])
def test_a_program_that_deserves_it_is_refused_and_publishes_nothing(seed, tmp_path):
    said = run_drawn(seed, tmp_path / "program")
    assert said.was_refused and not said.failures and not said.pages, choose(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1001, 1041))
def test_many_drawn_programs_do(seed, tmp_path):
    test_a_drawn_program_says_what_its_tables_hold(seed, tmp_path)


def test_a_seed_gives_the_same_program_again(tmp_path):
    files = []
    for name in ("once", "again"):
        write_drawn(11, tmp_path / name)
        found = sorted(path for path in (tmp_path / name).rglob("*") if path.is_file())
        files.append({path.relative_to(tmp_path / name): path.read_bytes() for path in found})
    assert files[0] == files[1] and len(files[0]) > 4


def test_seeds_reach_every_design():
    assert {design for seed in range(100) for design in choose(seed).designs} == set(DESIGNS)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("The gain is nan bu/ac.", "a missing value in words"),
        ("- \n- All is well.", "an empty bullet"),
        ("No budget (no average gain.).", "a doubled stop"),
        ("It gained 4.2., then lost.", "a doubled stop"),
        ("It gains 4  bushels.", "two spaces"),
        ("Leave it out in 1 seasons.", "one in the plural"),
        ("| Gain | Range |\n|:--|:--|\n| 4 |  |", "an empty cell"),
        ("| Who | Gain |\n|:--|:--|\n| a \\| b | 4 |\n| c | d | 4 |\n", "a row of other cells than its headings"),
        ("It yielded \u22120.0 bu/ac.", "a negative zero"),
    ],
)
def test_a_hole_in_a_sentence_is_seen(text, kind):
    assert [fault.split(": ")[0] for fault in lint.faults("page", text)] == [kind]


def test_a_sound_page_has_no_fault():
    text = (
        "---\ntitle: None\n---\n\n- A gain of 1 bu/ac in 11 seasons (1.0 to 1.5) ...\n\n| a | b |\n|:-|:-|\n| 1 |"
        " [2](x) |\n"
    )
    assert list(lint.faults("page", text)) == []
