"""A randomized plan of plots: every block, and every main plot within it, randomized afresh.

Plot numbers say where a plot lies: block x 100 + position, so 203 is the third plot of
block 2. The random seed is kept with the plan, which can then be made again.

In a split-plot zero-N is the lowest step of the rates inside every main plot: each main plot's
response then stands over its own zero-N, within the smaller error (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.errors import UserError, one_of

DESIGNS = ("RCBD", "split-plot")
MOST_PLOTS_PER_BLOCK, MOST_MAIN_PLOTS = 99, 26  # two digits of a plot number, letters of the alphabet
FEWEST_BLOCKS = 2
PLAN = ("plot", "block", "main_plot", "treatment_code", "position")


def plan_of_plots(
    treatments: pd.DataFrame, *, design: str, n_blocks: int, random_seed: int, main_plot_column: str | None = None
) -> pd.DataFrame:
    """One row per plot, columns PLAN, in field order.

    treatments: treatment_code and, for a split-plot, main_plot_column, whose value (such as
    the timing) is what is randomized to main plots, and is_zero_n (yes/no) where there is a
    zero-N. main_plot is a letter by place in its block, missing for an RCBD. UserError where
    the treatments do not fit the design.
    """
    _check(treatments, design, n_blocks, random_seed)
    wholes = (
        _main_plots(treatments, main_plot_column)
        if design == "split-plot"
        else {"": list(treatments["treatment_code"].astype(str))}
    )
    if (n_plots := sum(map(len, wholes.values()))) > MOST_PLOTS_PER_BLOCK:
        raise UserError(
            f"layout: {n_plots} plots to a block, zero-N in every main plot; a block holds 2 to {MOST_PLOTS_PER_BLOCK}"
        )
    generator = np.random.default_rng(random_seed)
    rows = []
    for block in range(1, n_blocks + 1):
        order = _one_block(wholes, generator)
        for position, (letter, code) in enumerate(order, start=1):
            rows.append(
                {
                    "plot": block * 100 + position,
                    "block": block,
                    "treatment_code": code,
                    "position": position,
                    "main_plot": letter if design == "split-plot" else None,
                }
            )
    return pd.DataFrame(rows, columns=list(PLAN))


def _one_block(wholes: dict[str, list[str]], generator: np.random.Generator) -> list[tuple[str, str]]:
    """(main plot letter, treatment code) by position; an RCBD is a block of one main plot."""
    order = []
    for number, whole in enumerate(generator.permutation(sorted(wholes))):
        order += [(chr(ord("A") + number), str(code)) for code in generator.permutation(sorted(wholes[whole]))]
    return order


def _check(treatments: pd.DataFrame, design: str, n_blocks: int, random_seed: int) -> None:
    if design not in DESIGNS:
        raise UserError(f'layout: the design "{design}" cannot be laid out here: {one_of(list(DESIGNS), design)}')
    if not (isinstance(random_seed, int) and random_seed >= 0):
        raise UserError(f"layout: the random seed is {random_seed}; give a whole number from 0 up, and keep it")
    if not FEWEST_BLOCKS <= n_blocks <= MOST_PLOTS_PER_BLOCK:
        raise UserError(
            f"layout: {n_blocks} blocks; a trial needs {FEWEST_BLOCKS} to {MOST_PLOTS_PER_BLOCK} (4 are usual)"
        )
    codes = treatments["treatment_code"]
    if codes.isna().any() or codes.duplicated().any():
        doubled = ", ".join(sorted(codes[codes.duplicated()].dropna().astype(str).unique())) or "(empty)"
        raise UserError(f"layout: each treatment needs a code of its own; look at {doubled}")
    if not 2 <= len(codes) <= MOST_PLOTS_PER_BLOCK:
        n = f"{len(codes)} treatment{'' if len(codes) == 1 else 's'}"
        raise UserError(f"layout: {n}; a block holds 2 to {MOST_PLOTS_PER_BLOCK}: name a trial with as many")


def _main_plots(treatments: pd.DataFrame, column: str | None) -> dict[str, list[str]]:
    """Treatment codes by what goes to main plots; zero-N in all of them, but for one that has the value of one of
    them.
    """
    is_zero = (
        treatments["is_zero_n"].eq("yes") if "is_zero_n" in treatments else pd.Series(False, index=treatments.index)
    )
    if column not in treatments or treatments.loc[~is_zero, column].isna().any():
        raise UserError(
            "layout: a split-plot needs the column, filled for every fertilized treatment, that goes to main plots"
        )
    codes, level = treatments["treatment_code"].astype(str), treatments[column].astype(str)
    wholes = {value: list(of_value) for value, of_value in codes[~is_zero].groupby(level[~is_zero])}
    for code, own in zip(codes[is_zero], level[is_zero], strict=True):
        for value in [own] if own in wholes else wholes:
            wholes[value].append(code)
    _check_main_plots(wholes, column)
    return wholes


def _check_main_plots(wholes: dict[str, list[str]], column: str) -> None:
    """A split-plot needs two or more main plots, and something to compare inside one."""
    held = ", ".join(f"{value}: {len(codes)}" for value, codes in wholes.items())
    if not 2 <= len(wholes) <= MOST_MAIN_PLOTS:
        raise UserError(
            f'layout: "{column}" gives {len(wholes)} main plots ({held}); a block holds 2 to {MOST_MAIN_PLOTS}. Lay out'
            " an RCBD."
        )
    if max(map(len, wholes.values())) < 2:
        raise UserError(f'layout: main plots by "{column}" hold one treatment each ({held}): lay out an RCBD.')
