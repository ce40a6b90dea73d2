"""The order of the flow: the one module that knows all the others.

Loading, estimating and storing are one transaction of the warehouse: a run that is refused or killed leaves it
as it was. Pages are drawn from frames after the warehouse is closed, so that readers are not shut out.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from pipeline import console, kept
from pipeline.display.words.numbers import count
from pipeline.errors import UserError
from pipeline.estimates.engines import mixed
from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.arriving import brought_in
from pipeline.incoming.deliveries import beside_files, find_files, input_files
from pipeline.provenance import RunCard, inputs_hash, start_run
from pipeline.publishing.scratch import scratch_in
from pipeline.settings.program import Program, read_program
from pipeline.steps import changes
from pipeline.steps.checked import Checked, checked
from pipeline.steps.loading import Tell, build_trials, load
from pipeline.verbs import made_from
from pipeline.verbs.findings import tell_findings
from pipeline.warehouse import Warehouse, open_warehouse
from pipeline.warehouse_room import give_back_space


@dataclass(frozen=True)
class Outcome:
    """What a run leaves for the pages and for the last words on the screen."""

    program: Program
    card: RunCard
    tables: dict[str, pd.DataFrame]
    is_fresh: bool = False  # nothing of the last run was taken, and every page is drawn


STANDING = (
    "Left as published: {pages}. No data changed up to the season that each names. FRESH=yes makes every page anew."
)

# The two long parts of a run: the frames of the estimates layer, and the pages. Another may be handed in.
Estimate = Callable[[Warehouse, Program, RunCard, Tell], tuple[dict[str, pd.DataFrame], RunCard]]
Publish = Callable[[Outcome], None]


def estimate_all(
    warehouse: Warehouse,
    program: Program,
    card: RunCard,
    tell: Tell,
    tell_averages: Callable[[pd.DataFrame], None] = lambda shown: None,
) -> tuple[dict[str, pd.DataFrame], RunCard]:
    """Every estimate; the libraries for them are imported here, as most runs of a command end before they need any."""
    from pipeline.steps import estimating

    return estimating.estimate_all(warehouse, program, card, tell, tell_averages)


def estimate_and_say(
    warehouse: Warehouse, program: Program, card: RunCard, tell: Tell
) -> tuple[dict[str, pd.DataFrame], RunCard]:
    """Every estimate; the averages are on the screen as soon as they are known."""
    return estimate_all(warehouse, program, card, tell, console.headlines)


def make_demo(folder: Path) -> None:
    """Writes the invented demo program into a new or an empty folder; all of it or nothing."""
    from pipeline.simulation.demo import write_demo

    if (folder / "program.yml").exists():
        raise UserError(f"{folder} already holds a program; remove it first, or name another folder.")
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise UserError(f"{folder} is there already and is no empty folder. Name a new folder for the demo program.")
    with scratch_in(folder.resolve().parent, what="the demo program") as scratch:
        write_demo(scratch / "demo")
        (scratch / "demo").replace(folder.resolve())
    console.say(f"The demo program is in {folder}: invented trials with planted defects, their key in defects.csv.")


def publish(outcome: Outcome) -> None:
    """Says what moved the averages, then weaves and draws all pages and says where they are."""
    from pipeline.publishing import in_place, pages
    from pipeline.publishing.for_cooperators import FOLDER as FOR_COOPERATORS

    program = outcome.program
    console.changes(outcome.tables["reports.changes"], outcome.tables["reports.verdict_changes"], outcome.card.run_id)
    made_from.forget(program)
    in_place.mark_as_earlier(program.folder / FOR_COOPERATORS)
    with console.pages() as tell:
        published = pages.publish(
            outcome.tables,
            folder=program.published,
            program_name=program.name,
            tell=tell,
            kept=program.folder / kept.DRAWN,
            is_fresh=outcome.is_fresh,
        )
    made_from.remember(program, outcome.card)
    if n_standing := len({file.path.with_suffix("") for file in published if file.is_standing}):
        console.say(STANDING.format(pages=count(n_standing, "site-year page")))
    console.say(f"Reports: {program.published / 'index.html'}")


def report(
    folder: Path, *, fresh: bool = False, estimate: Estimate = estimate_and_say, publish: Publish = publish
) -> None:
    """The main job: load all seasons, estimate, publish, say where. fresh: though nothing changed since the last
    report.
    """
    if not fresh and (card := made_from.pages_are_current(folder)):
        return _say_current(folder, card)
    publish(_built(folder, "report", estimate, is_fresh=fresh))


def add_season(
    season_folder: Path,
    folder: Path,
    *,
    fresh: bool = False,
    estimate: Estimate = estimate_and_say,
    publish: Publish = publish,
) -> None:
    """Brings one more season into the program, then as report."""
    read_program(folder)
    with brought_in(season_folder, folder) as keep_season:
        if not fresh and (card := made_from.pages_are_current(folder)):
            return _say_current(folder, card)
        outcome = _built(folder, "season", estimate, keep_season, is_fresh=fresh)
    publish(outcome)


def _say_current(folder: Path, card: RunCard) -> None:
    console.say(
        f"Nothing changed since the report of {card.started:%Y-%m-%d %H:%M} UTC: its pages are current. "
        f"To make them again all the same, add FRESH=yes.\nReports: {read_program(folder).published / 'index.html'}"
    )


def _built(
    folder: Path,
    command: str,
    estimate: Estimate,
    storing: Callable[[], None] = lambda: None,
    *,
    is_fresh: bool = False,
) -> Outcome:
    from pipeline.publishing import engines

    engines.quarto()  # a wrong DRAW_BY is said before minutes of work
    if mixed.FIT_BY in os.environ:
        mixed.engine()  # and so is a FIT_BY that is wrong or that nothing here can meet
    with console.steps() as tell:
        outcome = build_warehouse(folder, command, tell, estimate, tell_findings, storing, is_fresh=is_fresh)
    if mixed.notice():
        console.say(mixed.notice())
    return outcome


def build_warehouse(
    folder: Path,
    command: str,
    tell: Tell,
    estimate: Estimate = estimate_all,
    tell_checked: Callable[[Checked], None] = lambda found: None,
    storing: Callable[[], None] = lambda: None,
    *,
    is_fresh: bool = False,
) -> Outcome:
    """Loads what changed in the season folders, estimates, stores; all of it or nothing.

    tell_checked: called with what the checks say, before anything is estimated; storing: when all is ready to be
    stored, and again when it is. is_fresh: everything is worked out, though it may be the same as in the last run.
    """
    program = read_program(folder)
    with (
        kept.kept_in(program.folder / kept.RESULTS, is_fresh=is_fresh) as results,
        open_warehouse(program.warehouse_file) as warehouse,
    ):
        card = rebuild(warehouse, program, command, tell, estimate, tell_checked, storing)
        tables = {name: warehouse.table(name) for name in _published_names(warehouse)}
    give_back_space(program.warehouse_file)
    results.forget_unused()
    return Outcome(program, card, tables, is_fresh)


def rebuild(
    warehouse: Warehouse,
    program: Program,
    command: str,
    tell: Tell,
    estimate: Estimate = estimate_all,
    tell_checked: Callable[[Checked], None] = lambda found: None,
    storing: Callable[[], None] = lambda: None,
) -> RunCard:
    """The same in an open warehouse, in one transaction; returns the run as it is stored."""
    folder = program.folder
    card = start_run(command, folder / "program.yml")
    files = find_files(folder)
    accompanying = read_accompanying(folder, [f.folder for f in files])
    # noted before the long part: what is edited from now on is other than noted, and the next run takes it up
    card = replace(
        card,
        inputs_sha256=inputs_hash(input_files(folder, files)),
        deciding_texts=changes.deciding_texts(folder, beside_files(folder)),
    )
    with warehouse.transaction():
        warehouse.build(["raw"])
        earlier = changes.earlier_run(warehouse)
        arrived, withdrawn = load(warehouse, program, files, accompanying, card, tell)
        tell_checked(checked(warehouse, program, arrived, withdrawn, earlier))
        results, card = estimate(warehouse, program, card, tell)
        if earlier:
            results["estimates.settings_changes"] = changes.changed_rules(warehouse, card)
            results["estimates.run_changes"] = _changes(warehouse, earlier, program, accompanying, card, results, tell)
        warehouse.build(["estimates", "reports"], fill=results)
        storing()
    storing()
    return card


def _changes(warehouse, earlier, program, accompanying, card, results, tell) -> pd.DataFrame:
    """What moved each headline since the last run; the trials layer is then built again as it is to be stored."""
    final = results["estimates.run_headlines"]
    found = changes.explain(warehouse, earlier, program, accompanying, card, final, tell)
    if found["cause"].nunique() > 1:
        build_trials(warehouse, program, accompanying)
    return found


def _published_names(warehouse: Warehouse) -> list[str]:
    names = warehouse.read(
        "select table_name from information_schema.tables where table_schema = 'reports' order by table_name"
    )
    return [f"reports.{name}" for name in names["table_name"]]
