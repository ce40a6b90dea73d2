"""What the methods are checked against, as the declared list says: source, place, and where each number is from."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from pipeline.contract.declared import read_declared

DECLARED = Path(__file__).parent.parent / "contract" / "published_checks.yml"


def declared_checks() -> list[dict]:
    """The entries of published_checks.yml: module, source, place, compares (what, standing, by, digits)."""
    return read_declared(DECLARED)


def published_checks() -> dict[str, pd.DataFrame]:
    """The frame `published_checks`: one row per module and kind of number, columns module, source, place, what,
    standing, by, digits.
    """
    rows = [
        {name: entry[name] for name in ("module", "source", "place")} | {"by": ""} | compared
        for entry in declared_checks()
        for compared in entry["compares"]
    ]
    return {
        "published_checks": pd.DataFrame(
            rows, columns=["module", "source", "place", "what", "standing", "by", "digits"]
        )
    }
