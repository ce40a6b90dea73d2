from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.site_year import results
from tests.unit.display.rows import NONE
from tests.unit.display.season.test_comparisons import rows_of


@pytest.fixture
def plots() -> pd.DataFrame:
    rows = [
        ("1", "101", "U", 181.26, "used", None),
        ("1", "102", "C", NONE, "set aside", "damaged: hail"),
        ("10", "1001", "U", 170.0, "used", None),
        ("2", "201", "U", 175.0, "used", None),
        ("2", "202", "U", 165.0, "held", "held: x"),
        ("2", "203", "C", 190.0, "used", None),
    ]
    frame = pd.DataFrame(rows, columns=["block", "plot", "treatment_code", "yield_shown", "fate", "reason"])
    return frame.assign(digits=1, file="plots.csv", row_number=range(2, 8))


def mean(code: str, **changed) -> dict:
    return {"treatment_code": code, "n_source": "urea", "coated_n_fraction": 0.0, "n_rate_lb_ac": 120.0,
            "timing": "split", "passes": 2, "is_zero_n": False,
            "is_grower_standard": True, "mean": 175.0, "digits": 1, "n_plots": 3} | changed  # fmt: skip


MEANS = pd.DataFrame(
    [
        mean("U"),
        mean(
            "C",
            n_source="coated blend",
            coated_n_fraction=0.5,
            timing="at planting",
            passes=1,
            is_grower_standard=False,
        ),
    ]
)


DATES = pd.to_datetime(["2093-05-01", "2093-06-10", "2093-05-01"])
APPLIED = pd.DataFrame(
    {
        "treatment_code": ["U", "U", "ALL"],
        "applied_on": DATES,
        "placement": ["broadcast", "broadcast", "banded"],
        "product": ["urea", "urea", "starter"],
        "counts_toward": ["treatment", "treatment", "background"],
        "n_rate_lb_ac": [40.0, 80.0, 10.0],
    }
)


def trial_rows(means: pd.DataFrame, plots: pd.DataFrame) -> dict[str, list[str]]:
    return rows_of(results.trial_tables(means, plots, APPLIED, unit="bu/ac", rate="lb/ac", label="p", caption="Yields"))


def test_every_plot_is_shown_by_treatment_and_block(plots):
    rows = trial_rows(MEANS, plots)
    assert rows["Code"] == ["Treatment", "Mean (plots)", "Block 1", "Block 2", "Block 10"]
    assert rows["U"] == [
        "Urea, 120 lb/ac, split, 2 passes (grower standard); May 1 and June 10, broadcast",
        "175.0 (3)",
        "181.3 (101)",
        "175.0 (201); 165.0 (202)",
        "170.0 (1001)",
    ]
    assert rows["C"][0] == "Coated blend (50% coated), 120 lb/ac, at planting" and rows["C"][2:4] == [
        "none (102, set aside)",
        "190.0 (203)",
    ]


def test_a_source_is_written_as_people_write_it(plots):
    uan = MEANS.assign(n_source=MEANS["n_source"].replace("urea", "uan"))
    assert trial_rows(uan, plots)["U"][0].startswith("UAN, 120 lb/ac, split")


def test_a_held_trial_shows_plots_and_a_trial_of_printed_means_shows_means(plots):
    assert trial_rows(MEANS.iloc[:0], plots)["Code"] == ["Block 1", "Block 2", "Block 10"]
    captions = [
        results.trial_tables(MEANS, some, APPLIED, unit="bu/ac", rate="lb/ac", label="p", caption="Yields")
        for some in (plots, plots.iloc[:0])
    ]
    assert ": Yields, bu/ac (plot number). {#" in captions[0] and ": Yields, bu/ac. {#" in captions[1]
    assert trial_rows(MEANS, plots.iloc[:0])["U"] == [
        "Urea, 120 lb/ac, split, 2 passes (grower standard); May 1 and June 10, broadcast",
        "175.0 (3)",
    ]


def test_a_plot_that_lacks_its_block_its_treatment_or_its_number_is_in_the_table_all_the_same(plots):
    plots.loc[[2, 3, 4], ["block", "treatment_code", "plot"]] = [
        [None, "U", "1001"], ["2", None, "201"], ["2", "U", None]
    ]  # fmt: skip
    for means in (MEANS, MEANS.iloc[:0]):
        rows = trial_rows(means, plots)
        assert rows["Code"][-3:] == ["Block 1", "Block 2", "Block not known"]
        assert rows["not known"][-2] == "175.0 (201)"
        assert rows["U"][-2:] == ["165.0 (number not known)", "170.0 (1001)"]


