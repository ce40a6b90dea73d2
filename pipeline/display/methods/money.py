"""How a gain becomes money, for the methods page: the average that is priced, the budget, its interval and chances."""

from __future__ import annotations

from pipeline.estimates.average.chances import CHANCE_SHOWN, WIDEST_SHARE
from pipeline.estimates.engines.interval_rules import TOO_FEW_DF_FOR_MONEY
from pipeline.estimates.money.partial_budget import FEWEST_SEASONS, FEWEST_SITE_YEARS
from pipeline.estimates.where.long_run import MOST_UNMET


def rules() -> list[str]:
    """The steps from an average gain to what the pages say of money, in order."""
    least, most = (round(1 / (1 - share)) if share > 0.5 else round(1 / share) for share in CHANCE_SHOWN)
    return [
        (
            "Money rests on the average gain at long-run weather where it can be estimated: of the declared target,"
            " else of the seasons tested. Else it rests on the leading average, and the page says so."
        ),
        (
            "The average at long-run weather comes from the mixed model with drainage group and rainfall class as"
            " additive effects. Each site-year counts in its own drainage group, with each rainfall class as often as"
            " among the reference years of its place; the mean over site-years is taken. These shares are taken as"
            " known. Site-years of unknown class are left out. Classes not met yet are left out and the others scaled"
            f" up; with more than {100 * MOST_UNMET:.0f}% of reference years in them there is no such average. df:"
            " Satterthwaite, at most site-years less coefficients."
        ),
        (
            "Net change: the gain times the value of one more unit of yield, less the costs. Value: the crop price"
            " less hauling, ginning and drying at the treatment's moisture. Costs, treatment less comparator: premium"
            " on coated N, N at the price of its source, passes, and drying of the comparator's average yield at each"
            " arm's moisture. Yield is the mean over site-years; N, passes and moisture are means over the named rates"
            " with their weights, trials alike. Moisture counts at the rates of a trial where it was measured in both"
            " arms; below the standard it costs nothing."
        ),
        (
            "The interval is that of the gain times the value: prices, rates, passes and moisture are taken as given."
            f" With {TOO_FEW_DF_FOR_MONEY} degrees of freedom or fewer no chance is printed, and the interval only in"
            " the review file. Break-even: costs divided by value."
        ),
        (
            "The chance that it pays on average is Student's t, with the df of the gain, at the gain less the"
            " break-even gain, over the standard error. The share of fields where it pays is the normal distribution at"
            " the same difference over tau. The range beside it is that share at both ends of the interval. Tau is the"
            " root of the site-year, place and season variances and, at long-run weather, of the variance between"
            " class gains less their sampling error."
        ),
        (
            f"Both are told in tenths, from 1 in {least} to {most - 1} in {most}, and only from {FEWEST_SITE_YEARS}"
            f" site-years and {FEWEST_SEASONS} seasons on, where tau is estimated above zero. A share of fields whose"
            f" range is wider than {WIDEST_SHARE} tenths is not given."
        ),
    ]
