"""No published file names a library as its author: where a format has a field for the author, it is empty."""

from __future__ import annotations

import base64
import io
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest
from PIL import Image

AUTHOR = r"<(?:\w+:)?(?:creator|lastModifiedBy|Manager|Company)\b[^>]*>([^<]*)<"


def files(published: Path, *suffixes: str) -> list[Path]:
    found = [path for path in published.rglob("*") if path.suffix in suffixes]
    assert found
    return found


def test_documents_and_slides_have_no_author(published):
    for path in files(published, ".docx", ".pptx"):
        with zipfile.ZipFile(path) as parts:
            said = [
                each
                for name in parts.namelist()
                if "docProps" in name
                for each in re.findall(AUTHOR, parts.read(name).decode("utf-8"))
            ]
        assert not any(said), path


@pytest.mark.skipif(not shutil.which("pdfinfo"), reason="poppler's pdfinfo is not here")
def test_a_pdf_has_no_author(published):
    """Its Creator is the program that made the file, by ISO 32000-1, 14.3.3; the author is another field."""
    for path in files(published, ".pdf"):
        fields = subprocess.run(["pdfinfo", path], capture_output=True, check=True).stdout.decode("utf-8", "replace")
        described = subprocess.run(["pdfinfo", "-meta", path], capture_output=True, check=True).stdout.decode("utf-8")
        assert "Title:" in fields and not re.search(r"^Author:\s*\S", fields, re.MULTILINE), path
        assert "dc:title" in described and "dc:creator" not in described, path


def test_pictures_have_no_author(published):
    for path in files(published, ".png"):
        assert set(Image.open(path).info) <= {"dpi", "transparency"}, path
    for path in files(published, ".svg"):
        assert not re.search(AUTHOR, path.read_text(encoding="utf-8")), path


def test_a_page_and_its_pictures_have_no_author(published):
    for path in files(published, ".html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r'<meta[^>]*name="(author|generator|creator)"', text), path
        for picture in re.findall(r"data:image/png;base64,([A-Za-z0-9+/=]+)", text):
            assert set(Image.open(io.BytesIO(base64.b64decode(picture))).info) <= {"dpi", "transparency"}, path
