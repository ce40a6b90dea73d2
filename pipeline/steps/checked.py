"""What the checks say of the deliveries, known before anything is estimated."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.deliveries import beside_files, find_files
from pipeline.progress import Tell
from pipeline.provenance import start_run
from pipeline.settings.program import Program, read_program
from pipeline.steps.changes import Earlier, deciding_texts, earlier_run
from pipeline.steps.differences import ChangedFile, Renamed, changed_beside, changed_files, renamed
from pipeline.steps.loading import load
from pipeline.warehouse import Warehouse, memory_of

KNOWN_EARLY = ("reports.findings", "reports.row_counts")


@dataclass(frozen=True)
class Checked:
    """The deliveries as they stand: what came, what became of each row, what the checks found."""

    program: Program
    arrived: list[str]
    withdrawn: list[str]
    renamed: list[Renamed]
    changed_files: list[ChangedFile]
    changed_beside: list[str]
    row_counts: pd.DataFrame
    findings: pd.DataFrame
    trials: pd.DataFrame
    files: pd.DataFrame


def checked(
    warehouse: Warehouse,
    program: Program,
    arrived: list[str],
    withdrawn: list[str],
    earlier: Earlier | None,
) -> Checked:
    """Reads it out of a warehouse whose trials are built. earlier: the last run, asked for before anything arrived."""
    warehouse.build(["reports"], only=KNOWN_EARLY)
    files = warehouse.read("""select f.file, f.season, f.held_because is not null as is_held,
        coalesce(f.only_sender_mends, false) as only_sender_mends, count(r.row_number) as n_rows
        from raw.current_files as f left join staging.contents as c on c.file = f.file
        left join raw.rows as r on r.sha256 = coalesce(c.content, f.sha256) group by all order by f.file""")
    counts, findings = (warehouse.table(name) for name in reversed(KNOWN_EARLY))
    now = deciding_texts(program.folder, beside_files(program.folder))
    return Checked(
        program,
        arrived,
        withdrawn,
        renamed(warehouse, arrived, withdrawn),
        changed_files(warehouse, arrived),
        changed_beside(earlier.card["deciding_texts"], now) if earlier else [],
        counts,
        findings,
        warehouse.table("trials.trials"),
        files,
    )


def check(folder: Path, tell: Tell) -> Checked:
    """Reads and checks every delivery of a program and changes nothing.

    Raises:
        UserError: program.yml, a file or the warehouse cannot be read.
    """
    program = read_program(folder)
    files = find_files(folder)
    card = start_run("findings", folder / "program.yml")
    accompanying = read_accompanying(folder, [f.folder for f in files])
    with memory_of(program.warehouse_file) as warehouse:
        earlier = earlier_run(warehouse)
        arrived, withdrawn = load(warehouse, program, files, accompanying, card, tell, is_estimated=False)
        return checked(warehouse, program, arrived, withdrawn, earlier)
