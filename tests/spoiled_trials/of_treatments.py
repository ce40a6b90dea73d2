"""Cases in which a finding is told of treatments, applications or printed means."""

from __future__ import annotations

from tests.spoiled_trials.spoils import (
    ASIDE,
    HOLDS,
    NOTED,
    Case,
    add,
    all_of,
    cultivars,
    difference,
    printed,
    put,
    remove,
)

# fmt: off
CASES = {
    "code of an application mistyped": Case(
        "application of unknown treatment", ASIDE, ("nitrogen_applications", 5, "treatment_code"), "U-12",
        put("nitrogen_applications", 5, "treatment_code", "U-12"), also=("background n differs between arms",)),
    "application of a trial nobody described": Case(
        "application of unknown treatment", ASIDE, ("nitrogen_applications", 2, "treatment_code"), "2091-Z U-120",
        put("nitrogen_applications", 2, "trial_id", "2091-Z"), also=("applications do not add up",)),
    "pounds of urea typed as pounds of N": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 260.9 lb N/ac applied, 120.0 lb N/ac planned",
        put("nitrogen_applications", 2, "n_rate_lb_ac", "260.9")),
    "too little N, told twice": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 100.0 lb N/ac applied, 120.0 lb N/ac planned",
        all_of(put("nitrogen_applications", 2, "n_rate_lb_ac", "100"),
             lambda tiny, where: tiny.repeat("nitrogen_applications", 2, where)), also=("row repeated",)),
    "no application of one treatment": Case(
        "applications do not add up", HOLDS, ("treatments", 3, "n_rate"),
        "U-120: 0.0 lb N/ac applied, 120.0 lb N/ac planned",
        remove("nitrogen_applications", 2)),
    "starter on all plots, counted toward the treatments": Case(
        "treatment n on all plots", HOLDS, ("nitrogen_applications", 5, "counts_toward"),
        "5.0 lb N/ac on all plots, counted toward the treatments",
        all_of(put("nitrogen_applications", 5, "counts_toward", "treatment"),
             put("nitrogen_applications", 5, "treatment_code", "all"))),
    "starter on the urea plots alone": Case(
        "background n differs between arms", NOTED, ("nitrogen_applications", 5, "counts_toward"),
        "background N on U-120 alone",
        put("nitrogen_applications", 5, "treatment_code", "U-120")),
    "a blend of unknown share": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend without a coated share (C-120)",
        put("treatments", 4, "coated_n_fraction", "")),
    "urea with a coated share": Case(
        "coated share against source", HOLDS, ("treatments", 3, "coated_n"), "urea with a coated share of 0.5 (U-120)",
        put("treatments", 3, "coated_n_fraction", "0.5")),
    "a blend coated throughout": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend with a coated share of 1.0 (C-120)", put("treatments", 4, "coated_n_fraction", "1")),
    "a blend of no coated N": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated blend with a coated share of 0.0 (C-120)", put("treatments", 4, "coated_n_fraction", "0")),
    "coated urea of which half is coated": Case(
        "coated share against source", HOLDS, ("treatments", 4, "coated_n"),
        "coated urea with a coated share of 0.5 (C-120)", put("treatments", 4, "n_source", "coated urea")),
    "zero-N at a rate": Case(
        "unfertilized with a rate", HOLDS, ("treatments", 3, "is_zero_n"), "zero-N at 120.0 lb N/ac (U-120)",
        put("treatments", 3, "is_zero_n", "yes")),
    "other N than its product holds": Case(
        "product against n rate", HOLDS, ("nitrogen_applications", 2, "n_rate, product_rate"),
        "120.0 lb N/ac given, 115.0 lb N/ac in the product",
        all_of(lambda tiny, where: tiny.fill("nitrogen_applications", "product_rate_lb_ac", "", where),
             put("nitrogen_applications", 2, "product_rate_lb_ac", "250"),
             put("nitrogen_applications", 3, "product_rate_lb_ac", "130.4"))),
    "2.2 % less N than its product holds": Case(
        "product against n rate", HOLDS, ("nitrogen_applications", 2, "n_rate, product_rate"),
        "120.0 lb N/ac given, 117.4 lb N/ac in the product",
        all_of(*(lambda tiny, where, name=column, value=value: tiny.fill("nitrogen_applications", name, value, where)
               for column, value in (("product_rate_lb_ac", ""), ("product_n_pct", "40"))),
             put("nitrogen_applications", 2, "product_rate_lb_ac", "293.5"))),
    "more N in its product than anybody spreads": Case(
        "nitrogen_applications.n_rate outside its hard range", HOLDS,
        ("nitrogen_applications", 2, "product_rate_lb_ac"), "1196.0 lb N/ac in the product",
        all_of(put("nitrogen_applications", 2, "n_rate_lb_ac", ""),
             lambda tiny, where: tiny.fill("nitrogen_applications", "product_rate_lb_ac", "", where),
             put("nitrogen_applications", 2, "product_rate_lb_ac", "2600")),
        also=("applications do not add up", "nitrogen_applications.n_rate worked out from the product")),
    "applied a year too early": Case(
        "day outside the season", NOTED, ("nitrogen_applications", 3, "applied_on"), "2090-07-05",
        all_of(lambda tiny, where: tiny.fill("nitrogen_applications", "applied_on", "2090-07-06", where),
             put("nitrogen_applications", 3, "applied_on", "2090-07-05"))),
    "applied after the harvest": Case(
        "day outside the season", NOTED, ("nitrogen_applications", 4, "applied_on"), "2091-10-05 and 1 more",
        all_of(put("nitrogen_applications", 2, "application", "2091-10-04 urea"),
             put("nitrogen_applications", 4, "application", "2091-10-05 urea"),
             put("nitrogen_applications", 5, "application", "2092-05-02 urea"))),
    "applied a year before the season, planted nobody says when": Case(
        "day outside the season", NOTED, ("nitrogen_applications", 3, "applied_on"), "2089-12-31",
        all_of(put("trials", 2, "planted", ""), put("trials", 2, "harvested", ""),
             lambda tiny, where: tiny.fill("nitrogen_applications", "applied_on", "2091-12-31", where),
             put("nitrogen_applications", 2, "applied_on", "2090-01-01"),
             put("nitrogen_applications", 3, "applied_on", "2089-12-31"))),
    "watered in another year": Case(
        "day outside the season", NOTED, ("irrigations", 3, "date"), "2092-07-02",
        lambda tiny, where: tiny.write(
            "irrigations", [["trial_id", "date", "irrigation_in"],
                            *([where.split("/")[1], day, "1"] for day in ("2091-07-01", "2092-07-02"))], where)),
    "measured in another year": Case(
        "day outside the season", NOTED, ("measurements", 4, "date"), "2092-07-31",
        lambda tiny, where: tiny.write(
            "measurements", [["trial_id", "plot", "trait", "date", "value", "unit"],
                             *([where.split("/")[1], "101", "plant height", day, "40", "in"]
                               for day in ("2091-07-01", "2092-07-30", "2092-07-31"))], where)),
    "picked in another year": Case(
        "day outside the season", NOTED, ("harvests", 3, "picked"), "2093-09-20",
        all_of(put("plots", 2, "harvest_weight_lb", ""), lambda tiny, where: tiny.write(
            "harvests", [["trial_id", "plot", "pick", "picked", "harvest_weight_lb"],
                         *([where.split("/")[1], "101", pick, day, weight]
                           for pick, day, weight in (("1", "2091-09-20", "6.3"), ("2", "2093-09-20", "3")))], where)),
        like="2091-B-cotton"),
    "an application delivered twice": Case(
        "row repeated", ASIDE, ("nitrogen_applications", 6, None),
        "a row that says the same as seasons/2091/an application delivered twice/nitrogen_applications.csv row 2",
        lambda tiny, where: tiny.repeat("nitrogen_applications", 2, where)),
    "treatment of a trial nobody described": Case(
        "treatment of unknown trial", ASIDE, ("treatments", 5, "trial_id"), "2091-Y",
        add("treatments", trial_id="2091-Y", treatment_code="X", n_source="urea", n_rate_lb_ac="80", timing="split",
             passes="2")),
    "a printed mean of no treatment": Case(
        "printed mean of unknown treatment", HOLDS, ("printed_means", 2, "treatment_code"),
        "a printed mean of no treatment X",
        printed("X", "171", "SED", "5", "")),
    "a printed LSD without its level": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_value"), "LSD without its level",
        printed("U-120", "171", "LSD", "14.2", "")),
    "a printed table without its means": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "mean_yield"), "no mean",
        printed("U-120", "", "none", "", "")),
    "a difference from nothing": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "compared_with"),
        "a difference, but not from which treatment", difference("", "7.1")),
    "a comparison without its difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "difference"), "no difference from U-120",
        difference("U-120", "")),
    "a difference from a code mistyped": Case(
        "printed mean of unknown treatment", HOLDS, ("printed_means", 2, "compared_with"),
        "a difference from a code mistyped U-12", difference("U-12", "7.1")),
    "a CV of a difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_kind"), "CV of a difference",
        difference("U-120", "7.1", "CV")),
    "a printed mean beside a difference": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "mean_yield"), "a mean beside a difference",
        all_of(difference("U-120", "7.1"),
             lambda tiny, where: tiny.fill("printed_means", "mean_yield_bu_ac", "171", where))),
    "a printed difference from itself": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "compared_with"), "a difference from itself",
        difference("C-120", "7.1")),
    "a printed error without its value": Case(
        "printed mean without mean", HOLDS, ("printed_means", 2, "error_value"), "SED without a value",
        printed("U-120", "171", "SED", "", "")),
    "an N source alone": Case(
        "nitrogen told of some treatments", HOLDS, ("treatments", 3, "n_source"), "no nitrogen stated for U-120",
        all_of(cultivars(), put("treatments", 2, "n_source", "urea")),
        also=("nitrogen told of some treatments", *(f"treatments.{column} is empty" for column in ("n_rate", "timing",
                                                                                                   "passes")))),
    "incorporated in no-till": Case(
        "words that do not go together", NOTED, ("treatments", 3, "placement"),
        "tillage No till with placement broadcast incorporated (U-120, C-120)",
        all_of(lambda tiny, where: tiny.fill("trials", "tillage", "No till", where),
             *(put("treatments", row, "placement", "broadcast incorporated") for row in (3, 4)))),
    "incorporated into standing corn": Case(
        "words that do not go together", NOTED, ("nitrogen_applications", 2, "placement"),
        "applied three weeks or more after planting with placement broadcast incorporated (U-120 2091-05-23 urea)",
        all_of(put("nitrogen_applications", 2, "application", "2091-05-23 urea"),
             put("nitrogen_applications", 2, "placement", "broadcast incorporated"))),
    "split in one pass": Case(
        "words that do not go together", NOTED, ("treatments", 3, "passes"), "timing split with passes 1 (U-120)",
        put("treatments", 3, "timing", "split")),
    "N given at no time": Case(
        "words that do not go together", NOTED, ("treatments", 3, "timing"),
        "N rate above zero with timing none (U-120)", put("treatments", 3, "timing", "none")),
}
# fmt: on
