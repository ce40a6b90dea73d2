"""program.yml: what it gives, and every mistake in it named with its line."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.errors import UserError
from pipeline.settings.comparisons import Arm
from pipeline.settings.crops import Crop
from pipeline.settings.file import REQUIRED
from pipeline.settings.keys import keys_of
from pipeline.settings.money import CropPrice, DeclaredBand, DeclaredMargin, PriceSet
from pipeline.settings.program import Program, read_program
from pipeline.settings.rainfall import Rainfall, Window, Years
from pipeline.simulation.demo import PROGRAM_FILE
from tests.unit.settings.test_claims import CLAIM

LB_AC = 0.45359237 / (43560 * 0.3048**2) * 10_000
BARLEY = "crops:\n  barley: {bushel_lb: 48, standard_moisture_pct: 14.5, typical: [15, 120], hard: [0, 200]}\n"


def test_the_tiny_program(tiny):
    program = read_program(tiny.folder)
    assert (program.name, program.display_units, program.fewest_blocks) == ("Tiny trials", "us", 2)
    assert program.may_be_named == "place only"
    assert program.rainfall == Rainfall(
        Years(2071, 2074),
        dict.fromkeys(("corn", "cotton"), Window("05-01", "05-05")),
        -1.0,
        1.0,
        3,
        3,
        date(2090, 11, 15),
    )
    (question,) = program.comparisons
    assert question.treatment == Arm({"n_source": ("coated blend",)}) and question.comparator == Arm(
        {"n_source": ("urea",)}
    )
    assert list(question.rates) == pytest.approx([120 * LB_AC]) and list(question.rates.values()) == [1.0]
    assert program.warehouse_file == tiny.folder / "warehouse.duckdb"
    assert program.published == tiny.folder / "published"


def test_both_sides_may_be_named_in_few_words(tiny):
    assert read_program(tiny.folder).comparisons[0].in_short == ()
    tiny.settings("    crop: corn\n", "    in_short: [blend, urea]\n    crop: corn\n")
    assert read_program(tiny.folder).comparisons[0].in_short == ("blend", "urea")


def test_a_program_declares_further_ways_of_dividing(tiny):
    tiny.settings(
        "comparisons:", "also_divide_by: {classes: [N rate, previous crop], declared: 2090-11-15}\ncomparisons:"
    )
    assert read_program(tiny.folder).also_declared.classes == ("N rate", "previous crop")


def test_the_demo_program_is_read_whole(tmp_path):
    (tmp_path / "program.yml").write_text(PROGRAM_FILE.read_text())
    program = read_program(tmp_path)
    assert [c.crop for c in program.comparisons] == ["corn"] * 4 + ["cotton"] * 2 + ["soybean"] * 2
    last = program.comparisons[-1]
    assert last.comparator == Arm(role="zero-N") and last.rates == {}
    assert "n_rate_kg_ha" in last.may_differ and "n_rate_lb_ac" not in last.may_differ


def test_a_crop_of_their_own(tiny):
    tiny.settings("comparisons:", BARLEY + "comparisons:")
    assert read_program(tiny.folder).crops == (Crop("barley", "grain", 48, 14.5, "bu/ac", 1, (15, 120), (0, 200)),)


def test_yields_may_be_stated_as_dry_matter(tiny):
    tiny.settings("comparisons:", BARLEY.replace("14.5", "0") + "comparisons:")
    assert read_program(tiny.folder).crops[0].standard_moisture_pct == 0


def test_arms_by_codes_roles_factors_and_capitals(tiny):
    tiny.settings(
        "treatment: {n_source: coated blend}",
        "treatment: {n_source: [Coated Blend, urea], codes: [C-120], factor_variety: K1}",
    )
    tiny.settings("comparator: {n_source: urea}", "comparator: {role: grower standard, passes: 2}")
    (question,) = read_program(tiny.folder).comparisons
    assert question.treatment == Arm(
        {"n_source": ("Coated Blend", "urea"), "factor_variety": ("K1",)}, codes=("C-120",)
    )
    assert question.comparator == Arm({"passes": ("2",)}, role="grower standard")


PRICES = """prices:
  fixed_on: 2094-11-01
  nitrogen_per_lb_n: {urea: 0.50}
  nitrogen_per_ton:
    uan: {price_per_ton: 280, n_pct: 28}
  coated_premium_per_lb_n: 0.18
  crops:
    corn: {price_per_bu: 4.50, drying_per_point_bu: 0.045}
    cotton: {price_per_lb: 0.72, ginning_net_per_lb: -0.02}
