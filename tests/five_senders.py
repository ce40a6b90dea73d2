"""The mail of one winter: five senders with habits of their own, twelve trials of corn and winter wheat. All invented.

alder     one sheet per trial, replicates as columns, a title above, means beside (.xlsx)
birch     semicolons, decimal commas, the old Windows encoding (.csv)
cedar     older workbook (.ods), corn and wheat told by a column, treatments in words
dogwood   applications in pounds of product, percent signs, tabs (.txt)
elder     replicates merged down, a row of units, yields stated at 13% moisture, a sheet of photos (.xlsx)
"""

from __future__ import annotations

import csv
from pathlib import Path

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.ods import ods_bytes

SEASON = 2095
CODES = ("ZERO", "U-120", "C-120")
WORDS = ("No nitrogen", "Urea 120 at planting", "Blend 120 at planting")
TRIALS = {
    "alder": (("Alder corn", "corn"), ("Alder wheat", "wheat"), ("Alder hill corn", "corn")),
    "birch": (("Birch corn", "corn"), ("Birch wheat", "wheat")),
    "cedar": (("Cedar corn", "corn"), ("Cedar wheat", "wheat")),
    "dogwood": (("Dogwood corn", "corn"), ("Dogwood wheat", "wheat"), ("Dogwood lake corn", "corn")),
    "elder": (("Elder corn", "corn"), ("Elder wheat", "wheat")),
}
SETTINGS = """\
program: Five senders
rainfall:
  reference: {first_year: 2071, last_year: 2074}
  windows:
    corn: {first_day: 05-01, last_day: 05-05}
    wheat: {first_day: WINTER, last_day: 01-02}
  fewest_reference_years: 3
  fixed_on: 2090-11-15
crops:
  wheat: {product: grain, bushel_lb: 60, standard_moisture_pct: 13.5, display_unit: bu/ac, display_digits: 1,
    typical: [20, 130], hard: [0, 200]}
comparisons:
  - id: corn-blend-vs-urea
    says: half-coated blend against urea
    crop: corn
    target: seasons tested
    treatment: {n_source: coated blend}
    comparator: {n_source: urea}
    match: same N rate
    rates_lb_ac: {120: 1}
    may_differ: [n_source, coated_n_fraction]
    declared: 2090-11-15
"""
# what the analyst pastes from the first run's messages, after a look at each line
PASTED = {
    "alder": (
        """\
tables: {Alder corn: plots, Alder wheat: plots, Alder hill corn: plots}
headings: {plots: {Trt: treatment_code}}
same_for_all: {plots: {trial_id: "{sheet}", outcome: harvested}}
wide: {plots: {Rep 1: {block: 1, holds: yield_bu_ac}, Rep 2: {block: 2, holds: yield_bu_ac},
  Rep 3: {block: 3, holds: yield_bu_ac}}}
"""
    ),
    "birch": (
        """\
tables: {"Ernte 2095": plots}
headings: {plots: {Study: trial_id, Rep: block, Plot No: plot, Trt: treatment_code, Yield bu/ac: yield_bu_ac}}
same_for_all: {plots: {outcome: harvested}}
read_as: {Ernte 2095.csv: [semicolons, decimal commas, Windows-1252]}
"""
    ),
    "cedar": (
        """\
tables: {Harvest: plots}
headings: {plots: {Rep: block, Treatment: treatment_code, Plot: plot, "Yield, bu/ac": yield_bu_ac}}
same_for_all: {plots: {trial_id: "Cedar {Crop}", outcome: harvested}}
words: {plots: {treatment_code: {No nitrogen: ZERO, Urea 120 at planting: U-120, Blend 120 at planting: C-120}}}
"""
    ),
    "dogwood": (
        """\
tables: {spread: nitrogen_applications, harvest: plots}
headings:
  plots: {Trial: trial_id, Rep: block, Trt: treatment_code, Status: outcome, Moist: moisture_pct}
  nitrogen_applications: {Trial: trial_id, Trt: treatment_code, lbs product/ac: product_rate_lb_ac,
    "% N": product_n_pct}
same_for_all: {plots: {plot: "row {row}"}, nitrogen_applications: {application: at planting, counts_toward: treatment}}
read_as: {harvest.txt: [tabs], spread.txt: [tabs]}
"""
    ),
    "elder": (
        """\
tables: {Elder: plots, Photos: none}
headings: {plots: {Study: trial_id, Rep: block, Plot: plot, Trt: treatment_code, Yield: yield_bu_ac}}
same_for_all: {plots: {outcome: harvested, yield_moisture_pct: 13}}
"""
    ),
}


