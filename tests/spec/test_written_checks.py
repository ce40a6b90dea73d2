"""The checks written by hand: each case is a sound trial, delivered in a folder of its own, with one thing spoiled.

All are loaded at once. Each check must speak about its own case with the severity, row, column and words written here,
and nothing else may be said of that case. In a trial's plots.csv rows 2-4 are block 1 and rows 5-7 block 2, each with
zero-N, urea and the blend.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zlib import crc32

import pytest

from pipeline.sql_steps import LAYERS, steps_of, written_checks
from tests.tiny_program import HEADS_OF_PRINTED_MEANS, TinyProgram, write_tiny_program

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


def _set(table: str, row: int, column: str, value: str) -> Spoil:
    return lambda tiny, where: tiny.change(table, row, column, value, where)


def _all(*spoils: Spoil) -> Spoil:
    return lambda tiny, where: [spoil(tiny, where) for spoil in spoils] and None


def _remove(table: str, *rows: int) -> Spoil:
    return lambda tiny, where: tiny.remove(table, *rows, season=where)


def _add(table: str, **cells: str) -> Spoil:
    return lambda tiny, where: tiny.append(table, where, **cells) and None


def _write(table: str, *rows: list[str]) -> Spoil:
    return lambda tiny, where: tiny.write(table, list(rows), where)


def _day(date: str, highest: str, lowest: str) -> Spoil:
    """A dry day at Alder with its temperatures in °F."""
    heads = ["place", "date", "rain_in", "temp_max_f", "temp_min_f"]
    return _write("weather_daily", heads, ["Alder", date, "0", highest, lowest])


def _printed(code: str, mean: str, kind: str, value: str, alpha: str) -> Spoil:
    return lambda tiny, where: tiny.write(
        "printed_means",
        [HEADS_OF_PRINTED_MEANS, [where.split("/")[1], code, mean, "4", kind, value, alpha, "report 2091"]],
        where,
    )


def _difference(other: str, size: str, kind: str = "SED") -> Spoil:
    return lambda tiny, where: tiny.print_difference(where, other, size, kind=kind)


def _cultivars() -> Spoil:
    """Three cultivars in place of three N treatments, and no applications."""
    empty = ("n_source", "coated_n_fraction", "n_rate_lb_ac", "timing", "passes", "placement", "is_zero_n")
    return _all(
        *(_set("treatments", row, column, "") for row in (2, 3, 4) for column in empty),
        lambda tiny, where: tiny.fill("treatments", "factor_cultivar", "K1", where),
        _set("treatments", 3, "factor_cultivar", "K2"),
        _set("treatments", 4, "factor_cultivar", "K3"),
        _remove("nitrogen_applications", 2, 3, 4, 5),
    )


def _plots(column: str, *values: str) -> Spoil:
    """Values of a column in rows 2 to 7."""
    return _all(*(_set("plots", row, column, value) for row, value in enumerate(values, start=2)))


def _copied_block(tiny: TinyProgram, where: str) -> None:
    """Block 2 with the treatments and weights of block 1."""
    heads, *plots = tiny.rows("plots", where)
    own = [heads.index(name) for name in ("block", "plot")]
    copied = [
        [theirs[i] if i in own else cell for i, cell in enumerate(first)] for first, theirs in zip(plots, plots[3:])
    ]
    tiny.write("plots", [heads, *plots[:3], *copied], where)


def _third_block(*codes: str, more: float = 0.1) -> Spoil:
    """A block 3 with the weights of block 1 and some lb more, its treatments in this order."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads, *plots = tiny.rows("plots", where)
        for number, (code, first) in enumerate(zip(codes, plots, strict=False), start=301):
            cells = dict(zip(heads, first, strict=True)) | {"block": "3", "plot": str(number), "treatment_code": code}
            tiny.append(
                "plots", where, **cells | {"harvest_weight_lb": f"{float(cells['harvest_weight_lb']) + more:.1f}"}
            )

    return spoil


def _weights(*blocks: tuple[float, float, float]) -> Spoil:
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


def _picked(tiny: TinyProgram, where: str) -> None:
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


def _samples(n: int, design: str = "RCBD", rows: range = range(2, 8)) -> Spoil:
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


def _main_plots(letters: str) -> Spoil:
    """The main plot of each row in turn."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        tiny.fill("plots", "main_plot", "a", where)
        for row, letter in enumerate(letters, start=2):
            tiny.change("plots", row, "main_plot", letter, where)

    return spoil


def _new_entries(*codes: str) -> Spoil:
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


def _site(*descriptions: tuple[str, str]) -> Spoil:
    """A site of the trial's own, by (place, drainage class)."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        rows = [[where, place, drainage, "on-site description"] for place, drainage in descriptions]
        tiny.write("sites", [["site_id", "place", "drainage_class", "drainage_source"], *rows], where)
        tiny.change("trials", 2, "site_id", where, where)

    return spoil


def _also_called(*rows: tuple[str, str]) -> Spoil:
    """A site at each place, called something else too; the trial lies at the first."""

    def spoil(tiny: TinyProgram, where: str) -> None:
        heads = ["site_id", "place", "drainage_class", "drainage_source", "also_called"]
        sites = [
            [f"{where}{i}", place, "Well drained", "on-site description", also] for i, (place, also) in enumerate(rows)
        ]
        tiny.write("sites", [heads, *sites], where)
        tiny.change("trials", 2, "site_id", f"{where}0", where)

    return spoil


def _with_units(rows: list[list[str]]) -> list[list[str]]:
    units = {"harvest_weight_lb": "lb", "moisture_pct": "%", "harvest_length_ft": "ft", "harvest_width_ft": "ft"}
    return [rows[0], [units.get(heading, "") for heading in rows[0]], *rows[1:]]


def _short_row(tiny: TinyProgram, where: str) -> None:
    path = tiny.path("plots", where)
    path.write_text(path.read_text().replace(",harvested,,\n", ",harvested\n", 1))


