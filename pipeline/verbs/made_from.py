"""What the published pages were made from, so that a run with nothing new to do says so at once."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

from pipeline.errors import UserError
from pipeline.estimates.engines.mixed import FIT_BY
from pipeline.incoming.deliveries import find_files, input_files
from pipeline.provenance import RunCard, inputs_hash, software_sha256, start_run
from pipeline.publishing import engines
from pipeline.publishing.in_place import is_all_there
from pipeline.settings.program import Program, read_program
from pipeline.steps.changes import earlier_run
from pipeline.warehouse import open_warehouse

FILE = Path("data") / "made_from.json"  # below the published folder


def pages_are_current(folder: Path) -> RunCard | None:
    """The card of the run whose pages stand, where a run now would make the same; None where it might not.

    What R itself is made of is not looked at: R would have to start.
    """
    program = read_program(folder)
    known = _read(program.published / FILE)
    if not known or not is_all_there(program.published):
        return None
    now = start_run("report", folder / "program.yml")
    inputs = inputs_hash(input_files(folder, find_files(folder)))
    same = _told(now, inputs) == {name: known.get(name) for name in _told(now, inputs)}
    return _stored_card(program, known.get("run_id")) if same else None


def forget(program: Program) -> None:
    """Before pages are made: until they all stand, nothing is known of them."""
    (program.published / FILE).unlink(missing_ok=True)


def remember(program: Program, card: RunCard) -> None:
    """After all pages stand."""
    told = _told(card, card.inputs_sha256) | {"run_id": card.run_id}
    (program.published / FILE).write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


def _told(card: RunCard, inputs: str) -> dict[str, str]:
    """All that decides what a run publishes, as far as it is known without a run."""
    return {
        "inputs_sha256": inputs,
        "settings_sha256": card.settings_sha256,
        "software_sha256": software_sha256(),
        "lock_sha256": card.lock_sha256,
        "fitted_by": f"{os.environ.get(FIT_BY, '')} {shutil.which('R') or 'no R'}",
        "drawn_by": engines.drawn_by(),
    }


def _read(file: Path) -> dict:
    try:
        known = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) else {}


def _stored_card(program: Program, run_id: str | None) -> RunCard | None:
    """The card of the newest run in the warehouse, where it is this one."""
    if not program.warehouse_file.is_file():
        return None
    try:
        with open_warehouse(program.warehouse_file, read_only=True) as warehouse:
            newest = earlier_run(warehouse)
    except UserError:
        return None  # the run says what is wrong with it
    if newest is None or newest.card["run_id"] != run_id:
        return None
    return RunCard(**{name: newest.card[name] for name in RunCard.__dataclass_fields__})
