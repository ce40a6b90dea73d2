"""The programs that kills and faults start from, made once, in forks: this process stays one that can be forked."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from pipeline.verbs import run
from tests.hard_to_break.soak.commands import apart, command
from tests.hard_to_break.soak.kills import PHASES, Bench, parts_of, started_from, words_of
from tests.tiny_program import PRICES_AND_CLAIM, TinyProgram, write_tiny_program


def prepared() -> None:
    """Imports what commands import on their way, so that a fork has it; R is left alone, and pandoc draws."""
    os.environ |= {"FIT_BY": "own", "DRAW_BY": "pandoc"}
    import pipeline.estimates.program  # noqa: F401
    import pipeline.publishing.pages  # noqa: F401
    import pipeline.steps.weather  # noqa: F401
    import pipeline.verbs.findings  # noqa: F401


def made(scratch: Path) -> Bench:
    """Makes the programs and times each phase."""
    prepared()
    loaded, published = scratch / "loaded", scratch / "published program"
    apart(_load, loaded)
    bench = Bench(loaded, published, apart(_publish, loaded, published), {})
    for phase in dict.fromkeys(PHASES):
        tiny = started_from(phase, bench, scratch / "timed")
        ended = command(words_of(phase, tiny), parts=parts_of(phase, bench))
        assert ended.code == 0, (phase, ended.err)
        bench.lasts[phase] = ended.seconds
        shutil.rmtree(tiny.folder)
    return bench


def _load(folder: Path) -> None:
    write_tiny_program(folder).load()


def _publish(loaded: Path, folder: Path) -> run.Outcome:
    tiny = TinyProgram(shutil.copytree(loaded, folder))
    with tiny.settings_file.open("a", encoding="utf-8") as settings:
        settings.write(PRICES_AND_CLAIM)
    outcome = run.build_warehouse(folder, "report", lambda text: None)
    run.publish(outcome)
    return outcome