def write_five(folder: Path, *, winter: str = "12-30") -> None:
    """The program: what the analyst keeps in the season's folder, and a folder of mail per sender. winter: the first
    day of the wheat window.
    """
    (folder / "program.yml").parent.mkdir(parents=True)
    (folder / "program.yml").write_text(SETTINGS.replace("WINTER", winter))
    root = folder / "seasons" / str(SEASON)
    root.mkdir(parents=True)
    _analysts(root)
    for sender, write in (
        ("alder", _alder),
        ("birch", _birch),
        ("cedar", _cedar),
        ("dogwood", _dogwood),
        ("elder", _elder),
    ):
        (root / sender).mkdir()
        write(root / sender)


def paste(folder: Path, *senders: str) -> None:
    for sender in senders or PASTED:
        (folder / f"seasons/{SEASON}/{sender}/headings.yml").write_text(PASTED[sender], encoding="utf-8")


def _write(path: Path, rows: list[list[object]], **how) -> None:
    with path.open("w", newline="", encoding=how.pop("encoding", "utf-8")) as file:
        csv.writer(file, **how).writerows(rows)


def _analysts(root: Path) -> None:
    """Sites, trials, treatments and weather, which the analyst keeps; applications of all but one sender."""
    trials = [(name, crop, sender) for sender, listed in TRIALS.items() for name, crop in listed]
    places = sorted(TRIALS)
    _write(
        root / "sites.csv", [["site_id", "place", "drainage_class"], *([p.title(), p, "well drained"] for p in places)]
    )
    days = [f"{year}-05-{d:02}" for year in (*range(2071, 2075), SEASON) for d in range(1, 6)]
    days += [
        f"{y}-{d}"
        for year in (*range(2071, 2075), SEASON)
        for y, d in ((year - 1, "12-30"), (year - 1, "12-31"), (year, "01-01"), (year, "01-02"))
    ]
    rain = [[p, day, (int(day[:4]) % 5 + int(day[-1])) / 10] for p in places for day in days]
    _write(root / "weather_daily.csv", [["place", "date", "rain_in"], *rain])
    heads = ["trial_id", "season", "site_id", "crop", "design", "row_spacing_in", "outcome"]
    _write(root / "trials.csv", [heads, *([n, SEASON, s.title(), c, "RCBD", 30 if c == "corn" else 7.5,
                                           "harvested"] for n, c, s in trials)])  # fmt: skip
    plans = (("none", "", 0, "none", 0), ("urea", "", 120, "spring", 1), ("coated blend", 0.5, 120, "spring", 1))
    heads = ["trial_id", "treatment_code", "n_source", "coated_n_fraction", "n_rate_lb_ac", "timing", "passes"]
    _write(root / "treatments.csv", [heads, *([n, code, *plan] for n, _, _ in trials for code,
                                              plan in zip(CODES, plans, strict=True))])  # fmt: skip
    heads = ["trial_id", "treatment_code", "application", "product", "n_rate_lb_ac", "counts_toward"]
    parts = (("U-120", "urea", "urea", 120), ("C-120", "urea", "urea", 60), ("C-120", "coated", "coated urea", 60))
    _write(root / "nitrogen_applications.csv", [heads, *([n, c, w, p, r, "treatment"] for n, _,
                                                         s in trials if s != "dogwood" for c, w, p,
                                                         r in parts)])  # fmt: skip


