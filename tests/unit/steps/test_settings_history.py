"""Rules changed after their yields were read are named with what they were, and with the run that had them so."""

from __future__ import annotations

import json

import pandas as pd
import pytest
import yaml

from pipeline.display.words import declarations
from pipeline.settings.keys import named_keys
from pipeline.settings.program import Program
from pipeline.steps.settings_history import settings_changes

SETTINGS = """\
program: Elm trials
rainfall: {dry_at_or_below: -1.0, windows: {corn: {first_day: 05-01}}}
crops: {corn: {bushel_lb: 56, display_unit: bu/ac, hard: [0, 400]}}
comparisons:
  - id: blend
    says: blend against urea
    crop: corn
    rates_lb_ac: {120: 1, 80: 1}
    may_differ: [n_source, timing]
    noninferiority: {margin: 3, unit: bu/ac, basis: "half an LSD"}
    explained_by: [{covariate: rain, days: 30, declared: 2092-01-01}, {declared: 2092-01-01, covariate: heat, days: 9}]
  - id: cotton
    says: blend in cotton
    crop: cotton
"""
FIRST, SECOND = pd.Timestamp("2093-11-01"), pd.Timestamp("2094-11-01")


def told(*runs: tuple[pd.Timestamp, str, dict[str, int]], now: str = SETTINGS) -> list[tuple]:
    """runs: (start, program.yml, site-years by comparison). What is told of each rule that was changed."""
    cards = [
        {"run_id": f"r{i}", "started": start, "deciding_texts": json.dumps({"program.yml": text})}
        for i, (start, text, _) in enumerate(runs)
    ]
    read = [
        {"run_id": f"r{i}", "comparison_id": c, "target": "seasons tested", "n_site_years": n}
        for i, (_, _, by) in enumerate(runs)
        for c, n in by.items()
    ]
    found = settings_changes(
        pd.DataFrame(cards, columns=["run_id", "started", "deciding_texts"]),
        pd.DataFrame(read, columns=["run_id", "comparison_id", "target", "n_site_years"]),
        now,
    )
    return [(row.comparison_id, row.key, row.before, row.now, row.until_day) for row in found.itertuples()]


def changed(old: str, new: str) -> str:
    assert SETTINGS.count(old) == 1, old
    return SETTINGS.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("margin: 3", "margin: 4", ("blend", "noninferiority: margin", "4", "3")),
        ("{120: 1, 80: 1}", "{120: 2, 160: 1}", ("blend", "rates_lb_ac", "120: 2, 160: 1", "80: 1, 120: 1")),
        ("[n_source, timing]", "[n_source]", ("blend", "may_differ", "n_source", "n_source, timing")),
        ("[n_source, timing]", "[n_product]", ("blend", "may_differ", "n_product", "n_source, timing")),
        ("[n_source, timing]", "[]", ("blend", "may_differ", "not declared", "n_source, timing")),
        ("dry_at_or_below: -1.0", "dry_at_or_below: -0.8", ("", "rainfall: dry_at_or_below", "-0.8", "-1.0")),
        ("first_day: 05-01", "first_day: 04-15", ("", "rainfall: windows: corn: first_day", "04-15", "05-01")),
        ("bushel_lb: 56", "bushel_lb: 60", ("", "crops: corn: bushel_lb", "60", "56")),
        ("hard: [0, 400]", "hard: [0, 300]", ("", "crops: corn: hard", "0, 300", "0, 400")),
        ("days: 30", "days: 20", ("blend", "explained_by: rain: days", "20", "30")),
        (
            ", {declared: 2092-01-01, covariate: heat, days: 9}",
            "",
            ("blend", "explained_by: heat: declared", "not declared", "2092-01-01"),
        ),
        ("id: cotton", "id: lint", ("cotton", "", "not declared", "declared")),
    ],
)
def test_a_rule_that_was_other_when_its_yields_were_read(old, new, rule):
    read = {"blend": 4, "lint" if "lint" in new else "cotton": 2}
    assert (*rule, FIRST) in told((FIRST, changed(old, new), read))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("margin: 3", "margin: 3.0"),
        ("half an LSD", "a third of an LSD"),
        ("blend against urea", "the blend against urea"),
        ("Elm trials", "Elm County trials"),
        ("{120: 1, 80: 1}", "{80: 1, 120: 1}"),
        ("{120: 1, 80: 1}", "{120.0: 1, 80: 1.0}"),
        ("hard: [0, 400]", "hard: [0.0, 400.0]"),
        ("[n_source, timing]", "[timing, n_source]"),
        ("    crop: corn\n", "    crop: corn\n    product: []\n"),
        ("[n_source, timing]", "[N_Source, timing]"),
        ("days: 30", "days: 30.0"),
        (
            "[{covariate: rain, days: 30, declared: 2092-01-01}, {declared: 2092-01-01, covariate: heat, days: 9}]",
            "[{covariate: heat, days: 9, declared: 2092-01-01}, {covariate: rain, days: 30, declared: 2092-01-01}]",
        ),
        ("display_unit: bu/ac", "display_unit: lb/ac"),
    ],
)
def test_what_only_reads_otherwise_is_no_change(old, new):
    assert told((FIRST, changed(old, new), {"blend": 4})) == []


