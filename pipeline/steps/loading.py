"""From season folders to checked trials: what arrives goes into raw, everything after raw is built again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass

import pandas as pd

from pipeline.contract.tables import declared_tables
from pipeline.errors import UserError
from pipeline.incoming.accompanying import Accompanying
from pipeline.incoming.deliveries import (
    NOT_HASHED,
    DeliveredFile,
    check_season_complete,
    folder_of,
    read_sheets,
    told_table,
)
from pipeline.incoming.headings import SendersWords
from pipeline.incoming.misfits import Misfits, check_fit, mended_once
from pipeline.incoming.proposals import Proposal
from pipeline.incoming.sheet import NotRead, Sheet
from pipeline.progress import Bar
from pipeline.provenance import RunCard, sha256_of
from pipeline.settings.program import Program
from pipeline.steps.called_here import called_here
from pipeline.steps.eligible import asked_of_no_trial_in, eligible_tables, first_harvests_of
from pipeline.steps.readings import Readings, current_contents
from pipeline.warehouse import Warehouse

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Held:
    """Why a file is no table as it stands, its rows where they can be counted, and whether only its sender can mend
    it.
    """

    because: str
    n_rows: int | None
    only_sender_mends: bool


def load(
    warehouse: Warehouse,
    program: Program,
    files: list[DeliveredFile],
    accompanying: Accompanying,
    card: RunCard,
    tell: Tell,
    *,
    is_estimated: bool = True,
) -> tuple[list[str], list[str]]:
    """Stores what is new, then casts, checks and classes every row; returns the paths that arrived and that were
    withdrawn.

    is_estimated: rainfall classes are worked out too, and weather covariates that no comparison declares and those of
    reference years: only estimates and pages need them.
    """
    arrived, withdrawn = store_arrivals(warehouse, files, accompanying, card, tell)
    tell("checking every row")
    build_staging(warehouse, program, accompanying)
    _check_harvests_delivered(warehouse, accompanying)  # what is refused needs no checks
    build_checked(warehouse, program, Bar(tell, "checking every row"), is_estimated=is_estimated)
    return arrived, withdrawn


def build_trials(
    warehouse: Warehouse, program: Program, accompanying: Accompanying, *, is_estimated: bool = True
) -> None:
    """Builds everything between raw and estimates again from what the warehouse sees of raw; is_estimated as in
    load.
    """
    build_staging(warehouse, program, accompanying)
    build_checked(warehouse, program, is_estimated=is_estimated)


def build_staging(warehouse: Warehouse, program: Program, accompanying: Accompanying) -> None:
    """Builds what the settings say and every delivered row with its cells cast."""
    fill = settings_tables(program) | accompanying.tables() | called_here(accompanying)
    warehouse.build(["reference", "staging"], fill=fill)


def build_checked(
    warehouse: Warehouse,
    program: Program,
    progress: Callable[[float], None] = lambda share: None,
    *,
    is_estimated: bool = True,
) -> None:
    """Builds the checks and the trials from the staged rows."""
    weather = {}
    if is_estimated or any(comparison.explained_by for comparison in program.comparisons):
        from pipeline.steps.weather import declared_weather, weather_tables  # takes a while to import

        weather = weather_tables(program) if is_estimated else declared_weather(program)
    if is_estimated:
        weather |= {"trials.rainfall_classes": rainfall_classifier(program)}
    warehouse.build(
        ["trials"],
        fill=eligible_tables(program)
        | weather
        | {
            "trials.first_harvests": first_harvests_of,
            "trials.asked_of_no_trial": lambda built: asked_of_no_trial_in(built, program),
        },
        progress=progress,
    )


def store_arrivals(
    warehouse: Warehouse, files: list[DeliveredFile], accompanying: Accompanying, card: RunCard, tell: Tell
) -> tuple[list[str], list[str]]:
    """Reads what is new or changed into raw; returns the paths that arrived and that were withdrawn.

    A file that is no table as it stands is held: it arrives with its reason and without rows. UserError with every
    problem of every file where a season then lacks what it needs.
    """
    current = warehouse.table("raw.current_files")
    known = {row["file"]: (row["sha256"], row["held_because"]) for row in current.to_dict("records")}
    readings = Readings(warehouse)
    gone = sorted(set(known) - {f.file for f in files})
    new: list[tuple[DeliveredFile, Held | None]] = []
    looked_at: list[tuple[DeliveredFile, UserError | None]] = []
    for delivered in files:
        words = accompanying.words_for(delivered.folder)
        content, sheets, held = readings.content(delivered, words), [], None
        # also where the content is known: its file may have a new name that no table has, and what is held is told by
        # its cells
        is_to_be_read = (
            content is None
            or known.get(delivered.file) != (delivered.sha256, None)
            or not _fits_as_stored(readings.sheets(content), words, delivered)
        )
        try:
            if is_to_be_read:
                tell(f"reading {delivered.file}")
                sheets = read_sheets(delivered, words, Bar(tell, f"reading {delivered.file}"))
        except UserError as problem:
            held = problem
        if is_to_be_read:
            _check_unchanged(delivered)
        if sheets and content is None:
            readings.take(delivered, words, sheets)
        looked_at.append((delivered, held))
    readings.store_known()
    proposals = _proposals([problem for _, problem in looked_at])
    for delivered, problem in looked_at:
        held = problem and _held(problem, proposals.get(delivered.folder))
        if (delivered.sha256, held and held.because) != known.get(delivered.file, (None, None)):
            new.append((delivered, held))
    _store_arrival_rows(warehouse, new, gone, current, card)
    _check_complete(warehouse, {f.season for f in files}, accompanying)
    return [f.file for f, _ in new], gone


def _check_unchanged(delivered: DeliveredFile) -> None:
    """UserError where a file is no longer what its hash was taken of: its rows would be stored for another content."""
    if delivered.sha256 != NOT_HASHED and sha256_of(delivered.path) != delivered.sha256:
        raise UserError(
            f"{delivered.file} was changed while it was read. Nothing was loaded. Let it be saved, then run this again."
        )


def _proposals(problems: list[UserError | None]) -> dict[str, Proposal]:
    """By folder, what its headings.yml could say of all its files that do not fit."""
    found: dict[str, Proposal] = {}
    for problem in problems:
        if isinstance(problem, Misfits):
            found.setdefault(problem.folder, Proposal()).take(problem.proposal)
    return found


def _held(problem: UserError, proposal: Proposal | None) -> Held:
    said = problem.told(proposal) if isinstance(problem, Misfits) else str(problem)
    if isinstance(problem, NotRead):
        return Held(said, problem.n_rows, problem.only_sender_mends)
    return Held(said, None, only_sender_mends=False)


def _fits_as_stored(sheets: pd.DataFrame, words: SendersWords, delivered: DeliveredFile) -> bool:
    """Whether sheets that are in raw are tables of ours by what headings.yml says now."""
    as_read = [
        Sheet(
            told_table(delivered.file, row.sheet, row.table_name),
            row.sheet,
            list(row.headings),
            list(row.verbatim_headings),
            int(row.heading_row),
            {h: [] for h in row.headings},
            [],
        )
        for row in sheets.itertuples()
    ]
    try:
        check_fit(as_read, words, file=delivered.file, folder=delivered.folder, season=delivered.season)
    except Misfits:
        return False
    return True


def _check_complete(
    warehouse: Warehouse, seasons: Iterable[int], accompanying: Accompanying, *, is_harvested: bool = False
) -> None:
    """UserError where a season lacks what it needs, with the reasons of the files that are held."""
    lacks, tables = [], _tables_by_season(warehouse, accompanying)
    for season in sorted(seasons):
        try:
            check_season_complete(season, tables.get(season, set()), is_harvested=is_harvested)
        except UserError as problem:
            lacks.append(str(problem))
    if lacks:
        held = warehouse.read("select held_because from raw.current_files where held_because is not null order by file")
        problems = [*mended_once(held["held_because"]), *lacks]
        raise UserError("\n".join([*problems, "Nothing was loaded. Fix the problems above and run this again."]))


def _store_arrival_rows(
    warehouse: Warehouse,
    new: list[tuple[DeliveredFile, Held | None]],
    gone: list[str],
    current: pd.DataFrame,
    card: RunCard,
) -> None:
    last = int(warehouse.read("select coalesce(max(arrival), 0) as last from raw.files")["last"][0])
    rows = [
        {
            "file": f.file,
            "delivery": f.delivery,
            "season": f.season,
            "sha256": f.sha256,
            "size_bytes": f.size_bytes,
            "withdrawn": False,
            "held_because": held.because if held else None,
            "held_rows": held.n_rows if held else None,
            "only_sender_mends": held.only_sender_mends if held else None,
        }
        for f, held in new
    ]
    withdrawn = current[current["file"].isin(gone)][["file", "delivery", "season", "sha256", "size_bytes"]]
    rows += [row | {"withdrawn": True} for row in withdrawn.to_dict("records")]
    numbered = [row | {"arrival": last + i, "run_id": card.run_id} for i, row in enumerate(rows, start=1)]
    warehouse.insert("raw.files", pd.DataFrame(numbered))


def _tables_by_season(warehouse: Warehouse, accompanying: Accompanying) -> dict[int, set[str]]:
    found = warehouse.read(
        """select distinct f.season, f.file, s.sheet, s.table_name from raw.current_files as f
        inner join given on given.file = f.file inner join raw.sheets as s on s.sha256 = given.content""",
        given=current_contents(warehouse, accompanying),
    )
    tables: dict[int, set[str]] = {}
    for row in found.itertuples():
        table = told_table(row.file, row.sheet, row.table_name)
        tables.setdefault(row.season, set()).add(accompanying.words_for(folder_of(row.file)).table(table))
    return tables


def _check_harvests_delivered(warehouse: Warehouse, accompanying: Accompanying) -> None:
    """UserError where a season has a harvested trial and no table of plots."""
    harvested = warehouse.read(
        """select distinct c.season from staging.trials as t inner join raw.current_files as c on c.file = t.file
        where t.outcome = 'harvested' order by c.season"""
    )
    _check_complete(warehouse, map(int, harvested["season"]), accompanying, is_harvested=True)


def settings_tables(program: Program) -> dict[str, pd.DataFrame]:
    """The parts of program.yml and of the contract that the queries need, as tables."""
    rain = program.rainfall
    windows = [
        {
            "crop": crop,
            **asdict(window),
            **asdict(rain.reference),
            "fewest_years": rain.fewest_reference_years,
            "fixed_on": rain.fixed_on,
        }
        for crop, window in rain.windows.items()
    ]
    crops = [
        {
            "word": c.word,
            "product": c.product,
            "bushel_lb": c.bushel_lb,
            "standard_moisture_pct": c.standard_moisture_pct,
            "display_unit": c.display_unit,
            "display_digits": c.display_digits,
            "typical_low": c.typical[0],
            "typical_high": c.typical[1],
            "hard_low": c.hard[0],
            "hard_high": c.hard[1],
        }
        for c in program.crops
    ]
    headings = [
        {"table_name": table.name, "heading": heading, "is_pattern": column.pattern}
        for table in declared_tables().values()
        for column in table.columns
        for heading in column.unit_of_heading
    ]
    fixed = [
        {"line": d.line, "what": d.what, "fixed_on": d.fixed_on, "comparison_id": d.comparison}
        for d in program.fixed_days
    ]
    growers = [
        {"crop": crop, "n_rate_kg_ha": rate.n_rate_kg_ha, "source": rate.source}
        for crop, rate in program.growers_rates.items()
    ]
    return {
        "reference.fixed_days": pd.DataFrame(fixed),
        "reference.growers_rates": pd.DataFrame(growers),
        "reference.nearly_as_well": pd.DataFrame([asdict(program.nearly_as_well)] if program.nearly_as_well else []),
        "reference.program": pd.DataFrame(
            [
                {
                    "program": program.name,
                    "display_units": program.display_units,
                    "may_be_named": program.may_be_named,
                }
            ]
        ),
        "reference.rainfall_windows": pd.DataFrame(windows),
        "reference.program_crops": pd.DataFrame(crops),
        "reference.known_headings": pd.DataFrame(headings),
    }


def cut_points_of(program: Program) -> dict[str, float]:
    """The program's rainfall cut points as site_years.rainfall names them."""
    rain = program.rainfall
    return {
        "dry_at_or_below": rain.dry_at_or_below,
        "wet_at_or_above": rain.wet_at_or_above,
        "max_missing_days": rain.most_missing_days,
        "min_reference_years": rain.fewest_reference_years,
    }


def rainfall_classifier(program: Program) -> Callable[[Warehouse], pd.DataFrame]:
    """A function that classes the site-years of a warehouse by the program's cut points."""
    from pipeline.site_years.rainfall import classify_rainfall

    cut_points = cut_points_of(program)

    def classes(warehouse: Warehouse) -> pd.DataFrame:
        windows, reference = warehouse.table("trials.window_rainfall"), warehouse.table("trials.reference_rainfall")
        return classify_rainfall(windows, reference, cut_points=cut_points)

    return classes
