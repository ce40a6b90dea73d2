"""Lines for a sender's headings.yml."""

from __future__ import annotations

from pipeline.incoming.proposals import LONGEST_NAME, Proposal


def test_a_text_that_went_astray_is_no_heading_to_paste():
    proposal = Proposal()
    proposal.add("headings", "plots", "Blk", "block")
    proposal.add("headings", "plots", "moisture" + "x" * LONGEST_NAME, "moisture_pct")
    assert proposal.lines() == ["headings:", "  plots: {Blk: block}"]
    alone = Proposal()
    alone.add("headings", "plots", "x" * (LONGEST_NAME + 1), "block")
    assert alone.lines() == []
