"""A tiny program whose places, trials and people are drawn by lot, and every word of what is published of it.

The names stand wherever a delivery can hold them: in their own columns, in causes, in a sender's folder, in a manifest.
"""

from __future__ import annotations

import base64
import hashlib
import html
import random
import re
import shutil
import subprocess
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from tests.tiny_program import PRICES_AND_CLAIM, TinyProgram, write_tiny_program

SYLLABLES = (
    "vosk",
    "tarr",
    "drel",
    "quim",
    "zabe",
    "holm",
    "grun",
    "wyth",
    "pelk",
    "jorv",
    "nuss",
    "xylo",
    "brak",
    "smoe",
    "ulfe",
    "kint",
)
LATITUDE, LONGITUDE = "38.61743", "-93.20814"
CORRECTION = """\
- table: plots
  where: {{trial_id: {trial}, plot: 102}}
  change: {{harvest_weight_lb: {{old: "41.3", new: "41.9"}}}}
  cause: {cause}
  who: {who}
  date: 2091-12-01
  treatment_known: no
- table: trials
  where: {{trial_id: {trial}}}
  change: {{cooperator: {{old: "{former}", new: "{cooperator}"}}}}
  cause: the farm changed hands
  who: {who}
  date: 2091-12-01
  treatment_known: no
- table: sites
  where: {{site_id: {site}}}
  change: {{latitude: {{old: "{latitude}1", new: "{latitude}"}}}}
  cause: typed wrong
  who: {who}
  date: 2091-12-01
  treatment_known: no
"""


@dataclass(frozen=True)
class People:
    """Who and what must not be named. surname: of the first cooperator, by which alone others speak of them. former:
    who stood in their place before a correction.
    """

    cooperators: tuple[str, ...]
    corrector: str
    sender: str
    folder: str
    surname: str
    former: str
    places: tuple[str, ...]

    @property
    def persons(self) -> tuple[str, ...]:
        return (*self.cooperators, self.corrector, self.sender, self.folder, self.surname, self.former)


def drawn_people(seed: int) -> tuple[People, dict[str, str]]:
    """Names of several kinds, no word twice, and what stands for each text of the tiny program."""
    rng = random.Random(seed)
    words = [a + b for a in SYLLABLES for b in SYLLABLES if a != b]
    rng.shuffle(words)
    word = iter(words).__next__
    surname, of_two = word().capitalize(), f"{word().capitalize()} "
    shapes = [
        f"O'{word().capitalize()}",
        f"{word()}-{rng.randrange(10, 99)}",
        f"{word().capitalize()}, {word().capitalize()}",
        word().upper(),
        f"Ö{word()}",
    ]
    others = rng.sample(shapes, 3)
    folder = f"{word()}_{word().capitalize()}"
    site = {"Alder": word().capitalize(), "Birch": f"{word().capitalize()} {word().capitalize()}"}
    changed = {
        "Alder Bench": f"{site['Alder']} {word()}",
        "Birch Flats": f"{word().capitalize()}/{word()}",
        **{f"{year}-A-corn": f"{year}-{word()}-c" for year in (2091, 2092)},
        "2091-B-cotton": f"{word().upper()}7",
    } | site
    former = f"{word().capitalize()} {word().capitalize()}"
    people = People(
        (of_two + surname, others[0]), others[1], others[2], folder, surname, former, tuple(changed.values())
    )
    return people, changed


def write_peopled(folder: Path, seed: int) -> tuple[TinyProgram, People]:
    people, changed = drawn_people(seed)
    tiny = write_tiny_program(folder)
    for path in [*folder.rglob("*.csv")]:
        text = path.read_text(encoding="utf-8")
        for before, after in changed.items():
            text = text.replace(before, after)
        path.write_text(text, encoding="utf-8")
    tiny.settings_file.write_text(tiny.settings_file.read_text(encoding="utf-8") + PRICES_AND_CLAIM, encoding="utf-8")
    tiny.fill("trials", "cooperator", people.cooperators[0])
    tiny.fill("trials", "cooperator", people.cooperators[1], 2092)
    tiny.fill("sites", "latitude", LATITUDE)
    tiny.fill("sites", "longitude", LONGITUDE)
    tiny.change("sites", 2, "latitude", f"{LATITUDE}1")  # which is corrected
    tiny.change("sites", 3, "latitude", LATITUDE.replace(".", "")[:4] + "." + LATITUDE[-3:])  # a point in a wrong place
    tiny.change("trials", 2, "cooperator", people.former)
    at = f"near {changed['Alder']}, said {people.surname}"
    tiny.change("plots", 9, "outcome", "lost")
    tiny.change("plots", 9, "cause", f"{people.cooperators[0]} drove over it {at}")
    tiny.change("trials", 3, "outcome_reason", f"{people.surname} of {changed['Birch']}")
    tiny.fill("plots", f"{people.surname} says", "x")  # a column that is not ours
    corrections = CORRECTION.format(
        trial=changed["2091-A-corn"],
        site=changed["Alder Bench"],
        cause=f'"{at}"',
        who=f'"{people.corrector}"',
        former=people.former,
        cooperator=people.cooperators[0],
        latitude=LATITUDE,
    )
    (folder / "seasons/2091/corrections.yml").write_text(corrections, encoding="utf-8")
    _send(tiny, people, site_id=f"{changed['Alder Bench']} {changed['Alder']}")
    return tiny, people


