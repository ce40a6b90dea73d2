"""The best N rates of one trial's own curves, beside those over all site-years, on the trial's page."""

from __future__ import annotations

import pandas as pd

from pipeline.display.words import n_response
from pipeline.display.words.numbers import UNKNOWN, capital, text
from pipeline.display.words.tables import Markdown, grey, joined, pipe_table
from pipeline.estimates.n_response import optimum

CAUTION = (
    "One trial says little about the best N rate, and its interval leaves out how seasons differ. "
    "The curve over all site-years, in the season report, says more about your next season."
)
WHY = {
    optimum.NO_RESPONSE: "yield is not shown to respond to N in this trial",
    optimum.NEGATIVE: "yield fell with more N",
    optimum.BELOW: "the curve levels off below the second N rate",
    optimum.FEW_RATES: "fewer than 4 N rates, zero-N among them",
    optimum.NO_ZERO_N: "no zero-N plots",
    optimum.NOT_RANDOMIZED: "the trial was not randomized",
    optimum.NOT_REPLICATED: "no N rate is repeated, so plot noise cannot be estimated",
    optimum.PRINTED: "with published means only",
    optimum.NO_MEANS: "only differences between treatments were printed",
}


def common_optima(curves: pd.DataFrame) -> pd.DataFrame:
    """The optimum of each nitrogen treatment that has a common curve: crop, family and `optimum` in words.

    Args:
        curves: rows of reports.response_curves.
    """
    rows = n_response.drawn(curves)
    return rows[["crop", "family"]].assign(optimum=[n_response.rate(row, "eonr") for _, row in rows.iterrows()])


def own_optima(own: pd.DataFrame, common: pd.DataFrame, *, label: str) -> Markdown:
    """The optimum rates of each ladder that has a curve of its own, and why the others have none; empty without
    ladders.

    Args:
        own: rows of reports.trial_curves of one trial.
        common: common_optima of its crop.
    """
    is_fitted = own["flag"].isin([n_response.FOUND, n_response.BEYOND])
    parts = [_table(own[is_fitted], common, label=label), CAUTION, ""] if is_fitted.any() else []
    rest = own[~is_fitted].assign(why=lambda rows: [_why(row, set(common["family"])) for _, row in rows.iterrows()])
    why = [
        f"{'; '.join(_ladder(row) for _, row in alike.iterrows())} ({reason})"
        for reason, alike in rest.groupby("why", sort=False)
    ]
    if why:
        parts += [joined([f"No best N rate from this trial alone for {'; '.join(why)}."]), ""]
    return Markdown("\n".join(parts))


def _why(row: pd.Series, in_common: set[str]) -> str:
    """Why a ladder has no curve of its own; of printed means also that they count where there is a common curve."""
    counts = row["flag"] == optimum.PRINTED and row["family"] in in_common
    return WHY.get(row["flag"], row["flag"]) + ("; it counts in the curve over all site-years" if counts else "")


def _ladder(row: pd.Series) -> str:
    return f"{row['family']}{f', {row.variant}' if text(row['variant']) else ''}"


def _table(fitted: pd.DataFrame, common: pd.DataFrame, *, label: str) -> Markdown:
    of_all = dict(zip(common["family"], common["optimum"], strict=True))
    rows = [
        {
            "Nitrogen treatment": joined([capital(_ladder(row)), grey(row["estimate_id"])], by=" "),
            "Rate for highest yield": n_response.rate(row, "aonr"),
            "Economic optimum rate": n_response.rate(row, "eonr"),
            "Optimum over all site-years": of_all.get(row["family"], UNKNOWN),
            "Warnings": text(row["warnings"]) or "none",
        }
        for _, row in fitted.iterrows()
    ]
    caption = (
        f"Best N rates ({fitted['n_unit'].iloc[0]}) on this trial's own curve of {fitted['trial_id'].iloc[0]}, with"
        " their 95%"
        f" intervals{', at the planning prices of the program' if fitted['price_ratio'].notna().any() else ''}."
    )
    frame = pd.DataFrame(rows)
    if frame["Warnings"].eq("none").all():
        frame = frame.drop(columns="Warnings")
    widths = dict(zip(rows[0], (30, 22, 22, 22, 14), strict=True))
    return pipe_table(frame, caption=caption, label=label, widths={name: widths[name] for name in frame.columns})
