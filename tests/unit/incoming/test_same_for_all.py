"""What no column of a cooperator's sheet says is said once in headings.yml, for all rows of a file, a sheet or a table."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from pipeline.errors import UserError

PLOTS = "same_for_all: {plots: {trial_id: 2091-A-corn, became: harvested}}\n"


def drop(tiny, *columns: str, table: str = "plots") -> None:
    heads, *rows = tiny.rows(table)
    kept = [i for i, heading in enumerate(heads) if heading not in columns]
    tiny.write(table, [[row[i] for i in kept] for row in (heads, *rows)])


def only(tiny, trial: str, table: str = "plots") -> list[list[str]]:
    heads, *rows = tiny.rows(table)
    at = heads.index("trial_id")
    return [heads, *(row for row in rows if row[at] == trial)]


def words(tiny, text: str) -> None:
    (tiny.folder / "seasons/2091/headings.yml").write_text(text, encoding="utf-8")


def plots_of(tiny) -> list[tuple]:
    plots = tiny.load()["reports.plots"].query("season == 2091")
    return sorted(plots[["trial_id", "plot", "fate", "yield_kg_ha"]].round(6).itertuples(index=False, name=None))


def test_a_trials_sheet_without_its_name_and_fate(tiny):
    before = [plot for plot in plots_of(tiny) if plot[0] == "2091-A-corn"]
    tiny.write("plots", only(tiny, "2091-A-corn"))
    drop(tiny, "trial_id", "became")
    tiny.write("north", tiny.rows("plots"))
    tiny.path("plots").unlink()
    words(tiny, "tables: {north: plots}\nsame_for_all: {north: {trial_id: 2091-A-corn, became: harvested}}\n")
    assert plots_of(tiny) == before and len(before) == 6


def test_one_sheet_a_trial(tiny):
    before = plots_of(tiny)
    book = Workbook()
    book.remove(book.active)
    for trial, title in (("2091-A-corn", "Trial 7"), ("2091-B-cotton", "Trial 8")):
        heads, *rows = only(tiny, trial)
        sheet = book.create_sheet(title)
        for row in (heads, *rows):
            sheet.append([cell for heading, cell in zip(heads, row, strict=True) if heading != "trial_id"])
    tiny.path("plots").unlink()
    book.save(tiny.folder / "seasons/2091/book.xlsx")
    words(
        tiny,
        "tables: {Trial 7: plots, Trial 8: plots}\nsame_for_all: {Trial 7: {trial_id: 2091-A-corn}, Trial 8: {trial_id: 2091-B-cotton}}\n",
    )
    assert plots_of(tiny) == before


def test_a_trial_told_by_the_crop_within_a_sheet(tiny):
    before = plots_of(tiny)
    heads, *rows = tiny.rows("plots")
    at = heads.index("trial_id")
    tiny.write(
        "plots",
        [
            [("Crop" if row is heads else row[at].split("-")[-1]) if i == at else cell for i, cell in enumerate(row)]
            for row in (heads, *rows)
        ],
    )
    words(
        tiny,
        "headings: {plots: {Crop: trial_id}}\nwords: {plots: {trial_id: {corn: 2091-A-corn, cotton: 2091-B-cotton}}}\n",
    )
    assert plots_of(tiny) == before


def test_what_raw_holds_is_what_came(tiny):
    drop(tiny, "became")
    words(tiny, "same_for_all: {plots: {became: harvested}}\n")
    with tiny.loaded() as warehouse:
        cells = warehouse.read(
            "select cells from raw.rows where table_name = 'plots' and cells ->> 'became' is not null"
        )
        assert len(cells) == 6  # those of the other season
        assert warehouse.read("select count(*) as n from trials.plots where fate = 'used'")["n"].item() == 18


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (PLOTS, r'plots.csv, row 1: the column "trial_id" says trial_id row by row.*2091-A-corn for all rows'),
        ("same_for_all: {plott: {became: harvested}}\n", r'headings.yml.*"plott" is no table of ours.*did you mean "plots"'),
        ("same_for_all: {plots: {becam: harvested}}\n", r'headings.yml.*"becam" is no heading of plots.*did you mean "became"'),
        ("same_for_all: {plots: harvested}\n", r"headings.yml, line 1"),
    ],
)  # fmt: skip
def test_a_mistake_is_named(tiny, text, said):
    words(tiny, text)
    with pytest.raises(UserError, match=f"(?s){said}"):
        tiny.load()


def test_the_line_to_paste_is_the_one_for_all_rows(tiny):
    drop(tiny, "trial_id")
    with pytest.raises(UserError) as refused:
        tiny.load()
    assert "same_for_all: {plots: {trial_id: <the trial>}}" in str(refused.value)
    words(tiny, "same_for_all: {plots: {trial_id: 2091-A-corn}}\n")
    assert len(plots_of(tiny)) == 12