def _send(tiny: TinyProgram, people: People, site_id: str) -> None:
    """A planned trial at a site that is not there, in a sender's folder, with its file in the manifest under another
    hash.
    """
    heads, first, *_ = tiny.rows("trials")
    cells = dict(zip(heads, first, strict=True)) | {
        "trial_id": f"{people.folder}-9",
        "site_id": site_id,
        "cooperator": people.cooperators[0],
        "outcome": "planned",
        "planted": "",
        "harvested": "",
    }
    tiny.write("trials", [heads, [cells[head] for head in heads]], f"2091/{people.folder}")
    for table in ("treatments", "nitrogen_applications"):
        heads, *rows = tiny.rows(table)
        mine = [[cells["trial_id"], *row[1:]] for row in rows if row[0] == first[0]]
        tiny.write(table, [heads, *mine], f"2091/{people.folder}")
    line = [f"{people.folder}/trials.csv", hashlib.sha256(b"another").hexdigest(), people.sender, "2091-12-01"]
    tiny.write("manifest", [["file", "sha256", "sender", "received"], line])


def told_in(folder: Path) -> dict[str, str]:
    """By file below a folder, all it tells a reader, in small letters with a space between words, its own name too."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    return {str(path.relative_to(folder)): plain(f"{path.relative_to(folder)} {_told(path)}") for path in files}


def plain(text: str) -> str:
    words = " ".join(re.findall(r"[^\W_]+", text))
    return f" {words.casefold()} "


def _told(path: Path) -> str:
    data = path.read_bytes()
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as parts:
            return " ".join(f"{name} {_xml(parts.read(name))}" for name in parts.namelist())
    if path.suffix == ".parquet":
        frame = pd.read_parquet(path)
        return " ".join(
            [
                *frame.columns,
                *(str(cell) for name in frame for cell in frame[name].drop_duplicates().astype(str)),
                _letters(data),
            ]
        )
    if data.startswith(b"%PDF"):
        return f"{_pdf_text(path)} {_letters(data)} {' '.join(map(_letters, _inflated(data)))}"
    if path.suffix in (".html", ".svg"):
        text = data.decode("utf-8")
        pictures = [base64.b64decode(each) for each in re.findall(r"base64,([A-Za-z0-9+/=]+)", text)]
        return f"{_xml(re.sub(r'base64,[A-Za-z0-9+/=]+', '', text).encode())} {' '.join(map(_letters, pictures))}"
    return _letters(data) if path.suffix == ".png" else data.decode("utf-8")


def _xml(data: bytes) -> str:
    """Its text with marks of words taken out, so that a name broken over two runs is one, and with its attributes."""
    text = _letters(data)
    return html.unescape(
        f"{re.sub(r'<[^>]*>', '', text)} {re.sub(r'<[^>]*>', ' ', text)} {' '.join(re.findall(r'<[^>]*>', text))}"
    )


def _letters(data: bytes) -> str:
    """Bytes as text, read as UTF-8 and as the two-byte letters of PDF."""
    narrow = data.replace(b"\0", b"").decode("latin-1")
    return f"{data.decode('utf-8', 'replace')} {narrow}"


def _inflated(data: bytes) -> list[bytes]:
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
        try:
            found.append(zlib.decompressobj().decompress(stream))
        except zlib.error:
            continue  # not compressed: among the bytes as they are
    return found


def _pdf_text(path: Path) -> str:
    if not shutil.which("pdftotext"):
        return ""
    return subprocess.run(["pdftotext", "-q", str(path), "-"], capture_output=True, check=True).stdout.decode("utf-8")


def who_tells(told: dict[str, str], names: tuple[str, ...]) -> list[str]:
    """'corn.html: Anna Quist' for every name that a file tells."""
    return [f"{file}: {name}" for file, text in told.items() for name in names if plain(name) in text]
