"""The handout's sections from the published frames of the whole demo's comparisons, as far as rows of a test can stand
for them.
"""

from __future__ import annotations

import re

import pandas as pd
import pytest

from pipeline.display.handout.page import HandoutPage
from pipeline.display.words import growers_answers
from pipeline.display.words import growers_sentences as sentences
from pipeline.display.words.numbers import NBSP
from tests.unit.display.rows import NONE, gain_row
from tests.unit.display.weather_rows import slope_row
from tests.unit.display.words.test_n_response import curve

EMPTY = pd.DataFrame({"crop": pd.Series(dtype=str), "comparison_id": pd.Series(dtype=str)})
ONE_TRIAL = pd.DataFrame(
    {
        "crop": ["corn"],
        "trial_id": ["T"],
        "season": [2093],
        "status": ["accepted"],
        "paid_by": ["program"],
        "product_given_by": ["none"],
    }
)
STATUSES = ("accepted", "accepted", "held", "held")
NONE_LEFT_OUT = EMPTY.assign(trial_id=pd.Series(dtype=str))
TEST = {
    "comparison_id": "standard",
    "crop": "corn",
    "target": "seasons tested",
    "is_declared": True,
    "kind": "declared",
}


def comparison(comparison_id: str, position: int, **changed) -> dict:
    return {
        "comparison_id": comparison_id,
        "position": position,
        "crop": "corn",
        "treatment_in_short": "blend",
        "comparator_in_short": comparison_id,
        "comparator_mean": 180.0,
        "is_late": False,
        "is_against_standard": comparison_id == "standard",
        "comparator_passes": 2.0,
        "rates_lb_ac": [80.0],
        "rates_kg_ha": [89.7],
        "treatment_coated_n": 0.5,
        "comparator_coated_n": 0.0,
        "n_site_years": 8,
        "n_seasons": 3,
        "first_printed": pd.NaT,
    } | changed


def page(
    tmp_path,
    p_values: dict[str, float],
    *slopes: dict,
    trials: pd.DataFrame = ONE_TRIAL,
    left_out: pd.DataFrame = NONE_LEFT_OUT,
) -> HandoutPage:
    """Two comparisons, the second against what growers do; tests of both ways of dividing by these p-values.

    slopes: rows of reports.weather_slopes.
    """
    more = {"kg_ha_per_unit": 62.77, "estimate_pct": 3.0}
    gains = [gain_row(comparison_id=name, position=i) | more for i, name in enumerate(("urea", "standard"))]
    gains += [
        gain_row(comparison_id="standard", position=1, moderator=moderator, level=level, n_site_years=11) | more
        for moderator, levels in (("drainage group", "PWR"), ("rainfall class", ("dry", "normal", "wet")))
        for level in levels
    ]
    tests = [TEST | {"moderator": moderator, "p_value_holm": p} for moderator, p in p_values.items()]
    views = {
        "program": pd.DataFrame([{"program": "Elm County trials", "started": pd.Timestamp("2094-12-01")}]),
        "pages": pd.DataFrame([{"kind": "season", "crop": "corn", "path": "corn"}]),
        "comparisons": pd.DataFrame([comparison("urea", 0), comparison("standard", 1)]),
        "gains": pd.DataFrame(gains), "interaction_tests": pd.DataFrame(tests),
        "trials": trials,
        "left_out": left_out,
        "findings": pd.DataFrame({"trial_id": ["T"]}),
        "money": pd.DataFrame(columns=["crop", "comparison_id", "net_change", "df", "gives_chances", "chances_reason",
                                       "conf_low", "conf_high", "half_width"]),
        "as_good": EMPTY.assign(is_declared=pd.Series(dtype=bool)), "response_curves": EMPTY, "growers_rates": EMPTY,
        "robustness": EMPTY.assign(is_declared=pd.Series(dtype=bool), moderator="", kind="", estimate=NONE,
                                   changes_conclusion=pd.Series(dtype="boolean")),
        "agreement": EMPTY.assign(target="", agrees=pd.Series(dtype=bool)),
        "weather_slopes": pd.DataFrame(slopes, columns=list(slope_row())),
        "weather_covariates": EMPTY.assign(covariate="", n_days=NONE, value=NONE),
    }  # fmt: skip
    return HandoutPage(views, "corn", tmp_path)


def test_what_growers_do_today_leads_and_the_runner_up_is_named(tmp_path):
    said = page(tmp_path, {}).answer
    assert said.index("standard") < said.index("urea") and said.count("5.8 bu/ac") == 2


def test_what_is_fragile_stands_beside_the_yield_and_not_beside_the_money(tmp_path, monkeypatch):
    monkeypatch.setattr(growers_answers.sentences, "shown_return", lambda row, names: "It returns money.")
    sheet = page(tmp_path, {})
    sheet._paying = pd.DataFrame({"comparison_id": ["standard"]})
    assert re.search(r"5\.8 bu/ac[^.]*\. That is fragile: [^.]*\. It returns money\.", str(sheet.answer))


