"""Declarations to check queries. Each query returns the offending rows, and zero rows is a pass.

Every check, generated here or written by hand in sql/checks/, returns the columns of FINDING_COLUMNS.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.dates import date_mend
from pipeline.contract.repeats import DOUBLED_KEYS, claimed_twice, row_says
from pipeline.contract.staging import PERCENT, quoted, read_text, text_of
from pipeline.contract.tables import NOTED, Column, Table
from pipeline.contract.units import METRIC, US, display_unit, said_unit

FINDING_COLUMNS = (
    "file",
    "sheet",
    "row_number",
    "table_name",
    "column_name",
    "trial_id",
    "site_id",
    "found",
    "expected",
    "mend",
)


# Who can mend what a check finds: who sent the file, or who keeps program.yml and what lies beside the deliveries.
SENDER, ANALYST = "sender", "analyst"
# Where the row that a finding misses may stand while a file is not read.
OF_ITS_FOLDER, OF_ANY_FOLDER = "of its folder", "of any folder"


@dataclass(frozen=True)
class Check:
    """A named query with its severity; the name says the fault, `says` the rule in one line, for the data dictionary.

    rows_of: a table without whose rows nothing can be found; empty where there always may be something.
    only_where: a condition that one of its rows t must meet, so that all checks of a table are tried in one statement
    and few are run.
    asks: who can mend it, SENDER or ANALYST.
    may_follow_from: the files, OF_ITS_FOLDER or OF_ANY_FOLDER, which alone may be why something is found as long as
    they are not read; empty where no file can be.
    """

    name: str
    severity: str
    says: str
    query: str
    only_where: str = "true"
    asks: str = SENDER
    rows_of: str = ""
    may_follow_from: str = ""


def _finding(table: Table, column: str, found: str, expected: str, mend: str, where: str, source: str = "") -> str:
    """A finding query over one staging table; `column`, `found`, `expected` and `mend` are SQL expressions."""
    names = {column.name for column in table.plain_columns}
    trial = "t.trial_id" if "trial_id" in names else "null"
    site = "t.site_id" if "site_id" in names else "null"
    return f"""select t.file, t.sheet, t.row_number, {quoted(table.name)} as table_name,
      {column} as column_name,
  {trial} as trial_id, {site} as site_id, {found} as found, {expected} as expected, {mend} as mend
