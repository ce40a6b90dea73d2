"""Files as people save them: other separators, letters, decimal signs and suffixes. Read, said once, and confirmed once."""

from __future__ import annotations

import csv
import io

import pytest

from tests.unit.incoming.test_same_for_all import plots_of, words


def saved(tiny, table: str, *, separator: str, encoding: str, decimal: str = ".", suffix: str = ".csv") -> None:
    """The table again as another program saves it."""
    rows = tiny.rows(table)
    numbers = [
        [cell.replace(".", decimal) if cell.replace(".", "", 1).isdigit() else cell for cell in row] for row in rows
    ]
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows(numbers)
    tiny.path(table).unlink()
    tiny.path(table).with_suffix(suffix).write_bytes(text.getvalue().encode(encoding))


READINGS = {
    "semicolons and decimal commas": (dict(separator=";", encoding="utf-8", decimal=","), "semicolons, decimal commas"),
    "Unicode text": (dict(separator="\t", encoding="utf-16", suffix=".txt"), "UTF-16, tabs"),
    "tabs": (dict(separator="\t", encoding="utf-8", suffix=".tsv"), "tabs"),
    "older letters": (dict(separator=",", encoding="cp1252"), "Windows-1252"),
}  # fmt: skip


@pytest.mark.parametrize(("how", "called"), READINGS.values(), ids=READINGS)
def test_the_same_yields_a_finding_and_silence_once_confirmed(tiny, how, called):
    tiny.change("plots", 3, "cause", "Stra\u00dfe")
    before = plots_of(tiny)
    saved(tiny, "plots", **how)
    assert plots_of(tiny) == before
    (finding,) = tiny.load()["reports.findings"].query("check_name == 'noticed while reading'").itertuples()
    file = f"plots{how.get('suffix', '.csv')}"
    assert finding.found == called and f'reading_confirmed: {{"{file}": "{called}"}}' in finding.mend
    words(tiny, finding.mend[finding.mend.index("reading_confirmed") :] + "\n")
    after = tiny.load()["reports.findings"]
    assert after.empty and plots_of(tiny) == before


def test_another_reading_than_the_confirmed_one_is_said_again(tiny):
    saved(tiny, "plots", separator=";", encoding="utf-8")
    words(tiny, 'reading_confirmed: {plots.csv: "tabs"}\n')
    assert list(tiny.load()["reports.findings"]["found"]) == ["semicolons"]


def test_raw_keeps_the_comma_and_a_code_keeps_its_own(tiny):
    for table in ("plots", "treatments", "nitrogen_applications"):
        rows = [["C-120,5" if cell == "C-120" else cell for cell in row] for row in tiny.rows(table)]
        tiny.write(table, rows)
    before = plots_of(tiny)
    for table in ("plots", "treatments", "nitrogen_applications"):
        saved(tiny, table, separator=";", encoding="utf-8", decimal=",")
    assert plots_of(tiny) == before
    with tiny.loaded() as warehouse:
        weights = warehouse.read(
            "select cells ->> 'harvest_weight_lb' as w from raw.rows inner join raw.current_files using (sha256) where file = 'seasons/2091/plots.csv'"
        )["w"]
        assert weights.str.contains(",").any() and not weights.str.contains(r"\.", regex=True).any()