@pytest.mark.parametrize(
    ("before", "now", "is_told"),
    [
        ("codes: [01, 02]", "codes: [1, 2]", True),
        ("codes: 01", "codes: 1", True),
        ("codes: [a, b]", "codes: [A, b]", True),
        ("factor_depth: [1.0]", "factor_depth: [1]", True),
        ("codes: [a, b]", "codes: [b, a]", False),
        ("coated_n_fraction: [0.50, 1]", "coated_n_fraction: [1.0, 0.5]", False),
        ("n_product: Urea", "n_product: urea", False),
    ],
)
def test_what_picks_treatments_is_held_against_what_it_was_as_treatments_are_picked(before, now, is_told):
    arm = "crop: corn\n    treatment: {{{}}}".format
    was, is_now = (changed("crop: corn\n", f"{arm(each)}\n") for each in (before, now))
    assert bool(told((FIRST, was, {"blend": 4}), now=is_now)) == is_told


def test_rules_are_told_in_the_same_order_by_every_run():
    keys = [f"key_{letter}" for letter in "gcaehbdf"]
    other = changed("crop: corn\n", "crop: corn\n" + "".join(f"    {key}: 1\n" for key in keys))
    assert [key for _, key, *_ in told((FIRST, other, {"blend": 4}))] == sorted(keys)


def test_a_change_before_any_yield_was_read_is_nobodys_business():
    other = changed("margin: 3", "margin: 4")
    assert told((FIRST, other, {"blend": 0, "cotton": 6})) == []
    assert told((FIRST, other, {"blend": 0}), (SECOND, SETTINGS, {"blend": 9})) == []
    assert len(told((FIRST, other, {"blend": 1}))) == 1


def test_the_last_run_that_had_it_otherwise_is_named_though_it_was_put_back():
    four, five = changed("margin: 3", "margin: 4"), changed("margin: 3", "margin: 5")
    runs = [(FIRST, four, {"blend": 4}), (SECOND, five, {"blend": 5})]
    assert told(*runs) == [("blend", "noninferiority: margin", "5", "3", SECOND)]
    assert told(*runs, now=five) == [("blend", "noninferiority: margin", "4", "5", FIRST)]
    assert told((FIRST, SETTINGS, {"blend": 4}), (SECOND, four, {"blend": 5})) == [
        ("blend", "noninferiority: margin", "4", "3", SECOND)
    ]


