"""The build as a graph: every query of sql/, and of the contract, with the names it needs first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial
from graphlib import TopologicalSorter

from pipeline import folders
from pipeline.contract.checks import FINDING_COLUMNS, SENDER, Check, declared_checks
from pipeline.contract.habit_checks import habit_checks, lost_zeros_checks
from pipeline.contract.repeats import DOUBLED_KEYS, doubled_keys_query, empty_repeats, repeats_query
from pipeline.contract.results import ddl, declared_results
from pipeline.contract.staging import all_rows_query, empty_staging, staging_query, told_headings
from pipeline.contract.tables import NOTED, SETS_ASIDE, Table, declared_tables

LAYERS = ("raw", "reference", "staging", "trials", "estimates", "reports")
DECIDING_CHECKS = "checks.deciding"
ALL_CHECKS = "checks.all"
SETTING_ASIDE = "checks.setting_aside"


@dataclass(frozen=True)
class Step:
    """One node of the build: a query and the names it needs first.

    rows_of: a table without whose rows the query has no effect; empty where it always may have one.
    only_where: a condition on those rows t that one of them must meet.
    otherwise: what is run where it can have no effect.
    told_by, shaped: a query that finds texts, and the step's query for them, no wider than they need.
    """

    name: str
    needs: tuple[str, ...]
    query: str
    keep: bool = False
    rows_of: str = ""
    only_where: str = "true"
    otherwise: str = ""
    told_by: str = ""
    shaped: Callable[[frozenset[str]], str] | None = None


def _header(text: str, word: str) -> str:
    for line in text.splitlines():
        if not line.startswith("--"):
            return ""
        if line.startswith(f"-- {word}:"):
            return line.split(":", 1)[1].strip()
    return ""


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())


def _file_steps(layer: str) -> list[Step]:
    found = []
    for path in sorted((folders.SQL / layer).glob("*.sql")):
        text = path.read_text(encoding="utf-8")
        found.append(
            Step(f"{layer}.{path.stem}", _names(_header(text, "needs")), text, keep=text.startswith("-- keep"))
        )
    return found


def written_checks() -> list[tuple[Check, tuple[str, ...]]]:
    """The checks written by hand in sql/checks/, each with what it needs."""
    found = []
    for path in sorted((folders.SQL / "checks").glob("*.sql")):
        text = path.read_text(encoding="utf-8")
        check = Check(
            path.stem.replace("_", " "),
            _header(text, "severity"),
            _header(text, "says"),
            text,
            only_where=_header(text, "only where") or "true",
            asks=_header(text, "asks") or SENDER,
            rows_of=_header(text, "rows of"),
            may_follow_from=_header(text, "may follow from an unread file"),
        )
        found.append((check, _names(_header(text, "needs"))))
    return found


def _check_step(check: Check, needs: tuple[str, ...]) -> Step:
    columns = ", ".join(f"q.{name}" for name in FINDING_COLUMNS)
    query = f"""insert into trials.findings by name
select ? as check_name, ? as severity, {columns} from ({check.query.rstrip().rstrip(";")}) as q"""
    for value in (check.name, check.severity):
        query = query.replace("?", "'" + value.replace("'", "''") + "'", 1)
    return Step(
        f"checks.{check.name}", (*needs, "trials.findings"), query, rows_of=check.rows_of, only_where=check.only_where
    )


def _staging_step(table: Table) -> Step:
    needs = ("staging.sheets", "staging.delivered_rows", "staging.rows_left_out", "staging.superseded")
    return Step(
        f"staging.{table.name}",
        (*needs, "staging.headings", "reference.correction_changes", "reference.read_as"),
        staging_query(table, [heading for column in table.columns for heading in column.unit_of_heading]),
        rows_of="staging.sheets",
        only_where=f"t.table_name = '{table.name}'",
        otherwise=empty_staging(table),
        told_by=told_headings(table),
        shaped=partial(staging_query, table),
    )


@cache
def _declared_steps() -> tuple[tuple[Step, ...], tuple[tuple[Step, str], ...]]:
    """Staging tables, and checks with their severity, that follow from the declarations alone."""
    tables = list(declared_tables().values())
    staging = [_staging_step(t) for t in tables]
    made = tuple(step.name for step in staging)
    words = {column.words_from for t in tables for column in t.columns if column.words_from}
    needs = (*made, *words, "reference.program", DOUBLED_KEYS)
    of_one_table = [(check, f"staging.{t.name}") for t in tables for check in (*declared_checks(t), *habit_checks(t))]
    checks = [
        (_check_step(replace(check, rows_of=check.rows_of or table), needs), check.severity)
        for check, table in of_one_table
    ]
    checks += [(_check_step(check, needs), check.severity) for check in lost_zeros_checks()]
    staging += [
        Step(DOUBLED_KEYS, made, doubled_keys_query(tables)),
        Step(
            "staging.repeats",
            (*made, DOUBLED_KEYS),
            repeats_query(tables),
            rows_of=DOUBLED_KEYS,
            otherwise=empty_repeats(),
        ),
        Step("staging.all_rows", made, all_rows_query(tables)),
    ]
    return tuple(staging), tuple(checks)


def _check_steps() -> list[Step]:
    """Every check, and the two groups of checks that a query may need."""
    _, declared = _declared_steps()
    checks = [*declared, *((_check_step(check, needs), check.severity) for check, needs in written_checks())]
    deciding = tuple(step.name for step, severity in checks if severity != NOTED)
    aside = tuple(step.name for step, severity in checks if severity == SETS_ASIDE)
    groups = [
        Step(SETTING_ASIDE, aside, ""),
        Step(DECIDING_CHECKS, deciding, ""),
        Step(ALL_CHECKS, tuple(step.name for step, _ in checks), ""),
    ]
    return [step for step, _ in checks] + groups


def _result_steps(layers: tuple[str, ...]) -> list[Step]:
    """The declared tables of these layers, which the pipeline fills."""
    tables = [table for table in declared_results().values() if table.schema in layers]
    return [Step(f"{t.schema}.{t.name}", t.needs, ddl(t), keep=t.kept) for t in tables]


def steps_of(layers: tuple[str, ...]) -> dict[str, Step]:
    steps = [step for layer in layers for step in _file_steps(layer)]
    steps += _result_steps(layers)
    if "staging" in layers:
        steps += _declared_steps()[0]
    if "trials" in layers:
        steps += _check_steps()
    return {step.name: step for step in steps}


def in_order(steps: dict[str, Step]) -> list[str]:
    """Names in an order that meets every need; needs outside the build are already there."""
    graph = {name: [need for need in step.needs if need in steps] for name, step in sorted(steps.items())}
    return list(TopologicalSorter(graph).static_order())
