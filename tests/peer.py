"""The demo as plain tables, and its averages by the pipeline: what tests/benchmarks/peer.R works out by itself."""

from __future__ import annotations

import csv
from pathlib import Path

import pandas as pd

from pipeline.estimates.program import headlines_and_blocks
from pipeline.incoming.accompanying import read_accompanying
from pipeline.incoming.deliveries import find_files
from pipeline.provenance import start_run
from pipeline.settings.program import read_program
from pipeline.steps.checked import checked
from pipeline.steps.estimating import gather
from pipeline.steps.loading import load
from pipeline.warehouse import memory_of

KEY = ["comparison_id", "target"]
LB_PER_UNIT = {"corn": 56, "cotton": 1, "soybean": 60}  # of a bushel; cotton is in pounds
KG_HA_PER_LB_AC = 0.45359237 / 0.40468564224


def write_plain_demo(folder: Path) -> None:
    """The demo without defects and senders' habits, with the sheets of every workbook as CSV files in its place."""
    import openpyxl  # as the next: what works out the averages does without

    from pipeline.simulation.demo import write_demo

    write_demo(folder, defects=False, senders=False)
    for workbook in folder.glob("seasons/*/*.xlsx"):
        for sheet in openpyxl.load_workbook(workbook, data_only=True):
            with workbook.with_name(f"{sheet.title}.csv").open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows(sheet.iter_rows(values_only=True))
        workbook.unlink()


def averages(folder: Path) -> pd.DataFrame:
    """Every leading average of a plain demo in bushels or pounds per acre: estimate, std_error, df, n_site_years, by
    KEY. Every row is checked, and the findings are read; rainfall classes and the weather, which no average over all
    site-years rests on, are not worked out.
    """
    program, files = read_program(folder), find_files(folder)
    accompanying, card = (
        read_accompanying(folder, [f.folder for f in files]),
        start_run("findings", folder / "program.yml"),
    )
    with memory_of(program.warehouse_file) as warehouse:
        arrived = load(warehouse, program, files, accompanying, card, lambda text: None, is_estimated=False)
        checked(warehouse, program, *arrived, None)
        found = gather(warehouse, program)
    pooled, _ = headlines_and_blocks(program.comparisons, found.trials, found.treatments, found.plots, found.arms)
    leading = pooled[pooled["is_headline"] & pooled["moderator"].eq("all")].set_index(KEY)
    crop = leading.index.get_level_values("comparison_id").str.partition("-").get_level_values(0)
    size = crop.map(LB_PER_UNIT).to_numpy(float) * KG_HA_PER_LB_AC
    shown = leading[["estimate", "std_error"]].div(size, axis=0)
    return shown.assign(df=leading["df"], n_site_years=leading["n_site_years"])
