"""A whole load of a program to which several senders mailed what is drawn: what the screen says, and that no row is
lost.
"""

from __future__ import annotations

import contextlib
import io
import random
import shutil
from pathlib import Path

from pipeline.__main__ import main
from pipeline.incoming.deliveries import find_files, read_sheets
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.sheet import NotRead
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.deliveries import csv_delivery, xlsx_delivery
from tests.tiny_program import TinyProgram, no_estimates

MOST_SENDERS = 6
OF_A_SENDER = ("trials", "treatments", "nitrogen_applications", "plots")
BESIDE = ("weather_daily", "sites", "rain_history")


def write(seed: str, sound: Path, folder: Path) -> int:
    """Copies the sound program and adds what senders mailed; returns the number of hostile files."""
    drawn, n_hostile = random.Random(seed), 0
    tiny = TinyProgram(shutil.copytree(sound, folder))
    for number in range(drawn.randrange(1, MOST_SENDERS + 1)):
        sender = f"coop-{number}"
        tiny.add_delivery(sender, like=drawn.choice(("2091-A-corn", "2091-B-cotton")))
        for table in drawn.sample(OF_A_SENDER, drawn.randrange(1, 4)):
            path = tiny.path(table, f"2091/{sender}")
            delivery = csv_delivery(drawn, table, tiny.rows(table, f"2091/{sender}"))
            path.unlink()
            path.with_name(delivery.name).write_bytes(delivery.content)
            n_hostile += 1
        if drawn.random() < 0.3:
            delivery = xlsx_delivery(drawn)
            (path.parent / delivery.name).write_bytes(delivery.content)
            n_hostile += 1
    for table in BESIDE:
        if drawn.random() < 0.2:
            tiny.path(table).write_bytes(csv_delivery(drawn, table).content)
            n_hostile += 1
    return n_hostile


def faults(folder: Path, *, verb: str = "report") -> list[str]:
    """What is wrong with how a program is loaded. verb: report, here without estimates and pages, or findings."""
    outcomes = []
    parts = {"estimate": no_estimates, "publish": outcomes.append} if verb == "report" else {}
    try:
        with judge.within(judge.LONGEST_RUN):
            code, out, err = run([verb, "--program", str(folder)], **parts)
    except judge.TooSlow as problem:
        return [str(problem)]
    found = judge.of_screen(code, out, err)
    if code == 1 and "seasons/" not in err and "program.yml" not in err:
        found.append(f"a refusal that names no file: {err[:200]!r}")
    if outcomes:
        counts = outcomes[0].tables["reports.row_counts"]
        found += judge.of_counts(counts)
        n_filled = sum(map(_n_rows, find_files(folder)))
        if counts["delivered"].sum() != n_filled:
            found.append(f"{n_filled} rows in the files, {counts['delivered'].sum()} counted")
    return found


def run(words: list[str], **parts) -> tuple[int, str, str]:
    """A verb in this process: its exit code and what it said."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(words, **parts)
    return code, *(_text(stream) for stream in (out, err))


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    return stream.buffer.getvalue().decode("utf-8", "replace")


def _n_rows(delivered) -> int:
    """Filled rows of a file but its headings, where they can be counted."""
    try:
        return sum(sheet.n_filled_rows for sheet in read_sheets(delivered, SendersWords()))
    except NotRead as problem:
        return problem.n_rows or 0
