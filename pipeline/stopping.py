"""One Ctrl-C, or one request to end, stops a command soon, wherever it is, with one sentence.

A signal becomes Stopped in the main thread, so that what is open is closed on the way out. Where that must not be
raised it is asked for again until it may be: in a callback from C code, which would print it and go on, and while
finished files are moved into place. A command that is not at its end after GRACE seconds, such as one in a long fit of
R, is ended from a thread: the warehouse and the published pages outlast that as they outlast a kill.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import FrameType

SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
GRACE = 1.5
BETWEEN_ASKING = 0.1
SENTENCE = "Stopped. The warehouse is as it was before, or complete."
# How another program is started: in a process group of its own, so that Ctrl-C reaches it only through here,
# and its end is not taken for a failure of what it was to do.
APART = {"stdin": subprocess.DEVNULL, "process_group": 0}


class Stopped(KeyboardInterrupt):
    """The user, or who runs the machine, asked for an end; number: of the signal."""

    def __init__(self, number: int = signal.SIGINT) -> None:
        super().__init__(number)
        self.number = number


class _State:
    """Of this process, which has one set of signal handlers."""

    asked: int | None = None  # the first signal that was heard
    is_raised = is_said = False
    n_putting_off = 0
    never_in: tuple[str, ...] = ()
    programs: set[subprocess.Popen] = set()


def listen() -> None:
    """From now on a signal stops the command; one that it was started deaf to, as by nohup or in the background, does
    not.
    """
    heard = [number for number in SIGNALS if signal.getsignal(number) is not signal.SIG_IGN]
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    # Python runs a handler only between two steps of its own; the thread hears of a signal in the middle of C code too
    signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    threading.Thread(target=_see_to_it, args=(reader,), name="stopping", daemon=True).start()
    sys.unraisablehook = _unraisable
    for number in heard:
        signal.signal(number, _on_signal)


def listen_no_more() -> None:
    """The command is done: what is left is Python's own end, which a signal may cut short."""
    for number in SIGNALS:
        if signal.getsignal(number) is _on_signal:
            signal.signal(number, signal.SIG_IGN if is_asked() else signal.SIG_DFL)


def is_asked() -> bool:
    """Whether a stop was asked for. What fails afterwards fails by it: DuckDB and R make errors of their own of it."""
    return _State.asked is not None


def say_stopped(problem: BaseException) -> int:
    """Says the sentence; returns the exit code, 128 and the signal's number as in a shell."""
    _State.is_said = True
    try:
        print(f"\n{SENTENCE}", file=sys.stderr, flush=True)
    except OSError:  # the terminal is gone; Python would complain at its end of what it still has to write
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (1, 2):
            os.dup2(nowhere, stream)
    return 128 + (_State.asked or getattr(problem, "number", signal.SIGINT))


@contextmanager
def put_off() -> Iterator[None]:
    """For a moment that is to be done wholly: a stop waits until it is over, or GRACE seconds."""
    _State.n_putting_off += 1
    try:
        yield
    finally:
        _State.n_putting_off -= 1


@contextmanager
def unheard() -> Iterator[None]:
    """Processes that are started while it lasts are deaf to Ctrl-C, of which a terminal tells every one: it reaches
    them through this command, which ends them without a word of theirs. For the moment this command is deaf to it too.
    """
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def never_in(folder: Path) -> None:
    """Stopped is not raised while code of this folder is at work: it is called from C, where an exception is lost."""
    _State.never_in += (f"{folder}{os.sep}",)


@contextmanager
def tied(process: subprocess.Popen) -> Iterator[subprocess.Popen]:
    """A program started with APART, which ends with all it has started when this command is stopped.

    Raises:
        Stopped: this command is to end.
    """
    with process:
        _State.programs.add(process)
        try:
            if _State.is_raised:
                raise Stopped(_State.asked)
            yield process
            process.wait()
        except BaseException:
            _end(process, signal.SIGTERM)
            raise
        finally:
            _State.programs.discard(process)


def _on_signal(number: int, frame: FrameType | None) -> None:
    _State.asked = _State.asked or number
    if _State.is_raised or _State.n_putting_off or _is_in_callback(frame):
        return
    _State.is_raised = True
    for process in list(_State.programs):
        _end(process, signal.SIGTERM)
    raise Stopped(_State.asked)


def _is_in_callback(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith(_State.never_in):
            return True
        frame = frame.f_back
    return False


def _see_to_it(reader: int) -> None:
    """Waits for a signal, asks for the stop until it is raised, and makes an end where none comes."""
    while (number := os.read(reader, 1)[0]) not in SIGNALS:
        pass
    main, last = threading.main_thread().ident, time.monotonic() + GRACE
    while time.monotonic() < last:
        time.sleep(BETWEEN_ASKING)
        if not _State.is_raised:
            signal.pthread_kill(main, number)
    for process in list(_State.programs):
        _end(process, signal.SIGKILL)
    if "multiprocessing" in sys.modules:
        for worker in sys.modules["multiprocessing"].active_children():
            worker.kill()
    if not _State.is_said:
        shown = "\x1b[?25h" if os.isatty(2) else ""  # the cursor, which a progress bar hides
        with suppress(OSError):
            os.write(2, f"{shown}\n{SENTENCE}\n".encode())
    os._exit(128 + number)


def _end(process: subprocess.Popen, how: int) -> None:
    if process.returncode is None:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, how)


def _unraisable(problem) -> None:
    """A stop that came while Python tidied up is lost there; the thread makes the end."""
    if not isinstance(problem.exc_value, Stopped):
        sys.__unraisablehook__(problem)
