import itertools

import pandas as pd
import pytest

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.errors import UserError
from pipeline.planning import next_season
from pipeline.planning.precision import Components, expected_precision, with_more
from tests.declared_shapes import check_shape


def layout(n_places=9, n_seasons=4):
    cells = itertools.product(range(n_places), range(n_seasons))
    return pd.DataFrame([{"place": f"p{p}", "season": 2091 + s, "n_blocks": 4} for p, s in cells])


def components(season=3.0, place=0.5, site_year=5.0, residual=40.0):
    shared = {"place": place, "site-year": site_year, "residual": residual}
    rows = [(TESTED, shared), (TO_COME, {"season": season} | shared)]
    return pd.DataFrame(
        [
            {"comparison_id": "c", "target": target, "component": name, "variance": v}
            for target, of in rows
            for name, v in of.items()
        ]
    )


def needed(target=TO_COME, **aim):
    found = next_season.site_years_needed("c", layout(), components(), **aim)
    check_shape("needed", found)
    return found[found["target"] == target].set_index("more_seasons")


def test_outlook_starts_with_the_layout_as_it_stands():
    found = next_season.outlook(
        "c", layout(), components(), more_site_years=(1, 6), n_blocks=(4, 8), more_seasons=(1, 2)
    )
    check_shape("outlook", found)
    come = found[found["target"] == TO_COME]
    assert list(come["more_site_years"]) == [0, 1, 1, 6, 6, 6, 6]  # one site-year cannot fill two seasons
    first = come.iloc[0]
    assert (first["n_site_years"], first["n_seasons"], first["n_places"]) == (36, 4, 9)
    assert first["std_error"] ** 2 == pytest.approx(3 / 4 + 0.5 / 9 + (5 + 40 / 4) / 36)
    assert come["half_width"].iloc[1:].lt(first["half_width"]).all()


def test_blocks_cannot_replace_site_years_nor_site_years_seasons():
    found = next_season.substitution("c", layout(), components(), times=(1, 40))
    check_shape("substitution", found)
    at = found.set_index(["target", "grown", "times"])["std_error"]
    # blocks leave what lies between site-years, places and seasons
    assert at[TESTED, "blocks", 40] ** 2 == pytest.approx(0.5 / 9 + (5 + 40 / 160) / 36)
    assert at[TO_COME, "blocks", 40] ** 2 == pytest.approx(3 / 4 + 0.5 / 9 + (5 + 40 / 160) / 36)


def test_site_years_without_end_leave_the_seasons():
    found = next_season.substitution("c", layout(), components(), times=(1, 16))
    at = found.set_index(["target", "grown", "times"])["std_error"]
    assert at[TESTED, "site-years", 16] == pytest.approx(at[TESTED, "site-years", 1] / 4)
    assert at[TO_COME, "site-years", 16] ** 2 == pytest.approx(3 / 4, rel=0.05)
    assert at[TO_COME, "seasons", 16] ** 2 == pytest.approx(3 / 64 + 0.5 / 9 + 15 / 576)


def test_fewest_site_years_are_the_fewest():
    rows = needed(TESTED, half_width=1.0)
    for seasons, row in rows.iterrows():
        known = Components(0, 0.5, 5, 40)
        widths = {
            k: (
                expected_precision(
                    with_more(layout(), site_years=int(k), n_blocks=4, seasons=seasons), known
                ).half_width()
            )
            for k in (row["more_site_years"], row["more_site_years"] - 1)
        }
        assert list(widths.values())[0] <= 1.0 < list(widths.values())[1]
        assert row["reached"] == pytest.approx(list(widths.values())[0])


def test_more_seasons_are_needed_where_site_years_do_not_help():
    rows = needed(half_width=1.6)
    assert pd.isna(rows.loc[1, "more_site_years"])
    assert rows.loc[1, "reason"] == "Not reached with 1 more season, even with 400 more site-years."
    assert needed(half_width=0.2).loc[3, "reason"] == "Not reached with 3 more seasons, even with 400 more site-years."
    assert rows.loc[1, "reached"] > 1.6


def test_an_aim_that_is_met_needs_none():
    assert needed(half_width=50.0)["more_site_years"].eq(0).all()


def test_site_years_to_show_as_good_have_80_percent_power():
    rows = needed(TESTED, margin=1.2)
    assert rows["aim"].eq("margin").all() and rows["power"].eq(0.8).all()
    assert rows["reached"].ge(0.8).all() and rows["more_site_years"].gt(0).all()
    with_gain = needed(TESTED, margin=1.2, expected_gain=0.5)
    assert with_gain["more_site_years"].lt(rows["more_site_years"]).all()


@pytest.mark.parametrize("aim", [{}, {"half_width": 1.0, "margin": 1.0}, {"half_width": 0.0}, {"margin": -2.0}])
def test_an_aim_must_be_one_and_above_zero(aim):
    with pytest.raises(UserError, match="plan: "):
        needed(**aim)


@pytest.mark.parametrize(
    "of_layout, of_components, target, words",
    [
        (layout(2, 2), components(), TESTED, "no variances to plan from"),
        (layout(9, 2), components(), TO_COME, "1 or 2 seasons"),
        (layout(), components().iloc[:0], TESTED, "cannot be fitted"),
        (layout(), components().iloc[:0], TO_COME, "cannot be fitted"),
        (layout(), components()[lambda f: f["component"] != "season"], TO_COME, "season component"),
    ],
)
def test_thin_input_has_a_reason(of_layout, of_components, target, words):
    found = next_season.substitution("c", of_layout, of_components)
    row = found[found["target"] == target]
    assert len(row) == 1 and words in row["reason"].iloc[0] and row["half_width"].isna().all()


def test_a_variance_of_zero_is_told():
    found = next_season.substitution("c", layout(), components(season=0.0))
    assert found[found["target"] == TO_COME]["reason"].str.contains("season variance is estimated as zero").all()
    found = next_season.substitution("c", layout(), components(place=0.0, site_year=0.0))
    assert found[found["target"] == TESTED]["reason"].str.contains("site-year variance is estimated as zero").all()


def test_layout_of_site_year_gains():
    gains = pd.DataFrame({"place": ["a"], "season": [2091], "n_blocks": [4], "gain": [1.0]}, index=[7])
    assert next_season.layout_of(gains).to_dict("records") == [{"place": "a", "season": 2091, "n_blocks": 4}]
