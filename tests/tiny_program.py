"""A program small enough to read: three sound trials in the delivered format, and one mistake at a time.

Rows are numbered as a spreadsheet program shows them: the headings are row 1.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pandas as pd

from pipeline.contract.results import frame_of
from pipeline.incoming.accompanying import Accompanying, read_accompanying
from pipeline.incoming.deliveries import DeliveredFile, find_files
from pipeline.provenance import RunCard, start_run
from pipeline.settings.program import Program, read_program
from pipeline.steps.checked import Checked
from pipeline.steps.loading import build_staging, load, store_arrivals
from pipeline.verbs import run
from pipeline.warehouse import Warehouse, memory_of, open_warehouse

SETTINGS = """\
program: Tiny trials
rainfall:
  reference: {first_year: 2071, last_year: 2074}
  windows:
    corn: {first_day: 05-01, last_day: 05-05}
    cotton: {first_day: 05-01, last_day: 05-05}
  fewest_reference_years: 3
  fixed_on: 2090-11-15
comparisons:
  - id: corn-blend-vs-urea
    says: half-coated blend against urea, both at planting
    crop: corn
    target: seasons tested
    treatment: {n_source: coated blend}
    comparator: {n_source: urea}
    match: same N rate
    rates_lb_ac: {120: 1}
    may_differ: [n_source, coated_n_fraction]
    declared: 2090-11-15
"""
# What the tiny program lacks of a real one: prices, so that the report speaks of money, and a sentence to hold against
# the evidence.
PRICES_AND_CLAIM = """\
prices:
  fixed_on: 2092-11-01
  currency: $
  nitrogen_per_lb_n: {urea: 0.50}
  coated_premium_per_lb_n: 0.18
  pass_cost_per_ac: 12
  crops:
    corn: {price_per_bu: 4.50, hauling_per_bu: 0.10, drying_per_point_bu: 0.045}
claims:
  - {sentence: "Two more bushels", where: flyer, comparison: corn-blend-vs-urea, gain: 2, unit: bu/ac}
"""
HEADS_OF_PRINTED_MEANS = [
    "trial_id", "treatment_code", "mean_yield_bu_ac", "n_blocks",
    "error_kind", "error_value", "error_alpha", "citation",
]  # fmt: skip
# trial, season, site, crop, weight of the zero-N, urea and blend plots
TRIALS = (
    ("2091-A-corn", 2091, "Alder Bench", "corn", (22.0, 41.0, 42.6)),
    ("2091-B-cotton", 2091, "Birch Flats", "cotton", (9.0, 16.8, 17.6)),
    ("2092-A-corn", 2092, "Alder Bench", "corn", (21.0, 40.2, 41.5)),
)
TREATMENTS = {
    "ZERO": ("none", "", "0", "none", "0"),
    "U-120": ("urea", "", "120", "at planting", "1"),
    "C-120": ("coated blend", "0.5", "120", "at planting", "1"),
}


KNOWN_WHEN_CHECKED = ("reports.findings", "reports.row_counts", "reports.trials", "reports.plots")


def no_estimates(warehouse, program, card, tell):
    """Estimates nothing: for runs that are to stop after loading, with empty tables of estimates."""
    return {"estimates.run_headlines": frame_of([], "run_headlines", stored=True)}, card


def runs_alone(warehouse, program, card, tell):
    """Stores that there was a run, and no estimate."""
    frames, card = no_estimates(warehouse, program, card, tell)
    return frames | {"estimates.runs": frame_of([card.as_row()], "runs", stored=True)}, card


class Stored(Mapping):
    """The reports.* tables of a warehouse's file: one is read when it is asked for, all when they are gone through."""

    def __init__(self, file: Path) -> None:
        self._file, self._written, self._read = file, file.stat().st_mtime_ns, {}
        self._is_whole = False

    def __getitem__(self, name: str) -> pd.DataFrame:
        if name not in self._read:
            with self._open() as warehouse:
                self._read[name] = warehouse.table(name)
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        if not self._is_whole:
            with self._open() as warehouse:
                names = warehouse.read(
                    "select table_name from information_schema.tables where table_schema = 'reports'"
                )["table_name"]
                self._read = {name: warehouse.table(name) for name in sorted("reports." + names)}
            self._is_whole = True
        return iter(self._read)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _open(self) -> AbstractContextManager[Warehouse]:
        assert self._file.stat().st_mtime_ns == self._written, "another run came between: take it into a dict first"
        return open_warehouse(self._file, read_only=True)


