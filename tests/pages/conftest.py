"""A small program, and in the slow tests the whole demo, published as a reader gets it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipeline.publishing import pages
from pipeline.simulation.demo import write_demo
from pipeline.verbs import run

# What the tiny program lacks of a real one: prices, so that the report speaks of money, and a sentence to hold against the evidence.
PRICES_AND_CLAIM = """\
prices:
  fixed_on: 2092-11-01
  currency: $
  nitrogen_per_lb_n: {urea: 0.50}
  coated_premium_per_lb_n: 0.18
  pass_cost_per_ac: 12
  crops:
    corn: {price_per_bu: 4.50, hauling_per_bu: 0.10, drying_per_point_bu: 0.045}
claims:
  - {sentence: "Two more bushels", where: flyer, comparison: corn-blend-vs-urea, gain: 2, unit: bu/ac}
"""
PLACES = {
    "index": "index", "season": "corn", "review": "review", "methods": "methods", "data dictionary": "data_dictionary",
    "site-year": "site-years/*",
}  # fmt: skip


@pytest.fixture(scope="session", params=["tiny", pytest.param("demo", marks=pytest.mark.slow)])
def published(request, sound_program: Path, tmp_path_factory) -> Path:
    """The published folder, drawn by pandoc and typst."""
    folder = tmp_path_factory.mktemp("pages") / "program"
    if request.param == "tiny":
        shutil.copytree(sound_program, folder)
        with (folder / "program.yml").open("a", encoding="utf-8") as settings:
            settings.write(PRICES_AND_CLAIM)
    else:
        write_demo(folder)
    built = run.build_warehouse(folder, "report", lambda text: None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.publishing.by_quarto.find_quarto", lambda: None)
        pages.publish(built.tables, folder=folder / "published", program_name=built.program.name)
    return folder / "published"


@pytest.fixture
def page(published: Path, kind: str) -> Path:
    """The first published HTML page of a kind, a key of PLACES; its PDF and DOCX have the same stem."""
    return min(published.glob(f"{PLACES[kind]}.html"))
