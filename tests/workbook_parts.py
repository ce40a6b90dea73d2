"""The parts of a zipped workbook (.xlsx, .ods), taken apart and put together again."""

from __future__ import annotations

import io
import warnings
import zipfile


def parts_of(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zipped(parts: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as written:
        warnings.simplefilter("ignore")  # two parts of one name
        for name, text in parts.items():
            written.writestr(name, text)
    return buffer.getvalue()


def rewritten(content: bytes, part: str, old: bytes, new: bytes) -> bytes:
    """A zipped workbook with a text replaced in one of its parts; b"" puts the new text in place of the part."""
    parts = parts_of(content)
    assert old in parts.setdefault(part, b"")
    parts[part] = parts[part].replace(old, new, 1) if old else new
    return zipped(parts)
