"""Where the queries and the page sources are: beside this package in a checkout, inside it once installed."""

from __future__ import annotations

from pathlib import Path

PACKAGE = Path(__file__).parent
IS_CHECKOUT = not (PACKAGE / "sql").is_dir()
_HOME = PACKAGE.parent if IS_CHECKOUT else PACKAGE
SQL, REPORTS = _HOME / "sql", _HOME / "reports"
