"""Which means a curve, or what is read off it, leads down to: no others than it was fitted to."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline import trace
from pipeline.errors import UserError
from pipeline.estimates.where.breakdown import BY_BOTH, BY_RAINFALL

BLEND, UREA = "blend, 1 pass", "urea, 1 pass"
LB_AC = 1.120851156194456
LADDER = {0: 100.0, 80: 150.0, 120: 170.0, 160: 175.0}


def ladder(trial: str, family: str, rates: dict[int, float] | None = None) -> list[dict]:
    return [
        {"crop": "corn", "family": family, "variant": "", "trial_id": trial, "site_year_id": f"{trial}-site-year",
         "n_rate": float(rate), "n_rate_kg_ha": rate * LB_AC, "mean": mean}
        for rate, mean in (rates or LADDER).items()
    ]  # fmt: skip


@pytest.fixture
def views() -> dict[str, pd.DataFrame]:
    """Four trials with both ladders, the fourth in no comparison; E has urea alone, F no zero-N, A one rate more."""
    rows = [row for trial in "ABCD" for family in (BLEND, UREA) for row in ladder(trial, family)]
    rows += ladder("E", UREA) + ladder("F", UREA, {80: 150.0, 120: 170.0}) + ladder("A", UREA, {240: 176.0})
    curves = [{"crop": "corn", "family": family, "is_primary": True} for family in (BLEND, UREA)]
    return {
        "rate_means": pd.DataFrame(rows),
        "response_curves": pd.DataFrame([*curves, curves[0] | {"is_primary": False}]),
        "sources": pd.DataFrame([{"comparison_id": "c", "trial_id": trial} for trial in "ABCE"]),
    }


SAVED = pd.Series({"comparison_id": "c", "crop": "corn", "family": BLEND, "comparator_family": UREA})


@pytest.mark.parametrize(
    ("kind", "estimate", "trials", "rates"),
    [
        ("response_curves", {"family": UREA}, {UREA: "ABCDE"}, [0, 80, 120, 160]),
        ("rate_losses", {"family": BLEND}, {BLEND: "ABCD"}, [0, 80, 120, 160]),
        ("nitrogen_saved", {}, {BLEND: "ABC", UREA: "ABC"}, [0, 80, 120, 160]),
        ("trial_curves", {"family": UREA, "trial_id": "A", "variant": ""}, {UREA: "A"}, [0, 80, 120, 160, 240]),
        ("efficiencies", {"family": UREA, "efficiency": "agronomic efficiency", "n_rate_kg_ha": 120 * LB_AC},
         {UREA: "ABCDE"}, [0, 120]),
        ("efficiencies", {"family": UREA, "efficiency": "partial factor productivity", "n_rate_kg_ha": 120 * LB_AC},
         {UREA: "ABCDEF"}, [120]),
        ("efficiencies", {"family": UREA, "efficiency": "agronomic efficiency", "n_rate_kg_ha": 240 * LB_AC},
         {UREA: "A"}, [0, 240]),
    ],
)  # fmt: skip
def test_the_means_behind(views, kind, estimate, trials, rates):
    found = trace._means_behind(views, kind, pd.Series(SAVED.to_dict() | estimate))
    assert found.groupby("family")["trial_id"].agg(lambda each: "".join(sorted(set(each)))).to_dict() == trials
    assert sorted(found["n_rate"].unique()) == rates and found.index.is_monotonic_increasing


@pytest.mark.parametrize(
    ("in_comparison", "behind"), [("ABCE", []), ("ABCD", [BLEND]), ("ABCDE", [BLEND])], ids=["three", "all", "one more"]
)
def test_nitrogen_saved_rests_on_a_common_curve_where_that_is_of_the_same_means(views, in_comparison, behind):
    """E has urea alone: the common curve of urea is of five site-years, that of N saved of four."""
    views["sources"] = pd.DataFrame([{"comparison_id": "c", "trial_id": trial} for trial in in_comparison])
    rows = trace._estimates_behind(views, "nitrogen_saved", SAVED)
    assert [(row["family"], row["is_primary"]) for row in rows] == [(family, True) for family in behind]


def gains_of(**std_errors: float) -> dict[str, pd.DataFrame]:
    """One comparison of site-years in the same class, each with its standard error."""
    rows = [
        {"comparison_id": "c", "site_year_id": name, "place": name, "season": 2091, "is_pooled": True, "gain": 1.0,
         "std_error": error, "drainage_group": "W", "rainfall_class": "dry"}
        for name, error in std_errors.items()
    ]  # fmt: skip
    none = pd.DataFrame(columns=["comparison_id", "target", "site_year_id", "weight", "gain"])
    return {"site_year_gains": pd.DataFrame(rows), "headline_weights": none}


@pytest.mark.parametrize(
    ("method", "estimate", "behind"),
    [("plain mean", 1.0, "abc"), ("mixed model", 1.0, "abc"), ("two-stage", 1.0, "a"),
     ("two-stage, seasons as clusters", 1.0, "a"), ("two-stage", None, "abc")],
)  # fmt: skip
def test_site_years_without_an_error_are_behind_no_average_that_weights_by_it(method, estimate, behind):
    row = pd.Series({"comparison_id": "c", "method": method, "estimate": estimate, "target": "seasons tested",
                     "moderator": "all", "level": "all", "is_headline": False})  # fmt: skip
    found = trace._site_years(gains_of(a=2.0, b=0.0, c=float("nan")), row)
    assert "".join(found["site_year_id"]) == behind


def test_a_ratio_rests_on_the_site_years_whose_comparator_is_known_each_alike():
    views = gains_of(b=0.0, a=2.0, c=1.0, d=3.0)
    views["site_year_gains"]["comparator_mean"] = [100.0, 90.0, float("nan"), 80.0]
    views["site_year_gains"]["is_pooled"] = [True, True, True, False]
    found = trace._of_ratio(views, pd.Series({"comparison_id": "c", "scale": "ratio"}))
    assert "".join(found["site_year_id"]) == "ab" and found["weight"].isna().all()


def test_a_gain_on_a_line_of_the_weather_rests_on_the_slope_that_leads_for_its_target():
    names = ("covariate", "target", "is_headline")
    of = [("rain", "seasons tested", True), ("rain", "seasons tested", False), ("rain", "seasons to come", True),
          ("warmth", "seasons tested", True)]  # fmt: skip
    slopes = pd.DataFrame([dict(zip(names, row, strict=True)) | {"comparison_id": "c"} for row in of])
    slopes = pd.concat([slopes, slopes.assign(comparison_id="other")], ignore_index=True)
    estimate = pd.Series({"comparison_id": "c", "covariate": "rain", "target": "seasons tested"})
    found = list(trace._estimates_behind({"weather_slopes": slopes}, "weather_gains", estimate))
    assert [row.name for row in found] == [0]


@pytest.mark.parametrize(
    ("kind", "more", "behind"),
    [
        ("as_good", {"scale": "kg/ha"}, ["average"]),
        ("as_good", {"scale": "ratio"}, []),  # its own mean of log ratios
        ("field_shares", {"above": "zero"}, ["average"]),
        ("field_shares", {"above": "break-even"}, ["average", "budget"]),
    ],
)
def test_what_is_worked_out_from_an_average_rests_on_the_one_that_leads(kind, more, behind):
    names = ("estimate_id", "comparison_id", "target", "moderator", "is_headline")
    of = [("other", "d", "seasons tested", "all", True), ("average", "c", "seasons tested", "all", True),
          ("beside", "c", "seasons tested", "all", False), ("class", "c", "seasons tested", "rainfall", True),
          ("to come", "c", "seasons to come", "all", True)]  # fmt: skip
    money = [{"estimate_id": "other", "comparison_id": "d"}, {"estimate_id": "budget", "comparison_id": "c"}]
    views = {"gains": pd.DataFrame(of[::-1], columns=names), "money": pd.DataFrame(money)}
    estimate = pd.Series({"comparison_id": "c", "target": "seasons tested"} | more)
    found = trace._estimates_behind(views, kind, estimate)
    assert [row["estimate_id"] for row in found] == behind


AVERAGE = {"comparison_id": "c", "method": "mixed model", "estimate": 1.0, "target": "seasons tested"}
OF_ALL = {"moderator": "all", "level": "all", "is_headline": True}


@pytest.mark.parametrize(
    ("asked", "behind", "weights", "gains"),
    [
        (OF_ALL, "abc", [0.5, 0.3, 0.2], [7.0, 1.0, 1.0]),
        (OF_ALL | {"is_headline": False}, "abc", [None] * 3, [1.0] * 3),
        (OF_ALL | {"target": "seasons to come"}, "abc", [None] * 3, [1.0] * 3),
        ({"moderator": BY_RAINFALL, "level": "wet", "is_headline": True}, "c", [None], [1.0]),
        ({"moderator": BY_BOTH, "level": "W x dry", "is_headline": True}, "a", [None], [1.0]),
        ({"moderator": "previous crop", "level": "soybean", "is_headline": True}, "b", [None], [1.0]),
    ],
)
def test_weights_are_those_of_the_average_over_all_that_leads(asked, behind, weights, gains):
    views = gains_of(c=1.0, a=2.0, b=2.0, d=1.0)
    of = views["site_year_gains"].set_index("site_year_id")
    of.loc["c", "rainfall_class"], of.loc["b", "drainage_group"], of.loc["d", "is_pooled"] = "wet", None, False
    views["site_year_gains"] = pd.concat([of, of.assign(comparison_id="other")]).reset_index()
    weighed = pd.DataFrame({"site_year_id": list("abc"), "weight": [0.5, 0.3, 0.2], "gain": [7.0, 1.0, 1.0]})
    weighed = weighed.assign(comparison_id="c", target="seasons tested")
    views["headline_weights"] = pd.concat([weighed, weighed.assign(comparison_id="other", weight=0.9)])
    explored = [("previous crop", "soybean", "b"), ("previous crop", "corn", "a"), ("tillage", "soybean", "c")]
    explored = pd.DataFrame(explored, columns=["moderator", "level", "site_year_id"])
    views["explored_site_years"] = explored.merge(of.reset_index(), on="site_year_id")
    found = trace._site_years(views, pd.Series(AVERAGE | asked))
    assert "".join(found["site_year_id"]) == behind
    assert found["weight"].astype(object).where(found["weight"].notna(), None).tolist() == weights
    assert found["gain"].tolist() == gains


def test_the_corrections_told_are_those_of_its_rows_trials_and_places():
    names = ("table_name", "file", "sheet", "row_number", "trial_id", "place")
    told = [
        ("plots", "p.csv", None, 2, "A", "Alder"),
        ("harvests", "h.csv", None, 5, "A", "Alder"),
        ("treatments", "t.csv", None, 2, "A", "Alder"),
        ("sites", "s.csv", None, 2, None, "Alder"),
    ]
    others = [
        ("plots", "p.csv", None, 3, "A", "Alder"),  # another comparison's plot of the trial
        ("plots", "p.csv", "east", 2, "A", "Alder"),
        ("harvests", "h.csv", None, 2, "A", "Alder"),
        ("treatments", "t.csv", None, 3, "B", "Alder"),
        ("sites", "s.csv", None, 3, None, "Birch"),
    ]
    corrected = pd.DataFrame([*told, *others], columns=names)
    plots = pd.DataFrame([("A", "p.csv", None, 2)], columns=["trial_id", "file", "sheet", "row_number"])
    picks = plots.assign(file="h.csv", row_number=5)
    found = trace._corrections(corrected, ["Alder"], plots, picks)
    assert list(found[list(names)].astype(object).where(found.notna(), None).itertuples(index=False, name=None)) == told


def test_an_id_is_found_whole_or_from_its_first_part_on():
    ids = {"gains": ["11-aa", "22-bb"], "money": ["33-cc", None]}
    views = {kind: pd.DataFrame({"estimate_id": ids.get(kind, [])}, dtype=object) for kind in trace.KINDS}
    for asked, kind, row in (("22-bb", "gains", 1), ("22", "gains", 1), ("33-c", "money", 0)):
        found, estimate = trace._estimate(views, asked)
        assert (found, estimate.name) == (kind, row)
    for asked, says in (("22-ff", "since that page was made: it is now 22-bb"), ("44", "no estimate has the id")):
        with pytest.raises(UserError, match=says):
            trace._estimate(views, asked)
