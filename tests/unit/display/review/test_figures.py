"""Figures of the reviewer's page: they are drawn, and their words say what the picture says."""

from __future__ import annotations

import pandas as pd
import pytest
from PIL import Image

from pipeline.contract.vocabulary import TESTED, TO_COME
from pipeline.display.figures import theme
from pipeline.display.review import margin_figure
from pipeline.display.review import residual_figures as diagnostics
from pipeline.display.review import robustness_figure as robustness
from pipeline.estimates.average.robustness import CUMULATIVE, ESTIMATOR, PLACE, SITE_YEAR
from tests import figure_words
from tests.unit.display.review.test_checks import robust_row
from tests.unit.display.rows import NONE, gain_row


def test_what_moves_the_headline(tmp_path):
    rows = [robust_row(), robust_row(left_out="2092", estimate=3.2)]
    rows += [robust_row(kind="one site-year left out", left_out=f"p{i}-2091", estimate=5 + i / 10) for i in range(5)]
    rows += [
        robust_row(kind="other estimator", left_out="", method="plain mean", estimate=5.69),
        robust_row(kind="other estimator", estimate=NONE),
    ]
    markdown = robustness.robustness(pd.DataFrame(rows), pd.Series(gain_row()), folder=tmp_path, name="moved")
    assert "{#fig-moved" in markdown and (tmp_path / "moved.png").is_file()
    assert (
        "The headline is 5.8 bu/ac (3.4 to 8.2). Without one season: 3.2 to 5.0. Without one site-year: 5.0 to 5.4. By"
        " another estimator: 5.7." in markdown
    )
    assert "the average with one part left out and by other estimators, with 95% intervals. Band" in markdown


def test_the_caption_of_what_moves_the_headline_names_only_what_is_drawn(tmp_path):
    rows = [robust_row(kind=kind, method="plain mean") for kind in (CUMULATIVE, ESTIMATOR)]
    for kept, says in ((rows, "season by season and by other estimators"), (rows[1:], "by other estimators")):
        shown = robustness.robustness(pd.DataFrame(kept), pd.Series(gain_row()), folder=tmp_path, name="moved")
        assert f": the average {says}, with 95% intervals." in shown


def test_as_good_is_drawn_with_its_margin(tmp_path, monkeypatch):
    drawn = []
    monkeypatch.setattr(robustness.theme, "figure", lambda plot, **said: drawn.append(plot()) or said)
    rows, headline = pd.DataFrame([robust_row()]), pd.Series(gain_row())
    said = robustness.robustness(rows, headline, folder=tmp_path, name="moved", margin_limit=-3.0)
    plain = robustness.robustness(rows, headline, folder=tmp_path, name="moved")
    assert [_upright(plot) for plot in drawn] == [[0, 5.77, -3.0], [0, 5.77]]
    assert "The margin is at \u22123.0." in said["alt"] and "Dotted line: the margin" in said["caption"]
    assert "argin" not in plain["alt"] + plain["caption"]


def _upright(plot) -> list[float]:
    """Where a plot has upright lines."""
    frames = [layer._data for layer in plot.layers if isinstance(layer._data, pd.DataFrame)]
    return [float(x) for frame in frames if "xintercept" in frame for x in frame["xintercept"]]


@pytest.mark.parametrize(("n_seasons", "n_places"), [(1, 1), (4, 14), (4, 15), (20, 1000)])
def test_of_many_parts_those_are_drawn_that_move_the_average_farthest_and_it_says_so(
    monkeypatch, tmp_path, n_seasons, n_places
):
    found = figure_words.seen_in(monkeypatch)
    rows = [robust_row(left_out=str(2091 + i), estimate=5 + i / 9) for i in range(n_seasons)]
    rows += [robust_row(kind=PLACE, left_out=f"Place {i}", estimate=5 + (i * 7 % 100) / 99) for i in range(n_places)]
    rows += [robust_row(kind=SITE_YEAR, left_out=f"p{i}", estimate=5 + i / 999) for i in range(n_places)]
    rows += [robust_row(kind=CUMULATIVE, n_seasons=i + 1) for i in range(n_seasons)]
    rows += [robust_row(kind=ESTIMATOR, method=f"method {i}") for i in range(7)]
    robustness.robustness(pd.DataFrame(rows), pd.Series(gain_row()), folder=tmp_path, name="moved")
    assert found == []
    placed = robustness._placed(pd.DataFrame(rows))
    drawn = placed[placed["kind"] == PLACE]
    assert len(drawn) == min(n_places, robustness.MOST) and set(drawn["estimate"]) >= {5.0, drawn["estimate"].max()}
    said = robustness._heading(placed, PLACE, n_places)
    assert said == (
        "Without one place" + (f" (the 7 lowest and the 7 highest of {n_places:,})" if n_places > 14 else "")
    )
    if n_seasons > 14:
        assert robustness._heading(placed, CUMULATIVE, n_seasons) == "Season by season (the last 14 of 20)"
    if n_places > 2:
        told = f"Without one site-year (the lowest and the highest of {n_places:,})"
        assert robustness._heading(placed, SITE_YEAR, n_places) == told


