"""All fits of a program against the same fits as bare lmer calls in one R process, timed in one run. Nothing is
asserted.

    python -m tests.benchmarks.fits [PLACES] [SEASONS]      (25 x 4 site-years for each of 3 crops, if not said)

Of a large program only a sample of the bare fits is timed, an even share of each formula's, and scaled up to all.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter, defaultdict
from pathlib import Path
from types import SimpleNamespace
from unittest.mock import patch

import numpy as np
import pandas as pd

from pipeline.estimates.engines import lme4_fits, mixed, restricted_likelihood
from pipeline.estimates.program import estimate
from pipeline.estimates.where.by_rate import SITE_YEAR_RATE, TRIAL_BLOCK

CROPS = ("corn", "cotton", "soybean")
TERMS = ("place", "season", "site_year_id", SITE_YEAR_RATE, TRIAL_BLOCK)

BARE = """
function(path) {
  rows <- read.csv(path, stringsAsFactors = TRUE)
  rows$season <- factor(rows$season)
  seconds <- sapply(split(rows, rows$fit), function(d) {
    formula <- as.formula(as.character(d$formula[1]))
    elapsed <- suppressMessages(suppressWarnings(
      system.time(lme4::lmer(formula, d, weights = weight), gcFirst = FALSE)))[["elapsed"]]
    elapsed * d$stands_for[1]
  })
  sum(seconds)
}
"""
TIMED_ALONE = 100  # bare fits timed per formula; of more, an even share


def program(n_places: int, n_seasons: int, n_blocks: int = 4) -> tuple:
    """Three crops, one comparison each, two rates, at every place in every season: the arguments of estimate()."""
    rng = np.random.default_rng(1)
    trials, plots = [], []
    for crop in CROPS:
        of_season = rng.normal(0, 100, n_seasons)
        for p in range(n_places):
            for s in range(n_seasons):
                trial = f"{crop}-{p}-{s}"
                trials.append(
                    {
                        "trial_id": trial,
                        "site_year_id": f"p{p}-{2091 + s}",
                        "place": f"p{p}",
                        "season": 2091 + s,
                        "crop": crop,
                        "design": "RCBD",
                        "drainage_group": "RWP"[p % 3],
                        "rainfall_class": ("dry", "normal", "wet")[(p + s) % 3],
                    }
                )
                true = 200 + of_season[s] + rng.normal(0, 150)
                values = (
                    rng.normal(10000, 500, (n_blocks, 1))
                    + rng.normal(0, 500, (n_blocks, 4))
                    + np.array([0, true, 0, true])
                )
                plots += [
                    {"trial_id": trial, "block": str(b), "main_plot": None, "plot": f"{b}{code}",
                     "treatment_code": code, "value": values[b, i]}
                    for b in range(n_blocks) for i, code in enumerate(("U1", "C1", "U2", "C2"))
                ]  # fmt: skip
    trials, plots = pd.DataFrame(trials), pd.DataFrame(plots)
    treatments = plots[["trial_id", "treatment_code"]].drop_duplicates().assign(is_zero_n=False)
    arms = treatments.merge(trials[["trial_id", "crop"]], on="trial_id").rename(columns={"crop": "comparison_id"})
    arms["arm"] = arms["treatment_code"].str[0].map({"C": "treatment", "U": "comparator"})
    arms = arms.assign(rate_kg_ha=arms["treatment_code"].str[1].map({"1": 90.0, "2": 135.0}), rate_weight=1.0)
    return [SimpleNamespace(id=crop, crop=crop) for crop in CROPS], trials, treatments, plots, arms


class Recorder:
    """Keeps the formula and rows of the mixed models that estimate() fits by either code: one in `every` of each
    formula.
    """

    def __init__(self, every: int) -> None:
        self.every = every
        self.counts: Counter[str] = Counter()
        self.kept: dict[str, list[pd.DataFrame]] = defaultdict(list)
        self.by_r, self.directly = mixed.fit, restricted_likelihood.fit

    def _keep(self, formula: str, frame: pd.DataFrame) -> None:
        if self.counts[formula] % self.every == 0:
            self.kept[formula].append(frame.reindex(columns=["gain", "weight", "class", *TERMS]))
        self.counts[formula] += 1

    def fit(self, formula, frame, **options):
        self._keep(formula.replace("level", "class"), frame.rename(columns={"level": "class"}))
        return self.by_r(formula, frame, **options)

    def fit_directly(self, gains, weights, groups, **options):
        formula = "gain ~ 1 + " + " + ".join(f"(1 | {term})" for term in groups)
        self._keep(formula, pd.DataFrame({"gain": gains, "weight": weights} | groups))
        return self.directly(gains, weights, groups, **options)

    def written(self, path: Path) -> Path:
        frames = [
            frame.assign(fit=f"{number}-{i}", formula=formula, stands_for=self.counts[formula] / len(kept))
            for number, (formula, kept) in enumerate(self.kept.items())
            for i, frame in enumerate(kept)
        ]
        pd.concat(frames).to_csv(path, index=False)
        return path


def main(n_places: int = 25, n_seasons: int = 4) -> None:
    arguments = program(n_places, n_seasons)
    r = lme4_fits.start_r()
    small = program(3, 3)
    estimate(*small)  # everything imported and compiled
    recorder = Recorder(every=max(1, n_places * n_seasons // TIMED_ALONE))
    with patch.object(mixed, "fit", recorder.fit), patch.object(restricted_likelihood, "fit", recorder.fit_directly):
        start = time.perf_counter()
        estimate(*arguments)
        ours = time.perf_counter() - start
    with tempfile.TemporaryDirectory(prefix="manyfields-bench-") as folder:
        path = recorder.written(Path(folder) / "fits.csv")
        bare = float(r.robjects.r(BARE)(str(path))[0])
    print(f"site-years per crop                                       {n_places * n_seasons:8,}")
    print(f"mixed models fitted                                       {recorder.counts.total():8,}")
    print(f"estimate(): plots to all tables, robustness with it       {ours:8.2f} s")
    print(f"the same mixed models as bare lmer calls in R             {bare:8.2f} s")
    print(f"ratio                                                     {ours / bare:8.2f} x")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
