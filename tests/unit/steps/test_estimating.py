"""What a run keeps of its estimates for the next one."""

from __future__ import annotations

import pandas as pd

from pipeline.contract.vocabulary import AS_GOOD, CLAIM, TESTED
from pipeline.steps.estimating import verdict_rows


def claim(sentence: str, comparison: str, verdict: str, only_in: str | None = None) -> dict:
    return {
        "sentence": sentence,
        "comparison_id": comparison,
        "only_in": only_in,
        "weather": None,
        "target": TESTED,
        "verdict": verdict,
    }


def test_one_sentence_on_several_comparisons_has_a_verdict_for_each():
    claims = [
        claim("It pays.", "corn-blend", "borne out"),
        claim("It pays.", "cotton-blend", "not shown"),
        claim("It pays.", "cotton-blend", "contradicted", "wet"),
        claim("It pays.", "cotton-blend", "not shown"),  # in another place of the same handout
        claim("More corn.", "corn-blend", "borne out"),
        claim("More corn.", "corn-blend", "borne out"),
    ]
    test = {"comparison_id": "corn-blend", "target": TESTED, "verdict": "better"}
    found = verdict_rows({"estimates.claims": pd.DataFrame(claims), "estimates.noninferiority": pd.DataFrame([test])})
    assert list(found[["kind", "what", "verdict"]].itertuples(index=False, name=None)) == [
        (CLAIM, "It pays. (corn-blend)", "borne out"),
        (CLAIM, "It pays. (cotton-blend)", "not shown"),
        (CLAIM, "It pays. (cotton-blend, wet)", "contradicted"),
        (CLAIM, "More corn.", "borne out"),
        (AS_GOOD, "corn-blend", "better"),
    ]


def test_without_claims_and_tests_there_is_no_verdict():
    claims = pd.DataFrame(columns=list(claim("", "", "")))
    tests = pd.DataFrame(columns=["comparison_id", "target", "verdict"])
    assert verdict_rows({"estimates.claims": claims, "estimates.noninferiority": tests}).empty
