"""The words that rooms share: what is asked, of which seasons, by which classes, and what was shown. Named here once.

They stand in the warehouse's columns and in program.yml; what a page says of each is the page's own.
"""

from __future__ import annotations

TESTED, TO_COME = "seasons tested", "seasons to come"
TARGETS = (TESTED, TO_COME)

GAIN, AS_GOOD = "gain", "as good"  # what a comparison asks, and a claim states
CLAIM = "claim"
NOT_DECLARED = "not declared"  # a rule that program.yml does not have, or had not

RAINFALL_CLASSES = ("dry", "normal", "wet")
BY_DRAINAGE, BY_RAINFALL, BY_BOTH = "drainage group", "rainfall class", "drainage group x rainfall class"
MODERATORS = (BY_DRAINAGE, BY_RAINFALL, BY_BOTH)  # the ways of dividing that every program declares
DECLARED, EXPLORATORY = "declared", "exploratory"

SHOWN, NOT_SHOWN, DOES_NOT_APPLY, TOO_FEW = "shown", "not shown", "does not apply", "too few"
