"""Numbers of the demo as one build of R and Python gave them, and how far those of another run lie from them.

python -m tests.simulated.demo_numbers build/demo        # compare the demo's warehouse with the numbers kept
python -m tests.simulated.demo_numbers A B               # largest difference of every stored column of two warehouses
"""

from __future__ import annotations

import sys
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

KEPT = Path(__file__).with_suffix(".csv")
CLOSE = 1e-4  # of the standard error for an average and its limits; relative for everything else
HEADLINES = """
    select comparison_id, target, method, estimate, std_error, df, conf_low, conf_high from estimates.pooled_gains
    where is_headline and moderator = 'all' and estimate is not null order by comparison_id, target
"""
OF_GAINS = ["estimate", "conf_low", "conf_high"]
NOT_COMPARED = ("runs", "run_headlines", "run_changes", "run_verdicts")  # they name their runs


def headlines(warehouse: Path) -> pd.DataFrame:
    """Every leading average of a warehouse, kg/ha."""
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        return connection.execute(HEADLINES).df()


def apart(found: pd.DataFrame) -> list[str]:
    """How headlines differ from those kept by more than CLOSE; empty where none does."""
    kept = pd.read_csv(KEPT, comment="#")
    key = ["comparison_id", "target", "method"]
    if not found[key].equals(kept[key]):
        return [f"other averages lead than were kept: {found[key].compare(kept[key])}"]
    scale = {name: kept["std_error"] if name in OF_GAINS else kept[name] for name in (*OF_GAINS, "std_error", "df")}
    off = {name: ((found[name] - kept[name]) / size).abs() for name, size in scale.items()}
    return [
        f"{kept.loc[i, 'comparison_id']}, {kept.loc[i, 'target']}: {name} {found.loc[i, name]:.8g}, kept"
        f" {kept.loc[i, name]:.8g}"
        for name, by in off.items()
        for i in by.index[by > CLOSE]
    ]


def largest_differences(one: Path, other: Path) -> pd.DataFrame:
    """table, column, largest: of every numeric column of the estimates, relative to the column's mean size; worst
    first.
    """
    rows = []
    with duckdb.connect(str(one), read_only=True) as a, duckdb.connect(str(other), read_only=True) as b:
        names = "select table_name from information_schema.tables where table_schema = 'estimates' order by 1"
        for (table,) in a.execute(names).fetchall():
            if table in NOT_COMPARED:
                continue
            first, second = (c.execute(f"from estimates.{table}").df() for c in (a, b))
            if first.shape != second.shape:
                rows.append((table, "rows", np.inf))
                continue
            for column in first.select_dtypes("number"):
                x, y = first[column].to_numpy(float), second[column].to_numpy(float)
                is_same = np.isnan(x) == np.isnan(y)
                difference = np.nanmax(np.abs(x - y), initial=0) if is_same.all() else np.inf
                size = np.nanmean(np.abs(x)) if np.isfinite(x).any() else 1.0
                rows.append((table, column, difference / size if size else difference))
    return pd.DataFrame(rows, columns=["table", "column", "largest"]).sort_values("largest", ascending=False)


def main(words: list[str]) -> int:
    files = [Path(word) / "warehouse.duckdb" for word in words]
    if len(files) == 2:
        found = largest_differences(*files)
        print(found.head(20).to_string(index=False))
        print(f"{len(found)} columns; largest relative difference {found['largest'].max():.2g}")
        return 0
    off = apart(headlines(files[0]))
    print("\n".join(off) or f"All headlines are as kept, to {CLOSE:g}.")
    return 1 if off else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
