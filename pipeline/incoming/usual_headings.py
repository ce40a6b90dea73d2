"""How field sheets head the columns that a table needs."""

from __future__ import annotations

import re

# how field sheets head these columns (common practice, no source), tidied, without units and signs
ALSO_HEADED = {
    "trial_id": ("trial", "study", "experiment", "test", "trial_no"),
    "block": ("rep", "reps", "replicate", "replication", "repetition", "blk", "r"),
    "plot": ("plot_no", "plot_number", "plotno", "plot_id", "plt", "no", "plot#", "strip"),
    "treatment_code": ("trt", "treatment", "treat", "tmt", "trt_no", "treatment_no", "entry", "code"),
    "site_id": ("site", "field", "location", "loc", "farm", "station", "place"),
    "season": ("year", "harvest_year", "crop_year"),
    "crop": ("species",),
    "n_source": ("source", "product", "fertilizer", "n_product"),
    "n_rate": ("rate", "n", "n_rate", "lb_n", "n_lb", "total_n"),
    "timing": ("time", "when", "n_timing"),
    "passes": ("applications", "n_applications", "apps", "trips"),
    "outcome": ("status", "fate"),
    "place": ("site", "location", "station", "farm"),
    "product": ("fertilizer", "source", "material"),
    "counts_toward": (),
}

# how people head the plots of a block, alone or beside a treatment or what was measured (common practice, no source)
BLOCK = re.compile(
    r"(?:^|(?<=[\s_.,:/-]))(?:(?:rep(?:licate|lication|etition)?|block|blk|bl|plot"
    r" rep)[\s_.#-]*|r|b)(\d{1,2}|i{1,3}|iv|v)\b",
    re.IGNORECASE,
)
MEASURED = ("yield", "moisture", "moist", "weight", "wt", "mean", "test_weight")
# our heading -> what tells it: the word, or the unit
MEASURED_BY_UNIT = (
    ("moisture_pct", re.compile(r"moist|\bmst\b|h2o", re.IGNORECASE)),
    ("yield_bu_ac", re.compile(r"\bbu\b|bu/|bushel|bu_", re.IGNORECASE)),
    ("harvest_weight_lb", re.compile(r"\blbs?\b|pounds", re.IGNORECASE)),
    ("gin_turnout_pct", re.compile(r"(turn-?out|\blint)\W*(%|pct|percent)", re.IGNORECASE)),
    ("harvest_length_ft", re.compile(r"\blength\b.*\b(ft|feet)\b", re.IGNORECASE)),
    ("harvest_width_ft", re.compile(r"\bwidth\b.*\b(ft|feet)\b", re.IGNORECASE)),
    ("rows_harvested", re.compile(r"^(no\.? of )?rows( harvested)?$", re.IGNORECASE)),
)
# the weight of one harvest of several
PICK = re.compile(r"\bpick(ing)?s?\b|\b(1st|2nd|3rd|first|second|third)\b", re.IGNORECASE)
APPLIED_BY_UNIT = (
    ("product_rate_lb_ac", re.compile(r"product.*\blbs?\b|\blbs?\b.*product", re.IGNORECASE)),
    ("product_n_pct", re.compile(r"%\s*n\b|\bn\s*%|percent n\b", re.IGNORECASE)),
)


def bare_heading(tidy: str) -> str:
    """A tidy heading without a unit in brackets and without signs at its end."""
    return tidy.split("(")[0].strip("_.:#")
