"""How far a long run is and about how long it still takes, in words."""

from __future__ import annotations

import time
from collections.abc import Callable

BAR_WIDTH = 20
LEAST_SHARE = 0.05  # of the work: before, what is started only once makes the time to go seem far too long

Tell = Callable[[str], None]


class NowAndThen:
    """Plain lines for a log, with the seconds since the start; most of what is told in between is left out."""

    SECONDS_BETWEEN = 5.0

    def __init__(self, say: Tell) -> None:
        self._say = say
        self._start = self._last = time.monotonic()

    def __call__(self, text: str) -> None:
        now = time.monotonic()
        if now - self._last >= self.SECONDS_BETWEEN:
            self._last = now
            self._say(f"{now - self._start:.0f} s: {text}")


class Bar:
    """One long step: bar(share). Silent while the step is short."""

    SECONDS_BETWEEN = 0.5

    def __init__(self, tell: Tell, what: str) -> None:
        self._tell, self._what = tell, what
        self._start = self._last = time.monotonic()

    def __call__(self, share: float) -> None:
        now = time.monotonic()
        if now - self._last < self.SECONDS_BETWEEN or not 0 < share <= 1:
            return
        self._last = now
        self._tell(how_far(self._what, share, now - self._start))


class Steps:
    """About `n` steps of like length, one told after another as it begins: steps(text).

    The clock starts after the first `warming_up` steps, which wait for what is started only once.
    """

    def __init__(self, tell: Tell, n: int, *, warming_up: int) -> None:
        self._tell, self._n, self._warming_up = tell, n, warming_up
        self._begun = 0
        self._start = time.monotonic()

    def __call__(self, text: str) -> None:
        done = max(0, self._begun - self._warming_up)
        self._begun += 1
        if not done:
            self._start = time.monotonic()
        self._tell(how_far(text, min(1.0, done / self._n), time.monotonic() - self._start))


def how_far(what: str, share: float, seconds: float) -> str:
    """'reading plots.csv ━━━━━╌╌╌╌╌ 50%, about 30 s to go', where `seconds` have gone by; no time for the first few
    percent.
    """
    done = round(share * BAR_WIDTH)
    to_go = f", about {seconds * (1 - share) / share:.0f} s to go" if share >= LEAST_SHARE else ""
    return f"{what} {'━' * done}{'╌' * (BAR_WIDTH - done)} {share:.0%}{to_go}"