def test_a_treatment_of_which_no_plot_is_used_is_in_the_table_with_its_plots(plots):
    rows = trial_rows(MEANS.iloc[[0]], plots)
    assert list(rows)[-1] == "C" and rows["C"][-3:] == ["none (102, set aside)", "190.0 (203)", "\u2013"]
    assert rows["C"][:2] == ["\u2013", "\u2013"]


def test_many_blocks_take_several_tables(plots):
    many = pd.concat([plots[plots["block"] == "1"].assign(block=str(block)) for block in range(1, 9)])
    table = results.trial_tables(MEANS, many, APPLIED, unit="bu/ac", rate="lb/ac", label="p", caption="Yields")
    assert (
        "{#tbl-p-1}" in table and "{#tbl-p-6}" in table and "Block 8" in table and table.count("grower standard") == 1
    )


def test_set_aside_plots_name_reason_and_place(plots):
    rows = rows_of(results.set_aside_table(plots[plots["fate"] == "set aside"], label="a", caption="Aside"))
    assert rows["1"] == ["102", "C", "Damaged: hail", "plots.csv, row 3"]


@pytest.mark.parametrize(
    ("reason", "says"),
    [
        ("plots.block is empty: (empty)", "Block is empty"),
        ("plots.moisture_pct outside its hard range: 0.2", "Moisture pct outside its hard range: 0.2"),
        ("plots of another trial: 2091-B", "Plots of another trial: 2091-B"),
    ],
)
def test_why_a_plot_was_set_aside_is_told_in_words(plots, reason, says):
    rows = rows_of(results.set_aside_table(plots[1:2].assign(reason=reason), label="a", caption="Aside"))
    assert rows["1"][2] == says


def test_roles_are_spelled_out():
    zero = pd.DataFrame(
        [mean("ZERO", n_source="none", n_rate_lb_ac=0.0, timing="none", passes=0, is_zero_n=True, mean=52.0)]
    )
    assert trial_rows(zero, pd.DataFrame(columns=["treatment_code", "block"]))["ZERO"] == [
        "No nitrogen (grower standard)",
        "52.0 (3)",
    ]


def test_findings_alike_are_drawn_together():
    finding = {
        "severity": "holds the trial", "check_name": "moisture", "file": "plots.csv", "sheet": None,
        "column_name": "moisture_pct",
        "expected": "8 to 45", "mend": "typed as a fraction?",
    }  # fmt: skip
    findings = pd.DataFrame([finding | {"row_number": row, "found": f"0.2{row}"} for row in range(5, 10)])
    rows = rows_of(results.findings_table(findings))
    assert rows["plots.csv, rows 5 to 9"] == [
        "moisture\\_pct", "0.25, 0.26, 0.27 and 2 more", "8 to 45",
        "Typed as a fraction? (keeps the trial out until resolved)",
    ]  # fmt: skip


def test_a_noted_finding_does_not_say_that_nothing_follows():
    """Missing rain leaves a site-year without a rainfall class, though its row is used."""
    finding = {
        "severity": "noted", "check_name": "season without weather", "file": "trials.csv", "sheet": None,
        "column_name": "site_id", "expected": "daily rain", "mend": "deliver the missing days", "row_number": 4,
        "found": "9 of 61 days without rain data",
    }  # fmt: skip
    told = rows_of(results.findings_table(pd.DataFrame([finding])))["trials.csv, row 4"][-1]
    assert told == "Deliver the missing days (noted; the row is used as it is)"
    of_file = finding | {"file": "book.xlsx", "sheet": "Plots", "row_number": NONE, "found": None}
    assert rows_of(results.findings_table(pd.DataFrame([of_file])))["book.xlsx, sheet Plots"][1] == "not known"
    three = pd.DataFrame([finding | {"row_number": n, "found": str(n)} for n in (4, 5, 6)])
    assert rows_of(results.findings_table(three))["trials.csv, rows 4 to 6"][1] == "4, 5, 6"


def test_the_yields_of_a_held_trial_are_told_as_delivered_and_its_table_as_plots_alone():
    held = pd.Series({"status": "held", "crop": "cotton", "trial_id": "2092-A"})
    assert results.status_words(held, has_yields=True).endswith(results.AS_DELIVERED)
    assert results.AS_DELIVERED not in results.status_words(held)
    assert results.plots_caption(held, has_means=False) == "Plots of cotton trial 2092-A"
    assert results.plots_caption(held, has_means=True) == "Treatments, means and plots of cotton trial 2092-A"


def test_a_trial_that_was_not_randomized_is_said_to_be_in_no_average():
    accepted = {"status": "accepted", "status_reason": ""}
    assert results.status_words(pd.Series(accepted | {"design": "not randomized"})) == results.NOT_RANDOMIZED
    assert results.status_words(pd.Series(accepted | {"design": "RCBD"})) == ""


