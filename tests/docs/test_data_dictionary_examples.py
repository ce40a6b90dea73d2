"""The examples printed in the data dictionary are read by what reads a delivery."""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.incoming.corrections import read_corrections
from pipeline.incoming.headings import read_senders_words

PAGE = Path(__file__).parents[2] / "reports" / "data_dictionary.qmd"


def test_headings_and_corrections_can_be_pasted_as_printed(tmp_path):
    headings, corrections = re.findall(r"^```\n(.*?)^```$", PAGE.read_text(), flags=re.S | re.M)[-2:]
    season = tmp_path / "seasons" / "2094"
    season.mkdir(parents=True)
    (season / "headings.yml").write_text(headings)
    (season / "corrections.yml").write_text(corrections)
    words = read_senders_words(season, tmp_path)
    assert words.table("plot_data") == "plots" and words.headings[("plots", "wt_(lbs)")] == "harvest_weight_lb"
    assert words.words[("treatments", "n_source", "half coated")] == "coated blend"
    (correction,) = read_corrections(season, tmp_path)
    assert correction.change == {"harvest_weight_lb": ("42.6", "46.2")} and not correction.treatment_known
