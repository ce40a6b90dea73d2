"""Rain by month against the reference years: what a site-year's page draws."""

from __future__ import annotations

import pytest

# tenths of an inch a day, and the days of June that were delivered; the reference years are 2071 to 2074
JUNES = {2070: (9, 30), 2071: (1, 30), 2072: (2, 30), 2073: (9, 29), 2074: (3, 30), 2075: (9, 30)}


def test_a_month_of_which_days_lack_is_no_usual_month(tiny):
    """Whole Junes of the reference years had 3, 6 and 9 inches; a decile lies a fifth of the way to the middle one."""
    history = [["Alder", f"{y}-06-{d:02}", f"{rain / 10}"] for y, (rain, n) in JUNES.items() for d in range(1, n + 1)]
    tiny.write("rain_history", [["place", "date", "rain_in"], *history])
    tiny.write(
        "weather_daily", [["place", "date", "rain_in"], ["Alder", "2091-06-03", "2"], ["Alder", "2091-06-09", "1"]]
    )
    rain = tiny.load()["reports.monthly_rain"].query("season == 2091 and month == 6")
    (june,) = rain.itertuples()
    assert (june.rain_inch, june.n_days, june.n_years) == (pytest.approx(3), 2, 3)
    assert (june.mean_inch, june.low_inch, june.high_inch) == pytest.approx((6, 3.6, 8.4))
    assert (june.rain_mm, june.mean_mm, june.low_mm, june.high_mm) == pytest.approx((76.2, 152.4, 91.44, 213.36))
