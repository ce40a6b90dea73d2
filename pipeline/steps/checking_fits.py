"""Both fits of every mixed model of a program, by lme4 and by the program's own code, and how far they lie apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from pipeline.display.words.numbers import number
from pipeline.estimates.engines import mixed, own_fits
from pipeline.estimates.engines.mixed import Call, MixedFit
from pipeline.estimates.frames import stacked
from pipeline.settings.program import Program
from pipeline.steps import other_questions
from pipeline.steps.estimating import estimated, gather
from pipeline.steps.loading import Tell
from pipeline.warehouse import Warehouse

PRINTED = ("estimate", "conf_low", "conf_high", "pred_low", "pred_high")
AVERAGES = ("pooled_gains", "explored", "long_run_gains")
KEY = ["table", "comparison_id", "target", "method", "moderator", "level"]


@dataclass(frozen=True)
class Checked:
    """differences: one row per model fitted by both, see differences(). n_refused: models that one of the two alone
    fitted.

    n_printed: averages and limits as pages print them; n_other: those that print otherwise by own fits.
    """

    differences: pd.DataFrame
    n_refused: int
    n_printed: int
    n_other: int


def check(warehouse: Warehouse, program: Program, tell: Tell) -> Checked:
    """Fits every model of what the trials layer holds by both.

    Raises:
        UserError: R with lme4 is missing.
    """
    found, facts = gather(warehouse, program), other_questions.facts(warehouse)

    def averages() -> pd.DataFrame:
        frames = estimated(program, found, tell)
        frames |= other_questions.other_questions(program, found, frames, facts, tell)
        return stacked([frames[name].assign(table=name) for name in AVERAGES])

    with mixed.by(mixed.LME4), mixed.recorded() as calls:
        by_lme4 = averages()
    with mixed.by(mixed.OWN):
        by_own = averages()
    with threadpool_limits(limits=1, user_api="blas"):  # many small matrices: threads only hinder
        rows = [differences_of(call) for call in calls]
    units = warehouse.read("select distinct comparison_id, digits, kg_ha_per_unit from reports.gains")
    n_printed, n_other = compared(as_printed(by_lme4, units), as_printed(by_own, units))
    return Checked(pd.DataFrame([row for row in rows if row]), sum(row is None for row in rows), n_printed, n_other)


def differences_of(call: Call) -> dict | None:
    """The fit of a call against own_fits; empty where neither fits the rows, None where one alone does."""
    try:
        own = own_fits.fit(call.formula, call.frame, weights=call.weights, contrasts=call.contrasts)
    except mixed.NotFitted:
        return {} if call.found is None else None
    return None if call.found is None else differences(call.found, own)


def differences(one: MixedFit, other: MixedFit) -> dict:
    """How far the second fit lies from the first.

    estimate: in standard errors; std_error, df, joint_f and joint_df: as a share; variance: as a share of all variance;
    criterion: second less first; boundary: whether one alone is singular.
    """
    first, second = (fit.coefficients.set_index("term") for fit in (one, other))
    second = second.loc[first.index]
    variances = [fit.variances.set_index("group")["variance"] for fit in (one, other)]
    total = variances[0].sum() + one.residual_variance
    apart = [*(variances[1] - variances[0]).abs(), abs(other.residual_variance - one.residual_variance)]
    return {
        "formula": one.formula,
        "estimate": float(((second["estimate"] - first["estimate"]).abs() / first["std_error"]).max()),
        "std_error": _share(second["std_error"], first["std_error"]),
        "df": _share(second["df"], first["df"]),
        "variance": max(apart) / total,
        "criterion": other.reml - one.reml,
        "joint_f": _share(other.joint_test[0], one.joint_test[0]),
        "joint_df": _share(other.joint_test[2], one.joint_test[2]),
        "boundary": one.is_singular != other.is_singular,
    }


def _share(second, first) -> float:
    return float(np.max(np.abs(np.asarray(second) / np.asarray(first) - 1)))


def as_printed(gains: pd.DataFrame, units: pd.DataFrame) -> pd.Series:
    """Averages and limits with the digits of the pages, in the reader's unit, by what they are an average of."""
    rows = (
        gains.reindex(columns=[*KEY, *PRINTED])
        .merge(units, on="comparison_id")
        .melt([*KEY, "digits", "kg_ha_per_unit"], PRINTED, "figure")
    )
    rows = rows[rows["value"].notna()]
    values = rows["value"].astype(float) / rows["kg_ha_per_unit"]
    keys = pd.MultiIndex.from_frame(rows[[*KEY, "figure"]].astype(str))
    return pd.Series([number(value, int(digits)) for value, digits in zip(values, rows["digits"])], keys, dtype=object)


def compared(one: pd.Series, other: pd.Series) -> tuple[int, int]:
    """How many figures there are, and how many of them the two print otherwise; a figure that one alone has is one."""
    both = pd.concat([one, other], axis=1, join="outer")
    return len(both), int((both[0] != both[1]).sum())
