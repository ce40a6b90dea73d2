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
    found = json.loads(program["r_versions"]) if text(program["r_versions"]) else {}
    if "lme4" in found:
        return f"lme4 {found['lme4']} and lmerTest {found['lmerTest']} in R {found['R']}"
    if not found:
        return "nothing: no mixed model was asked for"
    return f"this program's own code, with numpy {found['numpy']} and scipy {found['scipy']}; R was not used"
