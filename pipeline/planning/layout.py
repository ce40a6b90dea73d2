"""A randomised plan of plots: every block, and every main plot within it, randomised afresh.

Plot numbers say where a plot lies: block x 100 + position, so 203 is the third plot of
block 2. The random seed is kept with the plan, which can then be made again.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.errors import UserError, one_of
from pipeline.estimates.columns import frame_of

DESIGNS = ("RCBD", "split-plot")
MOST_PLOTS_PER_BLOCK = 99
FEWEST_BLOCKS = 2
PLAN = ("plot", "block", "main_plot", "treatment_code", "position")


def plan_of_plots(
    treatments: pd.DataFrame, *, design: str, n_blocks: int, random_seed: int, main_plot_column: str | None = None
) -> pd.DataFrame:
    """One row per plot, columns PLAN, in field order.

    treatments: treatment_code and, for a split-plot, main_plot_column, whose value (such as
    the timing) is what is randomised to main plots. main_plot is a letter by place in its
    block, missing for an RCBD. UserError where the treatments do not fit the design.
    """
    _check(treatments, design, n_blocks, random_seed, main_plot_column)
    generator = np.random.default_rng(random_seed)
    codes = treatments["treatment_code"].astype(str)
    wholes = treatments[main_plot_column].astype(str) if design == "split-plot" else pd.Series("", index=codes.index)
    rows = []
    for block in range(1, n_blocks + 1):
        order = _one_block(codes, wholes, generator)
        for position, (letter, code) in enumerate(order, start=1):
            rows.append(
                {"plot": block * 100 + position, "block": block, "treatment_code": code, "position": position,
                 "main_plot": letter if design == "split-plot" else None}
            )  # fmt: skip
    return frame_of(rows, PLAN)


def _one_block(codes: pd.Series, wholes: pd.Series, generator: np.random.Generator) -> list[tuple[str, str]]:
    """(main plot letter, treatment code) by position; an RCBD is a block of one main plot."""
    order = []
    for number, whole in enumerate(generator.permutation(sorted(wholes.unique()))):
        within = generator.permutation(sorted(codes[wholes == whole]))
        order += [(chr(ord("A") + number), str(code)) for code in within]
    return order


def _check(treatments: pd.DataFrame, design: str, n_blocks: int, random_seed: int, main_plot_column: str | None) -> None:
    if design not in DESIGNS:
        raise UserError(f'layout: the design "{design}" cannot be laid out here: {one_of(list(DESIGNS), design)}')
    if not (isinstance(random_seed, int) and random_seed >= 0):
        raise UserError(f"layout: the random seed is {random_seed}; give a whole number from 0 up, and keep it")
    if not FEWEST_BLOCKS <= n_blocks <= MOST_PLOTS_PER_BLOCK:
        raise UserError(f"layout: {n_blocks} blocks; a trial needs {FEWEST_BLOCKS} to {MOST_PLOTS_PER_BLOCK} (4 are usual)")
    codes = treatments["treatment_code"]
    if codes.isna().any() or codes.duplicated().any():
        doubled = ", ".join(sorted(codes[codes.duplicated()].dropna().astype(str).unique())) or "(empty)"
        raise UserError(f"layout: each treatment needs a code of its own; look at {doubled}")
    if not 2 <= len(codes) <= MOST_PLOTS_PER_BLOCK:
        raise UserError(f"layout: {len(codes)} treatments; a block holds 2 to {MOST_PLOTS_PER_BLOCK}")
    if design == "split-plot":
        _check_main_plots(treatments, main_plot_column)


def _check_main_plots(treatments: pd.DataFrame, column: str | None) -> None:
    """A split-plot needs two or more main plots, each with the same number of treatments."""
    if column is None or column not in treatments or treatments[column].isna().any():
        raise UserError("layout: a split-plot needs the column, filled for every treatment, that goes to main plots")
    sizes = treatments.groupby(column).size()
    if len(sizes) < 2 or sizes.nunique() > 1:
        held = ", ".join(f"{value}: {size}" for value, size in sizes.items())
        raise UserError(
            f'layout: main plots by "{column}" hold unlike numbers of treatments, or there is only one ({held}). '
            "Give each main plot the same number of treatments, or lay out an RCBD."
        )
