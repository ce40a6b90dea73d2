"""Lines for a sender's headings.yml."""

from __future__ import annotations

from pipeline.incoming.misfits import mended_once
from pipeline.incoming.proposals import LONGEST_NAME, Proposal


def test_a_text_that_went_astray_is_no_heading_to_paste():
    proposal = Proposal()
    proposal.add("headings", "plots", "Blk", "block")
    proposal.add("headings", "plots", "moisture" + "x" * LONGEST_NAME, "moisture_pct")
    assert proposal.lines() == ["headings:", "  plots: {Blk: block}"]
    alone = Proposal()
    alone.add("headings", "plots", "x" * (LONGEST_NAME + 1), "block")
    assert alone.lines() == []


def test_the_lines_for_a_folder_stand_once_after_its_last_file():
    to_mend = {name: f"\n  To fix it there, put into seasons/2090/{name}/headings.yml: its lines" for name in "ab"}
    told = [f"1{to_mend['a']}", f"2{to_mend['b']}", "3", f"4{to_mend['a']}"]
    assert mended_once(told) == ["1", f"2{to_mend['b']}", "3", f"4{to_mend['a']}"]
