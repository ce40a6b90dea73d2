"""The walks of drawn programs that are estimated and not woven: odd designs, lost plots, printed means."""

from __future__ import annotations

import pytest

from pipeline import trace
from pipeline.verbs import run
from pipeline.verbs.answers import stored_views
from tests.drawn_programs import walked
from tests.drawn_programs.choices import choose
from tests.drawn_programs.draw import write_drawn
from tests.drawn_programs.settings_of import named_rates

# incomplete blocks with a rate that one arm lacks, two trials in a site-year; rates that some blocks lack; long-run
# weather without some drainage groups; an error of zero; heights in incomplete blocks
SAMPLE = (3014, 106, *(pytest.param(seed, marks=pytest.mark.thorough) for seed in (3722, 110, 787)))


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_walk_lists_what_its_estimate_was_computed_from(seed, tmp_path, fitted_by_own_code):
    write_drawn(seed, tmp_path / "program")
    run.report(tmp_path / "program", publish=lambda outcome: None)
    views = stored_views(tmp_path / "program", (*trace.VIEWS, "trials", "plots"))
    found = list(walked.faults(views, named_rates(seed, choose(seed))))
    assert not found, "\n".join([f"seed {seed}: {choose(seed)}", *found])
