"""program.yml and what lies beside the deliveries, with texts, structure and bytes changed, read in this process."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path

import yaml

from pipeline.errors import UserError
from pipeline.incoming.accompanying import read_accompanying
from pipeline.settings.program import read_program
from tests.drawn_programs.choices import choose
from tests.drawn_programs.settings_of import settings_of
from tests.hard_to_break.soak import judge
from tests.hard_to_break.soak.deliveries import csv_delivery, with_bytes_changed
from tests.hard_to_break.soak.payloads import hostile

SEASON = "seasons/2091"
HEADINGS = {
    "tables": {"Plot data": "plots", "Photos": "none"},
    "headings": {"plots": {"Wt (lbs)": "harvest_weight_lb"}},
    "same_for_all": {"plots": {"trial_id": "{sheet}", "outcome": "harvested"}},
    "wide": {"plots": {"Rep 1": {"block": 1, "holds": "yield_bu_ac"}}},
    "words": {"treatments": {"n_source": {"50 % coated": "coated blend"}}},
    "read_as": {"harvest.csv": ["semicolons", "decimal commas"]},
}
CORRECTIONS = [
    {
        "table": "plots",
        "where": {"trial_id": "2091-A-corn", "plot": 104},
        "change": {"harvest_weight_lb": {"old": 42.6, "new": 46.2}},
        "cause": "scale print misread",
        "who": "analyst 2",
        "date": "2094-12-01",
        "treatment_known": "no",
    },
    {
        "table": "plots",
        "where": {"trial_id": "2091-A-corn"},
        "move": {"harvest_weight_lb": "harvest_weight_kg"},
        "cause": "weighed in kilograms",
        "who": "analyst 2",
        "date": "2094-12-01",
        "treatment_known": "no",
    },
]
MANIFEST = [["file", "sha256", "sender", "received"], ["plots.csv", "0" * 64, "coop-01", "2091-11-20"]]
LINES = (
    "\t", "    ", "- ", "? ", ": ", "---", "...", "%YAML 9.9", "<<: *a", "&a x", "*a",
    "!!python/object/apply:os.system [id]", "!!binary aGk=", "!!timestamp 2091-01-01",
    "| ", ">- ", "{", "}", "[", "]", "'", '"', "# ", "@", "`", "~", "null", "{{< include /etc/passwd >}}", "\u2028",
    "\x85", "\ufeff", "y: " * 30, "? [a, b]\n: c",
)  # fmt: skip
NAMES = ("program.yml",) * 6 + ("headings.yml", "headings.yml", "corrections.yml", "corrections.yml", "manifest.csv")


def write(seed: str, folder: Path) -> str:
    """Writes one hostile settings file into a program folder that holds nothing else; returns its path in the
    program.
    """
    drawn = random.Random(seed)
    name = drawn.choice(NAMES)
    path = folder / name if name == "program.yml" else folder / SEASON / name
    (folder / SEASON).mkdir(parents=True, exist_ok=True)
    if name == "manifest.csv":
        content = csv_delivery(drawn, "manifest", MANIFEST).content
    else:
        content = _changed(
            {"headings.yml": HEADINGS, "corrections.yml": CORRECTIONS}.get(name) or _program(drawn), drawn
        )
    path.write_bytes(content)
    return path.relative_to(folder).as_posix()


def faults(seed: str, folder: Path) -> list[str]:
    """What is wrong with how the settings file of a seed is read."""
    name = write(seed, folder)
    try:
        with judge.within(judge.LONGEST_READING):
            if name == "program.yml":
                read_program(folder)
            else:
                read_accompanying(folder, [SEASON])
    except UserError as problem:
        return judge.of_refusal(str(problem), name) + _without_place(str(problem))
    except (Exception, judge.TooSlow) as problem:
        return [f"{name}: {type(problem).__name__}: {problem}"]
    finally:
        (folder / name).unlink()
    return []


def _without_place(said: str) -> list[str]:
    """A refusal names its line, where it is not about the whole file."""
    of_whole = ("must hold", "must be a list", "lacks the column", "UTF-16", "UTF-32", "is empty", "nested too deeply")
    if re.search(r"(line|row) \d", said) or any(words in said for words in of_whole):
        return []
    return [f"a refusal without a line: {said[:200]!r}"]


def _program(drawn: random.Random) -> dict:
    seed = drawn.randrange(200)
    return settings_of(seed, choose(seed))


def _changed(settings: object, drawn: random.Random) -> bytes:
    kind = drawn.random()
    if kind < 0.6:
        settings = deepcopy(settings)
        for _ in range(drawn.choice((1, 1, 2, 4))):
            _change_tree(settings, drawn)
    text = yaml.dump(settings, sort_keys=False, allow_unicode=True)
    if 0.5 < kind < 0.9:
        text = _lines_changed(text, drawn)
    content = text.encode("utf-8", "surrogatepass")
    return with_bytes_changed(content, drawn) if kind > 0.9 else content


def _change_tree(settings: object, drawn: random.Random) -> None:
    places = list(_places(settings))
    if not places:
        return
    within, key = drawn.choice(places)
    kind = drawn.randrange(8)
    if kind < 3:
        within[key] = hostile(drawn, str(within[key]))
    elif kind == 3:
        within[key] = drawn.choice(
            (None, [], {}, [[]], {"x": {"x": "x"}}, True, -1, 1e308, 10**30, "", "{}", list(range(50)))
        )
    elif kind == 4:
        del within[key]
    elif kind == 5:
        within[key] = deepcopy(drawn.choice(places)[0])
    elif kind == 6 and isinstance(within, dict):
        within[hostile(drawn, str(key))] = within.pop(key)
    elif isinstance(within, list):
        within.append(within[key])
    else:
        within[hostile(drawn)] = hostile(drawn)


def _places(settings: object) -> Iterator[tuple[object, object]]:
    """Every entry of the sections and lists, as its owner and key."""
    if isinstance(settings, (dict, list)):
        for key, value in list(settings.items() if isinstance(settings, dict) else enumerate(settings)):
            yield settings, key
            yield from _places(value)


def _lines_changed(text: str, drawn: random.Random) -> str:
    lines = text.split("\n")
    for _ in range(drawn.choice((1, 1, 2, 5))):
        at, other = drawn.randrange(len(lines)), drawn.randrange(len(lines))
        kind = drawn.randrange(7)
        if kind == 0:
            lines.insert(at, lines[other])
        elif kind == 1 and len(lines) > 1:
            del lines[at]
        elif kind == 2:
            lines[at] = drawn.choice(("", " ", "  ", "\t", "   ")) + lines[at].lstrip(drawn.choice((" ", "")))
        elif kind == 3:
            lines[at] += drawn.choice(LINES)
        elif kind == 4:
            lines[at] = drawn.choice(LINES) + lines[at]
        elif kind == 5:
            lines.insert(at, drawn.choice(LINES))
        else:
            key, colon, value = lines[at].partition(": ")
            lines[at] = key + colon + hostile(drawn, value)
    return "\n".join(lines)
