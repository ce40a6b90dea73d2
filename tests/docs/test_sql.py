"""Every query names what it reads in its `needs:` line, and the schema it makes is the folder it stands in."""

from __future__ import annotations

import re

import pytest

from pipeline.folders import SQL as SQL_FOLDER
from pipeline.sql_steps import LAYERS, steps_of

FILES = sorted(SQL_FOLDER.rglob("*.sql"))
SCHEMAS = "|".join((*LAYERS, "checks"))
SEVERITIES = ("holds the trial", "sets the row aside", "noted")


def _id(path):
    return path.relative_to(SQL_FOLDER).as_posix()


def header(text: str, word: str) -> str:
    found = re.search(rf"^-- {word}: (.*)$", text, re.MULTILINE)
    return found[1] if found else ""


def body(text: str) -> str:
    """The query without comments and without texts in quotes."""
    text = re.sub(r"comment on .*", "", text)
    return re.sub(r"'[^']*'", "''", re.sub(r"--.*", "", text))


def reads(text: str) -> set[str]:
    """Tables after from or join, by their full names."""
    return set(re.findall(rf"\b(?:from|join)\s+((?:{SCHEMAS})\.\w+)", body(text), re.IGNORECASE))


@pytest.mark.parametrize("path", FILES, ids=_id)
def test_needs_name_what_a_query_reads(path):
    text = path.read_text(encoding="utf-8")
    needs = {name.strip() for name in header(text, "needs").split(",") if name.strip()}
    made_by_name = f"{path.parent.name}.{path.stem}"
    assert reads(text) - {made_by_name} <= needs
    is_filled_by_the_pipeline = not reads(text)
    extra = {name for name in needs - reads(text) if not name.startswith("checks.")}
    assert is_filled_by_the_pipeline or not extra, "a need that nothing reads"


@pytest.mark.parametrize("path", FILES, ids=_id)
def test_needs_are_things_that_are_made(path):
    made = set(steps_of(LAYERS))
    needs = {name.strip() for name in header(path.read_text(encoding="utf-8"), "needs").split(",") if name.strip()}
    assert needs <= made


@pytest.mark.parametrize("path", [p for p in FILES if p.parent.name != "checks"], ids=_id)
def test_a_file_makes_the_table_it_is_named_for_and_says_its_grain(path):
    text = path.read_text(encoding="utf-8")
    name = f"{path.parent.name}.{path.stem}"
    assert path.parent.name in LAYERS
    assert re.findall(r"create (?:or replace )?(?:table|view) (?:if not exists )?([\w.]+)", text) == [name]
    assert re.search(rf"comment on (table|view) {name} is '.+'", text)


@pytest.mark.parametrize("path", [p for p in FILES if p.parent.name == "checks"], ids=_id)
def test_a_check_states_its_severity_and_its_rule(path):
    text = path.read_text(encoding="utf-8")
    assert header(text, "severity") in SEVERITIES and header(text, "says")


@pytest.mark.parametrize("path", [p for p in FILES if p.parent.name == "checks"], ids=_id)
def test_a_check_on_yields_may_only_note(path):
    text = path.read_text(encoding="utf-8")
    sees_yields = "trials.plots" in reads(text)
    assert not sees_yields or header(text, "severity") == "noted"


def test_layers_read_only_from_layers_before_them():
    order = [*LAYERS[:3], "checks", *LAYERS[3:]]
    for path in FILES:
        layer = "trials" if path.parent.name == "checks" else path.parent.name
        for name in reads(path.read_text(encoding="utf-8")):
            assert order.index(name.split(".")[0]) <= order.index(layer), f"{_id(path)} reads {name}"


FACTOR = re.compile(
    r"\b(?:1\.1208|0?\.892|0?\.4535|2\.2046|2\.471|0?\.4046|4046|25\.4\b|2\.54\b|30\.48|0?\.3048|3\.28|43560|0?\.0929|62\.7|67\.2|0?\.0159|35\.239|12\.87)"
)


@pytest.mark.parametrize("path", [*FILES, *sorted(SQL_FOLDER.rglob("*.csv"))], ids=_id)
def test_no_factor_between_units_stands_in_a_query(path):
    """Conversions are macros made from contract/units.py: one place, one precision."""
    assert not FACTOR.findall(re.sub(r"--.*", "", path.read_text(encoding="utf-8")))


def test_a_check_that_is_left_out_without_rows_finds_nothing_without_them(tiny):
    """Each table in turn is emptied, while all others keep their rows."""
    checks = [step for step in steps_of(LAYERS).values() if step.rows_of]
    with tiny.loaded() as warehouse:
        found = "select count(*) from trials.findings"
        before = warehouse.execute(found).fetchone()
        for table in {step.rows_of for step in checks}:
            warehouse.execute(f"begin transaction; delete from {table}")
            for step in checks:
                if step.rows_of == table:
                    warehouse.execute(step.query)
            assert warehouse.execute(found).fetchone() == before, table
            warehouse.execute("rollback")