@pytest.mark.parametrize(
    ("status", "reason", "says"),
    [
        ("planned", "harvest expected", "This trial is planned, not yet harvested: harvest expected."),
        ("not harvested", "lost, hail", "This trial is not in the estimates: lost, hail."),
        ("not harvested", None, "This trial is not in the estimates: not harvested."),
    ],
)
def test_a_trial_that_is_in_no_estimate_says_why(status, reason, says):
    trial = pd.Series({"status": status, "status_reason": reason, "design": "RCBD"})
    assert results.status_words(trial, has_yields=True) == says


def test_findings_of_the_site_are_found_here_too():
    findings = pd.DataFrame({"trial_id": ["T1", "T2", None, None], "site_id": [None, "S1", "S1", None]})
    here = results.findings_here(findings, pd.DataFrame({"trial_id": ["T1"], "site_id": ["S1"]}))
    assert list(here.index) == [0, 2]
    # what no trial and no site is named in is of no trial whose site is not known
    nowhere = results.findings_here(findings, pd.DataFrame({"trial_id": ["T1"], "site_id": [None]}))
    assert list(nowhere.index) == [0]


def test_plots_of_a_completely_random_layout_lie_in_no_block():
    trial = pd.Series(
        {"design": "CRD", "n_blocks": 1, "planted": pd.NaT, "harvested": pd.NaT, "drainage_class": "well drained"}
        | dict.fromkeys(("artificial_drainage", "texture", "irrigated", "previous_crop", "tillage", "cultivar"))
    )
    assert results.trial_words(trial).startswith("Completely randomized; planting and harvest dates")


def test_what_is_not_known_is_not_said():
    trial = pd.Series(
        {"design": "RCBD", "n_blocks": pd.NA, "planted": pd.NaT, "harvested": pd.NaT, "drainage_class": None,
         "artificial_drainage": None,
         "texture": NONE, "irrigated": pd.NA, "previous_crop": None, "tillage": None, "cultivar": None}
    )  # fmt: skip
    assert (
        results.trial_words(trial)
        == "Randomized complete blocks; planting and harvest dates not reported. Drainage not reported."
    )


def test_what_is_known_of_a_trial_is_said_in_two_sentences():
    trial = pd.Series(
        {"design": "split-plot", "n_blocks": 4.0, "planted": pd.Timestamp("2093-05-02"), "harvested": pd.NaT,
         "drainage_class": "well drained", "artificial_drainage": "subsurface", "texture": "loam", "irrigated": True,
         "previous_crop": "soybean", "tillage": "no-till", "cultivar": "X1"}
    )  # fmt: skip
    assert results.trial_words(trial) == (
        "Split-plot, 4 blocks; planted May 2, 2093, harvest date not reported. Well drained, tiled, loam, irrigated,"
        " after soybean, no-till, cultivar X1."
    )
    assert results.trial_words(trial.replace({4.0: 1.0, "subsurface": "surface"})).startswith("Split-plot, 1 block;")
    assert results.trial_words(trial.replace({"split-plot": None})).startswith("Design not known, 4 blocks;")


@pytest.mark.parametrize(
    ("used", "delivered", "said"),
    [
        (72, 72, "All 72 plots delivered are used."),
        (70, 72, "Of 72 plots delivered, 70 are used."),
        (1, 72, "Of 72 plots delivered, 1 is used."),
        (0, 1, "Of 1 plot delivered, 0 are used."),
        (1, 1, "The one plot delivered is used."),
        (0, 0, "No plots were delivered."),
    ],
)
def test_how_many_plots_are_used(used, delivered, said):
    trial = pd.Series({"n_plots_delivered": delivered, "n_plots_used": used, "status": "not harvested"})
    assert results.plots_used(trial) == said


def test_a_trial_known_by_its_printed_means_says_so():
    trial = pd.Series({"n_plots_delivered": 0, "n_plots_used": 0, "status": "accepted"})
    assert results.plots_used(trial) == "Printed means only: no plots were delivered."


def test_when_and_how_nitrogen_went_on():
    split = APPLIED[APPLIED["treatment_code"] == "U"]
    assert (
        results.applied_words(split.assign(placement=["banded", "broadcast"])) == "May 1 banded and June 10 broadcast"
    )
    assert results.applied_words(split.iloc[::-1]) == "May 1 and June 10, broadcast"
    assert results.applied_words(split.assign(applied_on=pd.NaT)) == ""
    assert results.applied_words(split.assign(placement=None)) == "May 1 and June 10"
    assert (
        results.background_words(APPLIED, rate="lb/ac") == "All plots also got 10 lb/ac of N as starter, May 1, banded."
    )
    assert results.background_words(split, rate="lb/ac") == ""
