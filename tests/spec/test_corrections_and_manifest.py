"""A correction changes a row only while its old value stands there; a manifest tells which file changed since it came."""

from __future__ import annotations

import hashlib
import re

import pytest

from pipeline.errors import UserError
from pipeline.warehouse import open_warehouse

CORRECTION = """\
- table: plots
  where: {{trial_id: 2091-A-corn, plot: 102}}
  change: {{harvest_weight_lb: {{old: "{old}", new: "{new}"}}}}
  cause: scale print misread
  who: analyst 2
  date: 2091-12-01
  treatment_known: no
"""


def yield_of_plot(tables) -> float:
    plots = tables["reports.plots"]
    return plots.loc[(plots["trial_id"] == "2091-A-corn") & (plots["plot"] == "102"), "yield"].item()


@pytest.mark.parametrize(
    ("old", "new", "weight_lb", "found"),
    [
        ("41.3", "44.1", 44.1, []),
        ("40.0", "44.1", 41.3, ['harvest_weight_lb is "41.3"']),
        ("41.3", "", None, []),
    ],
)
def test_a_correction_is_applied_only_to_what_it_expects(tiny, old, new, weight_lb, found):
    (tiny.folder / "seasons/2091/corrections.yml").write_text(CORRECTION.format(old=old, new=new))
    tables = tiny.load()
    findings = tables["reports.findings"]
    mine = findings[findings["check_name"] == "correction no longer matches"]
    assert mine["found"].tolist() == found
    assert set(mine["expected"]) <= {'"40.0", per seasons/2091/corrections.yml line 1'}
    assert set(mine["severity"]) <= {"noted"} and set(mine["row_number"]) <= {3}
    bushels = yield_of_plot(tables)
    if weight_lb is None:
        assert bushels != bushels
    else:
        # 18.2 % moisture, 150 square feet
        assert bushels == pytest.approx(weight_lb * 81.8 / 84.5 / 56 / (150 / 43_560))
    with open_warehouse(tiny.folder / "warehouse.duckdb", read_only=True) as warehouse:
        raw = warehouse.read(
            "select cells ->> 'harvest_weight_lb' as w from raw.rows where row_number = 3 and table_name = 'plots'"
        )
    assert "41.3" in raw["w"].tolist(), "what was delivered is never edited"


def test_a_correction_that_finds_no_row(tiny):
    (tiny.folder / "seasons/2091/corrections.yml").write_text(
        CORRECTION.format(old="41.3", new="44.1").replace("102", "999")
    )
    (finding,) = tiny.load()["reports.findings"].itertuples()
    assert finding.check_name == "correction no longer matches"
    assert finding.found.startswith("no row of season 2091 where") and finding.mend


def corrections(tiny, *texts: str) -> None:
    (tiny.folder / "seasons/2091/corrections.yml").write_text("".join(texts))


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        ([("41.3", "44.1"), ("41.3", "45.5")], "line 8: harvest_weight_lb of trial_id 2091-A-corn, plot 102 is changed in line 1 too; keep one"),
        ([("41.3", "41.3")], 'line 3: harvest_weight_lb is "41.3" before and after'),
        ([("41.3", "4x4")], 'line 3: the new harvest_weight_lb is "4x4"; expected a number like 12.5'),
    ],
)  # fmt: skip
def test_corrections_that_cannot_be_meant_are_refused(tiny, texts, says):
    corrections(tiny, *(CORRECTION.format(old=old, new=new) for old, new in texts))
    with pytest.raises(UserError, match=re.escape(f"seasons/2091/corrections.yml, {says}")):
        tiny.load()


def test_a_review_still_to_come_is_refused(tiny):
    corrections(tiny, CORRECTION.format(old="41.3", new="44.1").replace("2091-12-01", "2299-12-01"))
    with pytest.raises(UserError, match='line 1: "date" is 2299-12-01, which is still to come'):
        tiny.load()


def test_two_corrections_of_one_cell_by_other_conditions_change_nothing(tiny):
    first = CORRECTION.format(old="41.3", new="44.1")
    corrections(tiny, first, first.replace("plot: 102", "treatment_code: U-120").replace("44.1", "45.5"))
    tables = tiny.load()
    found = tables["reports.findings"].query("check_name == 'correction no longer matches'")["found"]
    assert any("harvest_weight_lb is changed by seasons/2091/corrections.yml line 8 too" in each for each in found)
    assert yield_of_plot(tables) == pytest.approx(41.3 * 81.8 / 84.5 / 56 / (150 / 43_560))


def test_a_chain_of_corrections_names_both(tiny):
    corrections(tiny, CORRECTION.format(old="41.3", new="44.1"), CORRECTION.format(old="44.1", new="45.5"))
    (finding,) = tiny.load()["reports.findings"].itertuples()
    assert finding.found == ('harvest_weight_lb is "41.3" (seasons/2091/corrections.yml line 1 changes it to "44.1")')
    assert finding.expected == '"44.1", per seasons/2091/corrections.yml line 8' and "write one entry" in finding.mend


def test_a_manifest_tells_which_file_changed_is_new_or_is_gone(tiny):
    names = [
        f"{table}.csv" for table in ("sites", "rain_history", "trials", "treatments", "nitrogen_applications", "plots")
    ]
    lines = [
        f"{name},{hashlib.sha256((tiny.folder / 'seasons/2091' / name).read_bytes()).hexdigest()},coop-07,2091-11-20"
        for name in names
    ]
    manifest = tiny.folder / "seasons/2091/manifest.csv"
    manifest.write_text(
        "\n".join(["file,sha256,sender,received", *lines, f"gone.csv,{'0' * 64},coop-07,2091-11-20"]) + "\n"
    )
    tiny.change("plots", 2, "harvest_weight_lb", "22.4")
    findings = tiny.load()["reports.findings"]
    assert set(findings["check_name"]) == {"file changed since received"} and set(findings["severity"]) == {"noted"}
    by_file = findings.set_index("file")["found"]
    assert by_file["seasons/2091/plots.csv"].startswith("sha256 ")
    assert by_file["seasons/2091/weather_daily.csv"] == "a file the manifest does not list"
    assert by_file["seasons/2091/gone.csv"] == "a line for a file that is not there"
    assert len(findings) == 3 and findings["mend"].notna().all()