from {source or f"staging.{table.name} as t"}
where {where}"""


def _headings(column: Column) -> str:
    return " or ".join(column.unit_of_heading)


def _heading_told(column: Column) -> str:
    """SQL text: the heading under which a row has the column, where there are several that it may have; one whose cell
    is read goes before one with a word for missing.
    """
    headings = list(column.unit_of_heading)
    if len(headings) == 1:
        return quoted(headings[0])
    texts = [(h, read_text(column, h, "t.")) for h in headings] + [(h, text_of(h, "t.")) for h in headings]
    told = (f"when {text} is not null then {quoted(heading)}" for heading, text in texts)
    return f"case {' '.join(told)} else {quoted(_headings(column))} end"


def _delivered(column: Column) -> str:
    """The text that was delivered for a column under whichever of its headings."""
    texts = ", ".join(text_of(heading, "t.") for heading in column.unit_of_heading)
    return f"coalesce({texts}, null)"


def is_unread(column: Column) -> str:
    """SQL condition: something was delivered for a column, be it a word for missing, and no value was read."""
    return f"t.{column.stored_name} is null and {_delivered(column)} is not null"


def _read(column: Column) -> str:
    """The same without what means missing."""
    texts = ", ".join(read_text(column, heading, "t.") for heading in column.unit_of_heading)
    return f"coalesce({texts}, null)"


EXPECTED_OF_TYPE = {
    "number": ("a number like 12.5", "write the number alone: no unit, no %, no comma"),
    "integer": ("a whole number", "write the whole number alone"),
    "date": ("a date as year-month-day", "write it like 2093-05-02"),
    "yes_no": ("yes or no", "write yes or no"),
}


def _required(table: Table, column: Column) -> Check:
    found = f"coalesce({_delivered(column)}, '(empty)')"
    where = f"t.{column.stored_name} is null and {_read(column)} is null"
    if column.or_factor:
        told = ", ".join(_read(other) for other in table.plain_columns if other.or_factor)
        factors = " or ".join(f"t.{c.name}columns <> '{{}}'" for c in table.columns if c.pattern)
        where += f" and (coalesce({told}) is not null or not coalesce({factors}, false))"
    query = _finding(table, _heading_told(column), found, quoted(column.meaning), "'fill it in'", where)
    only_where = f"t.{column.stored_name} is null"
    return Check(f"{table.name}.{column.name} is empty", column.severity, "must not be empty", query, only_where)


def _castable(table: Table, column: Column) -> Check:
    expected, mend = EXPECTED_OF_TYPE[column.type]
    where = f"t.{column.stored_name} is null and {_read(column)} is not null"
    mend = date_mend(_read(column), quoted(mend)) if column.type == "date" else quoted(mend)
    mend = _until_then(column, mend)
    query = _finding(table, _heading_told(column), _read(column), quoted(expected), mend, where)
    return Check(
        f"{table.name}.{column.name} is not {expected}",
        column.severity,
        f"must be {expected}",
        query,
        is_unread(column),
    )


def _until_then(column: Column, mend: str) -> str:
    """SQL text: a mend and, where the row is used all the same, what becomes of the value that is not."""
    return f"{mend} || '; until then it counts as not given'" if column.severity == NOTED else mend


# Jaro-Winkler similarity from which a known word may be meant; found by trial: "mod. well" finds its class, "maize" no
# soybean
LIKENESS = 0.65


def _one_unit(table: Table, column: Column) -> Check:
    given = " + ".join(f"({read_text(column, heading, 't.')} is not null)::int" for heading in column.unit_of_heading)
    filled = " + ".join(f"({text_of(heading, 't.')} is not null)::int" for heading in column.unit_of_heading)
    query = _finding(
        table,
        quoted(_headings(column)),
        quoted("filled under two units"),
        quoted("one unit per row"),
        quoted("clear one of them"),
        f"{given} > 1",
    )
    name = f"{table.name}.{column.name} in two units"
    return Check(name, column.severity, "must be given in one unit", query, f"{filled} > 1")


def _known_word(table: Table, column: Column) -> Check:
    if column.words_from:
        words = f"(select list(word order by word) from {column.words_from})"
    else:
        words = "[" + ", ".join(quoted(word) for word in column.words) + "]"
    stored = f"t.{column.stored_name}"
    nearest = (
        f"list_sort(list_transform({words}, lambda w: {{'d': -jaro_winkler_similarity(lower(w), lower({stored})), 'w':"
        " w}))[1]"
    )
    guess = f"case when -({nearest}).d >= {LIKENESS} then ({nearest}).w end"
    where = f"{stored} is not null and not list_contains({words}, {stored})"
    line = f"'put into headings.yml: words: {{{table.name}: {{{column.name}: {{\"' || {_delivered(column)} || '\": '"
    query = _finding(
        table,
        quoted(column.name),
        _delivered(column),
        f"'one of: ' || array_to_string({words}, ', ')",
        f"""coalesce('nearest known word: "' || {guess} || '"; or ' || {line} || {guess} || '}}}}}}',
        'write one of these; or ' || {line} || '<one of these>}}}}}}')""",
        where,
    )
    return Check(
        f"{table.name}.{column.name} is not a known word", column.severity, "must be a known word", query, where
    )


EXPECTED_RANGE = {"hard": "", "typical": "usually "}


def _range(table: Table, column: Column, kind: str) -> Check | None:
    by_crop = {crop: limits[kind] for crop, limits in column.by_crop.items() if kind in limits}
    limits = getattr(column, kind)
    if not by_crop and limits is None:
        return None
    severity = column.severity if kind == "hard" else NOTED
    ranges = by_crop or {"": limits}
    values = ", ".join(_range_row(column, crop, low_high) for crop, low_high in ranges.items())
    joined = (
        "inner join (select distinct trial_id, crop from staging.trials) as trial"
        " on trial.trial_id = t.trial_id and trial.crop = l.crop"
        if by_crop
        else ""
    )
    source = f"""staging.{table.name} as t cross join reference.program as p
  cross join (values {values}) as l(crop, low, high, hard_low, hard_high, said_us, said_metric) {joined}"""
    # one part in a million keeps a limit itself inside after its unit was converted
    stored = f"t.{column.stored_name}"
    where = f"({stored} < l.low - abs(l.low) * 1e-6 or {stored} > l.high + abs(l.high) * 1e-6)"
    if kind == "typical":
        where += f" and {stored} between l.hard_low and l.hard_high"
    mend = quoted("unusual: check the field sheet") if kind == "typical" else _until_then(column, _mend_range(column))
    heading, found = _heading_told(column), _read_with_unit(column)
    if column.or_product:
        heading, found, mend = _of_product(table, column, heading, found, mend)
    query = _finding(
        table,
        heading,
        found,
        f"'{EXPECTED_RANGE[kind]}' || {_by_display('l.said_us', 'l.said_metric')}",
        mend,
        where,
        source,
    )
    lows, highs = zip(*(map(column.in_stored_unit, low_high) for low_high in ranges.values()), strict=True)
    return Check(
        f"{table.name}.{column.name} outside its {kind} range",
        severity,
        f"must lie in its {kind} range",
        query,
        f"{stored} < {max(lows)!r} or {stored} > {min(highs)!r}",
    )


def _of_product(table: Table, column: Column, heading: str, found: str, mend: str) -> tuple[str, str, str]:
    """Heading, found and mend, also of a value that was worked out, whose cell is empty; p is reference.program."""
    weight, percent = (next(c for c in table.plain_columns if c.name == name) for name in column.or_product)
    is_given = f"{_read(column)} is not null"
    worked_out = f"units.said_n_rate(t.{column.stored_name}, p.display_units) || ' in the product'"
    correct = quoted(f"it is worked out from {weight.name} and {_headings(percent)}: correct the wrong one of them")
    return (
        f"case when {is_given} then {heading} else {_heading_told(weight)} end",
        f"coalesce({found}, {worked_out})",
        f"case when {is_given} then {mend} else {correct} end",
    )


def _mend_range(column: Column) -> str:
    """SQL text: what may have happened to a value beyond its hard range, and how it is written then."""
    stored = f"t.{column.stored_name}"
    typed = f"try_cast(rtrim(replace({_read(column)}, '%', '')) as double)"
    is_share = any(unit in PERCENT for unit in column.units)
    large, small = (
        ("a percent typed as a fraction", "a fraction typed as a percent")
        if is_share
        else ("a decimal point left out", "a decimal point in the wrong place")
    )
    return f"""case
    when {stored} / 100 between l.low and l.high
      then 'a hundred times too large: {large}? If so, write ' || round({typed} / 100, 9)
    when {stored} * 100e0 between l.low and l.high
      then 'a hundred times too small: {small}? If so, write ' || round({typed} * 100, 9)
    else 'typed in the wrong unit or place? correct it' end"""


def _by_display(us: str, metric: str) -> str:
    """SQL text: the one of two that fits the program's display units; p is reference.program."""
    return us if us == metric else f"case p.display_units when '{US}' then {us} else {metric} end"


