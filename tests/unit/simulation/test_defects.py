"""Every planted defect stands where the answer key says, and nowhere else."""

from __future__ import annotations

import openpyxl
import pandas as pd
import pytest

from pipeline.contract.checks import declared_checks
from pipeline.contract.tables import HOLDS_TRIAL, declared_tables
from pipeline.simulation.defects import DEFECTS
from pipeline.sql_steps import written_checks


@pytest.fixture(scope="module")
def key(demo_folder) -> pd.DataFrame:
    return pd.read_csv(demo_folder / "defects.csv", dtype=str, keep_default_na=False).set_index("defect")


@pytest.fixture(scope="module")
def line(demo_folder, key):
    """The delivered line a defect's key points at, as text by heading."""

    def find(defect: str) -> dict[str, str]:
        entry = key.loc[defect]
        path, row = demo_folder / entry["file"], int(entry["row"])
        if path.suffix == ".xlsx":
            cells = list(openpyxl.load_workbook(path)[entry["sheet"]].values)
            return {heading: "" if v is None else str(v) for heading, v in zip(cells[0], cells[row - 1], strict=True)}
        lines = path.read_text(encoding="utf-8").splitlines()
        return dict(zip(lines[0].split(","), lines[row - 1].split(","), strict=True))

    return find


def test_each_defect_has_its_own_trial_and_few_hold_theirs(key):
    assert list(key.index) == [defect.name for defect in DEFECTS] and len(key) == 13
    assert key["trial_id"].is_unique
    assert (key["severity_expected"] == HOLDS_TRIAL).sum() <= 6


def test_checks_named_in_the_key_are_checks_of_the_pipeline(key):
    tables = declared_tables().values()
    known = {check.name for table in tables for check in declared_checks(table)} | {
        check.name for check, _ in written_checks()
    }
    named = {name for names in key["check_names"] for name in names.split("; ") if name}
    assert named <= known and len(named) == 13
    assert set(key.index[key["check_names"] == ""]) == {"hail"}


def test_severities_are_those_the_tables_declare(key):
    declared = {
        "moisture as a fraction": ("plots", "moisture"),
        "turnout in percent": ("plots", "gin_turnout"),
        "misspelled word": ("treatments", "n_source"),
    }
    for defect, (table, column) in declared.items():
        columns = {c.name: c for c in declared_tables()[table].columns}
        assert key.loc[defect, "severity_expected"] == columns[column].severity


@pytest.mark.parametrize(
    "defect",
    [
        "moisture as a fraction",
        "turnout in percent",
        "kilograms under pounds",
        "swapped plots",
        "repeated row",
        "harvest width",
        "hail",
        "zero-N above treated",
        "product weight as N",
        "misspelled word",
    ],
)
def test_the_key_points_at_a_line_of_the_trial(key, line, defect):
    assert line(defect)["trial_id"] == key.loc[defect, "trial_id"]


def test_cells_hold_the_planted_values(line):
    assert 0.05 < float(line("moisture as a fraction")["moisture_pct"]) < 0.5
    assert 20 < float(line("turnout in percent")["gin_turnout_fraction"]) < 52
    assert float(line("harvest width")["harvest_width_ft"]) == 6.0
    assert line("hail")["outcome"] == "damaged" and line("hail")["harvest_weight_lb"] == ""
    assert line("product weight as N")["n_rate_lb_ac"] == "260.9"  # 120 / 0.46
    assert line("misspelled word")["n_source"] == "coatd blend"
    assert line("unknown column")["lodging_pct"] == "lodging_pct"  # the key points at the headings


def plots_of(demo_folder, key, defect: str) -> pd.DataFrame:
    path = demo_folder / key.loc[defect, "file"]
    plots = pd.read_excel(path, sheet_name="plots") if path.suffix == ".xlsx" else pd.read_csv(path)
    return plots[plots["trial_id"] == key.loc[defect, "trial_id"]]


def test_swapped_codes_stand_twice_in_their_blocks(demo_folder, key):
    counts = (
        plots_of(demo_folder, key, "swapped plots").groupby(["block", "treatment_code"]).size().unstack(fill_value=0)
    )
    assert (counts.loc[1, "U1-120"], counts.loc[1, "C50-120"]) == (2, 0)
    assert (counts.loc[2, "U1-120"], counts.loc[2, "C50-120"]) == (0, 2)


def test_repeated_row_says_the_same_twice(demo_folder, key):
    assert plots_of(demo_folder, key, "repeated row").duplicated().sum() == 1


def test_missing_plot_leaves_one_block_incomplete(demo_folder, key):
    plots = plots_of(demo_folder, key, "missing plot")
    assert sorted(plots.groupby("block").size()) == [4] + [5] * (plots["block"].nunique() - 1)


def test_zero_n_out_yields_every_treatment(demo_folder, key):
    means = plots_of(demo_folder, key, "zero-N above treated").groupby("treatment_code")["harvest_weight_lb"].mean()
    assert means.idxmax() == "ZERO"


def test_kilograms_make_the_trial_weigh_less_than_half(demo_folder, key, program):
    trial = key.loc["kilograms under pounds", "trial_id"]
    true = program.tables["plots"].query("trial_id == @trial")["harvest_weight_lb"].sum()
    assert plots_of(demo_folder, key, "kilograms under pounds")["harvest_weight_lb"].sum() == pytest.approx(
        0.45359237 * true, rel=1e-3
    )


def test_rain_gap_is_nine_days_at_one_place(demo_folder, key, line):
    weather = pd.read_csv(demo_folder / key.loc["rain gap", "file"], parse_dates=["date"])
    days = weather.groupby("place").size()
    assert sorted(days.unique()) == [245 - 9, 245] and (days == 236).sum() == 1
    trial = key.loc["rain gap", "trial_id"]
    trials = pd.read_csv(demo_folder / "seasons" / trial[:4] / "trials.csv").set_index("trial_id")
    assert trials.loc[trial, "site_id"].split()[0] == days.idxmin() == line("rain gap")["place"]
    assert line("rain gap")["date"].endswith("-05-29")  # the first day after the gap


def test_nothing_else_differs_from_the_program_without_defects(demo_folder, key, program):
    touched = set(key["trial_id"])
    for season in (2091, 2093, 2094):
        delivered = pd.read_csv(demo_folder / "seasons" / str(season) / "plots.csv", keep_default_na=True)
        others = delivered[~delivered["trial_id"].isin(touched)].drop(columns="lodging_pct", errors="ignore")
        clean = program.tables["plots"].query(
            "trial_id.str.startswith(@season_text) and trial_id not in @touched",
            local_dict={"season_text": str(season), "touched": touched},
        )
        assert len(others) > 500
        assert (others["harvest_weight_lb"].to_numpy() == clean["harvest_weight_lb"].to_numpy()).all()
        assert (others["treatment_code"].to_numpy() == clean["treatment_code"].to_numpy()).all()
