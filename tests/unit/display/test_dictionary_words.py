"""Words to type stand in code type in the data dictionary, and no capital is put on them."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.data_dictionary.tables import columns_table, keys_table


def test_words_to_type_stand_in_code_type_and_in_lower_case():
    holds = ["`us` (default) or `$/ac_x`", "how many_blocks"]
    keys = pd.DataFrame({"place": "the file", "name": ["a", "b"], "holds": holds, "filled": "optional"})
    rows = str(keys_table(keys))
    assert "`us` (default) or `$/ac_x`" in rows and r"How many\_blocks" in rows


def test_a_key_stands_under_its_place_with_what_it_holds():
    keys = pd.DataFrame([{"place": "the file", "name": "program", "holds": "its name", "filled": "yes"}])
    assert "| the file | `program` | Its name | yes |" in keys_table(keys)


COLUMN = {"heading": "moisture or wet", "meaning": "water in the grain", "type": "number", "is_required": True,
          "severity": "sets the row aside", "words": "", "hard": "", "typical": "", "example": "",
          "formerly": ""}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "holds"),
    [
        ({}, "Water in the grain."),
        ({"words": "dry, wet"}, "Water in the grain. Words: dry, wet."),
        (
            {"hard": "0 to 60%", "typical": "8 to 45%", "example": "15.2"},
            "Water in the grain. Hard range 0 to 60%. Typical 8 to 45%. Example: 15.2.",
        ),
        ({"formerly": "damp"}, "Water in the grain. Earlier files call it `damp`; that is read too."),
    ],
)
def test_a_column_says_what_is_declared_of_it_and_no_more(changed, holds):
    table = columns_table(pd.DataFrame([COLUMN | changed]), "plots")
    assert f"| `moisture` or `wet` | {holds} | number | yes | sets the row aside |" in table
    optional = columns_table(pd.DataFrame([COLUMN | {"is_required": False}]), "plots")
    assert "| number | no |" in optional and "Columns of plots." in optional