def test_of_many_site_years_the_two_ends_are_drawn():
    rows = pd.DataFrame(
        [robust_row(kind="one site-year left out", left_out=f"p{i}", estimate=float(i)) for i in range(9)]
    )
    assert robustness._placed(rows)["label"].tolist() == ["p0", "p8"]


@pytest.fixture
def residuals() -> pd.DataFrame:
    shared = {"unit": "bu/ac", "digits": 1, "place": "Alder"}
    rows = [
        shared
        | {
            "kind": "site-year gain",
            "season": 2091 + i,
            "trial_id": None,
            "residual": float(i),
            "standardized": i / 2,
            "normal_quantile": i / 3,
        }
        for i in range(3)
    ]
    rows += [
        shared
        | {
            "kind": "block gain",
            "season": 2091,
            "trial_id": f"t{i % 2}",
            "residual": 4.0 - i,
            "standardized": 2.0 - i,
            "normal_quantile": 1.0 - i / 2,
        }
        for i in range(4)
    ]
    return pd.DataFrame(rows)


def test_residuals_against_the_normal(tmp_path, residuals):
    markdown = diagnostics.normal_plot(residuals, folder=tmp_path, name="normal")
    assert "Site-years around the average: 3 points, the farthest 1.0 at Alder 2093." in markdown
    assert "Blocks around their trial's mean: 4 points, the farthest 2.0 at Alder 2091." in markdown


@pytest.mark.parametrize("ends", [(-9.0, -4.0), (-4.0, -0.5), (-2.0, 0.3), (-1.0, 1.0), (1.0, 2.0), (2.0, 9.0)])
@pytest.mark.parametrize(("unit", "limit"), [("bu/ac", -3.0), ("kg/ha", -150.0), ("ratio", 0.97)])
def test_lines_of_no_difference_and_of_the_margin_are_named_wherever_the_interval_lies(
    tmp_path, monkeypatch, ends, unit, limit
):
    found = figure_words.seen_in(monkeypatch)
    scale = abs(limit) / 3 if unit != "ratio" else 0.01
    low, high = (1.0 * (unit == "ratio") + end * scale for end in ends)
    row = {"is_declared": True, "estimate": (low + high) / 2, "lower_limit": low, "upper_limit": high, "digits": 2}
    row |= {"margin_limit": limit, "unit": unit, "says": "one pass against two"}
    rows = pd.DataFrame([row | {"target": TESTED}, row | {"target": TO_COME, "is_declared": False}])
    margin_figure.margin(rows, folder=tmp_path, name="margin")
    assert found == []


@pytest.mark.parametrize(("outermost", "largest"), [(1.4, 1.0), (1.43, 1.83), (2.86, 3.7), (1.4, 2.75)])
def test_numbers_at_the_corners_of_the_panels_do_not_touch(tmp_path, monkeypatch, residuals, outermost, largest):
    """Of both panels where they meet, and of both axes."""
    found = figure_words.seen_in(monkeypatch)
    side = residuals.groupby("kind")["kind"].cumcount() % 2 * 2 - 1
    spread = residuals.assign(normal_quantile=outermost * side, standardized=largest * side)
    diagnostics.normal_plot(spread, folder=tmp_path, name="normal")
    assert found == []


def test_blocks_trial_by_trial(tmp_path, residuals):
    markdown = diagnostics.by_trial(residuals, folder=tmp_path, name="blocks")
    assert "4 blocks of 2 trials. The farthest is 4.0 bu/ac from its trial's mean, in t0." in markdown
    assert "Diamonds, the farthest of all: Alder 2091 and" in markdown


def test_a_saved_picture_is_small_and_its_paper_white(tmp_path, residuals):
    diagnostics.by_trial(residuals, folder=tmp_path, name="blocks")
    with Image.open(tmp_path / "blocks.png") as picture:
        assert picture.mode == "P" and len(picture.getcolors()) <= theme.PALETTE
        assert round(picture.info["dpi"][0]) == theme.DPI
        assert picture.convert("RGB").getpixel((2, 2)) == (255, 255, 255)
