"""Reads the declarations, which are many and long: by the C reader of YAML where there is one, which takes a tenth of
the time.
"""

from __future__ import annotations

from pathlib import Path

import yaml

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def read_declared(path: Path) -> list | dict:
    return yaml.load(path.read_text(encoding="utf-8"), _LOADER)
