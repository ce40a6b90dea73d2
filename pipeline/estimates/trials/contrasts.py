"""Linear combinations of plots: their weights, and their variance from the error strata."""

from __future__ import annotations

import numpy as np
import pandas as pd


def indicators(labels: pd.Series) -> tuple[np.ndarray, list[str]]:
    """One 0/1 column per distinct label, and the labels in column order."""
    texts = [str(label) for label in labels]
    column = {name: number for number, name in enumerate(sorted(set(texts)))}
    return np.eye(len(column))[[column[text] for text in texts]], list(column)


class AdjustedForBlocks:
    """Least squares on block + treatment over a trial's plots, averaged over blocks, so lost plots are allowed for."""

    def __init__(self, plots: pd.DataFrame, *, blocked: bool) -> None:
        treatment, self._codes = indicators(plots["treatment_code"])
        block, blocks = indicators(plots["block"]) if blocked else (np.zeros((len(plots), 0)), [])
        self._n_blocks = len(blocks)
        self._design = np.hstack([treatment, block])
        self._inverse = np.linalg.pinv(self._design)

    def weights(self, wanted: dict[str, float]) -> np.ndarray | None:
        """Weights on the plots whose sum gives `wanted` (treatment_code -> weight); None where the plots cannot give it
        (treatments not connected).
        """
        if not set(wanted) <= set(self._codes):
            return None
        of_block = [sum(wanted.values()) / max(self._n_blocks, 1)] * self._n_blocks
        target = np.array([wanted.get(code, 0.0) for code in self._codes] + of_block)
        weights = target @ self._inverse
        return weights if np.allclose(weights @ self._design, target, atol=1e-8) else None


def variance_factors(weights: np.ndarray, main_plots: pd.Series | None) -> tuple[float, float]:
    """Multipliers of the plot error and of the main-plot effect in the variance of a combination.

    The second is 0 where there are no main plots, or where the arms lie within
    main plots so that their effect cancels.
    """
    main = 0.0
    if main_plots is not None:
        within, _ = indicators(main_plots)
        main = float(np.sum((weights @ within) ** 2))
    return float(np.sum(weights**2)), main if main > 1e-12 else 0.0


def stratum_shares(variance_factor, main_plot_factor, subplots_per_main_plot):
    """Multipliers of the two mean squares, (sub-plot stratum, main-plot stratum).

    The main-plot mean square has expectation error + subplots x main-plot variance
    (Yates 1935, Supplement to J. R. Stat. Soc. 2:181-247, on split plots).
    """
    main = np.where(np.asarray(main_plot_factor) > 0, main_plot_factor / np.asarray(subplots_per_main_plot), 0.0)
    return variance_factor - main, main


def combined(shares, variances, dfs):
    """Variance of a sum of independent mean squares, each times its share, and its df.

    df after Satterthwaite 1946, Biometrics Bulletin 2:110-114. A stratum with a share
    of 0 plays no part, even where its mean square is unknown. Numbers or arrays.
    """
    parts = [
        np.where(np.asarray(share) == 0, 0.0, share * np.asarray(variance, float))
        for share, variance in zip(shares, variances, strict=True)
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = [
            np.where(part == 0, 0.0, part**2 / np.asarray(df, float)) for part, df in zip(parts, dfs, strict=True)
        ]
        return sum(parts), sum(parts) ** 2 / sum(spread)
