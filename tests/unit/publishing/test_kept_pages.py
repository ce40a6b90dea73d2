"""A page and a figure that would be the same are not drawn again; what is published is as if they had been."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import plotnine as p9
import pytest

from pipeline.display.figures import theme
from pipeline.kept import FOLDER, kept_in
from pipeline.publishing import at_once, by_pandoc, pages
from pipeline.publishing.page import Drawn
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


def made_pages(tables, scratch: Path, kept: Path | None) -> list[Drawn]:
    """The site-years' pages of a run."""
    views = pages.views_of(tables, scratch)
    planned = [plan for plan in pages.plan_pages(views["pages"]) if plan.source == "site_year.qmd"]
    with kept_in(kept) as files:
        made, failed = pages.make(planned, views, scratch, lambda what, done, of: None)
        assert not failed
        files.forget_unused()
    return made


def site_year_pages(tables, scratch: Path, kept: Path | None) -> dict[str, bytes]:
    """The same by the names of their files."""
    return {file.path.name: file.path.read_bytes() for file in made_pages(tables, scratch, kept)}


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


def test_a_page_whose_material_is_the_same_is_not_even_written(tables, tmp_path, monkeypatch):
    """Where the corn of a season was corrected, the page of its cotton is taken; it stands in the runs after too."""
    written, weave = [], at_once.weave
    monkeypatch.setattr(at_once, "weave", lambda *at, **more: written.append(more["folder"].name) or weave(*at, **more))
    kept, gains, states = tmp_path / FOLDER, tables["reports.site_year_gains"], tables["reports.season_inputs"]
    first = site_year_pages(tables, tmp_path / "first", kept)
    assert sorted(written) == ["alder-2091", "alder-2092", "birch-2091"]
    written.clear()
    changed = tables | {
        "reports.site_year_gains": gains.assign(gain=gains["gain"] + 1),
        "reports.season_inputs": states.assign(data_sha256=states["data_sha256"] + " corrected"),
    }
    later = site_year_pages(changed, tmp_path / "later", kept)
    assert sorted(written) == ["alder-2091", "alder-2092"]
    assert {name for name in later if later[name] == first[name]} == {"birch-2091.html", "birch-2091.pdf"}
    assert later == site_year_pages(changed, tmp_path / "anew", None)
    written.clear()
    again = {file.path.name: file for file in made_pages(changed, tmp_path / "again", kept)}
    assert written == [] and all(file.is_standing for file in again.values())


def test_a_page_is_written_anew_where_a_printed_decimal_moved_and_only_there(tables, tmp_path, monkeypatch):
    """A corrected plot moves every gain and error of its crop a little."""
    written, weave = [], at_once.weave
    monkeypatch.setattr(at_once, "weave", lambda *at, **more: written.append(more["folder"].name) or weave(*at, **more))
    kept, gains, states = tmp_path / FOLDER, tables["reports.site_year_gains"], tables["reports.season_inputs"]
    first = site_year_pages(tables, tmp_path / "first", kept)
    states = states.assign(data_sha256=states["data_sha256"] + " corrected")
    for moved, anew in ((0.0, []), (1e-9, []), (3.0, ["alder-2091", "alder-2092"])):
        written.clear()
        changed = tables | {
            "reports.site_year_gains": gains.assign(
                gain=gains["gain"] + moved, std_error=gains["std_error"] + moved, conf_low=gains["conf_low"] + moved
            ),
            "reports.season_inputs": states.assign(data_sha256=states["data_sha256"] + f" {moved}"),
        }
        later = site_year_pages(changed, tmp_path / f"moved {moved}", kept)
        assert sorted(written) == anew and (later == first) == (not anew)
        assert later == site_year_pages(changed, tmp_path / f"anew {moved}", None)


PUT_TOGETHER: list[float] = []


def pictured(gain: float, folder: Path) -> None:
    rows = pd.DataFrame({"x": [1.0], "gain": [gain]})

    def plot() -> p9.ggplot:
        PUT_TOGETHER.append(rows["gain"][0])
        return p9.ggplot(rows, p9.aes("x", "gain")) + p9.geom_point() + theme.page_theme(1)

    theme.figure(plot, folder=folder, name="gain", caption="", alt="")


def test_a_figure_that_is_kept_is_not_even_put_together(tmp_path):
    for gain in (4.0, 4.0, 4.5):
        with kept_in(tmp_path / FOLDER):
            pictured(gain, tmp_path)
    assert PUT_TOGETHER == [4.0, 4.5]


def test_a_figure_is_drawn_from_its_data_alone(tables):
    """Else two figures that differ only in a variable of the function that made them would be taken for one."""
    high = "no column"

    def plot():
        assert high
        return p9.ggplot(pd.DataFrame({"x": [1.0]}), p9.aes("x", "high")) + p9.geom_point()

    with pytest.raises(p9.exceptions.PlotnineError):
        theme.figure(plot, folder=Path("."), name="never", caption="", alt="")
