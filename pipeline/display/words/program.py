"""A program and its run in words, from its row of reports.program."""

from __future__ import annotations

import json
from collections.abc import Mapping

from pipeline.contract.vocabulary import COOPERATOR, NOBODY, PLACE_ONLY
from pipeline.display.words.numbers import text

WHO_IS_NAMED = {
    NOBODY: (
        "Nobody is named here. Codes stand for places, sites, trials and senders' folders; the program keeps what they"
        " stand for."
    ),
    PLACE_ONLY: (
        "Places are named here, people are not. Codes stand for senders' folders; the program keeps what they stand"
        " for."
    ),
    COOPERATOR: "",
}


def who_is_named(program: Mapping) -> str:
    """Who is named in what is published; empty where everybody is."""
    return WHO_IS_NAMED[program["may_be_named"]]


def fitted_by(program: Mapping) -> str:
    """What fitted the mixed models of a run: a row of reports.program."""
    versions = json.loads(program["r_versions"]) if text(program["r_versions"]) else {}
    if "lme4" in versions:
        return f"lme4 {versions['lme4']} and lmerTest {versions['lmerTest']} in R {versions['R']}"
    if not versions:
        return "nothing: no mixed model was asked for"
    return f"this program's own code, with numpy {versions['numpy']} and scipy {versions['scipy']}; R was not used"
