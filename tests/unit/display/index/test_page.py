"""What the home page hands to its parts."""

from __future__ import annotations

import pandas as pd

from pipeline.display.index.page import IndexPage
from pipeline.display.review.page import ReviewPage
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


def test_seasons_are_those_that_have_trials_however_far_apart(tmp_path):
    """A published trial of years before, and a mistyped season of a held one: no year between them is named."""
    views = {
        "program": pd.DataFrame({"program": ["Tiny trials"]}),
        "pages": pd.DataFrame(columns=["kind", "crop", "path"]),
        "trials": pd.DataFrame({"season": [2086, 2091, 2092, 2_000_000_000], "status": ["accepted"] * 3 + ["held"]}),
        "comparisons": pd.DataFrame(),
    }
    for page in (IndexPage(views, tmp_path), ReviewPage(views, tmp_path)):
        assert page.seasons == "2086, 2091, 2092 and 2000000000"
