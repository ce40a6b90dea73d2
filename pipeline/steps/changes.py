"""What changed a headline since the last run: software, late or changed data, settings, or a new season.

The earlier inputs are still there: raw keeps every arrival, and each run keeps its program.yml and what lay beside the
deliveries. So the headlines are estimated again step by step, one cause at a time, each step on top of the one before:
earlier data and settings with the software of now; then the present files of the earlier seasons; then the present
settings; then the new season. A step whose cause did not change is not computed.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.contract.results import SCHEMA, declared_results, frame_of
from pipeline.errors import UserError
from pipeline.incoming.accompanying import Accompanying, read_accompanying
from pipeline.incoming.deliveries import folder_of
from pipeline.provenance import RunCard
from pipeline.settings.program import Program, read_program
from pipeline.steps.loading import Tell, build_trials
from pipeline.steps.settings_history import settings_changes
from pipeline.warehouse import Warehouse

SOFTWARE, DATA, SETTINGS, NEW_SEASON = "software", "late or changed data", "settings", "new season"
# where the settings of the earlier run are written for another version of this software
NOT_TOLD_APART = "not told apart: this version cannot read the earlier settings"
OTHER_BYTES = "surrogateescape"
SOFTWARE_COLUMNS = ("code_commit", "lock_sha256", "python", "packages", "r_versions")


@dataclass(frozen=True)
class Earlier:
    """The last run that was stored: its card, which holds the files that decided it, its headlines, last arrival, and
    the folders that held deliveries.
    """

    card: dict
    headlines: pd.DataFrame
    last_arrival: int
    folders: tuple[str, ...]

    @property
    def seasons(self) -> tuple[int, ...]:
        return tuple(sorted({int(folder.split("/")[1]) for folder in self.folders}))


def earlier_run(warehouse: Warehouse) -> Earlier | None:
    """The last stored run, None on a new warehouse. To be asked before anything arrives."""
    there = warehouse.read(
        "select 1 from information_schema.tables where table_schema = 'estimates' and table_name = 'runs'"
    )
    if there.empty:
        return None
    cards, headlines = _runs(warehouse), _as_declared(warehouse, "run_headlines")
    if cards.empty:
        return None
    card = cards.iloc[-1].to_dict()
    headlines = headlines[headlines["run_id"] == card["run_id"]]
    last = warehouse.read("select coalesce(max(arrival), 0) as last from raw.files")["last"][0]
    files = warehouse.read("select file from raw.current_files")["file"]
    return Earlier(card, headlines, int(last), tuple(sorted({folder_of(file) for file in files})))


def _runs(warehouse: Warehouse) -> pd.DataFrame:
    """Every run as it was stored, the last one last: a clock may have been set back. No texts are known of one whose
    version did not keep them.
    """
    runs = _as_declared(warehouse, "runs")
    return runs.assign(deciding_texts=runs["deciding_texts"].fillna("{}"))


def _as_declared(warehouse: Warehouse, name: str) -> pd.DataFrame:
    """A kept table of estimates, with columns that an earlier version did not have: they hold nothing."""
    columns = [column.name for column in declared_results()[name].columns]
    return warehouse.table(f"{SCHEMA}.{name}").reindex(columns=columns)


def changed_rules(warehouse: Warehouse, card: RunCard) -> pd.DataFrame:
    """Rules that stood otherwise in a stored run which had read their yields, as rows of estimates.settings_changes."""
    runs, headlines = _runs(warehouse), _as_declared(warehouse, "run_headlines")
    return settings_changes(runs, headlines, json.loads(card.deciding_texts)["program.yml"])


def deciding_texts(program_folder: Path, beside_files: list[Path]) -> str:
    """program.yml and what lies beside the deliveries, by path, as JSON: enough to estimate this run again from raw.

    A manifest need not be UTF-8, nor is a file read that lies in a folder without deliveries: other bytes come back as
    they were.
    """
    paths = [program_folder / "program.yml", *beside_files]
    texts = {p: p.read_text(encoding="utf-8-sig", errors=OTHER_BYTES) for p in paths}
    return json.dumps({p.relative_to(program_folder).as_posix(): text for p, text in texts.items()})


def explain(
    warehouse: Warehouse,
    earlier: Earlier,
    program: Program,
    accompanying: Accompanying,
    card: RunCard,
    final: pd.DataFrame,
    tell: Tell,
) -> pd.DataFrame:
    """One row per headline and cause that changed: before and after with their intervals (kg/ha), each step on top of
    the one before.

    `final` are the present headlines. Leaves the trials layer as some step built it: build it again after.
    """
    present = set(warehouse.read("select distinct season from raw.current_files")["season"])
    new_seasons = sorted(present - set(earlier.seasons))
    with tempfile.TemporaryDirectory() as folder:
        try:
            old_program, old_accompanying = _restored(Path(folder), earlier)
        except UserError:
            step = _step(earlier.headlines, final).assign(cause=NOT_TOLD_APART, position=1, run_id=card.run_id)
            return frame_of(step, "run_changes")
        causes: list[tuple[str, Callable[[], pd.DataFrame]]] = []
        if any(str(earlier.card[name]) != str(getattr(card, name)) for name in SOFTWARE_COLUMNS):
            causes.append(
                (
                    SOFTWARE,
                    lambda: _headlines(warehouse, old_program, old_accompanying, last_arrival=earlier.last_arrival),
                )
            )
        if _data_changed(warehouse, earlier, old_accompanying, accompanying, new_seasons):
            causes.append((DATA, lambda: _headlines(warehouse, old_program, accompanying, without=new_seasons)))
        if earlier.card["settings_sha256"] != card.settings_sha256:
            causes.append((SETTINGS, lambda: _headlines(warehouse, program, accompanying, without=new_seasons)))
        if new_seasons:
            causes.append((NEW_SEASON, lambda: final))
        rows, before = [], earlier.headlines
        for position, (cause, estimated) in enumerate(causes, start=1):
            # the last cause ends where the present headlines stand
            if position < len(causes):
                tell(f"what changed: {cause}")
                after = estimated()
            else:
                after = final
            rows.append(_step(before, after).assign(cause=cause, position=position, run_id=card.run_id))
            before = after
    return frame_of(pd.concat(rows) if rows else [], "run_changes")


def _restored(folder: Path, earlier: Earlier) -> tuple[Program, Accompanying]:
    """The settings and side files of the earlier run, read as they were then."""
    for name, text in json.loads(earlier.card["deciding_texts"]).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8", errors=OTHER_BYTES)
    return read_program(folder), read_accompanying(folder, earlier.folders)


def _data_changed(
    warehouse: Warehouse, earlier: Earlier, old: Accompanying, new: Accompanying, new_seasons: list[int]
) -> bool:
    later = warehouse.read("select distinct season from raw.files where arrival > ?", [earlier.last_arrival])["season"]
    if set(later) - set(new_seasons):
        return True
    return old.of_seasons(earlier.seasons) != new.of_seasons(earlier.seasons)


def _headlines(
    warehouse: Warehouse,
    program: Program,
    accompanying: Accompanying,
    *,
    last_arrival: int | None = None,
    without: list[int] | None = None,
) -> pd.DataFrame:
    """The headlines from the files up to an arrival, or without some seasons."""
    with warehouse.seeing(last_arrival=last_arrival, without_seasons=without or []):
        build_trials(warehouse, program, accompanying, is_estimated=False)  # no headline rests on the weather
        from pipeline.steps import estimating  # takes a while to import, and a check does without

        return estimating.headlines(warehouse, program)


def _step(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    key = ["comparison_id", "target"]
    kept = [*key, "estimate", "conf_low", "conf_high", "n_site_years", "n_seasons", "method"]
    if before.empty:
        before = pd.DataFrame(columns=kept)
    joined = before[kept].merge(after[kept], on=key, how="outer", suffixes=("_before", "_after"))
    return joined.rename(
        columns={
            "estimate_before": "before",
            "estimate_after": "after",
            "n_site_years_before": "n_before",
            "n_site_years_after": "n_after",
        }
    )
