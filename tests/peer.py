"""The demo as plain tables, and its averages by the pipeline: what tests/benchmarks/peer.R works out by itself."""

from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pandas as pd

from pipeline.estimates.program import headline_gains
from pipeline.settings.program import read_program
from pipeline.simulation.demo import write_demo
from pipeline.steps.estimating import gather
from tests.tiny_program import TinyProgram

KEY = ["comparison_id", "target"]
LB_PER_UNIT = {"corn": 56, "cotton": 1, "soybean": 60}  # of a bushel; cotton is in pounds
KG_HA_PER_LB_AC = 0.45359237 / 0.40468564224


def write_plain_demo(folder: Path) -> None:
    """The demo without defects and senders' habits, with the sheets of every workbook as CSV files in its place."""
    write_demo(folder, defects=False, senders=False)
    for workbook in folder.glob("seasons/*/*.xlsx"):
        for sheet in openpyxl.load_workbook(workbook, data_only=True):
            with workbook.with_name(f"{sheet.title}.csv").open("w", newline="", encoding="utf-8") as file:
                csv.writer(file).writerows(sheet.iter_rows(values_only=True))
        workbook.unlink()


def averages(folder: Path) -> pd.DataFrame:
    """Every leading average of a plain demo in bushels or pounds per acre: estimate, std_error, df, n_site_years, by
    KEY.
    """
    program = read_program(folder)
    with TinyProgram(folder).loaded(is_estimated=True) as warehouse:
        found = gather(warehouse, program)
    pooled = headline_gains(program.comparisons, found.trials, found.treatments, found.plots, found.arms)
    leading = pooled[pooled["is_headline"] & pooled["moderator"].eq("all")].set_index(KEY)
    crop = leading.index.get_level_values("comparison_id").str.partition("-").get_level_values(0)
    size = crop.map(LB_PER_UNIT).to_numpy(float) * KG_HA_PER_LB_AC
    shown = leading[["estimate", "std_error"]].div(size, axis=0)
    return shown.assign(df=leading["df"], n_site_years=leading["n_site_years"])
