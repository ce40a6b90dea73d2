"""R behind its one door: what is loaded of it, what it leaves behind, what is said where it is missing."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import UserError
from pipeline.estimates.engines import lme4_fits

FRAME = pd.DataFrame({"gain": [1.0, 2, 2, 4, 3, 5, 9, 7], "site": list("aabbccdd")})


NEVER_CALLED = {"broom", "broom.mixed", "emmeans", "insight", "parameters", "performance", "report"}


def test_r_loads_none_of_the_packages_that_are_never_called():
    """pymer4 alone would load them: R here may well have them."""
    loaded = set(lme4_fits.start_r().robjects.r("loadedNamespaces()"))
    assert {"lme4", "lmerTest"} <= loaded and not loaded & NEVER_CALLED


def test_python_packages_for_tables_and_models_never_made_are_not_imported():
    lme4_fits.start_r()
    assert not {"great_tables", "sklearn"} & set(sys.modules)


def test_a_package_is_empty_for_a_while_and_then_itself_again(monkeypatch):
    monkeypatch.setattr(lme4_fits, "UNCALLED", ("wave", "numpy"))
    monkeypatch.delitem(sys.modules, "wave", raising=False)
    with lme4_fits._without_uncalled():
        from wave import Wave_read

        assert sys.modules["numpy"] is np  # what is there already stays
        with pytest.raises(UserError, match="The package wave is not available"):
            type("Reader", (Wave_read,), {})()
    from wave import Wave_read

    assert hasattr(Wave_read, "readframes")


@pytest.mark.parametrize(
    "formula", ["gain ~ 1 + (1 | site)", "gain ~ 0 + drainage + (1 | site)", "gain ~ drainage * rate + (1 | site)"]
)
def test_coefficients_and_variances_are_those_of_lmertests_own_summary(formula):
    rng = np.random.default_rng(5)
    frame = pd.DataFrame(
        {
            "site": np.repeat([f"site {n}" for n in range(12)], 6),
            "drainage": np.repeat(["poor", "well", "moderate"], 24),
            "rate": np.tile([80.0, 120.0, 160.0], 24),
            "gain": np.repeat(rng.normal(6, 3, 12), 6) + rng.normal(0, 4, 72),
        }
    )
    fit, r = lme4_fits.fit(formula, frame), lme4_fits.start_r()
    for name, values in frame.items():
        vector = r.robjects.FloatVector if values.dtype == float else r.robjects.StrVector
        r.robjects.globalenv[name] = vector(values.to_list())
    model = f"m <- lmerTest::lmer({formula}, control = {lme4_fits.CONTROL_IN_R})"
    of_summary = "summary(m)$coefficients[, 1:3, drop = FALSE]"
    of_spread = "as.data.frame(lme4::VarCorr(m))$vcov[1]"
    found = np.array(r.robjects.r(f"local({{ {model}; cbind({of_summary}, {of_spread}) }})"))
    assert fit.coefficients[["estimate", "std_error", "df"]].to_numpy().tolist() == found[:, :3].tolist()
    assert fit.variance("site") == found[0, 3] > 0


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
    assert "needs R with the packages lme4 and lmerTest. Run `make setup`" in done.stdout
    assert "Traceback" not in done.stderr
