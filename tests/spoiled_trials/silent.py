"""Cases just inside a limit or delivered another way that is as good: no check speaks but those named beside them."""

from __future__ import annotations

from tests.spoiled_trials.spoils import (
    Case,
    all_of,
    copied_block,
    cultivars,
    day,
    difference,
    main_plots,
    new_entries,
    of_plots,
    picked,
    printed,
    put,
    remove,
    samples,
    site,
    third_block,
    weights,
    write,
)

# fmt: off
CASES = {
    "background N of All": Case("", "", ("", None, None), "",
                                put("nitrogen_applications", 5, "treatment_code", "All")),
    "shares that need no words": Case(
        "", "", ("", None, None), "",
        all_of(put("treatments", 3, "coated_n_fraction", "0"), put("treatments", 4, "n_source", "coated urea"),
             put("treatments", 4, "coated_n_fraction", ""))),
    "another source, half of it coated": Case("", "", ("", None, None), "", put("treatments", 4, "n_source", "other")),
    "a moisture that is no number has its finding and no second one": Case(
        "", "", ("", None, None), "", put("plots", 3, "moisture_pct", "18,2"),
        also=("plots.moisture is not a number like 12.5",)),
    "a weight that is no number has its finding and no second one": Case(
        "", "", ("", None, None), "", put("plots", 3, "harvest_weight_lb", "4x4"),
        also=("plots.harvest_weight is not a number like 12.5",)),
    "whole pounds that agree by chance": Case("", "", ("", None, None), "", weights(
        (22, 41, 43), (20, 40, 43), (22, 42, 42), (22, 41, 43))),
    "zero-N lowest by little but in one block": Case("", "", ("", None, None), "", weights(
        (38.1, 40.9, 42.9), (39.4, 40.1, 43.3), (41.9, 40.7, 41.7))),
    "zero-N out of line in two of four blocks": Case("", "", ("", None, None), "", weights(
        (22.1, 41.3, 42.9), (22.4, 42.1, 43.3), (41.9, 22.3, 41.7), (42.2, 22.6, 43.1))),
    "a fertilized plot far below the others and zero-N": Case("", "", ("", None, None), "", weights(
        (22.1, 41.3, 42.9), (22.4, 42.1, 43.3), (30.2, 26.3, 43.1))),
    "three blocks as planted": Case("", "", ("", None, None), "", third_block("ZERO", "U-120", "C-120", more=0.2)),
    "three blocks weighed twice, one plot otherwise": Case("", "", ("", None, None), "", all_of(
        third_block("ZERO", "U-120", "C-120", more=0.2), put("plots", 7, "harvest_weight_lb", "43.3"))),
    "two blocks with the same weights in other treatments": Case(
        "", "", ("", None, None), "", all_of(copied_block, put("plots", 5, "treatment_code", "U-120"),
                                           put("plots", 6, "treatment_code", "ZERO"))),
    "2 % less N than its product holds": Case(
        "", "", ("", None, None), "",
        all_of(*(lambda tiny, where, name=column, value=value: tiny.fill("nitrogen_applications", name, value, where)
               for column, value in (("product_rate_lb_ac", ""), ("product_n_pct", "40"))),
             put("nitrogen_applications", 2, "product_rate_lb_ac", "294"))),
    "two of eight plots without a block": Case(
        "", "", ("plots", 2, None), "",
        all_of(third_block("ZERO", "U-120", more=0.2), put("plots", 2, "block", ""), put("plots", 5, "block", "")),
        also=("plots.block is empty",) * 2 + ("block lacks treatment",) * 3),
    "one of six plots without a block": Case(
        "", "", ("plots", 2, None), "", put("plots", 2, "block", ""),
        also=("plots.block is empty", "block lacks treatment")),
    "rain of just enough earlier years": Case(
        "", "", ("", None, None), "",
        all_of(site(("Elm", "Well drained")),
             *(write(table, ["place", "date", "rain_in"],
                      *(["Elm", f"{year}-05-0{day}", "0.4"] for year in years for day in range(1, 6)))
               for table, years in (("weather_daily", (2091,)), ("rain_history", (2071, 2072, 2073)))))),
    "a lost trial without applications": Case(
        "", "", ("", None, None), "",
        all_of(remove("nitrogen_applications", 2, 3, 4, 5), put("trials", 2, "outcome", "lost"),
             put("trials", 2, "outcome_reason", "flood"))),
    "zero-N yields more, within its error": Case(
        "", "", ("", None, None), "", weights((41.1, 41.3, 42.9), (45.2, 41.7, 42.6))),
    "zero-N yields most in soybean": Case(
        "", "", ("", None, None), "",
        all_of(of_plots("harvest_weight_lb", "12.3", "11.2", "11.4", "12.5", "11.1", "11.3"),
             of_plots("moisture_pct", *["12.2"] * 6), put("trials", 2, "crop", "soybean"))),
    "zero-N yields most where plots were damaged": Case(
        "", "", ("", None, None), "",
        all_of(*(put("plots", row, column, value) for row in (2, 5)
               for column, value in (("harvest_weight_lb", "47"), ("outcome", "damaged"),
                                     ("cause", "weighed with its neighbor"))))),
    "too much for corn, in plots that are set aside": Case(
        "", "", ("", None, None), "",
        all_of(*(put("plots", row, column, value) for row, weight in ((3, "81.8"), (4, "60"))
               for column, value in (("harvest_weight_lb", weight), ("outcome", "damaged"),
                                     ("cause", "weighed with its neighbor"))))),
    "a day as warm at night": Case(
        "", "", ("", None, None), "", day("2091-07-03", "70", "70")),
    "water for the trial": Case(
        "", "", ("", None, None), "",
        write("irrigations", ["trial_id", "date", "irrigation_in"], ["water for the trial", "2091-07-01", "1"])),
    "a plot weighed whole beside others in picks": Case("", "", ("", None, None), "", all_of(
        picked, remove("harvests", 6, 7), put("plots", 4, "harvest_weight_lb", "17.6")), like="2091-B-cotton"),
    "hail between the picks": Case("", "", ("", None, None), "", all_of(
        picked, remove("harvests", 7), put("plots", 4, "outcome", "damaged"), put("plots", 4, "cause", "hail")),
        like="2091-B-cotton"),
    "a weight and picks 0.5 % apart": Case("", "", ("", None, None), "", write(
        "harvests", ["trial_id", "plot", "pick", "harvest_weight_lb"],
        ["a weight and picks 0.5 % apart", "101", "1", "5"],
        ["a weight and picks 0.5 % apart", "101", "2", "4.25"]), like="2091-B-cotton"),
    "a printed mean with its LSD": Case(
        "", "", ("", None, None), "", printed("U-120", "171", "LSD", "14.2", "0.05")),
    "a printed mean with its CV": Case("", "", ("", None, None), "", printed("U-120", "171", "CV", "8", "")),
    "a printed mean in pounds and without an error": Case(
        "", "", ("", None, None), "",
        all_of(printed("U-120", "9500", "none", "", ""),
             lambda tiny, where: tiny.rename("printed_means", "mean_yield_bu_ac", "mean_yield_lb_ac", where))),
    "a printed loss": Case("", "", ("", None, None), "", difference("U-120", "-7.1")),
    "cultivars, and nothing said of nitrogen": Case("", "", ("", None, None), "", cultivars()),
    "no nitrogen said, and no factor either": Case(
        "", "", ("", None, None), "", all_of(cultivars(), put("treatments", 3, "factor_cultivar", "")),
        also=tuple(f"treatments.{column} is empty" for column in ("n_source", "n_rate", "timing", "passes"))),
    "incorporated before planting, and in tilled soil": Case(
        "", "", ("", None, None), "",
        all_of(lambda tiny, where: tiny.fill("trials", "tillage", "chisel", where),
             put("treatments", 3, "placement", "broadcast incorporated"),
             put("nitrogen_applications", 2, "application", "2091-05-22 urea"),
             put("nitrogen_applications", 2, "placement", "broadcast incorporated"))),
    "15 plots of each treatment without blocks": Case("", "", ("", None, None), "", samples(15, "CRD")),
    "points along strips": Case("", "", ("", None, None), "", samples(16, "strips")),
    "new entries among checks that stand twice": Case(
        "", "", ("", None, None), "", all_of(samples(2, "incomplete block"), new_entries(*"ABCDEFGHIJ"))),
    "a Latin square": Case("", "", ("", None, None), "", put("trials", 2, "design", "Latin square")),
    "main plots called alike in every block": Case(
        "", "", ("", None, None), "", all_of(put("trials", 2, "design", "split-plot"), main_plots("abbabb"))),
    "width 2.9 % off": Case("", "", ("", None, None), "", put("plots", 4, "harvest_width_ft", "4.856")),
    "no width, but rows and row spacing": Case("", "", ("", None, None), "", put("plots", 4, "harvest_width_ft", "")),
    "no rows, but a width": Case("", "", ("", None, None), "", put("plots", 4, "rows_harvested", "")),
    "hail": Case("", "", ("", None, None), "",
                 all_of(put("plots", 4, "outcome", "damaged"), put("plots", 4, "cause", "hail"),
                      put("plots", 4, "harvest_weight_lb", ""))),
    "a plot without its number stands in its block all the same": Case(
        "", "", ("", None, None), "", put("plots", 4, "plot", ""), also=("plots.plot is empty",)),
    "harvested in the January after": Case("", "", ("", None, None), "", put("trials", 2, "harvested", "2092-01-08"),
                                           like="2091-B-cotton"),
    "lost trial without plots": Case(
        "", "", ("", None, None), "",
        all_of(remove("plots", 2, 3, 4, 5, 6, 7), put("trials", 2, "outcome", "lost"),
             put("trials", 2, "outcome_reason", "flood"))),
    "a random layout without blocks": Case("", "", ("", None, None), "",
                                           all_of(put("trials", 2, "design", "CRD"), of_plots("block", *"111111"))),
    "a sound trial": Case("", "", ("", None, None), "", all_of()),
}
# fmt: on
