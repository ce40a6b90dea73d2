"""The benchmarks still run on the code of today; how long anything takes is not asserted."""

from __future__ import annotations

import pytest

from tests.benchmarks import fits


@pytest.mark.thorough
def test_the_fits_of_a_program_are_found_and_made_again_as_bare_calls(capsys):
    fits.main(3, 3)
    told = dict(
        line.rsplit(maxsplit=1)
        for line in capsys.readouterr().out.replace(" s\n", "\n").replace(" x\n", "\n").splitlines()
    )
    fitted = next(int(value) for name, value in told.items() if name.startswith("mixed models fitted"))
    assert fitted > 100 and len(told) == 5