def _read_with_unit(column: Column) -> str:
    """The delivered text, with its unit where the range beside it is told in another one."""
    first = next(iter(column.units), None)
    parts = []
    for heading, unit in column.unit_of_heading.items():
        told = (display_unit(first, display) if first else None for display in (US, METRIC))
        us, metric = (quoted("" if unit == other else f" {said_unit(unit)}") for other in told)
        text = read_text(column, heading, "t.")
        parts.append(text if us == metric == "''" else f"{text} || {_by_display(us, metric)}")
    return f"coalesce({', '.join(parts)}, null)"


def range_said(column: Column, limits: tuple[float, float], display_units: str = US) -> str:
    """A range as declared, in the column's first unit: '-60 to 135 °F'; in metric units to 4 digits: '-51.11 to 57.22
    °C'.
    """
    first = next(iter(column.units), None)
    unit = display_unit(first, display_units) if first else None
    low, high = limits
    if unit != first:
        low, high = (float(f"{column.in_stored_unit(limit):.4g}") for limit in limits)
    if first is None:
        return f"{low:.15g} to {high:.15g}"  # a year has no comma
    told = said_unit(unit)
    return f"{low:,.15g} to {high:,.15g}{'' if told == '%' else ' '}{told}".strip()


def _range_row(column: Column, crop: str, limits: tuple[float, float]) -> str:
    """(crop, low, high, hard_low, hard_high, and the range as told in US and metric units), limits in stored units;
    beyond the hard range only the hard check speaks.
    """
    hard = column.by_crop.get(crop, {}).get("hard") or column.hard or (-1e300, 1e300)
    numbers = ", ".join(repr(column.in_stored_unit(value)) for value in (*limits, *hard))
    of_crop = f" ({crop})" if crop else ""
    said = ", ".join(quoted(range_said(column, limits, display) + of_crop) for display in (US, METRIC))
    return f"({quoted(crop)}, {numbers}, {said})"


