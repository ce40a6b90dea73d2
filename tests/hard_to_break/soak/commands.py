"""A command in a fork of this process, which has imported all it needs, to be killed or to meet faults there."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pipeline.__main__ import main
from pipeline.verbs import finding_r

LONGEST = 240.0  # seconds that a loaded machine may need


@dataclass(frozen=True)
class Ended:
    """How a command ended. code: as a shell tells it, but -9 where it was killed; left: processes it started and left
    at work.
    """

    code: int
    out: str
    err: str
    seconds: float
    left: list[int]


def apart(do: Callable, *arguments):
    """What a function returns, called in a fork: a crash there is told, and what it leaves in memory is gone."""
    with tempfile.TemporaryFile() as result:
        child = os.fork()
        if not child:
            try:
                pickle.dump(do(*arguments), result)
                result.flush()
                os._exit(0)
            except BaseException:
                sys.excepthook(*sys.exc_info())
                os._exit(99)
        _, status = os.waitpid(child, 0)
        if status:
            raise RuntimeError(f"{do.__name__}{arguments}: ended with {os.waitstatus_to_exitcode(status)}")
        result.seek(0)
        return pickle.load(result)


def command(
    words: list[str], *, parts: dict, before: Callable[[], None] = lambda: None, kill: tuple[int, float] | None = None
) -> Ended:
    """Runs a verb as a command of its own. before: called in it first; kill: a signal, and after how many seconds it is
    sent.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        start = time.monotonic()
        child = os.fork()
        if not child:
            _be(words, parts, before, out.fileno(), err.fileno())
        code = _code_of(child, start, kill)
        seconds = time.monotonic() - start
        left = [] if code == -signal.SIGKILL else _in_session(child)
        texts = [_text(stream) for stream in (out, err)]
    return Ended(code, *texts, seconds, left)


def _be(words: list[str], parts: dict, before: Callable[[], None], out: int, err: int) -> None:
    """In the child: never returns."""
    code = 98
    try:
        os.setsid()
        os.dup2(out, 1)
        os.dup2(err, 2)
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.default_int_handler if number == signal.SIGINT else signal.SIG_DFL)
        sys.stdout, sys.stderr = (open(number, "w", encoding="utf-8", closefd=False) for number in (1, 2))
        sys.argv = ["manyfields", *words]
        finding_r.make_r_findable = lambda: None  # it may start the process anew, as what it was at first
        before()
        code = main(**parts)
        sys.stdout.flush()
        sys.stderr.flush()
    except SystemExit as ended:
        code = ended.code
    except BaseException:
        sys.excepthook(*sys.exc_info())
        sys.stderr.flush()
    finally:
        os._exit(code)


def _code_of(child: int, start: float, kill: tuple[int, float] | None) -> int:
    is_sent = kill is None
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        passed = time.monotonic() - start
        if not is_sent and passed >= kill[1]:
            os.kill(child, kill[0])
            is_sent = True
        if passed > LONGEST:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return 97
        time.sleep(0.005)


def _in_session(leader: int) -> list[int]:
    """Processes that a command left at work, a moment after its end."""
    time.sleep(0.02)
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, _, session = path.read_text().rpartition(")")[2].split()[:4]
        except OSError:
            continue
        if int(session) == leader and state != "Z":
            found.append(int(path.parent.name))
    return found


def _text(stream) -> str:
    stream.seek(0)
    return stream.read().decode("utf-8", "replace")