# fmt: off
CASES = {
    "code of an application mistyped": Case(
        "application of unknown treatment", ASIDE, ("nitrogen_applications", 5, "treatment_code"), "U-12",
        _set("nitrogen_applications", 5, "treatment_code", "U-12"), also=("background n differs between arms",)),
    "application of a trial nobody described": Case(
        "application of unknown treatment", ASIDE, ("nitrogen_applications", 2, "treatment_code"), "2091-Z U-120",
        _set("nitrogen_applications", 2, "trial_id", "2091-Z"), also=("applications do not add up",)),
    "pounds of urea typed as pounds of N": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 260.9 lb N/ac applied, 120.0 lb N/ac planned",
        _set("nitrogen_applications", 2, "n_rate_lb_ac", "260.9")),
    "too little N, told twice": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 100.0 lb N/ac applied, 120.0 lb N/ac planned",
        _all(_set("nitrogen_applications", 2, "n_rate_lb_ac", "100"),
             lambda tiny, where: tiny.repeat("nitrogen_applications", 2, where)), also=("row repeated",)),
    "no application of one treatment": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 0.0 lb N/ac applied, 120.0 lb N/ac planned",
        _remove("nitrogen_applications", 2)),
    "starter on all plots, counted toward the treatments": Case(
        "treatment n on all plots", HOLDS, ("nitrogen_applications", 5, "counts_toward"),
        "5.0 lb N/ac on all plots, counted toward the treatments",
        _all(_set("nitrogen_applications", 5, "counts_toward", "treatment"),
             _set("nitrogen_applications", 5, "treatment_code", "all"))),
    "background N of All": Case("", "", ("", None, None), "",
                                _set("nitrogen_applications", 5, "treatment_code", "All")),
    "starter on the urea plots alone": Case(
        "background n differs between arms", NOTED, ("nitrogen_applications", 5, "counts_toward"),
        "background N on U-120 alone",
        _set("nitrogen_applications", 5, "treatment_code", "U-120")),
    "a blend of unknown share": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend without a coated share (C-120)",
        _set("treatments", 4, "coated_n_fraction", "")),
    "urea with a coated share": Case(
        "coated share against source", HOLDS, ("treatments", 3, "coated_n"), "urea with a coated share of 0.5 (U-120)",
        _set("treatments", 3, "coated_n_fraction", "0.5")),
    "a blend coated throughout": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend with a coated share of 1.0 (C-120)", _set("treatments", 4, "coated_n_fraction", "1")),
    "a blend of no coated N": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend with a coated share of 0.0 (C-120)", _set("treatments", 4, "coated_n_fraction", "0")),
    "coated urea of which half is coated": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated urea with a coated share of 0.5 (C-120)", _set("treatments", 4, "n_source", "coated urea")),
    "shares that need no words": Case(
        "", "", ("", None, None), "",
        _all(_set("treatments", 3, "coated_n_fraction", "0"), _set("treatments", 4, "n_source", "coated urea"),
             _set("treatments", 4, "coated_n_fraction", ""))),
    "another source, half of it coated": Case("", "", ("", None, None), "", _set("treatments", 4, "n_source", "other")),
    "zero-N at a rate": Case(
        "unfertilized with a rate", HOLDS, ("treatments", 3, "is_zero_n"), "zero-N at 120.0 lb N/ac (U-120)",
        _set("treatments", 3, "is_zero_n", "yes")),
    "a plot left out": Case("block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
                            _remove("plots", 7)),
    "a plot left out of a Latin square": Case(
        "block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
        _all(_set("trials", 2, "design", "Latin square"), _remove("plots", 7))),
    "a plot left out of a split-plot": Case(
        "block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
        _all(_set("trials", 2, "design", "split-plot"), _main_plots("abbabb"), _remove("plots", 7))),
    "planted after harvest": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-10-05 to 2091-10-04",
        _set("trials", 2, "planted", "2091-10-05")),
    "planted on the day of harvest": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-10-04 to 2091-10-04",
        _set("trials", 2, "planted", "2091-10-04")),
    "harvested in another year": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-05-02 to 2093-10-04",
        _set("trials", 2, "harvested", "2093-10-04")),
    "no moisture in any plot": Case(
        "harvested trial without yields", HOLDS, ("trials", 2, "outcome"),
        "a harvested trial, but no moisture_pct in any plot",
        _all(*(_set("plots", row, "moisture_pct", "") for row in range(2, 8))),
        also=("harvested plot without yield",) * 6),
    "no moisture but in a plot that hail took": Case(
        "harvested trial without yields", HOLDS, ("trials", 2, "outcome"),
        "a harvested trial, but no moisture_pct in any plot",
        _all(*(_set("plots", row, "moisture_pct", "") for row in (2, 3, 5, 6, 7)),
             _set("plots", 4, "outcome", "damaged"), _set("plots", 4, "cause", "hail")),
        also=("harvested plot without yield",) * 5),
    "a lost trial whose plots have no moisture": Case(
        "harvested plot without yield", ASIDE, ("plots", 2, "moisture_pct"), "no moisture_pct",
        _all(_plots("moisture_pct", *[""] * 6), _set("trials", 2, "outcome", "lost"),
             _set("trials", 2, "outcome_reason", "flood")),
        also=("harvested plot without yield",) * 5),
    "no moisture": Case("harvested plot without yield", ASIDE, ("plots", 3, "moisture_pct"), "no moisture_pct",
                        _set("plots", 3, "moisture_pct", "")),
    "a moisture that is no number has its finding and no second one": Case(
        "", "", ("", None, None), "", _set("plots", 3, "moisture_pct", "18,2"),
        also=("plots.moisture is not a number like 12.5",)),
    "no moisture, and a weight that is no number": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "moisture_pct"), "no moisture_pct",
        _all(_set("plots", 3, "moisture_pct", ""), _set("plots", 3, "harvest_weight_lb", "4x4")),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "no weight below one that is no number": Case(
        "harvested plot without yield", ASIDE, ("plots", 4, "harvest_weight"), "no harvest_weight",
        _all(_set("plots", 3, "harvest_weight_lb", "4x4"), _set("plots", 4, "harvest_weight_lb", "")),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "a weight that is no number has its finding and no second one": Case(
        "", "", ("", None, None), "", _set("plots", 3, "harvest_weight_lb", "4x4"),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "no turnout and no length": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "gin_turnout"), "no gin_turnout, no harvest_length",
        _all(_set("plots", 3, "gin_turnout_fraction", ""), _set("plots", 3, "harvest_length_ft", "")),
        like="2091-B-cotton"),
    "killed by its treatment, no yield given": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "harvest_weight"), "no harvest_weight",
        _all(_set("plots", 3, "harvest_weight_lb", ""), _set("plots", 3, "outcome", "lost"),
             _set("plots", 3, "cause", "seed burnt by the N"),
             _set("plots", 3, "caused_by_treatment", "yes"))),
    "bushels of lint": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "harvest_weight"), "no harvest_weight",
        _all(lambda tiny, where: tiny.fill("plots", "yield_bu_ac", "", where), _set("plots", 3, "yield_bu_ac", "40"),
             _set("plots", 3, "harvest_weight_lb", "")), like="2091-B-cotton"),
    "weighed in kg under a heading in lb": Case(
        "kilograms under pounds", NOTED, ("plots", 3, "harvest_weight"),
        "a trial mean of 0.45 times the median corn trial",
        _plots("harvest_weight_lb", "10.1", "18.7", "19.5", "10.3", "18.9", "19.6")),
    "lost, nobody says why": Case("lost plot without cause", NOTED, ("plots", 3, "cause"), "lost without a cause",
                                  _set("plots", 3, "outcome", "lost")),
    "lost trial, nobody says why": Case(
        "lost trial without cause", NOTED, ("trials", 2, "outcome_reason"), "lost without a cause",
        _all(_remove("plots", 2, 3, 4, 5, 6, 7), _set("trials", 2, "outcome", "lost"))),
    "a row shorter than the headings": Case("noticed while reading", NOTED, ("plots", 2, None), "row 2", _short_row),
    "plot of a trial nobody described": Case(
        "plot of unknown trial", ASIDE, ("plots", 8, "trial_id"), "2091-Z",
        _add("plots", trial_id="2091-Z", block="1", plot="1", treatment_code="U-120", outcome="harvested")),
    "code of a plot mistyped": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C50-120",
        _set("plots", 4, "treatment_code", "C50-120"), also=("block lacks treatment",)),
    "the same code mistyped in a second trial": Case(
        "plot with unknown treatment", HOLDS, ("plots", 7, "treatment_code"), "C50-120",
        _set("plots", 7, "treatment_code", "C50-120"), also=("block lacks treatment",)),
    "a code of another treatment than those beside it": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "UB-120 (2 plots)",
        _all(_set("plots", 4, "treatment_code", "UB-120"), _set("plots", 7, "treatment_code", "UB-120")),
        also=("block lacks treatment",) * 2),
    "a block that was copied": Case(
        "block repeats another", NOTED, ("plots", 5, "block"), "block 2 has the weights of block 1 in all 3 plots",
        _copied_block),
    "a copied block of a trial picked twice": Case(
        "block repeats another", NOTED, ("plots", 5, "block"), "block 2 has the weights of block 1 in all 3 plots",
        _all(_copied_block, _picked), like="2091-B-cotton"),
    "a copied block among four": Case(
        "block repeats another", NOTED, ("plots", 11, "block"), "block 4 has the weights of block 2 in all 3 plots",
        _weights((22.1, 41.3, 42.9), (20.4, 39.1, 43.3), (23.2, 42.8, 41.7), (20.4, 39.1, 43.3))),
    "whole pounds that agree by chance": Case("", "", ("", None, None), "", _weights(
        (22, 41, 43), (20, 40, 43), (22, 42, 42), (22, 41, 43))),
    "zero-N lowest by little but in one block": Case("", "", ("", None, None), "", _weights(
        (38.1, 40.9, 42.9), (39.4, 40.1, 43.3), (41.9, 40.7, 41.7))),
    "zero-N and urea swapped in one of three blocks": Case(
        "unfertilized plot out of line", NOTED, ("plots", 9, "treatment_code"),
        "bu/ac in block 3, where the lowest fertilized plot is 301 (U-120) with 112.4",
        _third_block("U-120", "ZERO", "C-120")),
    "zero-N out of line in two of four blocks": Case("", "", ("", None, None), "", _weights(
        (22.1, 41.3, 42.9), (22.4, 42.1, 43.3), (41.9, 22.3, 41.7), (42.2, 22.6, 43.1))),
    "a fertilized plot far below the others and zero-N": Case("", "", ("", None, None), "", _weights(
        (22.1, 41.3, 42.9), (22.4, 42.1, 43.3), (30.2, 26.3, 43.1))),
    "three blocks as planted": Case("", "", ("", None, None), "", _third_block("ZERO", "U-120", "C-120", more=0.2)),
    "three blocks under another id": Case(
        "trial repeats another", HOLDS, ("plots", 2, "trial_id"),
        "all 9 weights of trial three blocks under another id are those of trial three blocks as planted, row by row",
        _third_block("ZERO", "U-120", "C-120", more=0.2)),
    "three blocks weighed twice, one plot otherwise": Case("", "", ("", None, None), "", _all(
        _third_block("ZERO", "U-120", "C-120", more=0.2), _set("plots", 7, "harvest_weight_lb", "43.3"))),
    "two blocks with the same weights in other treatments": Case(
        "", "", ("", None, None), "", _all(_copied_block, _set("plots", 5, "treatment_code", "U-120"),
                                           _set("plots", 6, "treatment_code", "ZERO"))),
    "other N than its product holds": Case(
        "product against n rate", HOLDS, ("nitrogen_applications", 2, "n_rate, product_rate"),
        "120.0 lb N/ac given, 115.0 lb N/ac in the product",
        _all(lambda tiny, where: tiny.fill("nitrogen_applications", "product_rate_lb_ac", "", where),
             _set("nitrogen_applications", 2, "product_rate_lb_ac", "250"),
             _set("nitrogen_applications", 3, "product_rate_lb_ac", "130.4"))),
    "2 % less N than its product holds": Case(
        "", "", ("", None, None), "",
        _all(*(lambda tiny, where, column=column, value=value: tiny.fill("nitrogen_applications", column, value, where)
               for column, value in (("product_rate_lb_ac", ""), ("product_n_pct", "40"))),
             _set("nitrogen_applications", 2, "product_rate_lb_ac", "294"))),
    "2.2 % less N than its product holds": Case(
        "product against n rate", HOLDS, ("nitrogen_applications", 2, "n_rate, product_rate"),
        "120.0 lb N/ac given, 117.4 lb N/ac in the product",
        _all(*(lambda tiny, where, column=column, value=value: tiny.fill("nitrogen_applications", column, value, where)
               for column, value in (("product_rate_lb_ac", ""), ("product_n_pct", "40"))),
             _set("nitrogen_applications", 2, "product_rate_lb_ac", "293.5"))),
    "a code written in words": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C 120 planting (2 plots)",
        _all(_set("plots", 4, "treatment_code", "C 120 planting"),
             _set("plots", 7, "treatment_code", "C 120 planting")),
        also=("block lacks treatment",) * 2),
    "two of six plots without a block": Case(
        "many plots not read", HOLDS, ("plots", 2, None),
        "2 of 6 plots are set aside because their cells cannot be read",
        _all(_set("plots", 2, "block", ""), _set("plots", 5, "block", "")),
        also=("plots.block is empty",) * 2 + ("block lacks treatment",) * 2),
    "two of eight plots without a block": Case(
        "", "", ("plots", 2, None), "",
        _all(_third_block("ZERO", "U-120"), _set("plots", 2, "block", ""), _set("plots", 5, "block", "")),
        also=("plots.block is empty",) * 2 + ("block lacks treatment",) * 3),
    "one of six plots without a block": Case(
        "", "", ("plots", 2, None), "", _set("plots", 2, "block", ""),
        also=("plots.block is empty", "block lacks treatment")),
    "two of eight plots without a block, one of them told twice": Case(
        "row repeated", ASIDE, ("plots", 10, None),
        "says the same as seasons/2091/two of eight plots without a block, one of them told twice/plots.csv row 2",
        _all(_third_block("ZERO", "U-120"), _set("plots", 2, "block", ""), _set("plots", 5, "block", ""),
             lambda tiny, where: tiny.repeat("plots", 2, where)),
        also=("plots.block is empty",) * 3 + ("block lacks treatment",) * 3),
    "a file delivered twice": Case(
        "file delivered twice", NOTED, ("plots", 2, None),
        "6 rows say the same as seasons/2091/a file delivered twice/copy/plots.csv; the two files are the same",
        lambda tiny, where: tiny.write("plots", tiny.rows("plots", where), f"{where}/copy")),
    "a site in other letters": Case("trial at unknown site", HOLDS, ("trials", 2, "site_id"), "alder-bench",
                                    _set("trials", 2, "site_id", "alder-bench")),
    "a mean under the rows": Case(
        "row is a total or footnote", ASIDE, ("plots", 8, None), "Mean",
        _add("plots", trial_id="Mean", harvest_weight_lb="41.2")),
    "the headings again": Case(
        "row repeats the headings", ASIDE, ("plots", 8, None), "trial_id ...",
        lambda tiny, where: tiny.repeat("plots", 1, where)),
    "a title": Case(
        "row above the headings", ASIDE, ("plots", 1, None), "Harvest of the season",
        lambda tiny, where: tiny.write("plots", [["Harvest of the season"], *tiny.rows("plots", where)], where)),
    "units beneath the headings": Case(
        "layout noticed", NOTED, ("plots", 2, None), "lb | % | ft | ft",
        lambda tiny, where: tiny.write("plots", _with_units(tiny.rows("plots", where)), where)),
    "a row delivered twice": Case(
        "row repeated", ASIDE, ("plots", 8, None),
        "a row that says the same as seasons/2091/a row delivered twice/plots.csv row 4",
        lambda tiny, where: tiny.repeat("plots", 4, where)),
    "an application delivered twice": Case(
        "row repeated", ASIDE, ("nitrogen_applications", 6, None),
        "a row that says the same as seasons/2091/an application delivered twice/nitrogen_applications.csv row 2",
        lambda tiny, where: tiny.repeat("nitrogen_applications", 2, where)),
    "no rain gauge": Case("season without weather", NOTED, ("trials", 2, "site_id"), "5 of 5 days without rain data",
                          _site(("Cedar", "Well drained")), also=("place without rain history",)),
    "no rain of earlier years": Case(
        "place without rain history", NOTED, ("trials", 2, "site_id"), "rain of 0 years from 2071 to 2074 at Dogwood",
        _all(_site(("Dogwood", "Well drained")),
             _write("weather_daily", ["place", "date", "rain_in"],
                    *(["Dogwood", f"2091-05-0{day}", "0.4"] for day in range(1, 6))))),
    "rain of just enough earlier years": Case(
        "", "", ("", None, None), "",
        _all(_site(("Elm", "Well drained")),
             *(_write(table, ["place", "date", "rain_in"],
                      *(["Elm", f"{year}-05-0{day}", "0.4"] for year in years for day in range(1, 6)))
               for table, years in (("weather_daily", (2091,)), ("rain_history", (2071, 2072, 2073)))))),
    "one site, two drainage classes": Case(
        "site described differently", HOLDS, ("sites", 3, "place, drainage_class"), "Alder, poorly drained",
        _site(("Alder", "well drained"), ("Alder", "Poorly drained")),
        also=("site described differently", "sites has two rows for one key")),
    "nobody looked up the soil": Case(
        "site without drainage class", NOTED, ("sites", 2, "drainage_class"), "(empty)", _site(("Alder", ""))),
    "main plots not named": Case(
        "split plot without main plots", HOLDS, ("plots", 2, "main_plot"), "(empty)",
        _set("trials", 2, "design", "split-plot"), also=("split plot without main plots",) * 5),
    "treatment of a trial nobody described": Case(
        "treatment of unknown trial", ASIDE, ("treatments", 5, "trial_id"), "2091-Y",
        _add("treatments", trial_id="2091-Y", treatment_code="X", n_source="urea", n_rate_lb_ac="80", timing="split",
             passes="2")),
    "two codes swapped": Case(
        "treatment twice in block", NOTED, ("plots", 4, "treatment_code"), "C-120 in plots 102, 103 of block 1",
        _all(_set("plots", 3, "treatment_code", "C-120"), _set("plots", 7, "treatment_code", "U-120")),
        also=("treatment twice in block", "block lacks treatment", "block lacks treatment")),
    "site nobody described": Case("trial at unknown site", HOLDS, ("trials", 2, "site_id"), "Elder Bench",
                                  _set("trials", 2, "site_id", "Elder Bench")),
    "season of the row is not that of the folder": Case(
        "trial filed under another season", HOLDS, ("trials", 2, "season"), "2090", _set("trials", 2, "season", "2090"),
        also=("season without weather",)),
    "no applications": Case("trial without applications", NOTED, ("trials", 2, "trial_id"),
                            "no application of no applications", _remove("nitrogen_applications", 2, 3, 4, 5)),
    "a lost trial without applications": Case(
        "", "", ("", None, None), "",
        _all(_remove("nitrogen_applications", 2, 3, 4, 5), _set("trials", 2, "outcome", "lost"),
             _set("trials", 2, "outcome_reason", "flood"))),
    "no plots": Case("trial without plots", HOLDS, ("trials", 2, "outcome"), "a harvested trial without plots",
                     _remove("plots", 2, 3, 4, 5, 6, 7)),
    "no treatments": Case(
        "trial without plots", HOLDS, ("trials", 2, "outcome"), "a harvested trial without treatments",
        _remove("treatments", 2, 3, 4),
        also=("plot with unknown treatment",) * 3 + ("application of unknown treatment",) * 4),
    "a column of theirs": Case(
        "unknown column", NOTED, ("plots", 1, "Lodging pct"), "Lodging pct", lambda tiny,
        where: tiny.fill("plots", "Lodging pct", "5", where)),
    "a column of another table": Case(
        "unknown column", NOTED, ("plots", 1, "latitude"), "latitude",
        lambda tiny, where: tiny.fill("plots", "latitude", "35", where)),
    "width 3.1 % off": Case("width against rows", HOLDS, ("plots", 4, "harvest_width"), "4.84 ft wide",
                            _set("plots", 4, "harvest_width_ft", "4.845")),
    "6 ft from 2 rows at 30 in": Case("width against rows", HOLDS, ("plots", 4, "harvest_width"), "6.0 ft wide",
                                      _set("plots", 4, "harvest_width_ft", "6")),
    "more than corn can yield": Case("yield beyond reach", NOTED, ("plots", 3, "yield"), "410.6 bu/ac",
                                     _set("plots", 3, "harvest_weight_lb", "81.8")),
    "much for corn": Case("yield unusual", NOTED, ("plots", 3, "yield"), "301.2 bu/ac",
                          _set("plots", 3, "harvest_weight_lb", "60")),
    "little for corn": Case("yield unusual", NOTED, ("plots", 3, "yield"), "50.2 bu/ac",
                            _set("plots", 3, "harvest_weight_lb", "10")),
    "zero-N yields most": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 112% of the fertilized mean",
        _all(_set("plots", 2, "harvest_weight_lb", "47"), _set("plots", 5, "harvest_weight_lb", "47.3"))),
    "zero-N yields more, just beyond its error": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 105% of the fertilized mean", _weights((43.4, 42.6, 43.2), (46.8, 42.7, 43.1))),
    "the only zero-N plot yields most": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 111% of the fertilized mean",
        _all(_set("plots", 2, "harvest_weight_lb", "47"), _set("plots", 5, "outcome", "lost"),
             _set("plots", 5, "cause", "deer"))),
    "zero-N yields more, within its error": Case(
        "", "", ("", None, None), "", _weights((41.1, 41.3, 42.9), (45.2, 41.7, 42.6))),
    "zero-N yields most in soybean": Case(
        "", "", ("", None, None), "",
        _all(_plots("harvest_weight_lb", "12.3", "11.2", "11.4", "12.5", "11.1", "11.3"),
             _plots("moisture_pct", *["12.2"] * 6), _set("trials", 2, "crop", "soybean"))),
    "zero-N yields most where plots were damaged": Case(
        "", "", ("", None, None), "",
        _all(*(_set("plots", row, column, value) for row in (2, 5)
               for column, value in (("harvest_weight_lb", "47"), ("outcome", "damaged"),
                                     ("cause", "weighed with its neighbor"))))),
    "too much for corn, in plots that are set aside": Case(
        "", "", ("", None, None), "",
        _all(*(_set("plots", row, column, value) for row, weight in ((3, "81.8"), (4, "60"))
               for column, value in (("harvest_weight_lb", weight), ("outcome", "damaged"),
                                     ("cause", "weighed with its neighbor"))))),
    "weights of 0 but on zero-N": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"), "a fertilized mean of 0",
        _plots("harvest_weight_lb", "22.0", "0", "0", "22.2", "0", "0"), also=("yield unusual",) * 4),
    "a place called like another": Case(
        "name of two places", NOTED, ("sites", 2, "also_called"),
        '"Birch" as another name of Alder, and as the name of a place in seasons/2091/sites.csv row 3',
        _also_called(("Alder", "Birch; birk"))),
    "two places called alike": Case(
        "name of two places", NOTED, ("sites", 3, "also_called"),
        '"station 7" as another name of Birch, and of Alder in seasons/2091/two places called alike/sites.csv row 2',
        _also_called(("Alder", "Station 7"), ("Birch", "station 7"))),
    "a place in small letters": Case(
        "name of two places", NOTED, ("sites", 2, "place"),
        '"alder" here and "Alder" in seasons/2091/a place called like another/sites.csv row 2',
        _also_called(("alder", ""))),
    "rain of a place nobody knows": Case(
        "weather of unknown place", NOTED, ("weather_daily", 2, "place"), "Elsewhere (1 day)",
        _write("weather_daily", ["place", "date", "rain_in"], ["Elsewhere", "2091-05-01", "0.2"])),
    "rain history of a place nobody knows": Case(
        "weather of unknown place", NOTED, ("rain_history", 2, "place"), "Nowhere (2 days)",
        _write("rain_history", ["place", "date", "rain_in"], ["Nowhere", "2071-05-01", "0.2"],
               ["Nowhere", "2071-05-02", "0"])),
    "a day as warm at night": Case(
        "", "", ("", None, None), "", _day("2091-07-03", "70", "70")),
    "a lowest above the highest": Case(
        "minimum above maximum", NOTED, ("weather_daily", 2, "temp_min"),
        "Alder on 2091-07-01: lowest 80 °F (26.7 °C), highest 70 °F (21.1 °C)",
        _day("2091-07-01", "70", "80")),
    "a temperature with its point lost": Case(
        "minimum above maximum", NOTED, ("weather_daily", 2, "temp_min"),
        "lowest 5e+12 °F (2777777777760.0 °C), highest 70 °F (21.1 °C)",
        _day("2091-07-02", "70", "5000000000000"),
        also=("weather_daily.temp_min outside its hard range",)),
    "water for no trial": Case(
        "irrigation of unknown trial", ASIDE, ("irrigations", 2, "trial_id"), "2091-X-corn",
        _write("irrigations", ["trial_id", "date", "irrigation_in"], ["2091-X-corn", "2091-07-01", "1"])),
    "water for the trial": Case(
        "", "", ("", None, None), "",
        _write("irrigations", ["trial_id", "date", "irrigation_in"], ["water for the trial", "2091-07-01", "1"])),
    "a plot without its second pick": Case(
        "pick missing", HOLDS, ("plots", 4, "plot"), "no pick 2 of plot 103 in harvests",
        _all(_picked, _remove("harvests", 7)), like="2091-B-cotton"),
    "a plot weighed whole beside others in picks": Case("", "", ("", None, None), "", _all(
        _picked, _remove("harvests", 6, 7), _set("plots", 4, "harvest_weight_lb", "17.6")), like="2091-B-cotton"),
    "hail between the picks": Case("", "", ("", None, None), "", _all(
        _picked, _remove("harvests", 7), _set("plots", 4, "outcome", "damaged"), _set("plots", 4, "cause", "hail")),
        like="2091-B-cotton"),
    "a pick of a plot of another trial": Case(  # plot A stands in "new entries among checks that stand twice"
        "pick of unknown plot", ASIDE, ("harvests", 2, "plot"), "a pick of a plot of another trial plot A",
        _write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a pick of a plot of another trial", "A", "1", "9"]), like="2091-B-cotton"),
    "a pick of no plot": Case(
        "pick of unknown plot", ASIDE, ("harvests", 2, "plot"), "a pick of no plot plot 999",
        _write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"], ["a pick of no plot", "999", "1", "9"]),
        like="2091-B-cotton"),
    "a weight and picks that differ": Case(
        "weight beside picks", HOLDS, ("plots", 2, "harvest_weight"), "9.3 lb here, 8.0 lb in 2 picks",
        _write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a weight and picks that differ", "101", "1", "5"],
               ["a weight and picks that differ", "101", "2", "3"]), like="2091-B-cotton"),
    "a weight and picks 0.5 % apart": Case("", "", ("", None, None), "", _write(
        "harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
        ["a weight and picks 0.5 % apart", "101", "1", "5"],
        ["a weight and picks 0.5 % apart", "101", "2", "4.25"]), like="2091-B-cotton"),
    "a plot weighed whole, and one of its two picks": Case(
        "weight beside picks", HOLDS, ("plots", 4, "harvest_weight"), "17.6 lb here, 13.42 lb in 1 pick",
        _all(_picked, _remove("harvests", 7), _set("plots", 4, "harvest_weight_lb", "17.6")), like="2091-B-cotton"),
    "a weight and picks 1.1 % apart": Case(
        "weight beside picks", HOLDS, ("plots", 2, "harvest_weight"), "9.3 lb here, 9.2 lb in 2 picks",
        _write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a weight and picks 1.1 % apart", "101", "1", "5"],
               ["a weight and picks 1.1 % apart", "101", "2", "4.2"]), like="2091-B-cotton"),
    "a measurement of a plot of another trial": Case(
        "measurement of unknown plot", ASIDE, ("measurements", 2, "plot"),
        "a measurement of a plot of another trial plot A",
        _write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["a measurement of a plot of another trial", "A", "plant height", "41", "in"])),
    "heights beside a sound one": Case(
        "measurement in strange unit", ASIDE, ("measurements", 3, "value, unit"), "200.0 in",
        _write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               *(["heights beside a sound one", plot, "plant height", value, unit] for plot, value, unit in (
                   ("101", "41", "in"), ("102", "200", "in"), ("103", "-1", "cm"), ("201", "41", "furlong"),
                   ("202", "", "pct")))),
        also=("measurement in strange unit", "measurements.unit is not a known word", "measurements.value is empty")),
    "height in percent": Case(
        "measurement in strange unit", ASIDE, ("measurements", 2, "value, unit"), "41.0 pct",
        _write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["height in percent", "101", "plant height", "41", "pct"])),
    "a printed mean of no treatment": Case(
        "printed mean of unknown treatment", HOLDS, ("printed_means", 2, "treatment_code"),
        "a printed mean of no treatment X",
        _printed("X", "171", "SED", "5", "")),
    "a printed LSD without its level": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_value"), "LSD without its level",
        _printed("U-120", "171", "LSD", "14.2", "")),
    "a printed table without its means": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "mean_yield"), "no mean",
        _printed("U-120", "", "none", "", "")),
    "a difference from nothing": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "compared_with"),
        "a difference, but not from which treatment", _difference("", "7.1")),
    "a comparison without its difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "difference"), "no difference from U-120",
        _difference("U-120", "")),
    "a difference from a code mistyped": Case(
        "printed mean of unknown treatment", HOLDS, ("printed_means", 2, "compared_with"),
        "a difference from a code mistyped U-12", _difference("U-12", "7.1")),
    "a CV of a difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_kind"), "CV of a difference",
        _difference("U-120", "7.1", "CV")),
    "a printed mean beside a difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "mean_yield"), "a mean beside a difference",
        _all(_difference("U-120", "7.1"),
             lambda tiny, where: tiny.fill("printed_means", "mean_yield_bu_ac", "171", where))),
    "a printed difference from itself": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "compared_with"), "a difference from itself",
        _difference("C-120", "7.1")),
    "a printed error without its value": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_value"), "SED without a value",
        _printed("U-120", "171", "SED", "", "")),
    "a printed mean with its LSD": Case(
        "", "", ("", None, None), "", _printed("U-120", "171", "LSD", "14.2", "0.05")),
    "a printed mean with its CV": Case("", "", ("", None, None), "", _printed("U-120", "171", "CV", "8", "")),
    "a printed mean in pounds and without an error": Case(
        "", "", ("", None, None), "",
        _all(_printed("U-120", "9500", "none", "", ""),
             lambda tiny, where: tiny.rename("printed_means", "mean_yield_bu_ac", "mean_yield_lb_ac", where))),
    "a printed loss": Case("", "", ("", None, None), "", _difference("U-120", "-7.1")),
    "cultivars, and nothing said of nitrogen": Case("", "", ("", None, None), "", _cultivars()),
    "no nitrogen said, and no factor either": Case(
        "", "", ("", None, None), "", _all(_cultivars(), _set("treatments", 3, "factor_cultivar", "")),
        also=tuple(f"treatments.{column} is empty" for column in ("n_source", "n_rate", "timing", "passes"))),
    "an N source alone": Case(
        "nitrogen told of some treatments", HOLDS, ("treatments", 3, "n_source"), "no nitrogen stated for U-120",
        _all(_cultivars(), _set("treatments", 2, "n_source", "urea")),
        also=("nitrogen told of some treatments", *(f"treatments.{column} is empty" for column in ("n_rate", "timing",
                                                                                                   "passes")))),
    "the plots of last year": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of 2090-A-corn, a trial that was not delivered",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "2090-A-corn", where)),
    "the plots of the trial itself": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of the plots of the trial itself, the trial itself",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "the plots of the trial itself", where)),
    "the plots of another trial of the season": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of 2091-B-cotton, a trial of 2091",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "2091-B-cotton", where)),
    "planted and not heard of since": Case(
        "trial not harvested yet", NOTED, ("trials", 2, "outcome"), "planted, no due date",
        _all(_remove("plots", 2, 3, 4, 5, 6, 7), _set("trials", 2, "outcome", "planted"))),
    "a code with a zero-width space": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C-120[unseen character]",
        _set("plots", 4, "treatment_code", "C-120\u200b"), also=("block lacks treatment", "noticed while reading")),
    "points of a yield monitor": Case(
        "yield from monitor", HOLDS, ("plots", 2, "weighing"), "yield monitor (6 rows)",
        lambda tiny, where: tiny.fill("plots", "weighing", "yield monitor", where)),
    "a measurement of no plot": Case(
        "measurement of unknown plot", ASIDE, ("measurements", 2, "plot"), "a measurement of no plot plot 999",
        _write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["a measurement of no plot", "999", "plant height", "41", "in"])),
    "incorporated in no-till": Case(
        "words that do not go together", NOTED, ("treatments", 3, "placement"),
        "tillage No till with placement broadcast incorporated (U-120, C-120)",
        _all(lambda tiny, where: tiny.fill("trials", "tillage", "No till", where),
             *(_set("treatments", row, "placement", "broadcast incorporated") for row in (3, 4)))),
    "incorporated into standing corn": Case(
        "words that do not go together", NOTED, ("nitrogen_applications", 2, "placement"),
        "applied three weeks or more after planting with placement broadcast incorporated (U-120 2091-05-23 urea)",
        _all(_set("nitrogen_applications", 2, "application", "2091-05-23 urea"),
             _set("nitrogen_applications", 2, "placement", "broadcast incorporated"))),
    "split in one pass": Case(
        "words that do not go together", NOTED, ("treatments", 3, "passes"), "timing split with passes 1 (U-120)",
        _set("treatments", 3, "timing", "split")),
    "N given at no time": Case(
        "words that do not go together", NOTED, ("treatments", 3, "timing"),
        "N rate above zero with timing none (U-120)", _set("treatments", 3, "timing", "none")),
    "incorporated before planting, and in tilled soil": Case(
        "", "", ("", None, None), "",
        _all(lambda tiny, where: tiny.fill("trials", "tillage", "chisel", where),
             _set("treatments", 3, "placement", "broadcast incorporated"),
             _set("nitrogen_applications", 2, "application", "2091-05-22 urea"),
             _set("nitrogen_applications", 2, "placement", "broadcast incorporated"))),
    "points along strips as an RCBD": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 12 times in block 1, U-120 12 times in block 1, C-120 12 times in block 1 and 3 more like these",
        _samples(12)),
    "two trials under one id": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 2 times in block 1, U-120 2 times in block 1, C-120 2 times in block 1 and 3 more like these",
        _samples(2)),
    "two places under one id, as incomplete blocks": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"), "and 3 more like these",
        _samples(2, "incomplete block")),
    "every block called 1": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 2 times in block 1, U-120 2 times in block 1, C-120 2 times in block 1", _plots("block", *"111111")),
    "main plots that the codes do not tell": Case(
        "more plots than the design has", HOLDS, ("plots", 3, "block"),
        "U-120 2 times in block 1, C-120 2 times in block 1, U-120 2 times in block 2 and 1 more like these",
        _all(_samples(2, "split-plot"), _main_plots("aabaabbbabba"))),
    "points over a field without blocks": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"), "ZERO 32 times, U-120 32 times, C-120 32 times",
        _samples(16, "CRD")),
    "a check twice in each block": Case(
        "treatment twice in block", NOTED, ("plots", 8, "treatment_code"), "U-120 in plots 102, 102-1 of block 1",
        _samples(2, rows=range(3, 7, 3)), also=("treatment twice in block",)),
    "a check five times in a block": Case(
        "treatment twice in block", NOTED, ("plots", 11, "treatment_code"),
        "U-120 in plots 102, 102-1, 102-2 and 2 more of block 1",
        _samples(5, rows=range(3, 4))),
    "15 plots of each treatment without blocks": Case("", "", ("", None, None), "", _samples(15, "CRD")),
    "points along strips": Case("", "", ("", None, None), "", _samples(16, "strips")),
    "new entries among checks that stand twice": Case(
        "", "", ("", None, None), "", _all(_samples(2, "incomplete block"), _new_entries(*"ABCDEFGHIJ"))),
    "a Latin square": Case("", "", ("", None, None), "", _set("trials", 2, "design", "Latin square")),
    "main plots called alike in every block": Case(
        "", "", ("", None, None), "", _all(_set("trials", 2, "design", "split-plot"), _main_plots("abbabb"))),
    # silent: just inside a limit, or delivered another way that is as good
    "width 2.9 % off": Case("", "", ("", None, None), "", _set("plots", 4, "harvest_width_ft", "4.856")),
    "no width, but rows and row spacing": Case("", "", ("", None, None), "", _set("plots", 4, "harvest_width_ft", "")),
    "no rows, but a width": Case("", "", ("", None, None), "", _set("plots", 4, "rows_harvested", "")),
    "hail": Case("", "", ("", None, None), "",
                 _all(_set("plots", 4, "outcome", "damaged"), _set("plots", 4, "cause", "hail"),
                      _set("plots", 4, "harvest_weight_lb", ""))),
    "killed by its treatment, yield zero": Case(
        "yield unusual", NOTED, ("plots", 3, "yield"), "0.0 bu/ac",
        _all(_set("plots", 3, "harvest_weight_lb", "0"), _set("plots", 3, "outcome", "lost"),
             _set("plots", 3, "cause", "seed burnt by the N"),
             _set("plots", 3, "caused_by_treatment", "yes"))),
    "a plot without its number stands in its block all the same": Case(
        "", "", ("", None, None), "", _set("plots", 4, "plot", ""), also=("plots.plot is empty",)),
    "harvested in the January after": Case("", "", ("", None, None), "", _set("trials", 2, "harvested", "2092-01-08"),
                                           like="2091-B-cotton"),
    "lost trial without plots": Case(
        "", "", ("", None, None), "",
        _all(_remove("plots", 2, 3, 4, 5, 6, 7), _set("trials", 2, "outcome", "lost"),
             _set("trials", 2, "outcome_reason", "flood"))),
    "a random layout without blocks": Case("", "", ("", None, None), "",
                                           _all(_set("trials", 2, "design", "CRD"), _plots("block", *"111111"))),
    "a sound trial": Case("", "", ("", None, None), "", _all()),
}
# fmt: on