def _yield(trial: str, block: int, i: int) -> float:
    """Bushels per acre of treatment i, from 0; invented, and the same each time."""
    top = (90, 160, 166) if "corn" in trial else (40, 70, 73)
    of_field = [name for listed in TRIALS.values() for name, _ in listed].index(trial) / 2
    return top[i] + of_field + 1.5 * block + (len(trial) * 7 + block * 3 + i) % 5 * 0.5


def _alder(folder: Path) -> None:
    book = Workbook()
    book.remove(book.active)
    for name, _ in TRIALS["alder"]:
        sheet = book.create_sheet(name)
        sheet.append([f"{name}, bu/ac at the standard moisture"])
        sheet.append(["Trt", "Rep 1", "Rep 2", "Rep 3", "Mean"])
        for i, code in enumerate(CODES):
            values = [_yield(name, block, i) for block in (1, 2, 3)]
            sheet.append([code, *values, sum(values) / 3])
    book.save(folder / "Alder harvest 2095.xlsx")


def _birch(folder: Path) -> None:
    rows = [["Study", "Rep", "Plot No", "Trt", "Yield bu/ac", "Bemerkung"]]
    for name, _ in TRIALS["birch"]:
        rows += [[name, b, b * 100 + i, code, f"{_yield(name, b, i):.1f}".replace(".", ","),
                  "Höhe" if b == i else ""] for b in (1, 2, 3) for i, code in enumerate(CODES)]  # fmt: skip
    _write(folder / "Ernte 2095.csv", rows, delimiter=";", encoding="cp1252")


def _cedar(folder: Path) -> None:
    rows = [["Crop", "Rep", "Plot", "Treatment", "Yield, bu/ac"]]
    for name, crop in TRIALS["cedar"]:
        rows += [[crop, b, b * 100 + i, word, _yield(name, b, i)] for b in (1, 2, 3) for i, word in enumerate(WORDS)]
    (folder / "cedar.ods").write_bytes(ods_bytes({"Harvest": rows}))


def _dogwood(folder: Path) -> None:
    rows = [["Trial", "Rep", "Trt", "harvest_weight_lb", "Moist", "harvest_length_ft", "harvest_width_ft", "Status"]]
    for name, crop in TRIALS["dogwood"]:
        bushel, moisture = (56, 15.5) if crop == "corn" else (60, 13.5)
        acre = 30 * 5 / 43_560
        rows += [[name, b, code, round(_yield(name, b, i) * bushel * acre, 3), f"{moisture}%", 30, 5,
                  "harvested"] for b in (1, 2, 3) for i, code in enumerate(CODES)]  # fmt: skip
    _write(folder / "harvest.txt", rows, delimiter="\t")
    parts = (("U-120", "urea", 260.9, "46%"), ("C-120", "coated urea", 136.4, "44%"), ("C-120", "urea", 130.4, "46%"))
    spread = [["Trial", "Trt", "product", "lbs product/ac", "% N", "application"]]
    spread += [
        [name, code, product, lbs, n, product] for name, _ in TRIALS["dogwood"] for code, product, lbs, n in parts
    ]
    _write(folder / "spread.txt", spread, delimiter="\t")


def _elder(folder: Path) -> None:
    book = Workbook()
    sheet = book.active
    sheet.title = "Elder"
    sheet.append(["Study", "Rep", "Plot", "Trt", "Yield"])
    sheet.append([None, None, "no.", "code", "bu/ac @ 13%"])
    for name, _ in TRIALS["elder"]:
        for b in (1, 2, 3):
            for i, code in enumerate(CODES):
                sheet.append([name, b if i == 0 else None, b * 100 + i, code, _yield(name, b, i)])
            _merge(sheet)
    book.create_sheet("Photos").append(["photo 1", "north edge"])
    book.save(folder / "Elder.xlsx")


def _merge(sheet: Worksheet) -> None:
    sheet.merge_cells(start_row=sheet.max_row - 2, end_row=sheet.max_row, start_column=2, end_column=2)
