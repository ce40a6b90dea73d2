"""What a season report says of N rates beneath its curves: two tables, then what they leave open, sentence by
sentence.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display.words import n_response, rate_losses
from pipeline.display.words.tables import Markdown, escaped, listing, stacked


def n_rates(of_crop: Mapping[str, pd.DataFrame], lead: str, crop: str) -> Markdown:
    """Tables of best rates and losses, and every sentence on N rates; what no trial says anything of is said in one.

    Args:
        of_crop: the reports views of one crop by name.
        lead: id of the comparison whose gain by rate and N saved are told.
    """
    curves, losses = of_crop["response_curves"], of_crop["rate_losses"]
    if curves.empty:
        return escaped(n_response.nothing_told(crop))
    of_lead = {name: of_crop[name][of_crop[name]["comparison_id"] == lead] for name in ("explored", "nitrogen_saved")}
    explored = of_lead["explored"]
    drawn = n_response.drawn(curves)
    said = [
        *rate_losses.losses_told(losses, curves),
        rate_losses.without_losses(drawn, losses),
        n_response.gain_by_rate(explored[explored["is_declared"].eq(True)]),
        n_response.unfitted(curves),
        n_response.unpriced(curves),
        n_response.of_print(of_crop["rate_means"]),
        n_response.left_out(of_crop["trial_curves"], curves),
        n_response.nitrogen_saved(of_lead["nitrogen_saved"]) if len(drawn) else "",
    ]
    return stacked(n_response.optimum_table(curves), rate_losses.losses_table(losses), listing(said))