def test_only_the_declared_average_over_all_site_years_makes_it_fragile(tmp_path):
    rows = [
        {"kind": kind, "left_out": part, "is_declared": True, "moderator": "all", "changes_conclusion": False}
        for kind, part in (("one season left out", "2091"), ("one place left out", "Alder"))
    ]
    rows += [rows[0] | {"changes_conclusion": True} | other for other in ({"is_declared": False}, {"moderator": "x"})]
    sheet = page(tmp_path, {})
    robustness = pd.DataFrame(rows).assign(comparison_id="standard", estimate=5.0)
    sheet._of_crop["robustness"] = robustness.astype({"changes_conclusion": "boolean"})
    assert [word for row, word, _ in sheet._how_sure() if row["comparison_id"] == "standard"] == ["Firm"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["Firm", "Not shown"], ["Firm: still so if"]),
        (["Fragile"], ["Firm: still so if", "Fragile: not so"]),
        (["Too few trials", "Exploratory"], []),
    ],
)
def test_the_words_for_how_sure_are_explained_where_they_stand(tmp_path, monkeypatch, words, said):
    sheet = page(tmp_path, {})
    told = [(row, word, "why") for word, (_, row) in zip(words, sheet._leading.iterrows(), strict=False)]
    monkeypatch.setattr(HandoutPage, "_how_sure", lambda self: told)
    monkeypatch.setattr(HandoutPage, "_one_field", lambda self: "")
    caption = str(sheet.how_sure).replace(NBSP, " ")
    assert [each for each in ("Firm: still so if", "Fragile: not so") if each in caption] == said
    assert "Site-year: one place in one season." in caption


@pytest.mark.parametrize(
    ("targets", "marked"),
    [
        (("seasons to come", "seasons tested"), [False, True]),
        (("seasons tested", "seasons tested"), [False, False]),
    ],
)
def test_money_of_the_seasons_tested_is_marked_beside_money_of_future_seasons(tmp_path, targets, marked):
    """On the handout and on the slides, which print no rows of money without it."""
    sheet = page(tmp_path, {})
    sheet._paying = pd.DataFrame({"comparison_id": ["standard", "urea"], "target": targets})
    told = [sheet._named_paying(row) for _, row in sheet._paying.iterrows()]
    assert [name.endswith(" (seasons tested)") for name in told] == marked


BLEND, UREA, SPLIT = "coated blend, at planting, 1 pass", "urea, at planting, 1 pass", "urea, split, 2 passes"


@pytest.mark.parametrize(
    ("passes", "comparator", "told"),
    [(1.0, UREA, UREA), (2.0, SPLIT, SPLIT), (2.0, None, SPLIT), (NONE, None, BLEND), (3.0, "manure", BLEND)],
)
def test_the_optimum_that_is_told_is_that_of_what_growers_do(tmp_path, passes, comparator, told):
    """A blend in one pass has as many passes as urea in one, and comes first by name."""
    sheet = page(tmp_path, {})
    sheet._lead = sheet._lead.copy()
    sheet._lead["comparator_passes"] = passes
    curves = [curve(family=family, eonr=eonr) for family, eonr in ((BLEND, 121.0), (UREA, 141.0), (SPLIT, 131.0))]
    saved = [{"comparison_id": "urea", "comparator_family": BLEND}]
    saved += [{"comparison_id": "standard", "comparator_family": comparator}] if comparator else []
    sheet._of_crop |= {"response_curves": pd.DataFrame(curves), "nitrogen_saved": pd.DataFrame(saved)}
    said, rows = sheet._optima()
    assert f"With {told}, the economic optimum is" in said and len(rows) == 3


@pytest.mark.parametrize(
    ("asked", "paid", "says"),
    [
        (
            "seasons to come",
            "seasons tested",
            "The net return is $8 an acre in the seasons tested (95% interval: $1 to $15).",
        ),
        ("seasons to come", "seasons to come", "The net return is $8 an acre (95% interval: $1 to $15)."),
        ("seasons tested", "seasons tested", "The net return is $8 an acre (95% interval: $1 to $15)."),
    ],
)
def test_what_a_dropped_pass_returns_is_told_of_other_seasons_where_it_is_of_others(
    tmp_path, monkeypatch, asked, paid, says
):
    monkeypatch.setattr(sentences, "passes_behind", lambda row: "")
    monkeypatch.setattr(HandoutPage, "_passes", lambda self, row: "Yes.")
    sheet = page(tmp_path, {})
    paying = {"target": paid, "position": 1, "net_change": 8.0, "conf_low": 1.0, "conf_high": 15.0, "currency": "$"}
    sheet._paying = pd.DataFrame([paying | {"comparison_id": "urea", "net_change": 5.0},
                                  paying | {"comparison_id": "standard"}])  # fmt: skip
    told = sheet._pass({"comparison_id": "standard", "target": asked, "estimate": NONE})
    said = re.sub(r"\[([^]]*)\]\{[^}]*\}", r"\1", str(told)).replace("\\", "").replace(NBSP, " ")
    assert said == f"Yes. {says}"


