"""What the page writes at the reader's own prices; the words of figures are those of display.money and
display.response.
"""

from __future__ import annotations

from pipeline.display.words import money, n_response

BASIS = {"prices": "at your prices", "rate": "at your N rate", "both": "at your prices and N rate"}
OF_FIGURES = {
    "pays": money.PAYS,
    "costs": money.COSTS,
    "unsure": money.UNSURE,
    "gain": money.FROM_A_GAIN,
    "loss": money.WITH_A_LOSS,
    "answer": money.ANSWER,
    "answer_untold": money.ANSWER_UNTOLD,
    "undefined": money.UNDEFINED,
    "not_given": money.NOT_GIVEN,
    "untold": money.UNTOLD,
    "anything": money.ANYTHING,
    "from_to": money.FROM_TO,
    "below": money.BELOW_SHOWN,
    "above": money.ABOVE_SHOWN,
    "grid_crop": money.GRID_CROP,
    "rate": n_response.RATE_WORDS,
}
OF_BOXES = {
    "all_else": "All else is at the planning prices of {}: {}.",
    "per_ton": "{} ({} per ton at {}% N)",
    "planned": "the planning price, {}, is used",
    "rates_tested": "the rates tested are used",
    "empty": "Nothing is typed here: {}.",
    "comma": "Write the number with a point and without a comma, like {}. Until then {}.",
    "not_a_number": "{} is not a number: {}.",
    "negative": "A price below zero cannot be right: {}.",
    "outside": "{} is not plausible here (from {} to {} is): {}.",
    "not_tested": "{} lies outside the rates tested, {} to {}: {}.",
    "per_ton_hint": "A price per ton goes into the next box.",
    "percent_wanted": "Type the % N of the product too: a price per ton says nothing of N without it. Until then {}.",
    "percent": "{} is not a percent N, like 46: {}.",
    "linked": "These prices came with the link.",
    "remembered": "These are the prices you typed here before.",
    "copied": "The link is copied.",
    "link": "Copy this link: {}",
}
WORDS = OF_FIGURES | OF_BOXES | {"basis": BASIS}
