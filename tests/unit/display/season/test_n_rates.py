"""What stands beneath the curves: of the comparison that leads, and nothing of N saved without a curve."""

from __future__ import annotations

import pandas as pd
import pytest

from pipeline.display.season.n_rates import n_rates
from pipeline.display.words import n_response, rate_losses
from pipeline.display.words.tables import escaped
from tests.unit.display.words.test_n_response import curve, saved


@pytest.fixture
def of_crop(monkeypatch) -> dict[str, pd.DataFrame]:
    """A curve without losses; beside what the lead saves, what another comparison does."""
    monkeypatch.setattr(rate_losses, "without_losses", lambda drawn, losses: "")
    monkeypatch.setattr(n_response, "unpriced", lambda curves: "")
    monkeypatch.setattr(n_response, "of_print", lambda means: "")
    asked = [("blend", True, "A"), ("blend", False, "B"), ("other", True, "C")]
    explored = pd.DataFrame(asked, columns=["comparison_id", "is_declared", "said"])
    monkeypatch.setattr(n_response, "gain_by_rate", lambda rows: f"Gain {''.join(rows['said'])}.")
    own = pd.DataFrame({"trial_id": ["a"], "family": [curve()["family"]], "flag": ["no zero-N"]})
    both = [saved(comparison_id="blend"), saved(comparison_id="other", nitrogen_saved=77.0)]
    return {
        "response_curves": pd.DataFrame([curve()]), "rate_losses": pd.DataFrame(columns=["family", "n_rate"]),
        "explored": explored, "nitrogen_saved": pd.concat(both), "trial_curves": own, "rate_means": pd.DataFrame(),
    }  # fmt: skip


def test_the_gain_by_rate_and_n_saved_are_those_of_the_lead(monkeypatch, of_crop):
    monkeypatch.setattr(rate_losses, "losses_told", lambda losses, curves: [])
    monkeypatch.setattr(rate_losses, "losses_table", lambda losses: "")
    said = n_rates(of_crop, "blend", "corn")
    assert "Gain A." in said and "30 lb/ac (34 kg/ha) less N" in said and "77 lb/ac" not in said
    assert "Not in the curves: 1 trial" in said
    fitted = of_crop | {"response_curves": pd.DataFrame([curve(flag="no response")])}
    assert "less N" not in n_rates(fitted, "blend", "corn")
    nothing = of_crop | {"response_curves": pd.DataFrame()}
    assert n_rates(nothing, "blend", "corn") == escaped(n_response.nothing_told("corn"))
