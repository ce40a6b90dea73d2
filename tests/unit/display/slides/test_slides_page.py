"""What a slide says of its money, where the growers' answers leave it to the page."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.slides.page import SlidesPage
from tests.unit.display.handout.test_page import page
from tests.unit.display.words.test_money import row


@pytest.mark.parametrize(("unit", "said"), [("bu/ac", ""), ("kg/ha", "1 bu/ac = 62.8 kg/ha.")])
def test_money_in_another_unit_than_the_gains_says_what_the_unit_is(tmp_path, monkeypatch, unit, said):
    """In a metric program money is per bushel and acre all the same."""
    slides = object.__new__(SlidesPage)
    vars(slides).update(vars(page(tmp_path, {})))
    slides._leading = slides._leading.assign(unit=unit, seasons="2091, 2092")
    slides._paying = pd.DataFrame([row(comparison_id="standard", kg_ha_per_unit=62.77)])
    monkeypatch.setattr(SlidesPage, "_pays", lambda self: ("It pays.", ""))
    monkeypatch.setattr(SlidesPage, "provisional", "")
    caption = next(line for line in slides.pays.splitlines() if line.startswith(": Source: "))
    assert caption.endswith(f"Planning prices of November 1, 2094.{said and ' ' + said} {{#tbl-pays}}")
