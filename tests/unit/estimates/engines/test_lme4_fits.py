"""R behind its one door: what is loaded of it, what it leaves behind, what is said where it is missing."""

from __future__ import annotations

import os
import subprocess
import sys

import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.estimates.engines import lme4_fits

FRAME = pd.DataFrame({"gain": [1.0, 2, 2, 4, 3, 5, 9, 7], "site": list("aabbccdd")})


def test_r_loads_none_of_the_packages_that_are_never_called():
    """pymer4 alone would load them: R here may well have them."""
    loaded = set(lme4_fits.start_r().robjects.r("loadedNamespaces()"))
    assert {"lme4", "lmerTest", "broom", "broom.mixed"} <= loaded and not loaded & set(lme4_fits.NEVER_CALLED)


@pytest.mark.parametrize("before", ["/somewhere", pytest.param(None, marks=pytest.mark.thorough)])
def test_programs_that_are_started_later_find_their_own_libraries(before):
    """R puts its folders on the loader's path, in this process's environment and in what it hands on."""
    said = (
        "import os, subprocess; from pipeline.estimates.engines import lme4_fits; lme4_fits.start_r();"
        "print(os.environ.get('LD_LIBRARY_PATH'), subprocess.getoutput('echo ${LD_LIBRARY_PATH-None}'))"
    )
    known = {name: value for name, value in os.environ.items() if name != "LD_LIBRARY_PATH"}
    known |= {} if before is None else {"LD_LIBRARY_PATH": before}
    done = subprocess.run([sys.executable, "-c", said], env=known, capture_output=True, text=True, check=True)
    assert done.stdout == f"{before} {before}\n"


@pytest.mark.parametrize(
    ("call", "package"),
    [
        (lambda tidystats: tidystats.emmeans(1, "site"), "emmeans"),
        (lambda tidystats: tidystats.report(1), "report"),
        (lambda tidystats: tidystats.model_icc(1), "performance"),
    ],
)
def test_a_call_of_one_of_them_is_an_error_that_names_it(call, package):
    with pytest.raises(UserError, match=f"of the R package {package} is not available"):
        call(lme4_fits.start_r().tidystats)


def test_a_fit_stays_as_it_was_whatever_r_does_next():
    r, names = lme4_fits.start_r().robjects.r, ("theta", "covariance", "parameter_covariance", "covariance_gradients")
    fits = [lme4_fits.fit("gain ~ 1 + (1 | site)", FRAME) for _ in range(5)]
    before = [[getattr(fit, name).tolist() for name in names] for fit in fits]
    r("invisible(gc()); kept <- lapply(1:20000, function(i) runif(i %% 20))")
    assert [[getattr(fit, name).tolist() for name in names] for fit in fits] == before
    r("rm(kept)")


@pytest.mark.parametrize("spoilt", [{"PATH": "/nowhere"}, {"R_HOME": "/nowhere"}])
def test_without_r_the_message_names_what_is_needed(spoilt):
    code = (
        "from pipeline.errors import UserError\n"
        "from pipeline.estimates.engines import mixed\n"
        "try: mixed.engine()\n"
        "except UserError as problem: print(problem)\n"
    )
    environment = {name: value for name, value in os.environ.items() if name != "R_HOME"}
    environment |= {"PYTHONPATH": os.pathsep.join(sys.path), "FIT_BY": "lme4"} | spoilt
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True)
    assert "needs R with the packages lme4, lmerTest, broom and broom.mixed. Run `make setup`" in done.stdout
    assert "Traceback" not in done.stderr
