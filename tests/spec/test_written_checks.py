"""The checks written by hand: each case is a sound trial, delivered in a folder of its own, with one thing spoiled.

All are loaded at once. Each check must speak about its own case with the severity, row, column and words written there
(tests/spoiled_trials), and nothing else may be said of that case.
"""

from __future__ import annotations

import shutil

import pytest

from pipeline.sql_steps import LAYERS, steps_of, written_checks
from tests.spoiled_trials import CASES
from tests.spoiled_trials.spoils import ASIDE, HOLDS, NOTED
from tests.tiny_program import TinyProgram, write_tiny_program

# what the reader of a file noticed is a sentence: nothing else was expected
SENTENCES = {
    "layout noticed",
    "noticed while reading",
    "row is a total or footnote",
    "row repeats the headings",
    "row above the headings",
}
# these speak of a whole season folder (test_corrections_and_manifest.py) or of program.yml (test_settings_checks.py)
IN_THEIR_OWN_FILE = {
    "correction no longer matches",
    "file changed since received",
    "file not read",
    "file read otherwise",
    "asked of no trial",
    "crop without rainfall window",
    "fixed after harvest",
    "later delivery lacks plots",
    "seasons against latitude",
    "weather not known",
}
WRITTEN = {check.name for check, _ in written_checks()}


def _all_cases(folder) -> TinyProgram:
    tiny = write_tiny_program(folder / "program")
    for name, case in CASES.items():
        tiny.add_delivery(name, like=case.like)
        case.spoil(tiny, f"2091/{name}")
    return tiny


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """All cases, checked."""
    with _all_cases(tmp_path_factory.mktemp("written")).loaded() as warehouse:
        yield warehouse


@pytest.fixture(scope="module")
def findings(loaded):
    return loaded.table("reports.findings")


def _about(findings, name: str):
    return findings[findings["file"].str.startswith(f"seasons/2091/{name}/")]


@pytest.mark.parametrize("name", CASES)
def test_each_spoiled_trial_gets_its_own_findings_and_no_others(findings, name):
    case, about = CASES[name], _about(findings, name)
    expected = sorted([*case.also, *([case.check] if case.check else [])])
    assert sorted(about["check_name"]) == expected


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.check])
def test_a_finding_names_its_place_and_says_what_to_do(findings, name):
    case, (table, row_number, column) = CASES[name], CASES[name].place
    about = _about(findings, name)
    (finding,) = about[(about["check_name"] == case.check) & (about["row_number"] == row_number)].itertuples()
    assert finding.file == f"seasons/2091/{name}/{table}.csv"
    assert (finding.severity, finding.table_name, finding.column_name) == (case.severity, table, column)
    assert finding.found.endswith(case.found)
    assert finding.mend and (finding.expected or finding.check_name in SENTENCES)


def test_a_finding_leaves_none_of_its_words_out(findings):
    """Where SQL adds a text to one that is missing, all of it is missing."""
    told = findings[findings["expected"].notna()]
    assert told["found"].notna().all() and findings["mend"].notna().all() and len(told) > len(CASES) / 2


@pytest.mark.parametrize(
    ("name", "mend"),
    [
        (
            "pounds of urea typed as pounds of N",
            "looks like the weight of the product (46.0% N) typed as the weight of its N",
        ),
        (
            "a code written in words",
            (
                'nearest known code: "C-120"; or put into headings.yml: words: {plots: {treatment_code: {"C'
                ' 120 planting": "C-120"}}}'
            ),
        ),
        (  # U-120 looks more like it, and has its own plot in each of these blocks
            "a code of another treatment than those beside it",
            'add the treatment, or correct the code; nearest known code: "C-120"',
        ),
        (
            "a site in other letters",
            (
                'nearest known site: "Alder Bench"; correct the name, or put into headings.yml: words: {trials:'
                ' {site_id: {"alder-bench": "Alder Bench"}}}'
            ),
        ),
        ("site nobody described", "add the site to sites, or correct its name"),
        ("weighed in kg under a heading in lb", "kilograms typed under a heading in pounds?"),
        (
            "a column of theirs",
            (
                "if it is a column of ours, rename it or put into seasons/2091/a column of theirs/headings.yml:"
                ' headings: {plots: {"Lodging pct": <our'
            ),
        ),
        (
            "more N in its product than anybody spreads",
            "it is worked out from product_rate and product_n_pct: correct the wrong one of them",
        ),
        ("killed by its treatment, no yield given", "a weight of 0 if the treatment left nothing"),
    ],
)
def test_a_finding_guesses_the_slip(findings, name, mend):
    case, about = CASES[name], _about(findings, name)
    assert mend in about.loc[about["check_name"] == case.check, "mend"].iloc[0]