# what the reader of a file noticed is a sentence: nothing else was expected
SENTENCES = {
    "layout noticed",
    "noticed while reading",
    "row is a total or footnote",
    "row repeats the headings",
    "row above the headings",
}
# these speak of a whole season folder (test_corrections_and_manifest.py) or of program.yml (test_settings_checks.py)
IN_THEIR_OWN_FILE = {
    "correction no longer matches",
    "file changed since received",
    "file not read",
    "file read otherwise",
    "asked of no trial",
    "crop without rainfall window",
    "fixed after harvest",
    "later delivery lacks plots",
    "seasons against latitude",
    "weather not known",
}
WRITTEN = {check.name for check, _ in written_checks()}


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """All cases, checked."""
    tiny = write_tiny_program(tmp_path_factory.mktemp("written") / "program")
    for name, case in CASES.items():
        tiny.add_delivery(name, like=case.like)
        case.spoil(tiny, f"2091/{name}")
    with tiny.loaded() as warehouse:
        yield warehouse


@pytest.fixture(scope="module")
def findings(loaded):
    return loaded.table("reports.findings")


def _about(findings, name: str):
    return findings[findings["file"].str.startswith(f"seasons/2091/{name}/")]


@pytest.mark.parametrize("name", CASES)
def test_each_spoiled_trial_gets_its_own_findings_and_no_others(findings, name):
    case, about = CASES[name], _about(findings, name)
    expected = sorted([*case.also, *([case.check] if case.check else [])])
    assert sorted(about["check_name"]) == expected


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.check])
def test_a_finding_names_its_place_and_says_what_to_do(findings, name):
    case, (table, row_number, column) = CASES[name], CASES[name].place
    about = _about(findings, name)
    (finding,) = about[(about["check_name"] == case.check) & (about["row_number"] == row_number)].itertuples()
    assert finding.file == f"seasons/2091/{name}/{table}.csv"
    assert (finding.severity, finding.table_name, finding.column_name) == (case.severity, table, column)
    assert finding.found.endswith(case.found)
    assert finding.mend and (finding.expected or finding.check_name in SENTENCES)


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        (
            "pounds of urea typed as pounds of N",
            "looks like the weight of the product (46.0% N) typed as the weight of its N",
        ),
        (
            "a code written in words",
            (
                'nearest known code: "C-120"; or put into headings.yml: words: {plots: {treatment_code: {"C'
                ' 120 planting": "C-120"}}}'
            ),
        ),
        (  # U-120 looks more like it, and has its own plot in each of these blocks
            "a code of another treatment than those beside it",
            'add the treatment, or correct the code; nearest known code: "C-120"',
        ),
        (
            "a site in other letters",
            (
                'nearest known site: "Alder Bench"; correct the name, or put into headings.yml: words: {trials:'
                ' {site_id: {"alder-bench": "Alder Bench"}}}'
            ),
        ),
        ("site nobody described", "add the site to sites, or correct its name"),
        ("weighed in kg under a heading in lb", "kilograms typed under a heading in pounds?"),
        (
            "a column of theirs",
            (
                "if it is a column of ours, rename it or put into seasons/2091/a column of theirs/headings.yml:"
                ' headings: {plots: {"Lodging pct": <our'
            ),
        ),
        ("killed by its treatment, no yield given", "a weight of 0 if the treatment left nothing"),
    ],
)
def test_a_finding_guesses_the_slip(findings, name, mend):
    case, about = CASES[name], _about(findings, name)
    assert mend in about.loc[about["check_name"] == case.check, "mend"].iloc[0]


