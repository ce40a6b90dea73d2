"""The paperwork of one season: a manifest of what was received, and reviewed corrections. With defects one entry of
each is stale.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pandas as pd
import yaml

OFFICE = "program office"
SAVED_ANEW = "weather_daily.csv"  # the file that the manifest knows with other line ends


def write_manifest(season_folder: Path, season: int, *, saved_anew: str = "") -> None:
    """manifest.csv with the hash of every delivered file; `saved_anew` is listed as it was before a program changed its
    line ends.
    """
    lines = []
    for path in sorted(p for p in season_folder.rglob("*") if p.suffix in (".csv", ".xlsx")):
        content = path.read_bytes()
        if path.name == saved_anew:
            content = content.replace(b"\n", b"\r\n")
        name = path.relative_to(season_folder).as_posix()
        lines.append(
            {
                "file": name,
                "sha256": hashlib.sha256(content).hexdigest(),
                "sender": OFFICE,
                "received": f"{season}-12-01",
            }
        )
    pd.DataFrame(lines).to_csv(season_folder / "manifest.csv", index=False)


def write_corrections(season_folder: Path, season: int, *, width_of: str, plot: pd.Series) -> None:
    """corrections.yml: one that mends the harvest width of a trial, one whose plot says something else by now."""
    reviewed = {"who": "analyst 2", "date": f"{season}-12-08", "treatment_known": "no"}
    weight = plot["harvest_weight_lb"]
    corrections = [
        {
            "table": "plots",
            "where": {"trial_id": width_of},
            "change": {"harvest_width_ft": {"old": "6.0", "new": "5.0"}},
            "cause": "width read off another combine; the field book says two rows at 30 inches",
            **reviewed,
        },
        {
            "table": "plots",
            "where": {"trial_id": plot["trial_id"], "plot": str(plot["plot"])},
            "change": {"harvest_weight_lb": {"old": str(round(weight - 3, 1)), "new": str(weight)}},
            "cause": "scale ticket misread; the cooperator sent the sheet again",
            **reviewed,
        },
    ]
    (season_folder / "corrections.yml").write_text(yaml.safe_dump(corrections, sort_keys=False), encoding="utf-8")