class TinyProgram:
    """The folder of a tiny program, with the verbs that tests need to spoil it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.settings_file = folder / "program.yml"

    def path(self, table: str, season: int | str = 2091) -> Path:
        """Where a table stands; `season` may go on into a delivery: "2091/east"."""
        return self.folder / "seasons" / str(season) / f"{table}.csv"

    def rows(self, table: str, season: int | str = 2091) -> list[list[str]]:
        """All rows of a file, its headings first."""
        with self.path(table, season).open(newline="", encoding="utf-8") as file:
            return list(csv.reader(file))

    def write(self, table: str, rows: list[list[str]], season: int | str = 2091) -> None:
        self.path(table, season).parent.mkdir(parents=True, exist_ok=True)
        with self.path(table, season).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)

    def change(self, table: str, row: int, column: str, value: str, season: int | str = 2091) -> None:
        rows = self.rows(table, season)
        rows[row - 1][rows[0].index(column)] = value
        self.write(table, rows, season)

    def fill(self, table: str, column: str, value: str, season: int | str = 2091) -> None:
        """Writes one value into a whole column, which is made where it is not there."""
        rows = self.rows(table, season)
        if column not in rows[0]:
            rows = [[*row, column if i == 0 else ""] for i, row in enumerate(rows)]
        at = rows[0].index(column)
        for row in rows[1:]:
            row[at] = value
        self.write(table, rows, season)

    def scatter(self, *where: int | str) -> None:
        """Gives the plots of seasons and deliveries an error: as they are, those of a treatment yield the same."""
        for season in where:
            heads, *rows = self.rows("plots", season)
            at = heads.index("harvest_weight_lb")
            for number, row in enumerate(rows):
                row[at] = f"{float(row[at]) + (7 * number % 5 - 2) / 10:.1f}"
            self.write("plots", [heads, *rows], season)

    def rename(self, table: str, old: str, new: str, season: int | str = 2091) -> None:
        rows = self.rows(table, season)
        rows[0][rows[0].index(old)] = new
        self.write(table, rows, season)

    def repeat(self, table: str, row: int, season: int | str = 2091) -> None:
        """Delivers a row once more, at the end of its file."""
        rows = self.rows(table, season)
        self.write(table, [*rows, list(rows[row - 1])], season)

    def remove(self, table: str, *rows: int, season: int | str = 2091) -> None:
        kept = [cells for number, cells in enumerate(self.rows(table, season), start=1) if number not in rows]
        self.write(table, kept, season)

    def add_delivery(self, folder: str, like: str = "2091-A-corn", season: int | str = 2091) -> None:
        """The rows of one trial once more, under the folder's name, as a delivery of its own:
        seasons/<season>/<folder>/.
        """
        for table in ("trials", "treatments", "nitrogen_applications", "plots"):
            heads, *rows = self.rows(table, season)
            at = heads.index("trial_id")
            copies = [[folder if i == at else cell for i, cell in enumerate(row)] for row in rows if row[at] == like]
            self.write(table, [heads, *copies], f"{season}/{folder}")

    def plan_season(
        self,
        season: int = 2093,
        like: str = "2092-A-corn",
        *,
        trial_id: str = "2093-A-corn",
        folder: str = "",
        **cells: str,
    ) -> None:
        """A season of one planned trial with the treatments and applications of another; no plots. folder: of its
        sender.
        """
        year = int(like[:4])
        cells = {
            "trial_id": trial_id,
            "season": str(season),
            "outcome": "planned",
            "planted": "",
            "harvested": "",
        } | cells
        for table in ("trials", "treatments", "nitrogen_applications"):
            heads, *rows = self.rows(table, year)
            mine = [dict(zip(heads, row, strict=True)) for row in rows if row[heads.index("trial_id")] == like]
            changed = [row | {name: text for name, text in cells.items() if name in row} for row in mine]
            self.write(table, [heads, *(list(row.values()) for row in changed)], f"{season}/{folder}".rstrip("/"))

    def print_difference(
        self, where: str, other: str, size: str, *, kind: str = "SED", error: str = "2.4", df: str = "12"
    ) -> None:
        """C-120 less another treatment, bu/ac over 4 blocks, as a paper prints it for the trial of a delivery
        ("2091/paper").
        """
        cells = {
            "trial_id": where.split("/")[1],
            "treatment_code": "C-120",
            "compared_with": other,
            "difference_bu_ac": size,
            "n_blocks": "4",
            "error_kind": kind,
            "error_value": error,
            "error_df": df,
            "citation": "a journal, p. 3",
        }
        self.write("printed_means", [list(cells), list(cells.values())], where)

    def append(self, table: str, season: int | str = 2091, **cells: str) -> int:
        """One more row at the end of a file, blank where nothing is given; returns its row number."""
        rows = self.rows(table, season)
        assert not set(cells) - set(rows[0]), set(cells) - set(rows[0])
        self.write(table, [*rows, [cells.get(heading, "") for heading in rows[0]]], season)
        return len(rows) + 1

    def settings(self, old: str, new: str) -> int:
        """Replaces a text in program.yml that stands there once; returns its line number."""
        text = self.settings_file.read_text(encoding="utf-8")
        assert text.count(old) == 1, old
        self.settings_file.write_text(text.replace(old, new), encoding="utf-8")
        return text[: text.index(old)].count("\n") + 1

    def load(self, estimate: run.Estimate = no_estimates) -> Mapping[str, pd.DataFrame]:
        """A run without pages, and without estimates unless they are handed in: reports.* by name, each read when it is
        asked for.
        """
        self.rebuild(estimate)
        return Stored(self.folder / "warehouse.duckdb")

    def load_and_estimate(self) -> Mapping[str, pd.DataFrame]:
        """A run without pages: reports.* by name, each read when it is asked for."""
        return self.load(run.estimate_all)

    def rebuild(
        self, estimate: run.Estimate = no_estimates, tell_checked: Callable[[Checked], None] = lambda found: None
    ) -> RunCard:
        """The same, of which nothing is read: the run as it is stored. tell_checked: called with what the checks
        say.
        """
        with open_warehouse(self._program().warehouse_file) as warehouse:
            return run.rebuild(warehouse, self._program(), "report", lambda text: None, estimate, tell_checked)

    def held(self) -> dict[str, str]:
        """Why a file is no table as it stands, by file: files are read, and no row is cast or checked."""
        with self._in_memory() as (warehouse, _, *delivered):
            store_arrivals(warehouse, *delivered, lambda text: None)
            held = warehouse.read("select file, held_because from raw.current_files where held_because is not null")
        return dict(zip(held["file"], held["held_because"], strict=True))

    @contextmanager
    def staged(self) -> Iterator[Warehouse]:
        """What is known once every cell is cast and before any is checked, in memory."""
        with self._in_memory() as (warehouse, program, files, accompanying, card):
            store_arrivals(warehouse, files, accompanying, card, lambda text: None)
            build_staging(warehouse, program, accompanying)
            yield warehouse

    @contextmanager
    def loaded(self, *, is_estimated: bool = False) -> Iterator[Warehouse]:
        """What is known once every row is checked, in memory; the warehouse's file stays as it is.

        is_estimated: with what only estimates need: rainfall classes, weather of reference years.
        """
        with self._in_memory() as (warehouse, *delivered):
            load(warehouse, *delivered, lambda text: None, is_estimated=is_estimated)
            warehouse.build(["estimates", "reports"], only=("estimates.trial_analyses", *KNOWN_WHEN_CHECKED))
            yield warehouse

    def checked(self) -> dict[str, pd.DataFrame]:
        """What reports say of the deliveries themselves, KNOWN_WHEN_CHECKED; the warehouse's file stays as it is."""
        with self.loaded() as warehouse:
            return {name: warehouse.table(name) for name in KNOWN_WHEN_CHECKED}

    @contextmanager
    def _in_memory(self) -> Iterator[tuple[Warehouse, Program, list[DeliveredFile], Accompanying, RunCard]]:
        """A warehouse in memory, and what a load is given."""
        program, files = self._program(), find_files(self.folder)
        card = start_run("report", self.settings_file)
        accompanying = read_accompanying(self.folder, [f.folder for f in files])
        with memory_of(program.warehouse_file) as warehouse:
            yield warehouse, program, files, accompanying, card

    def _program(self) -> Program:
        return read_program(self.folder)

    def contents(self) -> dict[str, str]:
        """What the warehouse holds: a hash of each raw table and of what estimates were kept; empty without a file."""
        return warehouse_contents(self.folder / "warehouse.duckdb")


