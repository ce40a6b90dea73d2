import pandas as pd
import pytest

from pipeline.display.season.next_season import proposals_table
from pipeline.planning.evidence import evidence_map, proposed_trials
from tests.declared_shapes import check_shape

SHARES = pd.DataFrame({"place": "everywhere", "rainfall_class": ["dry", "normal", "wet"], "share": [0.2, 0.5, 0.3]})


def site_years(cells):
    """cells: (drainage group, rainfall class, site-years, seasons)."""
    rows = [
        {"place": f"{group}{i}", "season": 2091 + i % n_seasons, "drainage_group": group, "rainfall_class": rain}
        for group, rain, n, n_seasons in cells
        for i in range(n)
    ]
    return pd.DataFrame(rows, columns=["place", "season", "drainage_group", "rainfall_class"])


def sites(**groups):
    """sites(P=2) are P0 and P1, each a place of its own."""
    names = [(f"{group}{i}", group) for group, n in groups.items() for i in range(n)]
    return pd.DataFrame(
        {
            "site_id": [f"site {n}" for n, _ in names],
            "place": [n for n, _ in names],
            "drainage_group": [g for _, g in names],
        }
    )


def proposals(cells, of_sites, n_trials, shares=SHARES):
    gains = site_years(cells)
    groups = sorted(of_sites["drainage_group"].dropna().unique())
    found = proposed_trials(evidence_map("c", gains, groups), of_sites, shares, gains, n_trials=n_trials)
    check_shape("proposed_trials", found)
    return found


def test_every_cell_is_there_and_empty_ones_say_so():
    found = evidence_map(
        "c", site_years([("W", "dry", 2, 1), ("W", "normal", 7, 3), ("P", "wet", 4, 2)]), ["P", "R", "W"]
    )
    check_shape("evidence", found)
    assert len(found) == 9
    cell = found.set_index(["drainage_group", "rainfall_class"])
    shown = cell["shown_as"]
    assert (shown["W", "dry"], shown["W", "normal"], shown["P", "wet"], shown["R", "wet"]) == (
        "count",
        "sentence",
        "grey",
        "empty",
    )
    assert cell.loc[("W", "normal"), "seasons"] == "2091, 2092, 2093"
    assert found["n_site_years"].sum() == 13


def test_unknown_classes_are_counted_apart():
    gains = site_years([("W", "dry", 3, 1), ("P", "wet", 2, 1)])
    gains.loc[0, "rainfall_class"] = None
    gains.loc[3, "drainage_group"] = None
    found = evidence_map("c", gains, ["P", "W"])
    assert found["n_site_years"].sum() == 5 and len(found) == 7
    assert found.iloc[-1][["drainage_group", "n_site_years"]].fillna("").tolist() == ["", 2]


def test_seasons_are_told_in_their_order():
    found = evidence_map("c", site_years([("W", "dry", 3, 3)]).iloc[::-1], ["W"])
    assert found.loc[0, ["seasons", "n_seasons"]].tolist() == ["2091, 2092, 2093", 3]


def test_no_site_years_give_an_empty_map_of_all_cells():
    assert evidence_map("c", site_years([]), ["P", "W"])["shown_as"].eq("empty").all()


def test_the_group_with_the_emptiest_cells_comes_first():
    full = [("W", rain, 9, 3) for rain in ("dry", "normal", "wet")]
    found = proposals([*full, ("P", "normal", 6, 2)], sites(W=2, P=2), 4)
    assert list(found["drainage_group"]) == ["P", "P", "W", "W"]
    first = found.iloc[0]
    assert first["empty_classes"] == "dry, wet" and first["chance_of_thin_class"] == pytest.approx(0.5)
    assert first["why"] == "adds site-years to P x dry, wet"
    assert found.iloc[2]["why"].endswith("adds precision only")


def test_picks_spread_over_groups_alike():
    found = proposals([], sites(W=5, P=5), 4)
    assert sorted(found["drainage_group"]) == ["P", "P", "W", "W"]
    assert list(found["rank"]) == [1, 2, 3, 4]


def test_of_like_sites_the_one_tested_least_comes_first():
    found = proposals([("P", "wet", 1, 1)], sites(P=3), 3)  # the one site-year lies at P0
    assert list(found["place"]) == ["P1", "P2", "P0"]
    assert list(found["n_site_years_here"]) == [0, 0, 1]


def test_a_place_is_proposed_once_and_unknown_drainage_never():
    of_sites = sites(P=2)
    of_sites["place"] = "one"
    unknown = pd.DataFrame({"site_id": ["x"], "place": ["x"], "drainage_group": [None]})
    assert len(proposals([], pd.concat([of_sites, unknown], ignore_index=True), 5)) == 1
    assert proposals([], unknown, 5).empty


def test_without_rainfall_history_classes_count_alike():
    found = proposals([("P", "wet", 6, 2)], sites(P=1), 1, shares=SHARES.iloc[:0])
    assert found["chance_of_thin_class"].iloc[0] == pytest.approx(2 / 3)


def test_where_no_site_year_has_a_rainfall_class_a_trial_is_not_said_to_add_to_one():
    gains = site_years([("P", "dry", 2, 1)]).assign(rainfall_class=None)
    of_sites, no_shares = sites(P=2), SHARES.iloc[:0]
    found = proposed_trials(evidence_map("c", gains, ["P"]), of_sites, no_shares, gains, n_trials=1)
    assert found.loc[0, "why"] == "adds a site-year on P; rainfall classes are not known for this crop"
    assert "depends on its rain" not in proposals_table(found)
