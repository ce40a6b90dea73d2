"""Writes an OpenDocument spreadsheet (ISO/IEC 26300), as little of it as a reader needs."""

from __future__ import annotations

import io
import zipfile
from xml.sax.saxutils import escape, quoteattr

_KIND = "application/vnd.oasis.opendocument.spreadsheet"
_MANIFEST = f"""<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">
<manifest:file-entry manifest:full-path="/" manifest:media-type="{_KIND}"/>
<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>"""
_CONTENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 office:version="1.2"><office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"""


def ods_bytes(sheets: dict[str, list[list[object]]]) -> bytes:
    tables = "".join(
        f"<table:table table:name={quoteattr(title)}>{''.join(map(_row, rows or [[]]))}</table:table>"
        for title, rows in sheets.items()
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("mimetype", _KIND)
        archive.writestr("META-INF/manifest.xml", _MANIFEST)
        archive.writestr("content.xml", _CONTENT.format(tables=tables))
    return buffer.getvalue()


def _row(cells: list[object]) -> str:
    return f"<table:table-row>{''.join(map(_cell, cells)) or '<table:table-cell/>'}</table:table-row>"


def _cell(value: object) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, (int, float)):
        return (
            '<table:table-cell office:value-type="float"'
            f' office:value="{value}"><text:p>{value}</text:p></table:table-cell>'
        )
    return f'<table:table-cell office:value-type="string"><text:p>{escape(str(value))}</text:p></table:table-cell>'
