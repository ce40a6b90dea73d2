"""The demo's claims show every verdict that a claim can get."""

from __future__ import annotations

from pipeline import verdicts
from pipeline.verbs.answers import MAY_NOT_BE_PRINTED, stored_views
from pipeline.verbs.answers import claims as claims_verb


def test_every_verdict_is_met_and_the_command_stops_the_press(demo_run):
    found = stored_views(demo_run, ("claims",))["claims"]
    assert set(found["verdict"]) == set(verdicts.VERDICTS)
    assert set(found["states"]) == {"gain", "as good", "net change", "more with"}
    assert claims_verb(demo_run) == MAY_NOT_BE_PRINTED
