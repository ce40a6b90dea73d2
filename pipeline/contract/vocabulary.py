"""The words that rooms share: what is asked, of which seasons, by which classes, and what was shown. Named here once.

They stand in the warehouse's columns and in program.yml; what a page says of each is the page's own.
"""

from __future__ import annotations

TESTED, TO_COME = "seasons tested", "seasons to come"
TARGETS = (TESTED, TO_COME)

GAIN, AS_GOOD = "gain", "as good"  # what a comparison asks, and a claim states
MORE_WITH, LESS_WITH = "more with", "less with"  # what a claim states of the weather
CLAIM = "claim"
AT_NAMED_RATE = "named rate"  # where nitrogen saved is asked for, beside the optimum
NOT_DECLARED = "not declared"  # a rule that program.yml does not have, or had not

NOBODY, PLACE_ONLY, COOPERATOR = "nobody", "place only", "cooperator"  # who may be named in what is published

RAINFALL_CLASSES = ("dry", "normal", "wet")
BY_DRAINAGE, BY_RAINFALL, BY_BOTH = "drainage group", "rainfall class", "drainage group x rainfall class"
MODERATORS = (BY_DRAINAGE, BY_RAINFALL, BY_BOTH)  # the ways of dividing that every program declares
DECLARED, EXPLORATORY = "declared", "exploratory"

SHOWN, NOT_SHOWN, DOES_NOT_APPLY, TOO_FEW = "shown", "not shown", "does not apply", "too few"

# What the weather of a site-year may explain: measured or worked out by day, blind to yields.
RAIN_AFTER, WETTEST_5_DAYS = "rain after application", "wettest 5 days"
HEAVY_RAIN_DAYS, WET_DAYS = "days of heavy rain", "days of 10 mm of rain"
EXCESS_WATER, SOIL_WARMTH, NITROGEN_RELEASED = "excess water", "soil warmth", "nitrogen released"
COVARIATES = (RAIN_AFTER, WETTEST_5_DAYS, HEAVY_RAIN_DAYS, WET_DAYS, EXCESS_WATER, SOIL_WARMTH, NITROGEN_RELEASED)
COVARIATE_UNITS = dict.fromkeys((RAIN_AFTER, WETTEST_5_DAYS, EXCESS_WATER), "mm") | {
    HEAVY_RAIN_DAYS: "days",
    WET_DAYS: "days",
    SOIL_WARMTH: "C",
    NITROGEN_RELEASED: "%",
}
# Which differences between site-years a slope rests on.
ALL_DIFFERENCES, WITHIN_SEASONS, BETWEEN_SEASONS = "all differences", "within seasons", "between seasons"
SLOPE_PARTS = (ALL_DIFFERENCES, WITHIN_SEASONS, BETWEEN_SEASONS)