def test_a_folder_that_comes_twice_holds_no_trial_and_frees_none(loaded, tmp_path):
    tiny = _all_cases(tmp_path)
    for name in CASES:
        shutil.copytree(tiny.folder / "seasons/2091" / name, tiny.folder / "seasons/2091" / f"{name} again")
    of_plots = "select trial_id, plot from trials.plots where fate = 'used' order by all"
    status = "select distinct trial_id, status from trials.trials order by all"
    with tiny.loaded() as twice:
        for query in (status, of_plots):
            assert twice.read(query).equals(loaded.read(query))


READINGS = ("41", "41", "43")  # of one plot; two subsamples read the same


@pytest.mark.parametrize(
    ("again", "value", "n_subsamples"),
    [
        (READINGS, 125 / 3, 3),
        (READINGS[::-1], 125 / 3, 3),
        (READINGS[1:], 209 / 5, 5),
        ((*READINGS, "41"), 291 / 7, 7),
    ],
)
def test_a_file_of_measurements_that_comes_twice_counts_once(loaded_tiny, again, value, n_subsamples):
    """Its rows have no date and no number of a subsample, by which one would be told from another."""
    heads = ("trial_id", "plot", "trait", "value", "unit")
    for folder, readings in (("2091", READINGS), ("2091/again", again)):
        rows = [["2091-A-corn", "102", "plant height", reading, "cm"] for reading in readings]
        loaded_tiny.write("measurements", [heads, *rows], folder)
    with loaded_tiny.loaded() as warehouse:
        (found,) = warehouse.table("trials.measurements").itertuples()
        findings = warehouse.table("trials.findings")["check_name"].tolist()
    assert (found.value, found.n_subsamples) == (pytest.approx(value), n_subsamples)
    assert findings == (["file delivered twice"] if n_subsamples == 3 else [])


def test_a_repeated_row_is_said_of_its_trial(findings):
    assert set(_about(findings, "a row delivered twice")["trial_id"]) == {"a row delivered twice"}


def test_no_finding_lacks_its_words(findings):
    """A note of the reader is a sentence: nothing else was expected."""
    assert findings[["file", "found", "mend"]].map(bool).all(axis=None)
    notes = findings["check_name"].isin(SENTENCES)
    assert notes.any() and findings["expected"].isna().tolist() == notes.tolist()


def test_a_check_is_left_out_only_where_it_would_find_nothing(loaded, findings):
    """Without the rows that its first lines speak of, a check finds none of these cases."""
    checks = [step for step in steps_of(LAYERS).values() if step.name[7:] in WRITTEN and step.rows_of]
    assert len(checks) > 30 and {step.name[7:] for step in checks} & set(findings["check_name"])
    count = "select count(*) from trials.findings"
    before = loaded.execute(count).fetchone()
    for step in checks:
        assert step.rows_of in step.needs, step.name
        loaded.execute(f"begin transaction; delete from {step.rows_of} as t where {step.only_where}")
        loaded.execute(step.query)
        assert loaded.execute(count).fetchone() == before, step.name
        loaded.execute("rollback")


def test_rain_of_earlier_years_is_asked_of_a_place_and_of_no_trial(findings):
    """Site-years with findings are left out where it is tried what an average depends on: a place's rain is no doubt
    of its yields.
    """
    of_places = findings[findings["check_name"] == "place without rain history"]
    assert len(of_places) and of_places["trial_id"].isna().all() and of_places["site_id"].notna().all()


def test_every_written_check_has_a_case():
    """A check that is made from a declaration is called for its column: sites.place."""
    cases = {case.check for case in CASES.values() if case.check and "." not in case.check} | IN_THEIR_OWN_FILE
    assert cases == WRITTEN


def test_every_written_check_says_its_rule_and_its_severity():
    for check, needs in written_checks():
        assert check.severity in (HOLDS, ASIDE, NOTED) and check.says and needs, check.name


def test_a_trial_that_is_told_twice_does_not_double_what_is_found_in_its_plots(tiny):
    for table in ("trials", "treatments"):
        tiny.repeat(table, 2)
        tiny.change(table, len(tiny.rows(table)), "harvested" if table == "trials" else "passes", "2")
    tiny.change("plots", 2, "moisture_pct", "0.182")
    tiny.remove("plots", 4)
    found = tiny.checked()["reports.findings"].query("table_name == 'plots' and trial_id == '2091-A-corn'")
    assert sorted(found["check_name"]) == ["block lacks treatment", "plots.moisture outside its hard range"]
    assert set(found["found"]) == {"0.182", "block 1 without C-120"}


def test_a_site_described_again_in_a_later_season_is_no_finding(tiny):
    """Its rows are set aside there and used here."""
    tiny.write("sites", tiny.rows("sites"), 2092)
    checked = tiny.checked()
    assert checked["reports.findings"].empty
    counts = checked["reports.row_counts"].query("table_name == 'sites'").set_index("season")
    assert counts[["used", "set_aside"]].to_numpy().tolist() == [[2, 0], [0, 2]]
