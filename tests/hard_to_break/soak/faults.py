"""Commands that meet a fault of the machine: a full disk, files that may not be opened or are gone, little memory, a
clock set back.
"""

from __future__ import annotations

import ctypes
import errno
import os
import random
import resource
import shutil
import signal
import struct
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from pipeline import provenance
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.commands import command
from tests.hard_to_break.soak.kills import Bench, next_run_works, of_state, parts_of, started_from, state_of, words_of
from tests.tiny_program import TinyProgram

PHASES = ("load",) * 5 + ("season",) * 2 + ("findings",) * 2 + ("publish", "estimate")
ERRORS = (errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EROFS, errno.EIO, errno.EMFILE, errno.ENAMETOOLONG)
MOST_EVENTS = {"load": 60, "season": 90, "findings": 60, "publish": 400, "estimate": 60}
# what is done with a file, as Python tells who listens
WRITING = (
    "os.mkdir",
    "os.rename",
    "os.remove",
    "os.rmdir",
    "shutil.copyfile",
    "shutil.rmtree",
    "tempfile.mkdtemp",
    "tempfile.mkstemp",
)
PASS_OVER_MODES = 1 << 1 | 1 << 2  # CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH of Linux


def fault(seed: str, bench: Bench, folder: Path) -> tuple[str, list[str]]:
    """One command that meets the fault of a seed, then one that does not; what it was and what is wrong."""
    drawn = random.Random(seed)
    phase = drawn.choice(PHASES)
    tiny = started_from(phase, bench, folder)
    name, meet = drawn.choice((_refused, _refused, _refused, _gone, _short_files, _little_memory, _clock, _may_not))(
        drawn, phase, folder
    )
    before = state_of(tiny)
    ended = command(words_of(phase, tiny), parts=parts_of(phase, bench), before=meet)
    _make_well(folder)
    found = judge.of_screen(ended.code, ended.out, ended.err)
    if ended.code not in (0, 1):
        found.append(f"exit code {ended.code} for a fault of the machine")
    found += of_state(tiny, before, ended) + ([f"left at work: {ended.left}"] if ended.left else [])
    _bring_back_files(tiny, phase, bench)
    found += next_run_works(phase, tiny, bench)
    return f"{phase}, {name}", [f"{each} (said: {ended.err.strip()[-300:]})" for each in found]


def _bring_back_files(tiny: TinyProgram, phase: str, bench: Bench) -> None:
    sound = started_from(phase, bench, tiny.folder.with_name("sound again"))
    for path in sound.folder.glob("seasons/2*/**/*.csv"):
        target = tiny.folder / path.relative_to(sound.folder)
        if not target.exists():
            shutil.copy(path, target)
    shutil.rmtree(sound.folder)


Meeting = tuple[str, Callable[[], None]]


def _refused(drawn: random.Random, phase: str, folder: Path) -> Meeting:
    """From a moment on, or once, nothing can be written below the program's folder."""
    number, at, is_lasting = drawn.choice(ERRORS), drawn.randrange(MOST_EVENTS[phase]), drawn.random() < 0.5
    seen = [0]

    def listen(event: str, arguments: tuple) -> None:
        if not _is_writing(event, arguments) or not str(arguments[0]).startswith(str(folder)):
            return
        seen[0] += 1
        if seen[0] == at + 1 or is_lasting and seen[0] > at:
            raise OSError(number, os.strerror(number), str(arguments[0]))

    return f"{errno.errorcode[number]} at write {at}{' and after' if is_lasting else ''}", lambda: sys.addaudithook(
        listen
    )


def _is_writing(event: str, arguments: tuple) -> bool:
    if event == "open":
        _, mode, flags = arguments
        return isinstance(arguments[0], str) and bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
    return event in WRITING and bool(arguments)


def _gone(drawn: random.Random, phase: str, folder: Path) -> Meeting:
    """A delivered file is taken away, or cannot be opened, at the moment it is opened."""
    at, is_removed, seen = drawn.randrange(40), drawn.random() < 0.6, [0]

    def listen(event: str, arguments: tuple) -> None:
        if event == "open" and str(arguments[0]).startswith(str(folder / "seasons")):
            seen[0] += 1
            if seen[0] == at + 1:
                if not is_removed:
                    raise PermissionError(errno.EACCES, "Permission denied", arguments[0])
                Path(arguments[0]).unlink(missing_ok=True)

    return f"a file {'gone' if is_removed else 'shut'} at reading {at}", lambda: sys.addaudithook(listen)


def _short_files(drawn: random.Random, *_) -> Meeting:
    """No file may grow beyond a size, as on a full disk; who writes in C meets it too."""
    most = int(10 ** drawn.uniform(3, 7.5))

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    return f"files of at most {most} bytes", limit


def _little_memory(drawn: random.Random, *_) -> Meeting:
    more = int(drawn.uniform(5, 400))

    def limit() -> None:
        used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (used + more * 1_000_000,) * 2)

    return f"{more} MB of memory", limit


def _clock(drawn: random.Random, *_) -> Meeting:
    days = drawn.choice((-1, -400, -20_000, 1, 20_000))

    class Other(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) + timedelta(days=days, microseconds=drawn.randrange(10))

    return f"a clock {days} days off", lambda: setattr(provenance, "datetime", Other)


def _may_not(drawn: random.Random, phase: str, folder: Path) -> Meeting:
    """Somebody who may not write, or read, a part of the folder."""
    paths = sorted([folder, *(path for path in folder.rglob("*"))])
    shut = drawn.sample(paths, min(len(paths), drawn.choice((1, 1, 2, 5))))
    mode = drawn.choice((0o555, 0o555, 0o444, 0o000))
    for path in shut:
        path.chmod(mode)

    return f"mode {mode:o} of {', '.join(str(path.relative_to(folder)) for path in shut)}", obey_modes


def obey_modes() -> None:
    """From now on this process minds the modes of files, also as root."""
    header = struct.pack("Ii", 0x20080522, 0)  # version 3 of the capabilities, of this process
    sets = ctypes.create_string_buffer(24)
    libc = ctypes.CDLL(None, use_errno=True)
    assert libc.capget(header, sets) == 0
    effective, *others = struct.unpack("6I", sets.raw)
    assert libc.capset(header, struct.pack("6I", effective & ~PASS_OVER_MODES, *others)) == 0


def _make_well(folder: Path) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o777 if path.is_dir() else 0o666)
