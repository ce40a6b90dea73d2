"""Workbooks that hold no time of their making, so that the same program is the same file to the byte."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import pandas as pd

DATES = "YYYY-MM-DD"
PROPERTIES = "docProps/core.xml"
MADE = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
EARLIEST = (1980, 1, 1, 0, 0, 0)  # a zip file knows no earlier time


def write_workbook(path: Path, sheets: dict[str, pd.DataFrame]) -> None:
    """One sheet for each frame, headings in the first row, dates as year-month-day."""
    written = io.BytesIO()
    with pd.ExcelWriter(written, engine="openpyxl", date_format=DATES, datetime_format=DATES) as workbook:
        for name, frame in sheets.items():
            frame.to_excel(workbook, sheet_name=name, index=False)
    with zipfile.ZipFile(written) as made, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as kept:
        for name in made.namelist():
            content = made.read(name)
            if name == PROPERTIES:
                content = MADE.sub(rb"\g<1>1980-01-01T00:00:00Z", content)
            kept.writestr(zipfile.ZipInfo(name, EARLIEST), content, zipfile.ZIP_DEFLATED)