@pytest.mark.parametrize(
    ("targets", "lows", "says"),
    [
        (("seasons to come", "seasons tested"), (NONE, NONE), "Not known: too few seasons or site-years bear on it."),
        (("seasons to come", "seasons tested"), (NONE, 1.0), "Not known: too few seasons bear on it."),
        (("seasons to come", "seasons tested"), (1.0, NONE), "Not known: too few site-years bear on it."),
        (("seasons to come", "seasons tested"), (1.0, 1.0), ""),
    ],
)
def test_what_is_too_few_for_an_interval_of_money_is_of_the_rows_that_lack_it(tmp_path, targets, lows, says):
    sheet = page(tmp_path, {})
    sheet._paying = pd.DataFrame({"target": targets, "conf_low": lows, "unit": "bu/ac", "weather": "as tested"})
    told = sheet._gain_of_money()
    assert (says in told) if says else ("Not known" not in told)


@pytest.mark.parametrize(
    ("p_values", "differs"),
    [
        ({"drainage group": 0.6, "rainfall class": 0.6}, False),
        ({"drainage group": NONE, "rainfall class": NONE}, False),
        ({"drainage group": 0.01, "rainfall class": NONE}, True),
        ({"drainage group": 0.6, "rainfall class": 0.01}, True),
    ],
)
def test_a_difference_that_is_shown_is_told_though_another_is_open(tmp_path, p_values, differs):
    said = page(tmp_path, p_values).on_my_land
    assert ("We can't yet say whether soil or rain changes" in said) == (not differs)
    assert ("the gain differs" in said) == differs and (tmp_path / "land.png").is_file()


ALIKE = {"drainage group": 0.6, "rainfall class": 0.6}


def test_the_weather_has_one_line_where_a_slope_of_the_first_comparison_is_shown(tmp_path):
    shown = slope_row(comparison_id="standard", estimate_id="5109e001")
    sheet = page(
        tmp_path, ALIKE, shown, slope_row(comparison_id="standard", covariate="excess water", p_value_holm=0.04)
    )
    assert sheet.on_my_land.count("went with") == 1
    assert "One thing stood out: each extra inch of rain after application went with 0.9 bu/ac more" in sheet.on_my_land
    assert any(line.startswith("One thing stood out") for line in sheet.on_my_land.splitlines()), "easy to read alone"
    assert "5109e001" in sheet.sources, "it can be traced"
    for other in (shown | {"is_shown": False}, shown | {"comparison_id": "urea"}):
        assert "stood out" not in page(tmp_path, ALIKE, other).on_my_land


def test_what_was_not_asked_is_said(tmp_path):
    sheet = page(tmp_path, {})
    assert "corn" in sheet.drop_a_pass and "corn" in sheet.how_much_nitrogen
    assert sheet.trials_counted == "Of 1 corn trial, 1 is used."
    left_out = pd.DataFrame({"crop": "corn", "trial_id": "T", "comparison_id": ["standard", "urea"]})
    assert page(tmp_path, {}, left_out=left_out[:1]).trials_counted == "Of 1 corn trial, 1 is used."
    said = page(tmp_path, {}, left_out=left_out).trials_counted
    assert said == "Of 1 corn trial, 0 are used and 1 lacks what these comparisons need."
    # two that are held are left out too, and are counted as held alone
    trials = pd.concat([ONE_TRIAL.assign(trial_id=name, status=s) for name, s in zip("TUVW", STATUSES, strict=True)])
    left_out = pd.concat([left_out.assign(trial_id=name) for name in "TUVW"])
    assert page(tmp_path, {}, trials=trials, left_out=left_out).trials_counted == (
        "Of 4 corn trials, 0 are used, 2 lack what these comparisons need and 2 are kept out until questions are"
        " resolved."
    )
    assert "Elm County trials" in sheet.cite and "2094" in sheet.cite


def test_a_crop_without_a_trial_yet_names_no_payer_and_leaves_no_gap(tmp_path):
    told = page(tmp_path, {}).sources
    assert told.startswith("Of 1 corn trial, 1 is used. Funded by: program (1 trial). Product donated by: none")
    told = page(tmp_path, {}, trials=ONE_TRIAL.iloc[:0]).sources
    assert told.startswith("No corn trial was delivered yet. Cite as: Elm County trials.")


@pytest.mark.parametrize(
    ("n_site_years", "said"),
    [(0, "No trial has answered any of these comparisons yet."),
     (3, "So far there are 3 site-years in 1 season: too few for an average.")],
)  # fmt: skip
def test_trials_too_few_for_an_average_are_not_told_as_none(tmp_path, n_site_years, said):
    sheet = page(tmp_path, {})
    sheet._leading["estimate"] = NONE
    sheet._comparisons = sheet._comparisons.assign(n_site_years=n_site_years, n_seasons=1)
    assert sheet.yields == said
