"""DOCX and PPTX as zip files of XML parts: written again with some parts changed, the same bytes at any time."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

from docx.opc.oxml import serialize_part_xml
from docx.oxml import parse_xml

ALIKE = (1980, 1, 1, 0, 0, 0)  # the time of every part
PROPERTIES = "docProps/core.xml"
TIMES = ("{http://purl.org/dc/terms/}created", "{http://purl.org/dc/terms/}modified")

Change = Callable[[object], None]


def rewrite(file: bytes, target: Path, changes: Mapping[str, Change]) -> None:
    """Writes a file's parts to target, those named in changes as they leave them, given the root of each."""
    with zipfile.ZipFile(io.BytesIO(file)) as before, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            part = before.read(name)
            if name in changes:
                root = parse_xml(part)
                changes[name](root)
                part = serialize_part_xml(root)
            after.writestr(zipfile.ZipInfo(name, ALIKE), part, zipfile.ZIP_DEFLATED)


def without_times(properties) -> None:
    """Of the PROPERTIES: when the file was drawn, which says nothing of its run."""
    for time in TIMES:
        for found in properties.findall(time):
            properties.remove(found)