def test_a_repeated_row_is_said_of_its_trial(findings):
    assert set(_about(findings, "a row delivered twice")["trial_id"]) == {"a row delivered twice"}


def test_no_finding_lacks_its_words(findings):
    """A note of the reader is a sentence: nothing else was expected."""
    assert findings[["file", "found", "mend"]].map(bool).all(axis=None)
    notes = findings["check_name"].isin(SENTENCES)
    assert notes.any() and findings["expected"].isna().tolist() == notes.tolist()


def test_a_check_is_left_out_only_where_it_would_find_nothing(loaded, findings):
    """Without the rows that its first lines speak of, a check finds none of these cases."""
    checks = [step for step in steps_of(LAYERS).values() if step.name[7:] in WRITTEN and step.rows_of]
    assert len(checks) > 30 and {step.name[7:] for step in checks} & set(findings["check_name"])
    count = "select count(*) from trials.findings"
    before = loaded.execute(count).fetchone()
    for step in checks:
        assert step.rows_of in step.needs, step.name
        loaded.execute(f"begin transaction; delete from {step.rows_of} as t where {step.only_where}")
        loaded.execute(step.query)
        assert loaded.execute(count).fetchone() == before, step.name
        loaded.execute("rollback")


def test_rain_of_earlier_years_is_asked_of_a_place_and_of_no_trial(findings):
    """Site-years with findings are left out where it is tried what an average depends on: a place's rain is no doubt
    of its yields.
    """
    of_places = findings[findings["check_name"] == "place without rain history"]
    assert len(of_places) and of_places["trial_id"].isna().all() and of_places["site_id"].notna().all()


