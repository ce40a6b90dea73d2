"""What the home page hands to its parts."""

from __future__ import annotations

import pandas as pd

from pipeline.display.index.page import IndexPage
from tests.unit.display.index.test_places_map import places


def test_the_map_counts_places_whose_trials_are_not_just_planned(tmp_path):
    rows = [("Alder", 0, 1), ("Alder", 0, 2), ("Birch", 0, 1), ("Cedar", 1, 2), ("Elm", 1, 1)]
    views = {
        "program": pd.DataFrame({"program": ["Tiny trials"]}),
        "pages": pd.DataFrame(columns=["kind", "crop", "path"]),
        "places": places((35.0, -40.0), (36.0, -41.0)),
        "site_years": pd.DataFrame(rows, columns=["place", "n_planned", "n_trials"]),
    }
    said = IndexPage(views, tmp_path).places
    assert "Where the trials are: 2 places" in said and "1 other place with trials has none" in said
    assert IndexPage(views | {"places": views["places"][:1]}, tmp_path).places == ""
