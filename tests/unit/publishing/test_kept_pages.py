"""A page and a figure that would be the same are not drawn again; what is published is as if they had been."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from pipeline.display.figures import theme
from pipeline.kept import FOLDER, kept_in
from pipeline.publishing import by_pandoc, pages
from pipeline.verbs.answers import stored_views


@pytest.fixture(scope="module")
def tables(estimated_program: Path) -> dict[str, pd.DataFrame]:
    """The report views of a tiny program: corn at Alder in two seasons, cotton at Birch in one."""
    return {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}


@pytest.fixture
def drawn(monkeypatch):
    """The pages and figures that are drawn while the test runs."""
    at_work: list[str] = []
    for module, name in ((by_pandoc, "draw_page"), (theme, "save")):
        real = getattr(module, name)

        def told(first, where, *more, real=real, is_page=name == "draw_page"):
            at_work.append(first.name if is_page else f"figure {where.name}")
            return real(first, where, *more)

        monkeypatch.setattr(module, name, told)
    return at_work


def site_year_pages(tables, scratch: Path, kept: Path | None) -> dict[str, bytes]:
    """The site-years' pages of a run, by the names of their files."""
    views = pages.views_of(tables, scratch)
    planned = [plan for plan in pages.plan_pages(views["pages"]) if plan.source == "site_year.qmd"]
    with kept_in(kept) as files:
        made, failed = pages.make(planned, views, scratch, lambda what, done, of: None)
        assert not failed
        files.forget_unused()
    return {file.path.name: file.path.read_bytes() for file in made}


def test_only_what_changed_is_drawn_and_all_is_as_from_nothing(tables, tmp_path, drawn):
    kept = tmp_path / FOLDER
    first = site_year_pages(tables, tmp_path / "first", kept)
    assert {"alder-2091", "alder-2092", "birch-2091"} <= set(drawn) and any("figure" in name for name in drawn)
    drawn.clear()
    assert site_year_pages(tables, tmp_path / "again", kept) == first and drawn == []

    gains = tables["reports.site_year_gains"]
    moved = gains.assign(gain=gains["gain"].where(gains["site_year_id"] != "alder-2092", gains["gain"] + 3))
    words = tables["reports.trials"].assign(place=tables["reports.trials"]["place"].replace("Birch", "Birch Hollow"))
    states = tables["reports.season_inputs"]
    corrected = states.assign(data_sha256=states["data_sha256"] + " corrected")  # so that no page stands unlooked at
    changed = tables | {
        "reports.site_year_gains": moved,
        "reports.trials": words,
        "reports.season_inputs": corrected,
    }
    later = site_year_pages(changed, tmp_path / "later", kept)
    assert {name for name in drawn if "figure" not in name} == {"alder-2092", "birch-2091"}
    assert [name for name in drawn if "figure" in name] == ["figure gains-corn"]  # the cotton is in no comparison
    assert {name for name in later if later[name] != first[name]} == {
        f"{name}.{format}" for name in ("alder-2092", "birch-2091") for format in ("html", "pdf")
    }
    assert later == site_year_pages(changed, tmp_path / "anew", None)


def test_a_figure_is_drawn_from_its_data_alone(tables):
    """Else two figures that differ only in a variable of the function that made them would be taken for one."""
    import plotnine as p9

    high = "no column"
    plot = p9.ggplot(pd.DataFrame({"x": [1.0]}), p9.aes("x", "high")) + p9.geom_point()
    assert high
    with pytest.raises(p9.exceptions.PlotnineError):
        theme.figure(plot, folder=Path("."), name="never", caption="", alt="")
