"""Sound trials with one thing spoiled each, and what the checks must say of it.

In a trial's plots.csv rows 2-4 are block 1 and rows 5-7 block 2, each with zero-N, urea and the blend.
"""

from __future__ import annotations

from tests.spoiled_trials import of_plots, of_treatments, of_trials_and_sites, silent

CASES = of_plots.CASES | of_treatments.CASES | of_trials_and_sites.CASES | silent.CASES