def test_every_written_check_has_a_case():
    cases = {case.check for case in CASES.values() if case.check} | IN_THEIR_OWN_FILE
    assert cases == WRITTEN


def test_every_written_check_says_its_rule_and_its_severity():
    for check, needs in written_checks():
        assert check.severity in (HOLDS, ASIDE, NOTED) and check.says and needs, check.name


def test_a_trial_that_is_told_twice_does_not_double_what_is_found_in_its_plots(tiny):
    for table in ("trials", "treatments"):
        tiny.repeat(table, 2)
        tiny.change(table, len(tiny.rows(table)), "harvested" if table == "trials" else "passes", "2")
    tiny.change("plots", 2, "moisture_pct", "0.182")
    tiny.remove("plots", 4)
    found = tiny.checked()["reports.findings"].query("table_name == 'plots' and trial_id == '2091-A-corn'")
    assert sorted(found["check_name"]) == ["block lacks treatment", "plots.moisture outside its hard range"]
    assert set(found["found"]) == {"0.182", "block 1 without C-120"}


def test_a_site_described_again_in_a_later_season_is_no_finding(tiny):
    """Its rows are set aside there and used here."""
    tiny.write("sites", tiny.rows("sites"), 2092)
    checked = tiny.checked()
    assert checked["reports.findings"].empty
    counts = checked["reports.row_counts"].query("table_name == 'sites'").set_index("season")
    assert counts[["used", "set_aside"]].to_numpy().tolist() == [[2, 0], [0, 2]]
