"""Program folders made from published data, and their results read back from the warehouse file."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd

from pipeline.verbs.run import build_warehouse

# Exact, by definition of the international pound and foot; an acre is 43,560 square feet.
KG_PER_LB = 0.45359237
M_PER_FT = 0.3048
KG_HA_PER_LB_AC = KG_PER_LB / (43560 * M_PER_FT**2) * 10000


def write_program(folder: Path, program_yml: str, tables: dict[str, pd.DataFrame]) -> Path:
    """program.yml and seasons/<year>/<table>.csv; a season gets the trials of that year and what belongs to them."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "program.yml").write_text(program_yml)
    for season, trials in tables["trials"].groupby("season"):
        delivery = folder / "seasons" / str(season)
        delivery.mkdir(parents=True)
        for name, table in tables.items():
            _of_trials(table, trials).to_csv(delivery / f"{name}.csv", index=False)
    return folder


def _of_trials(table: pd.DataFrame, trials: pd.DataFrame) -> pd.DataFrame:
    key = "trial_id" if "trial_id" in table else "site_id"
    return table[table[key].isin(trials[key])]


def built(folder: Path) -> Path:
    """The program's warehouse file, built by the function the commands use."""
    return build_warehouse(folder, "report", lambda text: None).program.warehouse_file


def read(warehouse: Path, query: str) -> pd.DataFrame:
    """Rows of a finished warehouse, as any reviewer reads them: by a client of their own, read-only."""
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        return connection.execute(query).df()
