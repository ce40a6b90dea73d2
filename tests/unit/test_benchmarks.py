"""The benchmarks still run on the code of today; how long anything takes is not asserted."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.benchmarks import fits, growth


@pytest.mark.thorough
def test_the_fits_of_a_program_are_found_and_made_again_as_bare_calls(capsys):
    fits.main(3, 3)
    told = dict(
        line.rsplit(maxsplit=1)
        for line in capsys.readouterr().out.replace(" s\n", "\n").replace(" x\n", "\n").splitlines()
    )
    fitted = next(int(value) for name, value in told.items() if name.startswith("mixed models fitted"))
    assert fitted > 100 and len(told) == 5


@pytest.mark.thorough
def test_a_program_grows_by_places_of_its_own(tmp_path):
    growth.write_program(tmp_path, 2)
    trials = pd.concat(map(pd.read_csv, sorted(tmp_path.glob("seasons/*/trials.csv"))))
    sites = pd.read_csv(min(tmp_path.glob("seasons/*/sites.csv")))
    assert trials["trial_id"].is_unique and sites["site_id"].is_unique
    by_copy = trials["site_id"].str[-2:].value_counts()
    assert set(by_copy.index) == {"-0", "-1"} and by_copy.min() > 60
    assert set(trials["site_id"]) <= set(sites["site_id"])


def test_growth_is_told_as_an_exponent():
    small, large = ({"site_years": n, "seconds": {"load": seconds}} for n, seconds in ((100, 2.0), (400, 8.0)))
    assert growth.exponent("load", small, large) == "1.00"
    assert growth.exponent("load", None, large) == growth.exponent("pages", small, large) == ""
