"""What spoils a sound trial of the tiny program: one cell, row, file or layout, in the delivery that it is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zlib import crc32

from tests.tiny_program import HEADS_OF_PRINTED_MEANS, TinyProgram

HOLDS, ASIDE, NOTED = "holds the trial", "sets the row aside", "noted"
Spoil = Callable[[TinyProgram, str], None]


@dataclass(frozen=True)
class Case:
    """`spoil(tiny, where)` spoils the delivery `where`. `also` names checks that must speak as well."""

    check: str
    severity: str
    place: tuple[str, int | None, str | None]
    found: str
    spoil: Spoil
    also: tuple[str, ...] = ()
    like: str = "2091-A-corn"


def put(table: str, row: int, column: str, value: str) -> Spoil:
    return lambda tiny, where: tiny.change(table, row, column, value, where)


def all_of(*spoils: Spoil) -> Spoil:
    return lambda tiny, where: [spoil(tiny, where) for spoil in spoils] and None


def remove(table: str, *rows: int) -> Spoil:
    return lambda tiny, where: tiny.remove(table, *rows, season=where)


def add(table: str, **cells: str) -> Spoil:
    return lambda tiny, where: tiny.append(table, where, **cells) and None


def write(table: str, *rows: list[str]) -> Spoil:
    return lambda tiny, where: tiny.write(table, list(rows), where)


def day(date: str, highest: str, lowest: str) -> Spoil:
    """A dry day at Alder with its temperatures in °F."""
    heads = ["place", "date", "rain_in", "temp_max_f", "temp_min_f"]
    return write("weather_daily", heads, ["Alder", date, "0", highest, lowest])


def printed(code: str, mean: str, kind: str, value: str, alpha: str) -> Spoil:
    return lambda tiny, where: tiny.write(
        "printed_means",
        [HEADS_OF_PRINTED_MEANS, [where.split("/")[1], code, mean, "4", kind, value, alpha, "report 2091"]],
        where,
    )


def difference(other: str, size: str, kind: str = "SED") -> Spoil:
    return lambda tiny, where: tiny.print_difference(where, other, size, kind=kind)


def cultivars() -> Spoil:
    """Three cultivars in place of three N treatments, and no applications."""
    empty = ("n_source", "coated_n_fraction", "n_rate_lb_ac", "timing", "passes", "placement", "is_zero_n")
    return all_of(
        *(put("treatments", row, column, "") for row in (2, 3, 4) for column in empty),
        lambda tiny, where: tiny.fill("treatments", "factor_cultivar", "K1", where),
        put("treatments", 3, "factor_cultivar", "K2"),
        put("treatments", 4, "factor_cultivar", "K3"),
        remove("nitrogen_applications", 2, 3, 4, 5),
    )


def of_plots(column: str, *values: str) -> Spoil:
    """Values of a column in rows 2 to 7."""
    return all_of(*(put("plots", row, column, value) for row, value in enumerate(values, start=2)))


def copied_block(tiny: TinyProgram, where: str) -> None:
    """Block 2 with the treatments and weights of block 1."""
    heads, *plots = tiny.rows("plots", where)
    own = [heads.index(name) for name in ("block", "plot")]
    copied = [
        [theirs[i] if i in own else cell for i, cell in enumerate(first)] for first, theirs in zip(plots, plots[3:])
    ]
    tiny.write("plots", [heads, *plots[:3], *copied], where)


def third_block(*codes: str, more: float = 0.1) -> Spoil:
    """A block 3 with the weights of block 1 and some lb more, its treatments in this order."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads, *plots = tiny.rows("plots", where)
        for number, (code, first) in enumerate(zip(codes, plots, strict=False), start=301):
            cells = dict(zip(heads, first, strict=True)) | {"block": "3", "plot": str(number), "treatment_code": code}
            tiny.append(
                "plots", where, **cells | {"harvest_weight_lb": f"{float(cells['harvest_weight_lb']) + more:.1f}"}
            )

    return spoil


