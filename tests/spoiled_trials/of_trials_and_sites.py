"""Cases in which a finding is told of trials, sites, weather or a file."""

from __future__ import annotations

from tests.spoiled_trials.spoils import ASIDE, HOLDS, NOTED, Case, all_of, also_called, day, put, remove, site, write

# fmt: off
CASES = {
    "planted after harvest": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-10-05 to 2091-10-04",
        put("trials", 2, "planted", "2091-10-05")),
    "planted on the day of harvest": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-10-04 to 2091-10-04",
        put("trials", 2, "planted", "2091-10-04")),
    "harvested in another year": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2091-05-02 to 2093-10-04",
        put("trials", 2, "harvested", "2093-10-04")),
    "planted in another year": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2081-05-02 to 2091-10-04",
        put("trials", 2, "planted", "2081-05-02")),
    "planted in another year, harvested nobody says when": Case(
        "dates out of order", NOTED, ("trials", 2, "planted, harvested"), "2092-05-02 to (empty)",
        all_of(put("trials", 2, "planted", "2092-05-02"), put("trials", 2, "harvested", ""))),
    "no moisture in any plot": Case(
        "harvested trial without yields", HOLDS, ("trials", 2, "outcome"),
        "a harvested trial, but no moisture_pct in any plot",
        all_of(*(put("plots", row, "moisture_pct", "") for row in range(2, 8))),
        also=("harvested plot without yield",) * 6),
    "no moisture but in a plot that hail took": Case(
        "harvested trial without yields", HOLDS, ("trials", 2, "outcome"),
        "a harvested trial, but no moisture_pct in any plot",
        all_of(*(put("plots", row, "moisture_pct", "") for row in (2, 3, 5, 6, 7)),
             put("plots", 4, "outcome", "damaged"), put("plots", 4, "cause", "hail")),
        also=("harvested plot without yield",) * 5),
    "lost trial, nobody says why": Case(
        "lost trial without cause", NOTED, ("trials", 2, "outcome_reason"), "lost without a cause",
        all_of(remove("plots", 2, 3, 4, 5, 6, 7), put("trials", 2, "outcome", "lost"))),
    "a site in other letters": Case("trial at unknown site", HOLDS, ("trials", 2, "site_id"), "alder-bench",
                                    put("trials", 2, "site_id", "alder-bench")),
    "no rain gauge": Case("season without weather", NOTED, ("trials", 2, "site_id"), "5 of 5 days without rain data",
                          site(("Cedar", "Well drained")), also=("place without rain history",)),
    "no rain of earlier years": Case(
        "place without rain history", NOTED, ("trials", 2, "site_id"), "rain of 0 years from 2071 to 2074 at Dogwood",
        all_of(site(("Dogwood", "Well drained")),
             write("weather_daily", ["place", "date", "rain_in"],
                    *(["Dogwood", f"2091-05-0{day}", "0.4"] for day in range(1, 6))))),
    "one site, two drainage classes": Case(
        "site described differently", HOLDS, ("sites", 3, "place, drainage_class"), "Alder, poorly drained",
        site(("Alder", "well drained"), ("Alder", "Poorly drained")),
        also=("site described differently", "sites has two rows for one key")),
    "a site once more, without its place": Case(
        "sites.place is empty", HOLDS, ("sites", 3, "place"), "(empty)",
        site(("Alder", "Well drained"), ("", "Well drained")), also=("sites has two rows for one key",)),
    "nobody looked up the soil": Case(
        "site without drainage class", NOTED, ("sites", 2, "drainage_class"), "(empty)", site(("Alder", ""))),
    "site nobody described": Case("trial at unknown site", HOLDS, ("trials", 2, "site_id"), "Elder Bench",
                                  put("trials", 2, "site_id", "Elder Bench")),
    "season of the row is not that of the folder": Case(
        "trial filed under another season", HOLDS, ("trials", 2, "season"), "2090", put("trials", 2, "season", "2090"),
        also=("dates out of order", "season without weather")),
    "no applications": Case("trial without applications", NOTED, ("trials", 2, "trial_id"),
                            "no application of no applications", remove("nitrogen_applications", 2, 3, 4, 5)),
    "no plots": Case("trial without plots", HOLDS, ("trials", 2, "outcome"), "a harvested trial without plots",
                     remove("plots", 2, 3, 4, 5, 6, 7)),
    "no treatments": Case(
        "trial without plots", HOLDS, ("trials", 2, "outcome"), "a harvested trial without treatments",
        remove("treatments", 2, 3, 4),
        also=("plot with unknown treatment",) * 3 + ("application of unknown treatment",) * 4),
    "a place called like another": Case(
        "name of two places", NOTED, ("sites", 2, "also_called"),
        '"Birch" as another name of Alder, and as the name of a place in seasons/2091/sites.csv row 3',
        also_called(("Alder", "Birch; birk"))),
    "two places called alike": Case(
        "name of two places", NOTED, ("sites", 3, "also_called"),
        '"station 7" as another name of Birch, and of Alder in seasons/2091/two places called alike/sites.csv row 2',
        also_called(("Alder", "Station 7"), ("Birch", "station 7"))),
    "a place in small letters": Case(
        "name of two places", NOTED, ("sites", 2, "place"),
        '"alder" here and "Alder" in seasons/2091/a place called like another/sites.csv row 2',
        also_called(("alder", ""))),
    "rain of a place nobody knows": Case(
        "weather of unknown place", NOTED, ("weather_daily", 2, "place"), "Elsewhere (1 day)",
        write("weather_daily", ["place", "date", "rain_in"], ["Elsewhere", "2091-05-01", "0.2"])),
    "rain history of a place nobody knows": Case(
        "weather of unknown place", NOTED, ("rain_history", 2, "place"), "Nowhere (2 days)",
        write("rain_history", ["place", "date", "rain_in"], ["Nowhere", "2071-05-01", "0.2"],
               ["Nowhere", "2071-05-02", "0"])),
    "a lowest above the highest": Case(
        "minimum above maximum", NOTED, ("weather_daily", 2, "temp_min"),
        "Alder on 2091-07-01: lowest 80 °F (26.7 °C), highest 70 °F (21.1 °C)",
        day("2091-07-01", "70", "80")),
    "a temperature with its point lost": Case(
        "minimum above maximum", NOTED, ("weather_daily", 2, "temp_min"),
        "lowest 5e+12 °F (2777777777760.0 °C), highest 70 °F (21.1 °C)",
        day("2091-07-02", "70", "5000000000000"),
        also=("weather_daily.temp_min outside its hard range",)),
    "water for no trial": Case(
        "irrigation of unknown trial", ASIDE, ("irrigations", 2, "trial_id"), "2091-X-corn",
        write("irrigations", ["trial_id", "date", "irrigation_in"], ["2091-X-corn", "2091-07-01", "1"])),
    "the plots of last year": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of 2090-A-corn, a trial that was not delivered",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "2090-A-corn", where)),
    "the plots of the trial itself": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of the plots of the trial itself, the trial itself",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "the plots of the trial itself", where)),
    "the plots of another trial of the season": Case(
        "same plots year after year", NOTED, ("trials", 2, "same_plots_as"),
        "the plots of 2091-B-cotton, a trial of 2091",
        lambda tiny, where: tiny.fill("trials", "same_plots_as", "2091-B-cotton", where)),
    "planted and not heard of since": Case(
        "trial not harvested yet", NOTED, ("trials", 2, "outcome"), "planted, no due date",
        all_of(remove("plots", 2, 3, 4, 5, 6, 7), put("trials", 2, "outcome", "planted"))),
}
# fmt: on
