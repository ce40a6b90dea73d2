"""Commands killed at random moments: the warehouse is as before or complete, nothing is left at work, and the next run
works.
"""

from __future__ import annotations

import random
import shutil
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.incoming.arriving import MARK
from pipeline.incoming.deliveries import find_files
from pipeline.publishing.in_place import LIST_OF_FILES
from pipeline.stopping import GRACE, SENTENCE
from pipeline.verbs import run
from pipeline.warehouse import open_warehouse
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.commands import Ended, command
from tests.tiny_program import TinyProgram, no_estimates

SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGKILL)
PHASES = ("load",) * 6 + ("season",) * 3 + ("estimate",) * 3 + ("publish",) * 2 + ("findings",)
KILLS_A_RUN = 8  # after so many a run is let go on to its end
SLOW_MACHINE = 30.0  # seconds that an end may take beside other work


@dataclass(frozen=True)
class Bench:
    """What kills and faults start from. loaded, published: programs; outcome: of the estimated one; lasts: seconds of
    each phase.
    """

    loaded: Path
    published: Path
    outcome: run.Outcome
    lasts: dict[str, float]


def parts_of(phase: str, bench: Bench) -> dict:
    """The parts of a run that a phase goes through: pages are those of stored estimates."""
    if phase == "findings":
        return {}
    pages = (
        {"publish": lambda outcome: run.publish(replace(outcome, tables=bench.outcome.tables))}
        if phase == "publish"
        else {"publish": lambda outcome: None}
    )
    return pages | ({} if phase == "estimate" else {"estimate": no_estimates})


def words_of(phase: str, tiny: TinyProgram) -> list[str]:
    verb = {"season": ["season", str(tiny.folder / "post" / "2093")], "findings": ["findings"]}.get(phase, ["report"])
    return [*verb, "--program", str(tiny.folder)]


def started_from(phase: str, bench: Bench, folder: Path) -> TinyProgram:
    """A copy of a program to which something came."""
    tiny = TinyProgram(shutil.copytree(bench.published if phase == "publish" else bench.loaded, folder))
    tiny.add_delivery("east")
    if phase == "season":
        tiny.plan_season()
        (tiny.folder / "post").mkdir()
        (tiny.folder / "seasons" / "2093").rename(tiny.folder / "post" / "2093")
    return tiny


def faults(seed: str, bench: Bench, folder: Path) -> Iterator[tuple[str, list[str]]]:
    """KILLS_A_RUN kills of one program, then a run; for each what it was and what is wrong after it."""
    drawn = random.Random(seed)
    phase = drawn.choice(PHASES)
    tiny = started_from(phase, bench, folder)
    for number in range(KILLS_A_RUN):
        how, moment = drawn.choice(SIGNALS), drawn.uniform(0, 1.05) * bench.lasts[phase]
        before = state_of(tiny)
        ended = command(words_of(phase, tiny), parts=parts_of(phase, bench), kill=(how, moment))
        found = of_end(ended, how, moment) + of_state(tiny, before, ended)
        yield f"{phase}, {how.name} after {moment:.2f} s", found
        if ended.code == 0:  # it was quicker: something else comes
            tiny.change("plots", 2, "harvest_weight_lb", f"{40 + number / 10}", "2091/east")
            shutil.rmtree(tiny.folder / "seasons" / "2093", ignore_errors=True)
    yield f"{phase}, a run after {KILLS_A_RUN} kills", next_run_works(phase, tiny, bench)


def of_end(ended: Ended, how: signal.Signals, moment: float) -> list[str]:
    """The exit code and the sentence, and that the end comes soon."""
    if ended.code == 0 or (how == signal.SIGKILL and ended.code == -how):
        return judge.of_screen(0, ended.out, ended.err)
    if ended.code == -how and moment < 0.5:
        return []  # before it listens
    found = judge.of_screen(ended.code, ended.out, ended.err)
    if ended.code != 128 + how or ended.err.strip() != SENTENCE:
        found.append(f"exit code {ended.code} after {how.name}, and said: {ended.err[-300:]!r}")
    if ended.seconds - moment > GRACE + SLOW_MACHINE:
        found.append(f"ended {ended.seconds - moment:.0f} s after {how.name}")
    return found + ([f"left at work: {ended.left}"] if ended.left else [])


def state_of(tiny: TinyProgram) -> tuple[dict[str, str], frozenset[str], frozenset[str]]:
    """Of the warehouse, the seasons but what the next command takes out, and the published pages."""
    pages = tiny.folder / "published"
    of_season = (path for path in (tiny.folder / "seasons").iterdir() if not path.name.startswith("."))
    seasons = frozenset(path.name for path in of_season if not path.with_name(MARK.format(year=path.name)).exists())
    return (
        tiny.contents(),
        seasons,
        frozenset(
            path.relative_to(pages).as_posix() for path in pages.rglob("*.html") if ".publishing-" not in str(path)
        ),
    )


def of_state(tiny: TinyProgram, before: tuple, ended: Ended) -> list[str]:
    """The warehouse is as before or has one more whole run; seasons fit it; pages are whole."""
    contents, seasons, pages = state_of(tiny)
    is_new = contents != before[0]
    found = [] if not is_new or _knows_all(tiny) else ["the warehouse is neither as before nor complete"]
    if not is_new and seasons != before[1]:
        found.append(f"seasons were {sorted(before[1])} and are {sorted(seasons)}, the warehouse is as before")
    found += [f"{page} is gone" for page in before[2] - pages]
    found += [
        f"{page} is not whole"
        for page in pages
        if not (tiny.folder / "published" / page).read_text(encoding="utf-8").rstrip().endswith("</html>")
    ]
    return found


def _knows_all(tiny: TinyProgram) -> bool:
    """Whether the warehouse knows each delivered file as it stands, and no other."""
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        stored = warehouse.read(
            "select file, sha256 from raw.files qualify row_number() over (partition by file order by arrival desc) = 1"
            " and not withdrawn"
        )
    return dict(stored.itertuples(index=False)) == {each.file: each.sha256 for each in find_files(tiny.folder)}


def next_run_works(
    phase: str, tiny: TinyProgram, bench: Bench, run_command: Callable[..., Ended] = command
) -> list[str]:
    """A run let go on: it ends well, knows all that was delivered, and takes away what killed runs left."""
    tiny.change("plots", 3, "harvest_weight_lb", "44.4", "2091/east")
    ended = run_command(words_of(phase, tiny), parts=parts_of(phase, bench))
    found = judge.of_screen(ended.code, ended.out, ended.err) + (
        [f"the next run ends with {ended.code}: {ended.err[-300:]}"] if ended.code else []
    )
    if phase == "publish":
        pages = tiny.folder / "published"
        found += [f"left behind: {path.name}" for path in pages.glob(".publishing-*")]
        found += [
            f"{name} is listed and not there"
            for name in (pages / LIST_OF_FILES).read_text().split()
            if not (pages / name).is_file()
        ]
    left = (
        [path.name for path in (tiny.folder / "seasons").iterdir() if path.name.startswith(".")]
        if phase == "season"
        else []
    )
    return found + [f"left behind: {name}" for name in left]
