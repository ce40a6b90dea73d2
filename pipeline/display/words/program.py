"""A program and its run in words, from its row of reports.program."""

from __future__ import annotations

import json
from collections.abc import Mapping

from pipeline.display.words.numbers import seasons, text


def program_seasons(program: Mapping) -> str:
    """The seasons a program spans."""
    return seasons(", ".join(map(str, range(program["first_season"], program["last_season"] + 1))))


def fitted_by(program: Mapping) -> str:
    """What fitted the mixed models of a run: a row of reports.program."""
    versions = json.loads(program["r_versions"]) if text(program["r_versions"]) else {}
    if "lme4" in versions:
        return f"lme4 {versions['lme4']} and lmerTest {versions['lmerTest']} in R {versions['R']}"
    if not versions:
        return "nothing: no mixed model was asked for"
    return f"this program's own code, with numpy {versions['numpy']} and scipy {versions['scipy']}; R was not used"
