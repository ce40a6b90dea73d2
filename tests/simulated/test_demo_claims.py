"""The demo's claims show every verdict that a claim can get."""

from __future__ import annotations

import pytest

from pipeline import verdicts
from pipeline.simulation.demo import write_demo
from pipeline.verbs.answers import MAY_NOT_BE_PRINTED
from pipeline.verbs.answers import claims as claims_verb
from pipeline.verbs.run import build_warehouse


@pytest.mark.slow
def test_every_verdict_is_met_and_the_command_stops_the_press(tmp_path):
    write_demo(tmp_path)
    found = build_warehouse(tmp_path, "report", lambda text: None).tables["reports.claims"]
    assert set(found["verdict"]) == set(verdicts.VERDICTS)
    assert set(found["states"]) == {"gain", "as good", "net change"}
    assert claims_verb(tmp_path) == MAY_NOT_BE_PRINTED