def test_a_comparison_that_is_dropped_is_named():
    now = SETTINGS[: SETTINGS.index("  - id: cotton")]
    assert told((FIRST, SETTINGS, {"blend": 4, "cotton": 3}), now=now) == [
        ("cotton", "", "declared", "not declared", FIRST)
    ]
    assert told((FIRST, SETTINGS, {"blend": 4, "cotton": 0}), now=now) == []


def test_comparisons_that_come_and_go_are_told_in_one_order_in_every_process():
    def declared(letters: str) -> str:
        return SETTINGS + "".join(f"  - {{id: {letter}, crop: corn}}\n" for letter in letters)

    runs = FIRST, declared("fbdeca"), {"blend": 4, **dict.fromkeys("abcdef", 1)}
    assert [row[0] for row in told(runs, now=declared("xzwyvu"))] == [*"abcdef", *"uvwxyz"]


def test_settings_that_no_longer_read_are_passed_over():
    assert told((FIRST, "program: [", {"blend": 4}), (SECOND, "3", {"blend": 4})) == []
    assert told((FIRST, "comparisons: [x, {id: [y]}]", {"blend": 4})) == []


ROW = {
    "comparison_id": "blend",
    "crop": "corn",
    "key": "noninferiority: margin",
    "before": "4",
    "now": "3",
    "until_day": FIRST,
}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({}, ("blend: noninferiority: margin was 4 until the run of November 1, 2093, which had read its yields. It is"
              " 3 now.")),
        ({"comparison_id": "", "key": "fewest_blocks"},
         "fewest_blocks was 4 until the run of November 1, 2093, which had read its yields. It is 3 now."),
        ({"key": "", "now": "not declared"},
         "blend: declared until the run of November 1, 2093, which had read its yields. It is declared no more."),
        ({"key": "", "before": "not declared"},
         "blend: not declared yet in the run of November 1, 2093, which had read yields of corn."),
    ],
)  # fmt: skip
def test_it_is_said_in_words(row, said):
    assert declarations.changed_rules(pd.DataFrame([ROW | row])) == [said]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("windows: {corn: ", "windows: {wheat: {first_day: 11-01}, corn: "),
        ("crops: {", "crops: {wheat: {bushel_lb: 60}, "),
    ],
)
def test_rules_of_a_crop_that_is_new_come_after_no_yields(old, new):
    assert not told((FIRST, SETTINGS, {"blend": 4, "cotton": 2}), now=changed(old, new))
    of_cotton = {"cotton": 2}
    assert not told((FIRST, changed("bushel_lb: 56", "bushel_lb: 60"), of_cotton))


def test_a_comparison_that_is_new_comes_after_the_yields_of_its_own_crop_alone():
    new = SETTINGS + "  - {id: late cotton, crop: cotton}\n"
    assert not told((FIRST, SETTINGS, {"blend": 4}), now=new)
    assert [each[0] for each in told((FIRST, SETTINGS, {"cotton": 2}), now=new)] == ["late cotton"]


RELEASE = """\
release_tests:
  - {product: coated urea, percent_out: {7: 10, 30: 45}, q10: 2, source: laboratory sheet}
  - {product: slow urea, percent_out: {7: 5, 60: 45}, q10: 3, source: its label}
"""
OF_RELEASE = SETTINGS.replace("covariate: heat", "covariate: nitrogen released")


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("q10: 2", "q10: 2.5", ("release_tests: coated urea: q10", "2.5", "2")),
        ("q10: 3", "activation_energy_kj_mol: 70", ("release_tests: slow urea: q10", "not declared", "3")),
        (
            "{7: 10, 30: 45}",
            "{30: 45, 7: 20}",
            ("release_tests: coated urea: percent_out", "7: 20, 30: 45", "7: 10, 30: 45"),
        ),
    ],
)
def test_a_test_of_release_is_a_rule_where_release_is_to_explain_the_gain(old, new, rule):
    now, before = OF_RELEASE + RELEASE, OF_RELEASE + RELEASE.replace(old, new)
    assert before != now
    assert ("", *rule, FIRST) in told((FIRST, before, {"blend": 4}), now=now)
    assert told((FIRST, before, {"cotton": 4}), now=now) == []
    assert told((FIRST, SETTINGS + RELEASE.replace(old, new), {"blend": 4}), now=SETTINGS + RELEASE) == []
    # whether it is declared no more, or was not yet
    for one, other in ((SETTINGS + RELEASE, before), (before, SETTINGS + RELEASE)):
        assert ("", *rule[:1]) in [each[:2] for each in told((FIRST, one, {"blend": 4}), now=other)]


