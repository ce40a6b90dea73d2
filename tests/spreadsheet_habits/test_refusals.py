"""What cannot be read without guessing is refused: the message names the cell and the mend, and nothing is loaded."""

from __future__ import annotations

import pytest

from pipeline.errors import UserError
from pipeline.incoming.readers import read_file
from tests.spreadsheet_habits.drawn_files import another_unit_beneath, cell, in_csv, in_workbook

REFUSED = {
    "a unit that contradicts its heading": (
        in_csv(another_unit_beneath),
        (
            "row 2, column E: 'kg' stands under 'harvest_weight_lb' (row 1). Keep the unit that was meant, in the"
            " heading, and delete row 2."
        ),
    ),
    "a formula without a stored value": (
        in_workbook(cell("E3", "=20+21")),
        (
            "sheet 'plots', row 3, column E: cell E3 holds a formula without a stored value. "
            "Open the workbook in a spreadsheet program, let it calculate, and save it."
        ),
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_by_the_reader_and_by_the_whole_load(tiny, name):
    draw, message = REFUSED[name]
    path = draw(tiny, "2091")
    with pytest.raises(UserError) as refused:
        read_file(path, name="the file")
    assert message in str(refused.value)
    with pytest.raises(UserError) as refused:
        tiny.checked()
    assert message in str(refused.value) and "Nothing was loaded" in str(refused.value)
    assert f"seasons/2091/{path.name}" in str(refused.value)