def warehouse_contents(file: Path) -> dict[str, str]:
    """Rows of the tables that no run makes again, as text, whatever their order."""
    if not file.exists():
        return {}
    kept = ("raw.files", "raw.sheets", "raw.rows", "raw.notes", "estimates.runs", "estimates.run_headlines")
    with open_warehouse(file, read_only=True) as warehouse:
        known = set(
            warehouse.read("select table_schema || '.' || table_name as name from information_schema.tables")["name"]
        )
        query = (
            "select md5(coalesce(string_agg(cast(t as varchar), '|' order by cast(t as varchar)), '')) as hash from {}"
            " as t"
        )
        return {name: warehouse.read(query.format(name))["hash"][0] for name in kept if name in known}


def write_tiny_program(folder: Path) -> TinyProgram:
    """Writes the sound program into a folder."""
    tiny = TinyProgram(folder)
    folder.mkdir(parents=True, exist_ok=True)
    tiny.settings_file.write_text(SETTINGS, encoding="utf-8")
    tiny.write("sites", _sites())
    tiny.write("rain_history", _rain(range(2071, 2075)))
    for season in (2091, 2092):
        tiny.write("weather_daily", _rain([season]), season)
        tiny.write("trials", _trials(season), season)
        tiny.write("treatments", _treatments(season), season)
        tiny.write("nitrogen_applications", _applications(season), season)
        tiny.write("plots", _plots(season), season)
    return tiny


