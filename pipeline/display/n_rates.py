"""What a season report says of N rates beneath its curves: two tables, then what they leave open, sentence by sentence."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.display import response, response_losses
from pipeline.display.tables import Markdown, escaped, joined


def n_rates(of_crop: Mapping[str, pd.DataFrame], lead: str, crop: str) -> Markdown:
    """Tables of best rates and losses, and every sentence on N rates; what no trial says anything of is said in one.

    Args:
        of_crop: the reports views of one crop by name.
        lead: id of the comparison whose gain by rate and N saved are told.
    """
    curves, losses = of_crop["response_curves"], of_crop["rate_losses"]
    if curves.empty:
        return escaped(response.nothing_told(crop))
    of_lead = {name: of_crop[name][of_crop[name]["comparison_id"] == lead] for name in ("explored", "nitrogen_saved")}
    explored = of_lead["explored"]
    drawn = response.drawn(curves)
    said = [
        *response_losses.losses_told(losses),
        response_losses.without_losses(drawn, losses),
        response.gain_by_rate(explored[explored["is_declared"].eq(True)]),
        response.unfitted(curves),
        response.unpriced(curves),
        response.of_print(of_crop["rate_means"]),
        response.left_out(of_crop["trial_curves"], curves),
        response.nitrogen_saved(of_lead["nitrogen_saved"]) if len(drawn) else "",
    ]
    tables = [response.optimum_table(curves), response_losses.losses_table(losses)]
    return Markdown("\n".join([*filter(None, tables), joined(filter(None, said), by=" ")]))
