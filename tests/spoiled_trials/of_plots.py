"""Cases in which a finding is told of plots, picks or measurements."""

from __future__ import annotations

from tests.spoiled_trials.spoils import (
    ASIDE,
    HOLDS,
    NOTED,
    Case,
    add,
    all_of,
    copied_block,
    main_plots,
    of_plots,
    picked,
    put,
    remove,
    samples,
    short_row,
    third_block,
    weights,
    with_units,
    write,
)

# fmt: off
CASES = {
    "a plot left out": Case("block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
                            remove("plots", 7)),
    "a plot left out of a Latin square": Case(
        "block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
        all_of(put("trials", 2, "design", "Latin square"), remove("plots", 7))),
    "a plot left out of a split-plot": Case(
        "block lacks treatment", NOTED, ("plots", 5, "treatment_code"), "block 2 without C-120",
        all_of(put("trials", 2, "design", "split-plot"), main_plots("abbabb"), remove("plots", 7))),
    "a lost trial whose plots have no moisture": Case(
        "harvested plot without yield", ASIDE, ("plots", 2, "moisture_pct"), "no moisture_pct",
        all_of(of_plots("moisture_pct", *[""] * 6), put("trials", 2, "outcome", "lost"),
             put("trials", 2, "outcome_reason", "flood")),
        also=("harvested plot without yield",) * 5),
    "no moisture": Case("harvested plot without yield", ASIDE, ("plots", 3, "moisture_pct"), "no moisture_pct",
                        put("plots", 3, "moisture_pct", "")),
    "no moisture, and a weight that is no number": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "moisture_pct"), "no moisture_pct",
        all_of(put("plots", 3, "moisture_pct", ""), put("plots", 3, "harvest_weight_lb", "4x4")),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "no weight below one that is no number": Case(
        "harvested plot without yield", ASIDE, ("plots", 4, "harvest_weight"), "no harvest_weight",
        all_of(put("plots", 3, "harvest_weight_lb", "4x4"), put("plots", 4, "harvest_weight_lb", "")),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "no turnout and no length": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "gin_turnout"), "no gin_turnout, no harvest_length",
        all_of(put("plots", 3, "gin_turnout_fraction", ""), put("plots", 3, "harvest_length_ft", "")),
        like="2091-B-cotton"),
    "killed by its treatment, no yield given": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "harvest_weight"), "no harvest_weight",
        all_of(put("plots", 3, "harvest_weight_lb", ""), put("plots", 3, "outcome", "lost"),
             put("plots", 3, "cause", "seed burnt by the N"),
             put("plots", 3, "caused_by_treatment", "yes"))),
    "bushels of lint": Case(
        "harvested plot without yield", ASIDE, ("plots", 3, "harvest_weight"), "no harvest_weight",
        all_of(lambda tiny, where: tiny.fill("plots", "yield_bu_ac", "", where), put("plots", 3, "yield_bu_ac", "40"),
             put("plots", 3, "harvest_weight_lb", "")), like="2091-B-cotton"),
    "weighed in kg under a heading in lb": Case(
        "kilograms under pounds", NOTED, ("plots", 3, "harvest_weight"),
        "a trial mean of 0.45 times the median corn trial",
        of_plots("harvest_weight_lb", "10.1", "18.7", "19.5", "10.3", "18.9", "19.6")),
    "lost, nobody says why": Case("lost plot without cause", NOTED, ("plots", 3, "cause"), "lost without a cause",
                                  put("plots", 3, "outcome", "lost")),
    "a row shorter than the headings": Case("noticed while reading", NOTED, ("plots", 2, None), "row 2", short_row),
    "plot of a trial nobody described": Case(
        "plot of unknown trial", ASIDE, ("plots", 8, "trial_id"), "2091-Z",
        add("plots", trial_id="2091-Z", block="1", plot="1", treatment_code="U-120", outcome="harvested")),
    "code of a plot mistyped": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C50-120",
        put("plots", 4, "treatment_code", "C50-120"), also=("block lacks treatment",)),
    "the same code mistyped in a second trial": Case(
        "plot with unknown treatment", HOLDS, ("plots", 7, "treatment_code"), "C50-120",
        put("plots", 7, "treatment_code", "C50-120"), also=("block lacks treatment",)),
    "a code of another treatment than those beside it": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "UB-120 (2 plots)",
        all_of(put("plots", 4, "treatment_code", "UB-120"), put("plots", 7, "treatment_code", "UB-120")),
        also=("block lacks treatment",) * 2),
    "a block that was copied": Case(
        "block repeats another", NOTED, ("plots", 5, "block"), "block 2 has the weights of block 1 in all 3 plots",
        copied_block),
    "a copied block of a trial picked twice": Case(
        "block repeats another", NOTED, ("plots", 5, "block"), "block 2 has the weights of block 1 in all 3 plots",
        all_of(copied_block, picked), like="2091-B-cotton"),
    "a copied block among four": Case(
        "block repeats another", NOTED, ("plots", 11, "block"), "block 4 has the weights of block 2 in all 3 plots",
        weights((22.1, 41.3, 42.9), (20.4, 39.1, 43.3), (23.2, 42.8, 41.7), (20.4, 39.1, 43.3))),
    "zero-N and urea swapped in one of three blocks": Case(
        "unfertilized plot out of line", NOTED, ("plots", 9, "treatment_code"),
        "bu/ac in block 3, where the lowest fertilized plot is 301 (U-120) with 112.4",
        third_block("U-120", "ZERO", "C-120")),
    "three blocks under another id": Case(
        "trial repeats another", HOLDS, ("plots", 2, "trial_id"),
        "all 9 weights of trial three blocks under another id are those of trial three blocks as planted, row by row",
        third_block("ZERO", "U-120", "C-120", more=0.2)),
    "a code written in words": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C 120 planting (2 plots)",
        all_of(put("plots", 4, "treatment_code", "C 120 planting"),
             put("plots", 7, "treatment_code", "C 120 planting")),
        also=("block lacks treatment",) * 2),
    "two of six plots without a block": Case(
        "many plots not read", HOLDS, ("plots", 2, None),
        "2 of 6 plots are set aside because their cells cannot be read",
        all_of(put("plots", 2, "block", ""), put("plots", 5, "block", "")),
        also=("plots.block is empty",) * 2 + ("block lacks treatment",) * 2),
    "two of eight plots without a block, one of them told twice": Case(
        "row repeated", ASIDE, ("plots", 10, None),
        "says the same as seasons/2091/two of eight plots without a block, one of them told twice/plots.csv row 2",
        all_of(third_block("ZERO", "U-120"), put("plots", 2, "block", ""), put("plots", 5, "block", ""),
             lambda tiny, where: tiny.repeat("plots", 2, where)),
        also=("plots.block is empty",) * 3 + ("block lacks treatment",) * 3),
    "a file delivered twice": Case(
        "file delivered twice", NOTED, ("plots", 2, None),
        "6 rows say the same as seasons/2091/a file delivered twice/copy/plots.csv; the two files are the same",
        lambda tiny, where: tiny.write("plots", tiny.rows("plots", where), f"{where}/copy")),
    "a mean under the rows": Case(
        "row is a total or footnote", ASIDE, ("plots", 8, None), "Mean",
        add("plots", trial_id="Mean", harvest_weight_lb="41.2")),
    "the headings again": Case(
        "row repeats the headings", ASIDE, ("plots", 8, None), "trial_id ...",
        lambda tiny, where: tiny.repeat("plots", 1, where)),
    "a title": Case(
        "row above the headings", ASIDE, ("plots", 1, None), "Harvest of the season",
        lambda tiny, where: tiny.write("plots", [["Harvest of the season"], *tiny.rows("plots", where)], where)),
    "units beneath the headings": Case(
        "layout noticed", NOTED, ("plots", 2, None), "lb | % | ft | ft",
        lambda tiny, where: tiny.write("plots", with_units(tiny.rows("plots", where)), where)),
    "a row delivered twice": Case(
        "row repeated", ASIDE, ("plots", 8, None),
        "a row that says the same as seasons/2091/a row delivered twice/plots.csv row 4",
        lambda tiny, where: tiny.repeat("plots", 4, where)),
    "main plots not named": Case(
        "split plot without main plots", HOLDS, ("plots", 2, "main_plot"), "(empty)",
        put("trials", 2, "design", "split-plot"), also=("split plot without main plots",) * 5),
    "two codes swapped": Case(
        "treatment twice in block", NOTED, ("plots", 4, "treatment_code"), "C-120 in plots 102, 103 of block 1",
        all_of(put("plots", 3, "treatment_code", "C-120"), put("plots", 7, "treatment_code", "U-120")),
        also=("treatment twice in block", "block lacks treatment", "block lacks treatment")),
    "a column of theirs": Case(
        "unknown column", NOTED, ("plots", 1, "Lodging pct"), "Lodging pct", lambda tiny,
        where: tiny.fill("plots", "Lodging pct", "5", where)),
    "a column of another table": Case(
        "unknown column", NOTED, ("plots", 1, "latitude"), "latitude",
        lambda tiny, where: tiny.fill("plots", "latitude", "35", where)),
    "width 3.1 % off": Case("width against rows", HOLDS, ("plots", 4, "harvest_width"), "4.84 ft wide",
                            put("plots", 4, "harvest_width_ft", "4.845")),
    "6 ft from 2 rows at 30 in": Case("width against rows", HOLDS, ("plots", 4, "harvest_width"), "6.0 ft wide",
                                      put("plots", 4, "harvest_width_ft", "6")),
    "more than corn can yield": Case("yield beyond reach", NOTED, ("plots", 3, "yield"), "410.6 bu/ac",
                                     put("plots", 3, "harvest_weight_lb", "81.8")),
    "much for corn": Case("yield unusual", NOTED, ("plots", 3, "yield"), "301.2 bu/ac",
                          put("plots", 3, "harvest_weight_lb", "60")),
    "little for corn": Case("yield unusual", NOTED, ("plots", 3, "yield"), "50.2 bu/ac",
                            put("plots", 3, "harvest_weight_lb", "10")),
    "zero-N yields most": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 112% of the fertilized mean",
        all_of(put("plots", 2, "harvest_weight_lb", "47"), put("plots", 5, "harvest_weight_lb", "47.3"))),
    "zero-N yields more, just beyond its error": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 105% of the fertilized mean", weights((43.4, 42.6, 43.2), (46.8, 42.7, 43.1))),
    "the only zero-N plot yields most": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"),
        "a zero-N mean of 111% of the fertilized mean",
        all_of(put("plots", 2, "harvest_weight_lb", "47"), put("plots", 5, "outcome", "lost"),
             put("plots", 5, "cause", "deer"))),
    "weights of 0 but on zero-N": Case(
        "unfertilized plots yield more", NOTED, ("plots", 2, "treatment_code"), "a fertilized mean of 0",
        of_plots("harvest_weight_lb", "22.0", "0", "0", "22.2", "0", "0"), also=("yield unusual",) * 4),
    "a plot without its second pick": Case(
        "pick missing", HOLDS, ("plots", 4, "plot"), "no pick 2 of plot 103 in harvests",
        all_of(picked, remove("harvests", 7)), like="2091-B-cotton"),
    "a pick of a plot of another trial": Case(  # plot A stands in "new entries among checks that stand twice"
        "pick of unknown plot", ASIDE, ("harvests", 2, "plot"), "a pick of a plot of another trial plot A",
        write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a pick of a plot of another trial", "A", "1", "9"]), like="2091-B-cotton"),
    "a pick of no plot": Case(
        "pick of unknown plot", ASIDE, ("harvests", 2, "plot"), "a pick of no plot plot 999",
        write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"], ["a pick of no plot", "999", "1", "9"]),
        like="2091-B-cotton"),
    "a weight and picks that differ": Case(
        "weight beside picks", HOLDS, ("plots", 2, "harvest_weight"), "9.3 lb here, 8.0 lb in 2 picks",
        write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a weight and picks that differ", "101", "1", "5"],
               ["a weight and picks that differ", "101", "2", "3"]), like="2091-B-cotton"),
    "a plot weighed whole, and one of its two picks": Case(
        "weight beside picks", HOLDS, ("plots", 4, "harvest_weight"), "17.6 lb here, 13.42 lb in 1 pick",
        all_of(picked, remove("harvests", 7), put("plots", 4, "harvest_weight_lb", "17.6")), like="2091-B-cotton"),
    "a weight and picks 1.1 % apart": Case(
        "weight beside picks", HOLDS, ("plots", 2, "harvest_weight"), "9.3 lb here, 9.2 lb in 2 picks",
        write("harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
               ["a weight and picks 1.1 % apart", "101", "1", "5"],
               ["a weight and picks 1.1 % apart", "101", "2", "4.2"]), like="2091-B-cotton"),
    "a measurement of a plot of another trial": Case(
        "measurement of unknown plot", ASIDE, ("measurements", 2, "plot"),
        "a measurement of a plot of another trial plot A",
        write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["a measurement of a plot of another trial", "A", "plant height", "41", "in"])),
    "heights beside a sound one": Case(
        "measurement in strange unit", ASIDE, ("measurements", 3, "value, unit"), "200.0 in",
        write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               *(["heights beside a sound one", plot, "plant height", value, unit] for plot, value, unit in (
                   ("101", "41", "in"), ("102", "200", "in"), ("103", "-1", "cm"), ("201", "41", "furlong"),
                   ("202", "", "pct")))),
        also=("measurement in strange unit", "measurements.unit is not a known word", "measurements.value is empty")),
    "height in percent": Case(
        "measurement in strange unit", ASIDE, ("measurements", 2, "value, unit"), "41.0 pct",
        write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["height in percent", "101", "plant height", "41", "pct"])),
    "a code with a zero-width space": Case(
        "plot with unknown treatment", HOLDS, ("plots", 4, "treatment_code"), "C-120[unseen character]",
        put("plots", 4, "treatment_code", "C-120\u200b"), also=("block lacks treatment", "noticed while reading")),
    "points of a yield monitor": Case(
        "yield from monitor", HOLDS, ("plots", 2, "weighing"), "yield monitor (6 rows)",
        lambda tiny, where: tiny.fill("plots", "weighing", "yield monitor", where)),
    "a measurement of no plot": Case(
        "measurement of unknown plot", ASIDE, ("measurements", 2, "plot"), "a measurement of no plot plot 999",
        write("measurements", ["trial_id", "plot", "trait", "value", "unit"],
               ["a measurement of no plot", "999", "plant height", "41", "in"])),
    "points along strips as an RCBD": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 12 times in block 1, U-120 12 times in block 1, C-120 12 times in block 1 and 3 more like these",
        samples(12)),
    "two trials under one id": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 2 times in block 1, U-120 2 times in block 1, C-120 2 times in block 1 and 3 more like these",
        samples(2)),
    "two places under one id, as incomplete blocks": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"), "and 3 more like these",
        samples(2, "incomplete block")),
    "every block called 1": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"),
        "ZERO 2 times in block 1, U-120 2 times in block 1, C-120 2 times in block 1", of_plots("block", *"111111")),
    "main plots that the codes do not tell": Case(
        "more plots than the design has", HOLDS, ("plots", 3, "block"),
        "U-120 2 times in block 1, C-120 2 times in block 1, U-120 2 times in block 2 and 1 more like these",
        all_of(samples(2, "split-plot"), main_plots("aabaabbbabba"))),
    "points over a field without blocks": Case(
        "more plots than the design has", HOLDS, ("plots", 2, "block"), "ZERO 32 times, U-120 32 times, C-120 32 times",
        samples(16, "CRD")),
    "a check twice in each block": Case(
        "treatment twice in block", NOTED, ("plots", 8, "treatment_code"), "U-120 in plots 102, 102-1 of block 1",
        samples(2, rows=range(3, 7, 3)), also=("treatment twice in block",)),
    "a check five times in a block": Case(
        "treatment twice in block", NOTED, ("plots", 11, "treatment_code"),
        "U-120 in plots 102, 102-1, 102-2 and 2 more of block 1",
        samples(5, rows=range(3, 4))),
    "killed by its treatment, yield zero": Case(
        "yield unusual", NOTED, ("plots", 3, "yield"), "0.0 bu/ac",
        all_of(put("plots", 3, "harvest_weight_lb", "0"), put("plots", 3, "outcome", "lost"),
             put("plots", 3, "cause", "seed burnt by the N"),
             put("plots", 3, "caused_by_treatment", "yes"))),
}
# fmt: on