def test_a_test_of_release_that_only_reads_otherwise_is_no_change():
    first, one, other = RELEASE.splitlines(keepends=True)
    turned = (
        OF_RELEASE + first + other + one.replace("laboratory sheet", "sheet of the laboratory").replace("2,", "2.0,")
    )
    assert told((FIRST, turned, {"blend": 4}), now=OF_RELEASE + RELEASE) == []


def test_a_crop_is_the_same_whatever_its_capitals():
    capital = SETTINGS.replace("crop: corn", "crop: Corn")
    assert told((FIRST, capital, {"blend": 4})) == []
    other = capital.replace("first_day: 05-01", "first_day: 04-15")
    assert told((FIRST, other, {"blend": 4}), now=capital) == [
        ("", "rainfall: windows: corn: first_day", "04-15", "05-01", FIRST)
    ]
    own = SETTINGS.replace("crops: {corn:", "crops: {CORN:")
    assert len(told((FIRST, own.replace("lb: 56", "lb: 60"), {"blend": 4}), now=own)) == 1


# Nobody's verdict hangs on these. Prices and the rates of growers are facts of a day, printed with it; a claim is what
# is held against the evidence.
DECIDES_NOTHING = {"program", "display_units", "may_be_named", "claims", "prices", "growers_n_rates"}
DECIDES_NOTHING_BELOW = {
    "comparisons: says",
    "comparisons: in_short",
    "comparisons: noninferiority: basis",
    "comparisons: explained_by: worth_finding: slope",
    "comparisons: explained_by: worth_finding: unit",
    "nearly_as_well_within: basis",
    "crops: <crop>: display_unit",
    "crops: <crop>: display_digits",
    "crops: <crop>: typical",
    "release_tests: source",
}
LISTS = ("comparisons", "claims", "explained_by", "release_tests")
NAMES = {"comparisons": {"id": "blend", "crop": "corn"}, "explained_by": {"covariate": "nitrogen released"}}
NAMES["release_tests"] = {"product": "coated urea"}


def with_one(place: list[str], value: str) -> dict:
    """What stands in program.yml where one key has this value, and nothing else stands but what names a section."""
    name, *below = place
    word = {"<crop>": "corn", "<rate>": "80", "<days>": "30"}.get(name, name)
    inside = NAMES.get(name, {}) | (with_one(below, value) if below else {})
    return {word: ([inside] if name in LISTS else inside) if below else value}


def test_every_key_is_told_or_decides_nothing():
    keys = [key.name if key.place == "the file" else f"{key.place}: {key.name}" for key in named_keys(Program)]
    last = {key for key in keys if not any(other.startswith(f"{key}: ") for other in keys)}
    silent = set()
    for key in last:
        texts = []
        for value in ("1", "2"):
            settings = with_one(key.split(": "), value)
            if not key.startswith("comparisons"):
                settings |= {"comparisons": [NAMES["comparisons"] | {"explained_by": [NAMES["explained_by"]]}]}
            texts.append(yaml.safe_dump(settings))
        if not told((FIRST, texts[0], {"blend": 4, "1": 4}), now=texts[1]):
            silent.add(key)
    assert {key for key in silent if key.split(": ")[0] not in DECIDES_NOTHING} == DECIDES_NOTHING_BELOW
    assert {key for key in last if key.split(": ")[0] in DECIDES_NOTHING} <= silent