def weights(*blocks: tuple[float, float, float]) -> Spoil:
    """Blocks of their own, by the weights of ZERO, U-120 and C-120 in each, lb; all plots at one moisture."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads, *plots = tiny.rows("plots", where)
        of_code = {row[heads.index("treatment_code")]: dict(zip(heads, row, strict=True)) for row in plots[:3]}
        rows = [
            of_code[code] | {"block": str(block), "plot": f"{block}0{i}", "harvest_weight_lb": str(weight)}
            for block, weights in enumerate(blocks, start=1)
            for i, (code, weight) in enumerate(zip(("ZERO", "U-120", "C-120"), weights, strict=True), start=1)
        ]
        tiny.write("plots", [heads, *([row[heading] for heading in heads] for row in rows)], where)
        tiny.fill("plots", "moisture_pct", "18.2", where)

    return spoil


def picked(tiny: TinyProgram, where: str) -> None:
    """Each plot's weight in two picks."""
    heads, *plots = tiny.rows("plots", where)
    at = [heads.index(heading) for heading in ("trial_id", "plot", "harvest_weight_lb")]
    of_plots = [[row[i] for i in at] for row in plots]
    picks = [
        [trial, plot, str(pick), f"{float(weight) * share:.2f}"]
        for trial, plot, weight in of_plots
        for pick, share in ((1, 0.75), (2, 0.25))
    ]
    tiny.write("harvests", [["trial_id", "plot", "pick", "harvest_weight_lb"], *picks], where)
    tiny.fill("plots", "harvest_weight_lb", "", where)


def samples(n: int, design: str = "RCBD", rows: range = range(2, 8)) -> Spoil:
    """Rows of plots.csv n times over under plot numbers of their own, as samples or points of the same ground."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads, *plots = tiny.rows("plots", where)
        at = heads.index("plot")
        again = [
            [*plots[row - 2][:at], f"{plots[row - 2][at]}-{i}", *plots[row - 2][at + 1 :]]
            for row in rows
            for i in range(1, n)
        ]
        tiny.write("plots", [heads, *plots, *again], where)
        # else the cases would be one trial under several ids
        tiny.change("plots", 2, "moisture_pct", f"18.2{crc32(where.encode()) % 1000:03d}", where)
        tiny.change("trials", 2, "design", design, where)

    return spoil


def main_plots(letters: str) -> Spoil:
    """The main plot of each row in turn."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        tiny.fill("plots", "main_plot", "a", where)
        for row, letter in enumerate(letters, start=2):
            tiny.change("plots", row, "main_plot", letter, where)

    return spoil


def new_entries(*codes: str) -> Spoil:
    """Treatments with one plot each, in block 1: an augmented design."""
    urea = {"n_source": "urea", "n_rate_lb_ac": "120", "timing": "at planting", "passes": "1", "is_zero_n": "no"}
    of_plot = {
        "harvest_weight_lb": "42",
        "moisture_pct": "18.2",
        "harvest_length_ft": "30",
        "rows_harvested": "2",
        "outcome": "harvested",
    }
    return lambda tiny, where: (
        [
            tiny.append(table, where, trial_id=where.split("/")[1], treatment_code=code, **cells)
            for code in codes
            for table, cells in (
                ("treatments", urea),
                (
                    "nitrogen_applications",
                    {
                        "application": "all",
                        "product": "urea",
                        "product_n_pct": "46",
                        "n_rate_lb_ac": "120",
                        "counts_toward": "treatment",
                    },
                ),
                ("plots", of_plot | {"block": "1", "plot": code}),
            )
        ]
        and None
    )


def site(*descriptions: tuple[str, str]) -> Spoil:
    """A site of the trial's own, by (place, drainage class)."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        rows = [[where, place, drainage, "on-site description"] for place, drainage in descriptions]
        tiny.write("sites", [["site_id", "place", "drainage_class", "drainage_source"], *rows], where)
        tiny.change("trials", 2, "site_id", where, where)

    return spoil


def also_called(*rows: tuple[str, str]) -> Spoil:
    """A site at each place, called something else too; the trial lies at the first."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads = ["site_id", "place", "drainage_class", "drainage_source", "also_called"]
        sites = [
            [f"{where}{i}", place, "Well drained", "on-site description", also] for i, (place, also) in enumerate(rows)
        ]
        tiny.write("sites", [heads, *sites], where)
        tiny.change("trials", 2, "site_id", f"{where}0", where)

    return spoil


def with_units(rows: list[list[str]]) -> list[list[str]]:
    units = {"harvest_weight_lb": "lb", "moisture_pct": "%", "harvest_length_ft": "ft", "harvest_width_ft": "ft"}
    return [rows[0], [units.get(heading, "") for heading in rows[0]], *rows[1:]]


def short_row(tiny: TinyProgram, where: str) -> None:
    path = tiny.path("plots", where)
    path.write_text(path.read_text().replace(",harvested,,\n", ",harvested\n", 1))