def _of(season: int) -> list[tuple]:
    return [trial for trial in TRIALS if trial[1] == season]


def _sites() -> list[list[str]]:
    return [
        ["site_id", "place", "drainage_class", "drainage_source"],
        ["Alder Bench", "Alder", "Well drained", "on-site description"],
        ["Birch Flats", "Birch", "Poorly drained", "on-site description"],
    ]


def _rain(years) -> list[list[str]]:
    days = [(place, year, day) for place in ("Alder", "Birch") for year in years for day in range(1, 6)]
    return [["place", "date", "rain_in"]] + [[p, f"{y}-05-{d:02}", f"{(y % 4 + d) / 10}"] for p, y, d in days]


def _trials(season: int) -> list[list[str]]:
    heads = [
        "trial_id",
        "season",
        "site_id",
        "crop",
        "design",
        "planted",
        "harvested",
        "row_spacing_in",
        "outcome",
        "outcome_reason",
    ]
    return [heads] + [
        [
            name,
            str(season),
            site,
            crop,
            "RCBD",
            f"{season}-05-02",
            f"{season}-10-04",
            "30" if crop == "corn" else "38",
            "harvested",
            "",
        ]
        for name, season, site, crop, _ in _of(season)
    ]


def _treatments(season: int) -> list[list[str]]:
    heads = [
        "trial_id",
        "treatment_code",
        "n_source",
        "coated_n_fraction",
        "n_rate_lb_ac",
        "timing",
        "passes",
        "placement",
        "is_zero_n",
    ]
    return [heads] + [
        [trial[0], code, *words, "none" if code == "ZERO" else "broadcast", "yes" if code == "ZERO" else "no"]
        for trial in _of(season)
        for code, words in TREATMENTS.items()
    ]


def _applications(season: int) -> list[list[str]]:
    heads = [
        "trial_id",
        "treatment_code",
        "application",
        "product",
        "product_n_pct",
        "n_rate_lb_ac",
        "placement",
        "counts_toward",
    ]
    first, second = ("urea", "46"), ("coated urea", "44")
    rows = []
    for name, *_ in _of(season):
        rows.append([name, "U-120", "at planting", *first, "120", "broadcast", "treatment"])
        rows.append([name, "C-120", "at planting urea", *first, "60", "broadcast", "treatment"])
        rows.append([name, "C-120", "at planting coated", *second, "60", "broadcast", "treatment"])
        rows.append([name, "ALL", "starter", "starter", "10", "5", "banded", "background"])
    return [heads, *rows]


def _plots(season: int) -> list[list[str]]:
    heads = ["trial_id", "block", "plot", "treatment_code", "harvest_weight_lb", "moisture_pct", "gin_turnout_fraction",
             "harvest_length_ft", "harvest_width_ft", "rows_harvested", "outcome", "cause",
             "caused_by_treatment"]  # fmt: skip
    rows = []
    for name, _, _, crop, weights in _of(season):
        moisture, turnout, length, width = ("18.2", "", "30", "5") if crop == "corn" else ("", "0.392", "40", "6.333")
        for block in (1, 2):
            for i, (code, weight) in enumerate(zip(TREATMENTS, weights, strict=True), start=1):
                cells = [f"{weight + 0.3 * block:.1f}", moisture, turnout, length, width, "2", "harvested", "", ""]
                rows.append([name, str(block), f"{block}0{i}", code, *cells])
    return [heads, *rows]
