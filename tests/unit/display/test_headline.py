"""The headline as a picture: drawn only where trials tell something, the same on every run, its loss shown as a
loss.
"""

from __future__ import annotations

import matplotlib.image
import matplotlib.pyplot as plt
import pytest

from pipeline.display.figures import headline, theme
from pipeline.kept import kept_in
from tests import figure_words
from tests.unit.display.rows import NONE, gain_row

LOSS = {"estimate": -5.77, "conf_low": -8.16, "conf_high": -3.37}


def drawn(folder, row: dict, even: float | None = 2.3) -> tuple[str, str]:
    folder.mkdir(exist_ok=True)
    words = {"answer": "Blend out-yielded urea.", "source": "Source: Elm County, 33 site-years."}
    return (
        headline.headline(row, even, folder=folder, name="small"),
        headline.social(row, even, **words, folder=folder, name="post"),
    )


def test_two_runs_give_the_same_bytes_without_a_date(tmp_path):
    for folder in ("one", "two"):
        drawn(tmp_path / folder, gain_row())
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert files == ["post.png", "post.svg", "small.png", "small.svg"]
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    assert "<dc:date>" not in (tmp_path / "one" / "small.svg").read_text(encoding="utf-8")


def test_a_post_has_the_size_that_posts_show_and_says_what_it_shows(tmp_path):
    small, post = drawn(tmp_path, gain_row())
    assert matplotlib.image.imread(tmp_path / "post.png").shape[:2] == (630, 1200)
    assert (
        "Average gain 5.8 bu/ac (95% interval 3.4 to 8.2 bu/ac). A line marks no gain. Breaks even at 2.3 bu/ac."
        in small
    )
    assert post.alt.startswith("Blend out-yielded urea.") and post.alt.endswith("33 site-years.")


@pytest.mark.parametrize("estimate", [-40.0, -5.0, 0.0, 40.0])
@pytest.mark.parametrize("even", [-30.0, 1.5, 30.0, NONE])
@pytest.mark.parametrize("half_width", [1.0, 7.0])
def test_no_words_leave_the_picture_wherever_the_average_stands(monkeypatch, tmp_path, estimate, even, half_width):
    found = figure_words.seen_in(monkeypatch)
    row = gain_row(estimate=estimate, conf_low=estimate - half_width, conf_high=estimate + half_width, unit="lb/ac")
    drawn(tmp_path, row, even)
    assert found == []


@pytest.mark.parametrize(("even", "lines"), [(2.3, [0.0, 2.3]), (-0.4, [-0.4, 0.0]), (None, [0.0])])
def test_the_picture_has_the_average_on_its_interval_and_lines_where_they_are_named(even, lines):
    figure = plt.figure()
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    headline._draw(axes, gain_row(), even, scale=1.0)
    *upright, interval, dot = (list(line.get_xdata()) for line in axes.lines)
    named = {text.get_text().strip(): text.get_position()[0] for text in axes.texts}
    plt.close(figure)
    assert upright == [[x, x] for x in lines] and interval == [3.37, 8.16] and dot == [5.77]
    assert named == {"no gain": 0.0} | ({} if even is None else {"breaks even": even})


@pytest.mark.parametrize("even", [None, NONE, -0.4])
def test_a_loss_stays_one_and_a_break_even_gain_is_told_only_where_there_is_one(tmp_path, even):
    small, _ = drawn(tmp_path, gain_row(**LOSS), even)
    assert "Average gain \u22125.8 bu/ac" in small.alt and ("Breaks even" in small.alt) == (even == -0.4)


@pytest.mark.parametrize("changed", [{"shown_as": "grey"}, {"estimate": NONE, "conf_low": NONE, "conf_high": NONE}])
def test_too_few_trials_have_no_picture(tmp_path, changed):
    assert drawn(tmp_path, gain_row(**changed)) == ("", "") and not list(tmp_path.iterdir())


CHANGES = {"estimate": 5.1, "conf_low": 2.0, "conf_high": 9.0, "unit": "lb/ac", "digits": 2, "estimate_id": "another"}


@pytest.mark.parametrize("column", CHANGES)
def test_a_kept_picture_has_the_bytes_that_drawing_gives(tmp_path, column):
    row = gain_row(**{column: CHANGES[column]})
    drawn(tmp_path / "anew", row)
    with kept_in(tmp_path / "kept"):
        drawn(tmp_path / "before", gain_row())
        drawn(tmp_path / "now", row)
    for path in (tmp_path / "anew").iterdir():
        assert path.read_bytes() == (tmp_path / "now" / path.name).read_bytes()


def test_the_same_headline_is_not_drawn_again(tmp_path, monkeypatch):
    with kept_in(tmp_path / "kept"):
        drawn(tmp_path / "before", gain_row())
        monkeypatch.setattr(theme, "save", None)
        drawn(tmp_path / "now", gain_row(estimate_id="another"))
    assert len(list((tmp_path / "now").iterdir())) == 4
