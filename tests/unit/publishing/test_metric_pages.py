"""A program in metric units: no page of it says pounds, bushels, feet or inches. The data dictionary names every
heading's unit.
"""

from __future__ import annotations

import re

from tests.tiny_program import write_tiny_program
from tests.unit.publishing.test_small_programs import PLACES, estimated, written
from tests.unit.publishing.woven import figures_left_blank, woven_pages

US_UNITS = re.compile(r"(?:lb|lb N|bu|plants)/ac|lb/bu|\binch|°F|sq ft|\d (?:lb|ft)\b|\d\.\d in\b(?! R\b)")
# what program.yml may be written in, a rule told in both units, and what published sources are about
OF_ANY_UNIT = re.compile(
    r"^A claim states a yield gain or loss .*$|1 lb/ac \(1\.12 kg/ha\)|^\|.*test_\w+\.py.*$|^\|.*test\\_.*py.*$",
    re.MULTILINE,
)


def test_no_page_of_a_metric_program_is_in_us_units(tmp_path):
    tiny = written(write_tiny_program(tmp_path / "program"), PLACES, (2091, 2092, 2093))
    tiny.settings("program: Tiny trials\n", "program: Tiny trials\ndisplay_units: metric\n")
    tiny.settings("margin: 3.0, unit: bu/ac", "margin: 188, unit: kg/ha")
    tiny.settings("rates_lb_ac: {120: 1}", "rates_kg_ha: {134.5: 1}")
    heads, *plots = tiny.rows("plots")
    picked = dict(zip(heads, plots[0], strict=True))
    tiny.change("plots", 2, "harvest_weight_lb", "")
    half = f"{float(picked['harvest_weight_lb']) / 2:.2f}"
    of_plot = [picked["trial_id"], picked["plot"]]
    pick_heads = ["trial_id", "plot", "pick", "harvest_weight_lb"]
    tiny.write("harvests", [pick_heads, [*of_plot, "1", half], [*of_plot, "2", half]])
    with figures_left_blank():
        text = woven_pages(estimated(tiny), tmp_path, leave_out=("data_dictionary",))
    assert {"corn", "review", "index", "methods"} < set(text)
    for path, page in text.items():
        page = OF_ANY_UNIT.sub("", page)
        found = [page[max(0, at.start() - 80) : at.end() + 20] for at in US_UNITS.finditer(page)]
        assert not found, (path, found)
