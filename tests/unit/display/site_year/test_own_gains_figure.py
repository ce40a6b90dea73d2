"""A cooperator's gains: every comparison's name can be read."""

from __future__ import annotations

import io

import matplotlib.pyplot as plt
import pandas as pd
import pytest

from pipeline.display.figures import theme
from pipeline.display.site_year.own_gains_figure import own_gains
from pipeline.kept import kept_in

NAMES = (
    "half-coated blend, one application, against urea, one application",
    "half-coated blend, one application, against urea split in two (the growers' standard)",
    "quarter-coated blend, one application, against urea, one application",
    "urea",
)


OWN = pd.DataFrame({"comparison_id": list("abcd"), "gain": 5.0, "conf_low": 1.0, "conf_high": 9.0, "unit": "bu/ac",
                    "season": 2092, "kg_ha_per_unit": 62.8, "crop": "corn", "digits": 1, "says": NAMES})  # fmt: skip
AVERAGES = pd.DataFrame(
    {
        "comparison_id": list("abcd"),
        "position": range(4),
        "estimate": 4.0,
        "conf_low": 3.0,
        "conf_high": 5.0,
        "observed_low": -5.0,
        "observed_high": 12.0,
        "n_site_years": 20,
    }
)


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_no_name_runs_into_the_next(monkeypatch, tmp_path, n):
    drawn = []
    monkeypatch.setattr(theme, "figure", lambda plot, **words: drawn.append(plot().draw()))
    own_gains(OWN.head(n), AVERAGES, pd.Series({"a": 2.0}), folder=tmp_path, name="gains")
    (figure,) = drawn
    figure.savefig(io.BytesIO(), dpi=figure.dpi)  # lays it out
    names = [label.get_window_extent() for axes in figure.axes for label in axes.get_yticklabels() if label.get_text()]
    plt.close(figure)
    assert len(names) == n
    heights = sorted((box.y0, box.y1) for box in names)
    assert all(above[0] - below[1] > 0 for below, above in zip(heights, heights[1:]))


@pytest.mark.parametrize(
    ("column", "value", "n_drawn"),
    [("conf_high", 5.04, 1), ("conf_high", 5.06, 2), ("observed_low", -5.04, 1), ("observed_low", -5.06, 2),
     ("estimate_id", "another", 1)],
)  # fmt: skip
def test_a_change_too_small_to_print_draws_no_figure_anew(monkeypatch, tmp_path, column, value, n_drawn):
    saved = []
    monkeypatch.setattr(theme, "save", lambda drawn, file, sheet: saved.append(file.with_suffix(".png").touch()))
    with kept_in(tmp_path / "kept"):
        for averages in (AVERAGES, AVERAGES.assign(**{column: value})):
            own_gains(OWN, averages, pd.Series({"a": 2.0}), folder=tmp_path, name="gains")
    assert len(saved) == n_drawn


FEW = {"estimate": float("nan"), "conf_low": float("nan"), "conf_high": float("nan")}
NO_RANGE = {"observed_low": float("nan"), "observed_high": float("nan")}
ALL = "the gain here (dot, 95% interval); below it the average in the seasons tested, over 20 site-years (thick), and"


@pytest.mark.parametrize(
    ("here", "first", "others", "says"),
    [
        ({}, {}, {}, f"{ALL} the range expected of one trial (thin). Dashes: break-even."),
        ({}, {"n_site_years": 8}, {}, "over 8 to 20 site-years (thick)"),
        ({}, FEW | NO_RANGE, {}, "over 20 site-years (thick), and the range"),
        ({}, NO_RANGE, NO_RANGE, "over 20 site-years (thick). Dashes"),
        ({}, FEW | NO_RANGE, FEW | NO_RANGE, "interval). There are too few site-years for an average of the program."),
        ({"conf_low": float("nan"), "conf_high": float("nan")}, {}, {}, "the gain here (dot); below it"),
    ],
)
def test_the_caption_tells_what_is_drawn_of_all_rows_and_not_of_the_first_alone(tmp_path, here, first, others, says):
    averages = AVERAGES.head(2).assign(**others)
    averages.loc[0, list(first)] = list(first.values())
    shown = own_gains(OWN.head(2).assign(**here), averages, pd.Series({"a": 2.0}), folder=tmp_path, name="gains")
    assert says in shown


def test_a_missing_average_has_no_unit_in_the_alternative_text(tmp_path):
    shown = own_gains(OWN.head(1), AVERAGES.assign(**FEW), pd.Series(dtype=float), folder=tmp_path, name="gains")
    assert "here 5.0 bu/ac, average not known." in shown


UNKNOWN = {"conf_low": float("nan"), "conf_high": float("nan")}


@pytest.mark.parametrize(
    ("here", "first", "second", "named"),
    [
        ({}, {}, {}, [("  this trial", 0, 12.0), ("  average", 0, 12.0)]),
        ({}, FEW | NO_RANGE, {}, [("  this trial", 0, 9.0), ("  average", 1, 12.0)]),
        ({}, FEW | NO_RANGE, FEW | NO_RANGE, [("  this trial", 0, 9.0)]),
        (UNKNOWN, FEW | NO_RANGE, FEW | NO_RANGE, [("  this trial", 0, 5.0)]),
    ],
)
def test_words_stand_beside_what_is_drawn_and_nowhere_else(monkeypatch, tmp_path, here, first, second, named):
    drawn = []
    monkeypatch.setattr(theme, "figure", lambda plot, **words: drawn.append(plot()))
    averages = AVERAGES.head(2).astype({"estimate": float})
    for k, changed in enumerate((first, second)):
        averages.loc[k, list(changed)] = list(changed.values())
    own_gains(OWN.head(2).assign(**here), averages, pd.Series(dtype=float), folder=tmp_path, name="gains")
    lines = drawn[0].data[drawn[0].data["words"] != ""]
    rows = lines["y"].round().astype(int)
    assert list(zip(lines["words"], rows, lines["words_at"], strict=True)) == named