# Tables whose rows of a trial give way to those of a later delivery (sql/staging/superseded.sql).
BROUGHT_AGAIN = (
    "trials",
    "treatments",
    "nitrogen_applications",
    "plots",
    "harvests",
    "measurements",
    "printed_means",
)


def _doubled(table: Table) -> Check:
    key = ", ".join(table.key)
    shown = " || ', ' || ".join(f"coalesce(cast(t.{name} as varchar), '')" for name in table.key)
    source = f"""(
    select *, {row_says(table)} as said, first_value({row_says(table)}) over earlier as first_said,
      first_value(file) over earlier as first_file, first_value(delivery) over earlier as first_delivery,
      first_value(row_number) over earlier as first_row, row_number() over earlier as turn
    from {claimed_twice(table)}
    window earlier as (partition by {key} order by file, sheet, row_number)
  ) as t"""
    query = _finding(
        table,
        quoted(key),
        f"{shown} || ' (first in row ' || t.first_row || ')'",
        "'once; first delivered in ' || t.first_file",
        _mend_doubled(table),
        "t.turn > 1 and t.said is distinct from t.first_said",
        source,
    )
    return Check(
        f"{table.name} has two rows for one key",
        table.doubled,
        f"one row per {key}; an exact repeat is set aside",
        query,
        f"t.table_name = {quoted(table.name)}",
        rows_of=DOUBLED_KEYS,
    )


def _mend_doubled(table: Table) -> str:
    """SQL text: what to do about two rows of one key, in one file or in two, of which one may correct the other."""
    older = "say which is right; if one file as a whole corrects the other, take the older out of the season's folder"
    dated = f"{older}, or write into manifest.csv there when each was received: the later one counts"
    by_date = f"when t.delivery <> t.first_delivery then {quoted(dated)}" if table.name in BROUGHT_AGAIN else ""
    return f"""case {by_date} when t.file <> t.first_file then {quoted(older)}
    else 'the two rows differ: correct or remove one' end"""


def declared_checks(table: Table) -> list[Check]:
    """All checks that follow from one table's declaration."""
    found: list[Check | None] = [_doubled(table)]
    for column in table.plain_columns:
        if column.required:
            found.append(_required(table, column))
        if column.type != "text":
            found.append(_castable(table, column))
        if len(column.units) > 1:
            found.append(_one_unit(table, column))
        if column.words or column.words_from:
            found.append(_known_word(table, column))
        found += [_range(table, column, "hard"), _range(table, column, "typical")]
    return [check for check in found if check is not None]
