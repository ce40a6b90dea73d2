"""How near the program's own fits come to lme4's: far nearer than any printed digit needs."""

from __future__ import annotations

from pipeline.estimates.engines.mixed import Call, MixedFit
from pipeline.steps.checking_fits import differences_of

# As steps.checking_fits.differences has them. In 730 models of drawn and demo programs the largest were 7e-6, 6e-6,
# 1.2e-5, 1.1e-5.
CLOSE = {"estimate": 1e-4, "std_error": 1e-4, "variance": 1e-4, "joint_f": 1e-3}
CLOSE_DF = {
    "df": 5e-3,
    "joint_df": 1e-2,
}  # lmerTest takes curvature by differences, at where lme4 stopped: 1.5e-4, 2.2e-3
NO_HIGHER = 1e-6  # the criterion may be lower than lme4's
# Of all variance. Where lme4 leaves less to the residual, as with plots drawn without error or where nearly every gain
# has a place of its own, the criterion falls without end toward none, and where either stops says nothing: with 9e-6
# left, estimates lay 6e-4 apart.
LEAST_RESIDUAL = 1e-4


def apart(found: dict) -> list[str]:
    """What lies further apart than that, of differences(lme4's fit, own fit)."""
    wide = [name for name, most in (CLOSE | CLOSE_DF).items() if found[name] > most]
    wide += ["criterion"] * (found["criterion"] > NO_HIGHER) + ["boundary"] * found["boundary"]
    return [f"{name} {found[name]:.2g}" for name in wide]


def _has_no_residual(fit: MixedFit) -> bool:
    return fit.residual_variance < LEAST_RESIDUAL * (fit.residual_variance + fit.variances["variance"].sum())


def fits_apart(calls: list[Call]) -> list[str]:
    """A fault for each recorded fit by lme4 that the own fit does not match."""
    faults = []
    for call in calls:
        if call.found is not None and _has_no_residual(call.found):
            continue
        found = differences_of(call)
        wide = ["fitted by one alone"] if found is None else apart(found) if found else []
        if wide:
            faults.append(f"fits apart: {call.formula} on {len(call.frame)} rows: {', '.join(wide)}")
    return faults
