"""Words to type stand in code type in the data dictionary, and no capital is put on them."""

from __future__ import annotations

import pandas as pd

from pipeline.display.data_dictionary.tables import keys_table


def test_words_to_type_stand_in_code_type_and_in_lower_case():
    holds = ["`us` (default) or `$/ac_x`", "how many_blocks"]
    keys = pd.DataFrame({"place": "the file", "name": ["a", "b"], "holds": holds, "filled": "optional"})
    rows = str(keys_table(keys))
    assert "`us` (default) or `$/ac_x`" in rows and r"How many\_blocks" in rows
