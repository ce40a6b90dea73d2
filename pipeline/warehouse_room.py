"""What a warehouse takes of the memory and of the disk: its limits, and the room that it gives back."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

import duckdb

from pipeline.errors import is_ctrl_c

# older clients can open the file too
STORAGE_VERSION = "v1.2.0"
# a file is written anew where this share of it, and so many bytes, stand empty
MOST_EMPTY, WORTH_A_COPY = 0.2, 32 * 2**20

# what goes beyond is put on the disk meanwhile, beside the file: a long table must not fill the memory
MOST_MEMORY, SPILLED = "1536MiB", ".tmp"
LITTLE_MEMORY = "256MiB"  # stays where others need the rest


def limits(path: Path) -> dict[str, str]:
    """Settings of a connection to a warehouse's file."""
    return {"memory_limit": MOST_MEMORY, "temp_directory": f"{path}{SPILLED}"}


def let_go(connection: duckdb.DuckDBPyConnection) -> None:
    """Has most of what is held in memory put on the disk; it is read again where it is needed. What must stay in memory
    stays.
    """
    # apart: a limit that cannot be met is an error, and would end the transaction that is open
    with suppress(duckdb.OutOfMemoryException), connection.cursor() as apart:
        for limit in (LITTLE_MEMORY, MOST_MEMORY):
            apart.execute(f"set memory_limit = '{limit}'")


def forget_spilled(path: Path) -> None:
    """Removes what a killed run had put on the disk, and nothing else that may stand in that folder."""
    folder = Path(limits(path)["temp_directory"])
    with suppress(OSError):
        for file in folder.glob("duckdb_temp_*"):
            file.unlink()
        folder.rmdir()


def give_back_space(path: Path) -> None:
    """Makes a warehouse smaller whose file is in large part empty, as after a run, which builds beside what stands.

    All of it goes into a new file, which takes the old one's place in one step; where that fails the old one stays.
    """
    whole = path.resolve()  # a link stays one
    half = whole.with_name(f".{path.name}.half")
    try:
        with duckdb.connect(config={"threads": 1} | limits(whole)) as connection:
            connection.execute(f"attach {quoted(whole)} as held")  # and is held until the new one has its place
            if _is_full(connection, "held"):
                return
            connection.execute("checkpoint held")  # what waits beside the old file would not fit the new one
            _forget(half)
            connection.execute(f"attach {quoted(half)} as half (storage_version '{STORAGE_VERSION}')")
            connection.execute("copy from database held to half; detach half")
            shutil.copymode(whole, half)
            os.replace(half, whole)
    except (duckdb.Error, OSError, RuntimeError) as problem:
        if is_ctrl_c(problem):
            raise KeyboardInterrupt from None
        # else nothing is lost but room on the disk
    finally:
        _forget(half)


def _is_full(connection: duckdb.DuckDBPyConnection, name: str) -> bool:
    size = connection.execute(
        "select block_size, total_blocks, free_blocks from pragma_database_size() where database_name = ?", [name]
    )
    block, n_blocks, n_empty = size.fetchone()
    return n_empty < MOST_EMPTY * n_blocks or n_empty * block < WORTH_A_COPY


def _forget(file: Path) -> None:
    for path in (file, file.with_name(f"{file.name}.wal")):
        with suppress(OSError):
            path.unlink(missing_ok=True)


def quoted(path: Path) -> str:
    """A path as a query has it."""
    return "'" + str(path).replace("'", "''") + "'"