comparisons:"""
MARGIN = 'noninferiority: {margin: 3, unit: bu/ac, basis: "half an LSD", fixed_on: 2090-11-15}'


def test_prices_and_a_margin(tiny):
    tiny.settings("comparisons:", PRICES)
    tiny.settings("match: same N rate", f"question: as good\n    {MARGIN}\n    match: same N rate")
    program = read_program(tiny.folder)
    assert program.prices == PriceSet(
        date(2094, 11, 1),
        "$",
        {"urea": 0.5, "uan": 0.5},
        0.18,
        None,
        {"corn": CropPrice("bu/ac", 4.5, 0.0, 0.045, 0.0), "cotton": CropPrice("lb/ac", 0.72, 0.0, 0.0, -0.02)},
        {"uan": 28.0},
    )
    assert program.comparisons[0].margin == DeclaredMargin(3, "bu/ac", "half an LSD", date(2090, 11, 15))


def test_without_prices_or_a_margin_there_are_none(tiny):
    program = read_program(tiny.folder)
    assert program.prices is None and program.comparisons[0].margin is None


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("  fixed_on: 2094-11-01\n", "", '"fixed_on" is missing in "prices": add fixed_on: 2094-11-01'),
        ("  fixed_on: 2094-11-01\n", "", "without it nothing is said of money"),
        (
            (
                "  crops:\n    corn: {price_per_bu: 4.50, drying_per_point_bu: 0.045}\n    cotton: {price_per_lb: 0.72,"
                " ginning_net_per_lb: -0.02}\n"
            ),
            "",
            '"crops" is missing in "prices"',
        ),
        (", n_pct: 28", "", '"n_pct" is missing in "uan": add n_pct: 46'),
        ("n_pct: 28", "n_pct: 0.28", "expected a percent from 1 to 100, like 46 (not 0.46)"),
        ("{urea: 0.50}", "{urea: 0.50, coated urea: 0.70}", "both say what coating costs; keep one"),
        ("{urea: 0.50}", "{uria: 0.50}", '"uria" is no nitrogen source known here'),
        ("{urea: 0.50}", "{uan: 0.50}", '"uan" has two prices'),
        ("{urea: 0.50}", "{urea: -0.5}", "expected a number, zero or more"),
        ("n_pct: 28", "n_pct: 0", "expected a percent"),
        (
            "corn: {price_per_bu",
            "corn: {price_per_lb",
            '"price_per_bu" is missing in "corn" (is it "price_per_lb" in line 16?): add price_per_bu: 4.50',
        ),
        ("cotton: {price_per_lb", "cotn: {price_per_lb", 'did you mean "cotton"?'),
        ("price_per_bu: 4.50", "price_per_bu: 0", "expected a number above zero"),
        ("price_per_bu: 4.50", "price_per_bu: 4.50, prise: 1", '"prise" is not known'),
        ("coated_premium_per_lb_n", "coated_premium", '"coated_premium" is not known in "prices"'),
        (
            " unit: bu/ac,",
            "",
            '"unit" is missing in "noninferiority": add unit: bu/ac; without it the report cannot say',
        ),
        (" unit: bu/ac,", " unit: bushel,", "expected one of: bu/ac, lb/ac, kg/ha, ratio"),
        (' basis: "half an LSD",', "", '"basis" is missing in "noninferiority"'),
        (", fixed_on: 2090-11-15}", "}", '"fixed_on" is missing in "noninferiority"'),
        ("{margin: 3,", "{margin: 0,", "expected a number above zero"),
        ("{margin: 3, unit: bu/ac", "{margin: 3, unit: ratio", "must lie below 1"),
        ("{margin: 3, unit: bu/ac", "{margin: 1, unit: ratio", "must lie below 1"),
        (f"    {MARGIN}\n", "", "asks whether it is as good: add noninferiority"),
    ],
)
def test_mistakes_in_prices_and_margins_name_their_line(tiny, old, new, said):
    tiny.settings("comparisons:", PRICES)
    tiny.settings("match: same N rate", f"question: as good\n    {MARGIN}\n    match: same N rate")
    tiny.settings(old, new)
    with pytest.raises(UserError, match=r"program.yml, line \d+: ") as problem:
        read_program(tiny.folder)
    assert said in str(problem.value)


def test_a_margin_in_bushels_needs_a_crop_in_bushels(tiny):
    tiny.settings("crop: corn", f"crop: cotton\n    {MARGIN}")
    with pytest.raises(UserError, match="reported in lb/ac"):
        read_program(tiny.folder)


BAND = "nearly_as_well_within: {value: 6, unit: $/ac, basis: half a pass, fixed_on: 2090-11-15}\n"


def test_a_band_around_the_best_n_rate(tiny):
    assert read_program(tiny.folder).nearly_as_well is None
    tiny.settings("comparisons:", BAND + PRICES)
    program = read_program(tiny.folder)
    assert program.nearly_as_well == DeclaredBand(6, "$/ac", "half a pass", date(2090, 11, 15))
    assert ("nearly_as_well_within", date(2090, 11, 15)) in {(d.what, d.fixed_on) for d in program.fixed_days}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("value: 6", "value: 0", "expected a number above zero"),
        (" unit: $/ac,", "", '"unit" is missing in "nearly_as_well_within": add unit: $/ac'),
        ("unit: $/ac", "unit: USD/ac", "expected one of: $/ac"),
        ("basis: half a pass, ", "", 'add basis: "less than a pass costs"'),
        ("half a pass, fixed_on: 2090-11-15", "half a pass", '"fixed_on" is missing'),
        ("half a pass,", "half a pass, rate: 1,", '"rate" is not known'),
        (PRICES, "comparisons:", "there are no prices"),
    ],
)
def test_mistakes_in_a_band_name_their_line(tiny, old, new, said):
    tiny.settings("comparisons:", BAND + PRICES)
    tiny.settings(old, new)
    with pytest.raises(UserError, match=r"program.yml, line \d+: ") as problem:
        read_program(tiny.folder)
    assert said in str(problem.value)


#  what stands in program.yml, what it becomes, on which line after that the mistake is, what the message says of it
MISTAKES = [
    ("    says: half", "    in_short: [blend]\n    says: half", -1, "write [first, second]"),
    ("program: Tiny trials\n", "", 0, '"program" is missing'),
    ("program: Tiny trials", "program:", 0, '"program" is empty'),
    ("program: Tiny trials", "programm: Tiny trials", 0, '"program" is missing'),
    ("program: Tiny trials", "program: Tiny trials\nunits: us", 1, '"units" is not known in "program.yml"'),
    ("program: Tiny trials", "program: Tiny trials\ndisplay_units: imperial", 1,
     '"imperial"; expected one of: us, metric'),
    ("program: Tiny trials", "program: Tiny trials\nmay_be_named: place", 1,
     '"may_be_named" is "place"; expected one of: nobody, place only, cooperator (did you mean "place only"?)'),
    ("program: Tiny trials", "program: Tiny trials\nmay_be_names: nobody", 1,
     '"may_be_names" is not known in "program.yml": did you mean "may_be_named"?'),
    ("program: Tiny trials", "program: Tiny trials\nalso_divide_by: {classes: [N rat], declared: 2090-11-15}", 1,
     'did you mean "N rate"?'),
    ("program: Tiny trials", "program: Tiny trials\nalso_divide_by: {classes: [N rate]}", 1,
     '"declared" is missing in "also_divide_by"'),
    ("program: Tiny trials", "program: Tiny trials\nfewest_blocks: two", 1, "expected a whole number"),
    ("program: Tiny trials", "program: Tiny trials\nprogram: again", 1, '"program" stands here twice'),
    ("first_year: 2071", "first_year: 71", 0, "expected a year from 1900 to 2199, like 2061"),
    ("first_year: 2071", "first_year: 2075", 0, "the reference period ends before it begins"),
    ("    corn: {first", "    maize: {first", 0, '"maize" is no crop known here'),
    ("corn: {first_day: 05-01", "corn: {first_day: 13-01", 0, "expected month-day, like 05-01"),
    ("corn: {first_day: 05-01, last_day: 05-05}", "corn: {first_day: 05-01}", 0, '"last_day" is missing in "corn"'),
    ("fixed_on: 2090-11-15", "fixed_on: 15.11.2090", 0, "expected a date as year-month-day"),
    ("fixed_on: 2090-11-15", "fixed_on: 2090-11-15\n  dry_at_or_below: dry", 1, "expected a number"),
    ("fewest_reference_years: 3", "fewest_reference_years: -3", 0, "expected a whole number from 0 to 999,999"),
    ("  - id: corn-blend-vs-urea\n", "  -\n", 1, '"id" is missing'),
    ("crop: corn", "crop: cron", 0, 'did you mean "corn"?'),
    ("crop: corn", "crop: corn\n    question: is it good", 1, 'expected one of: gain, as good'),
    ("target: seasons tested", "target: seasons testd", 0, 'did you mean "seasons tested"?'),
    ("treatment: {n_source: coated blend}", "treatment: {}", 0, "an arm needs at least one condition"),
    ("treatment: {n_source: coated blend}", "treatment: coated blend", 0, 'must hold "name: value" entries'),
    ("treatment: {n_source: coated blend}", "treatment: {n_source: coatd blend}", 0, 'did you mean "coated blend"?'),
    ("treatment: {n_source: coated blend}", "treatment: {color: red}", 0, '"color" cannot pick treatments'),
    ("treatment: {n_source: coated blend}", "treatment: {timing: at plantin}", 0, 'did you mean "at planting"?'),
    ("treatment: {n_source: coated blend}", "treatment: {placement: bandd}", 0, 'did you mean "banded"?'),
    ("treatment: {n_source: coated blend}", "treatment: {coated_n_fraction: half}", 0, '"half"; expected a number'),
    ("treatment: {n_source: coated blend}", "treatment: {n_source: }", 0,
     '"n_source" must be a word or a list of words'),
    ("treatment: {n_source: coated blend}", "treatment: {codes: []}", 0, '"codes" must be a word or a list of words'),
    ("treatment: {n_source: coated blend}", "treatment: {coated_n_fraction: 50}", 0,
     "expected a fraction from 0 to 1, like 0.5"),
    ("treatment: {n_source: coated blend}", "treatment: {passes: 1.5}", 0, "expected a whole number from 0 to 999,999"),
    ("treatment: {n_source: coated blend}", "treatment: {passes: -1}", 0, "expected a whole number from 0 to 999,999"),
    ("treatment: {n_source: coated blend}", "treatment: {n_rate_lb_ac: -120}", 0, "expected an N rate, zero or more"),
    ("treatment: {n_source: coated blend}", "treatment: {n_source: urea}", -4, "both arms of"),
    ("comparator: {n_source: urea}", "comparator: {role: zero N}", 0, 'did you mean "zero-N"?'),
    ("match: same N rate", "match: same rate", 0, 'did you mean "same N rate"?'),
    ("match: same N rate", "match: none", -6, "names rates but has match: none"),
    ("    rates_lb_ac: {120: 1}\n", "", -7, "name them with their weights"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {}", 0, '"rates_lb_ac" is empty'),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {high: 1}", 0, '"high"; expected a number'),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {-5: 1}", 0, "expected an N rate, zero or more"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 1, 120.0: 3}", 0, "the N rate 120 lb/ac stands here twice"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 1}\n    rates_kg_ha: {134.5: 1}", 1,
     "the N rate 134.5 kg/ha stands here twice"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 1e300}", 0, "expected a number from -1,000,000,000 to 1,000,000,000"),
    ("fewest_reference_years: 3", "fewest_reference_years: 5", -4, "the reference period has 4 years"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: 0}", 0, "expected a number above zero"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: {120: nan}", 0, "expected a number"),
    ("rates_lb_ac: {120: 1}", "rates_lb_ac: [120]", 0, 'must hold "name: value" entries'),
    ("may_differ: [n_source, coated_n_fraction]", "may_differ: n_source", 0, "must be a list"),
    ("may_differ: [n_source, coated_n_fraction]", "may_differ: [n_sorce]", 0, 'did you mean "n_source"?'),
    ("declared: 2090-11-15", "declared: 2090-02-30", 0, "expected a date as year-month-day"),
    ("declared: 2090-11-15", "declard: 2090-11-15", -9, '"declared" is missing'),
    ("comparisons:", "crops: {corn: {bushel_lb: 56}}\ncomparisons:", 0, '"corn" is known already'),
    ("comparisons:", BARLEY.replace("bushel_lb: 48, ", "") + "comparisons:", 1, '"bushel_lb" is missing in "barley"'),
    ("comparisons:", BARLEY.replace("48", "0") + "comparisons:", 1, "expected a number above zero"),
    *(("comparisons:", BARLEY.replace("14.5", value) + "comparisons:", 1,
       f'"{value}"; expected 0 (dry matter) or a percent from 1 to 90, like 15.5')
      for value in ("0.145", "-1", "250")),
    ("comparisons:", BARLEY.replace("bushel_lb: 48", "bushel_lb: 48, display_digits: 40") + "comparisons:", 1,
     "expected a whole number from 0 to 6"),
    ("comparisons:", BARLEY.replace("[15, 120]", "[120, 15]") + "comparisons:", 1,
     '"typical" must be [low, high], two numbers, the lower one first'),
    ("comparisons:", BARLEY.replace("[15, 120]", "[15, 300]") + "comparisons:", 1,
     "typical range must lie in its hard range"),
    ("comparisons:", BARLEY.replace("bushel_lb: 48", "product: lint, display_unit: bu/ac") + "comparisons:", 1,
     "expected one of: lb/ac"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line_after", "says"), MISTAKES)
def test_a_mistake_is_named_with_its_line(tiny, old, new, line_after, says):
    line = tiny.settings(old, new)
    with pytest.raises(UserError) as problem:
        read_program(tiny.folder)
    message = str(problem.value)
    assert message.startswith(f"program.yml, line {line + line_after}: "), message
    assert says in message


def test_no_comparison_at_all(tiny):
    text = tiny.settings_file.read_text()
    tiny.settings_file.write_text(text[: text.index("comparisons:")])
    with pytest.raises(UserError, match='"comparisons" is missing in "program.yml": add comparisons:'):
        read_program(tiny.folder)
    with tiny.settings_file.open("a") as file:
        file.write("comparisons: []\n" + CLAIM)
    with pytest.raises(UserError) as problem:
        read_program(tiny.folder)
    line = tiny.settings_file.read_text().split("comparisons:")[0].count("\n") + 1
    assert str(problem.value) == (  # and nothing of a claim, whose comparison cannot be known
        f'program.yml, line {line}: "comparisons" is empty: declare at least one question to answer'
    )


def test_two_comparisons_of_one_id(tiny):
    text = tiny.settings_file.read_text()
    entry = text[text.index("  - id:") :]
    line = text.count("\n") + 1
    tiny.settings_file.write_text(text + entry)
    with pytest.raises(UserError, match=f'line {line}: the id "corn-blend-vs-urea" stands in line 10 too'):
        read_program(tiny.folder)


def test_two_comparisons_of_a_crop_that_say_the_same(tiny):
    text = tiny.settings_file.read_text()
    entry = text[text.index("  - id:") :].replace("id: corn-blend-vs-urea", "id: again")
    line = text.count("\n") + 1
    tiny.settings_file.write_text(text + entry)
    with pytest.raises(UserError, match=f'line {line}: "corn-blend-vs-urea" and "again" say the same'):
        read_program(tiny.folder)
    tiny.settings_file.write_text(text + entry.replace("says: ", "says: once more, "))
    assert len(read_program(tiny.folder).comparisons) == 2


USUAL = "growers_n_rates: {corn: {rate_lb_ac: 150, source: county survey}}\n"


def test_the_rate_growers_use_is_read_in_either_unit(tiny):
    assert read_program(tiny.folder).growers_rates == {}
    tiny.settings("comparisons:", USUAL + "comparisons:")
    (rate,) = read_program(tiny.folder).growers_rates.values()
    assert rate.n_rate_kg_ha == pytest.approx(150 * 0.45359237 / 0.40468564224) and rate.source == "county survey"
    tiny.settings("rate_lb_ac: 150", "rate_kg_ha: 168")
    assert read_program(tiny.folder).growers_rates["corn"].n_rate_kg_ha == 168


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("{corn:", "{cron:", '"cron" is no crop known here'),
        ("rate_lb_ac: 150, ", "", "needs one of rate_lb_ac and rate_kg_ha"),
        ("150,", "150, rate_kg_ha: 168,", "needs one of rate_lb_ac and rate_kg_ha"),
        ("150", "-1", "expected a number above zero"),
        (", source: county survey", "", "add source: county survey"),
    ],
)
def test_mistakes_in_the_rate_growers_use_name_their_line(tiny, old, new, said):
    tiny.settings("comparisons:", USUAL.replace(old, new) + "comparisons:")
    with pytest.raises(UserError, match=r"program.yml, line \d+: ") as problem:
        read_program(tiny.folder)
    assert said in str(problem.value)


def refusal(folder) -> list[str]:
    with pytest.raises(UserError) as problem:
        read_program(folder)
    return str(problem.value).split("\n")


def test_all_mistakes_come_at_once_in_the_order_of_their_lines(tiny):
    lines = [
        tiny.settings("program: Tiny trials", "programm: Tiny trials"),
        tiny.settings("last_year: 2074", "last_year: 74"),
        tiny.settings("    corn: {first_day: 05-01,", "    corn: {first_day: 5-1,"),
        tiny.settings("    cotton: {first", "    coton: {first"),
        tiny.settings("fewest_reference_years", "fewest_reference_yers"),
        tiny.settings("crop: corn", "crop: cron"),
        tiny.settings("treatment: {n_source: coated blend}", "treatment: {n_sorce: urea, passes: one}"),
        tiny.settings("may_differ: [n_source, coated_n_fraction]", "may_differ: [n_sorce, passs]"),
    ]
    said = refusal(tiny.folder)
    assert [int(line.split("line ")[1].split(":")[0]) for line in said] == sorted([*lines, lines[-2], lines[-1]])
    hints = [
        "programm",
        "a year from",
        "month-day",
        "cotton",
        "fewest_reference_years",
        "corn",
        "n_source",
        "a whole number",
        "n_source",
        "passes",
    ]
    assert [hint in line for hint, line in zip(hints, said, strict=True)] == [True] * len(said), said


def test_what_rests_on_a_mistake_is_not_told_as_another(tiny):
    """A claim on a mistyped comparison, a price of a crop that lacks its bushel, a band and a claim in money of
    mistyped prices.
    """
    tiny.settings("comparisons:", BAND + PRICES.replace("fixed_on: 2094-11-01", "fixed_on: soon"))
    tiny.settings("comparisons:", BARLEY.replace("bushel_lb: 48", "bushel_lb: much") + "comparisons:")
    tiny.settings("    corn: {price_per_bu", "    barley: {price_per_bu: 4}\n    corn: {price_per_bu")
    tiny.settings("target: seasons tested", "target: tested")
    with tiny.settings_file.open("a") as file:
        file.write(
            "claims:\n  - {sentence: It pays, where: flyer, comparison: corn-blend-vs-urea, gain: 9, unit: $/ac}\n"
        )
    said = refusal(tiny.folder)
    assert [line.split(": ", 1)[1].split('"')[1] for line in said] == ["fixed_on", "bushel_lb", "target"], said


def _without(text: str, key: str, indent: str) -> str:
    """Without a key and all below it."""
    kept, inside = [], False
    for line in text.splitlines():
        inside = line.startswith(f"{indent}{key}:") or (inside and (line.startswith(f"{indent} ") or not line))
        kept += [] if inside else [line]
    return "\n".join(kept) + "\n"


@pytest.mark.parametrize("key", ["program", "rainfall", "comparisons"])
def test_a_missing_section_can_be_pasted_from_the_message(tiny, key):
    text = _without(tiny.settings_file.read_text(), key, "")
    tiny.settings_file.write_text(text)
    said = "\n".join(refusal(tiny.folder))
    tiny.settings_file.write_text(text + said.split(": add ", 1)[1] + "\n")
    assert read_program(tiny.folder).comparisons


@pytest.mark.parametrize("key", ["id", "says", "crop", "target", "treatment", "comparator", "match", "declared"])
def test_a_missing_key_of_a_comparison_can_be_pasted_from_the_message(tiny, key):
    text = tiny.settings_file.read_text().replace("  - id:", "  -\n    id:")
    tiny.settings_file.write_text(_without(text, key, "    "))
    (said,) = refusal(tiny.folder)
    assert ("the day is yours to fill in" in said) == (key == "declared")
    tiny.settings_file.write_text(_without(text, key, "    ") + "    " + said.split(": add ", 1)[1] + "\n")
    assert read_program(tiny.folder).comparisons


def test_every_required_key_has_an_example():
    def lacking(into, place=""):
        for word, key in (
            [(k.name, k) for k in into]
            if isinstance(into, tuple)
            else [p for pairs in keys_of(into).values() for p in pairs]
        ):
            if key.default is REQUIRED and not key.example:
                yield f"{place}: {word}"
            yield from lacking(key.within, f"{place}: {word}")

    assert list(lacking(Program)) == []
