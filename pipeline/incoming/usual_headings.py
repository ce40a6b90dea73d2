"""How field sheets head the columns that a table needs."""

from __future__ import annotations

# how field sheets head these columns (common practice, no source), tidied, without units and signs
ALSO_HEADED = {
    "trial_id": ("trial", "study", "experiment", "test", "trial_no"),
    "block": ("rep", "reps", "replicate", "replication", "repetition", "blk", "r"),
    "plot": ("plot_no", "plot_number", "plotno", "plot_id", "plt", "no", "plot#"),
    "treatment_code": ("trt", "treatment", "treat", "tmt", "trt_no", "treatment_no", "entry", "code"),
    "site_id": ("site", "location", "loc", "farm", "station", "place"),
    "season": ("year", "harvest_year", "crop_year"),
    "crop": ("species",),
    "n_source": ("source", "product", "fertilizer", "n_product"),
    "n_rate": ("rate", "n", "n_rate", "lb_n", "n_lb", "total_n"),
    "timing": ("time", "when", "n_timing"),
    "passes": ("applications", "n_applications", "apps", "trips"),
    "became": ("status", "outcome", "fate"),
    "place": ("site", "location", "station", "farm"),
    "product": ("fertilizer", "source", "material"),
    "counts_toward": (),
}


def bare_heading(tidy: str) -> str:
    """A tidy heading without a unit in brackets and without signs at its end."""
    return tidy.split("(")[0].strip("_.:#")
