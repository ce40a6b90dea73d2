"""Dates in delivered text: which are read, and what one that is written otherwise may mean."""

from __future__ import annotations

# The years of the seasons that a trial may have (tables/trials.yml): of others, a digit is wrong.
FIRST_YEAR, LAST_YEAR = 1900, 2199
YEAR = r"(?:19|20|21)\d{2}"
_MIDNIGHT = "([T ]00:00(:00)?)?"
DATE = rf"{YEAR}-\d{{2}}-\d{{2}}{_MIDNIGHT}"
OF_ANY_YEAR = rf"\d{{4}}-\d{{2}}-\d{{2}}{_MIDNIGHT}"
# 5/2/2091, with the midnight that spreadsheet programs put behind it; which number is the month is said in headings.yml
WRITTEN_DATE = rf"(\d{{1,2}})[/.-](\d{{1,2}})[/.-]({YEAR})( 0?0:00(:00)?)?"
DAY_AND_MONTH = r"(\d{1,2})[/.-](\d{1,2})[/.-](\d{4}|\d{2})( 0?0:00(?::00)?)?"
MONTH_FIRST, DAY_FIRST = "month first", "day first"


def date_read(text: str) -> str:
    """SQL date: year-month-day, or by the row's date_order, which headings.yml gives its file; null for other text, and
    for a year that no season is of.
    """
    return f"""case when regexp_full_match({text}, '{DATE}') then try_cast(left({text}, 10) as date)
    when date_order is not null and regexp_full_match({text}, '{WRITTEN_DATE}')
    then try_cast(regexp_replace({text}, '^{WRITTEN_DATE}$',
      case date_order when '{MONTH_FIRST}' then '\\3-\\1-\\2' else '\\3-\\2-\\1' end) as date) end"""


def date_mend(text: str, otherwise: str) -> str:
    """SQL text: what a date written otherwise may mean, else the SQL text `otherwise`.

    Both readings of day and month are named, none is taken.
    """
    first, second, year = (f"regexp_extract({text}, '^{DAY_AND_MONTH}$', {i})" for i in (1, 2, 3))
    month_first, day_first = (
        f"lpad({year}, 4, '?') || '-' || lpad({m}, 2, '0') || '-' || lpad({d}, 2, '0')"
        for m, d in ((first, second), (second, first))
    )
    first_number, second_number = f"try_cast({first} as integer)", f"try_cast({second} as integer)"
    days = f"date '{{}}' + try_cast({text} as integer)"
    month_always, day_always, either = (
        _or_read_as(orders, year) for orders in ((MONTH_FIRST,), (DAY_FIRST,), (MONTH_FIRST, DAY_FIRST))
    )
    return f"""case
    when regexp_full_match({text}, '\\d{{5}}') then 'a day number: ' || ({days.format("1899-12-30")}) ||
      ' where days count from 1900, ' ||
      ({days.format("1904-01-01")}) || ' where they count from 1904: write the one that is meant'
    when (regexp_full_match({text}, '{OF_ANY_YEAR}') and not regexp_full_match({text}, '{DATE}'))
      or (length({year}) = 4 and not regexp_full_match({year}, '{YEAR}'))
      then 'a wrong year? a date lies between {FIRST_YEAR} and {LAST_YEAR}: correct it'
    when not regexp_full_match({text}, '{DAY_AND_MONTH}') then {otherwise}
    when {first_number} > 12 and {second_number} > 12 then {otherwise}
    when {first_number} > 12 then 'write it like ' || {day_first} || {day_always}
    when {second_number} > 12 then 'write it like ' || {month_first} || {month_always}
    when {first_number} = {second_number} then 'write it like ' || {month_first}
    else 'month first it is ' || {month_first} || ', day first ' || {day_first} || ': write the one that is meant' ||
      {either}
    end
    """


def _or_read_as(orders: tuple[str, ...], year: str) -> str:
    """SQL text: what headings.yml can say of all dates of the file; of a year in two digits it can say nothing."""
    said = f"[{orders[0]}]}}" + "".join(f" (or [{order}])" for order in orders[1:])
    line = f"""'; or put into headings.yml: read_as: {{"' || regexp_extract(t.file, '[^/]*$') || '": {said}"""
    return f"case when length({year}) = 4 then {line}, if all dates of the file are written so' else '' end"
