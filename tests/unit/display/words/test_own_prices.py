"""The reader's own prices, typed into the page in a real browser, against the same sums in Python, to the printed
digit.
"""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.contract.units import KG_HA_PER_LB_AC as LB
from pipeline.display.season import money_tables
from pipeline.display.words import money, n_response, own_prices, prices
from pipeline.display.words.tables import Markdown
from pipeline.estimates.money.inputs import Prices
from pipeline.estimates.money.partial_budget import budget
from pipeline.estimates.money.program_budgets import formula_inputs, gives_chances
from pipeline.estimates.n_response.curves import PRIMARY
from pipeline.estimates.n_response.pooled_curves import draw_rows, pooled_fit, pooled_rows
from pipeline.publishing.draw import draw
from pipeline.publishing.page import Page
from tests.pages.browser import NEEDS_BROWSER, answered, examined, on_paper
from tests.pages.printed import NEEDS_POPPLER

BU = 62.767665
PLANNED = Prices(
    fixed_on=date(2094, 11, 1),
    crop_price=4.5,
    coated_premium=0.18,
    pass_cost=12.0,
    nitrogen={"urea": 0.5},
    hauling=0.1,
    drying=0.045,
    standard_moisture_pct=15.5,
)
# position -> comparator's passes, comparator's share of the treatment's rate, gain, standard error (bu/ac), tau; 3
# has too few df, 4 too few site-years to claim a gain
CASES = {
    0: (1, 1.0, 5.6, 1.4, 4.0),
    1: (2, 1.0, 0.8, 1.0, 2.0),
    2: (0, 0.0, -3.0, 2.0, None),
    3: (2, 1.0, 1.5, 4.0, 3.0),
    4: (1, 1.0, 5.6, 0.4, 4.0),
}
# family -> coated share of its N, rate of its plateau (kg/ha), and whether trials reach it
FAMILIES = {"urea": (0.0, 165.0, True), "blend": (0.5, 150.0, True), "slow": (0.5, 260.0, False)}
MOISTURE = 18.4
RATES = {position: (120.0,) if position == 1 else (80.0, 160.0) for position in CASES}  # lb/ac
TON = 2000 * 0.46
# As a reader does: type(name, text), and what every span of a figure then says.
HELPERS = """
const type = (name, text) => { const box = document.querySelector(`input[name="${name}"]`);
  box.value = text; box.dispatchEvent(new Event("input", { bubbles: true })); };
const reset = () => document.querySelector(".own-prices [type=reset]").click();
const said = () => Object.fromEntries([...document.querySelectorAll("span[class^='own-']:not(form *)")]
  .map((s) => [s.className.slice(4), s.textContent]));
const message = (name) => document.getElementById("own-message-" + name).textContent;
const box = (name) => document.querySelector(`input[name="${name}"]`).value;
"""


def arms(position: int, rate: float) -> pd.DataFrame:
    passes, share, *_ = CASES[position]
    arm = {"comparison_id": f"c{position}", "n_trials": 30}
    return pd.DataFrame(
        [
            arm | {"arm": "treatment", "n_source": "coated blend", "additive": "", "n_rate_kg_ha": rate * LB,
                   "coated_n_kg_ha": rate * LB / 2, "passes": 1, "moisture_pct": MOISTURE},
            arm | {"arm": "comparator", "n_source": "urea", "additive": "", "n_rate_kg_ha": share * rate * LB,
                   "coated_n_kg_ha": 0.0, "passes": passes, "moisture_pct": 18.6},
        ]
    )  # fmt: skip


def budgeted(
    position: int, prices: Prices = PLANNED, rate: float = 120.0
) -> tuple[pd.Series, pd.DataFrame, pd.DataFrame]:
    """A row of reports.money, its budget items and its price grid."""
    *_, gain, error, tau = CASES[position]
    average = pd.Series(
        {"comparison_id": f"c{position}", "target": "seasons to come", "estimate": gain * BU, "std_error": error * BU,
         "df": 1.9 if position == 3 else 2.7,
         "conf_level": 0.95, "tau2": float("nan") if tau is None else (tau * BU) ** 2,
         "n_site_years": 5 if position == 4 else 33, "n_seasons": 4}
    )  # fmt: skip
    of_arms = arms(position, rate)
    found, items, grid = budget(
        average, of_arms, prices, comparator_yield_kg_ha=175 * BU, unit="bu/ac", kg_ha_per_unit=BU
    )
    row = found.iloc[0]
    shown = {
        "estimate_id": f"id-{position}",
        "position": position,
        "says": f"blend {position}, against urea",
        "crop": "corn",
        "digits": 1,
        "half_width": (row["conf_high"] - row["net_change"]) / row["value_per_unit"],
        "weather": money.LONG_RUN,
        "net_change_per_ha": row["net_change"] / 0.40468564224,
        "gives_chances": gives_chances(row),
    }
    return pd.Series(row.to_dict() | formula_inputs(of_arms, prices) | shown), items, grid


@pytest.fixture(scope="module")
def pooled() -> list:
    """Common curves of 9 site-years each."""
    rng, found = np.random.default_rng(7), []
    for family, (_, join, _) in FAMILIES.items():
        rows = []
        for site_year in range(9):
            own, slope = join * rng.uniform(0.8, 1.2), 40 + 8 * rng.standard_normal()
            for rate in (0.0, 60.0, 120.0, 180.0, 230.0):
                reached = min(rate, own)
                mean = 7000 + slope * (reached - reached**2 / (2 * own)) + 150 * rng.standard_normal()
                rows.append(
                    {
                        "crop": "corn",
                        "family": family,
                        "site_year_id": str(site_year),
                        "cluster": str(site_year),
                        "trial_id": str(site_year),
                        "variant": "",
                        "n_rate_kg_ha": rate,
                        "mean": mean,
                        "n_plots": 4,
                    }
                )
        found.append(pooled_fit(pd.DataFrame(rows), conf_level=0.95))
    return found


def curve_rows(pooled: list, prices: Prices) -> pd.DataFrame:
    """Rows of reports.response_curves."""
    rows = []
    for one in pooled:
        share = FAMILIES[one.family][0]
        harvest = prices.harvest_cost(MOISTURE)
        per_lb = prices.of_source("urea", share)
        ratio = per_lb * (BU / (prices.crop_price - harvest)) / LB
        row = next(row for row in pooled_rows(one, ratio, conf_level=0.95) if row["model"] == PRIMARY)
        lb = {
            name: np.nan if row[name] is None else row[name] / LB
            for name in ("aonr", "aonr_low", "aonr_high", "eonr", "eonr_low", "eonr_high", "highest_rate")
        }
        rows.append(
            row | lb | {"join_kg_ha": row["join"], "n_unit": "lb/ac", "currency": "$", "n_price_per_lb": per_lb,
                        "priced_as": "urea", "coated_n_fraction": share,
                        "harvest_cost": harvest, "kg_ha_per_unit": BU, "kg_ha_per_n_unit": LB,
                        "estimate_id": one.family}
        )  # fmt: skip
    return pd.DataFrame(rows)


def written(pooled: list, prices: Prices = PLANNED, rate: float = 120.0, positions=tuple(CASES)) -> list[Markdown]:
    """The parts of a page whose figures rest on prices, as the pipeline writes them."""
    rows = money.told(
        pd.DataFrame(
            [budgeted(position, prices, rate if len(RATES[position]) > 1 else 120.0)[0] for position in positions]
        )
    )
    lead, (_, items, grid) = rows.iloc[0], budgeted(positions[0], prices, rate)
    curves = curve_rows(pooled, prices)
    asked = asked_of(rows, curves, {"urea": 46.0})
    return [
        money.own_answer(lead), money.priced(lead, asked.said), money_tables.money_table(rows, lead["unit"]),
        money_tables.boxes_table(lead, items),
        money_tables.grid_table(lead, grid), n_response.optimum_table(curves),
    ]  # fmt: skip


def asked_of(rows: pd.DataFrame, curves: pd.DataFrame, n_pct: dict[str, float]) -> prices.Asked:
    nitrogen = pd.DataFrame([{"n_source": "urea", "price_per_lb_n": 0.5, "product_n_pct": n_pct.get("urea")}])
    comparisons = pd.DataFrame(
        [{"comparison_id": f"c{at}", "rates_lb_ac": np.array(rates)} for at, rates in RATES.items()]
    )
    return prices.asked(rows, nitrogen, comparisons, n_response.priced(curves))


def drawn(
    folder: Path, pooled: list, *, n_pct: dict[str, float], positions=tuple(CASES), planned: Prices = PLANNED
) -> Path:
    rows = money.told(pd.DataFrame([budgeted(position, planned)[0] for position in positions]))
    curves, draws = curve_rows(pooled, planned), pd.DataFrame([row for one in pooled for row in draw_rows(one)])
    boxes = own_prices.boxes(
        rows, asked_of(rows, curves, n_pct), curves=curves, draws=draws.rename(columns={"join": "join_kg_ha"}),
        grid=budgeted(positions[0], planned)[2], program="Tarn trials",
    )  # fmt: skip
    parts = "\n\n".join([boxes, *written(pooled, planned, positions=positions)])
    (folder / "page.md").write_text(f"---\ntitle: Own prices\nlang: en-US\n---\n\n{parts}\n", encoding="utf-8")
    return next(iter(draw([Page(folder / "page.md", folder, "corn")], formats=("html",)))).path


@pytest.fixture(scope="module")
def page(tmp_path_factory, pooled) -> Path:
    return drawn(tmp_path_factory.mktemp("own prices"), pooled, n_pct={"urea": 46.0})


def spans(text: str) -> dict[str, str]:
    """What stands in each span of class own-..., spaces and quotes evened out."""
    found = re.findall(r'<span class="own-([\w-]+)">(.*?)</span>', text, re.DOTALL)
    return {name: even(html.unescape(words)) for name, words in found if name not in ("message", "note")}


def even(text: str) -> str:
    return re.sub(r"\s+", " ", text).replace("\u2019", "'").strip()


def expected(pooled: list, prices: Prices = PLANNED, rate: float = 120.0) -> dict[str, str]:
    """The same spans from Python's own sums at these prices."""
    found = re.findall(r"(?<!\\)\[((?:[^\[\]\\]|\\.)*)\]\{\.own-([\w-]+)\}", "\n".join(written(pooled, prices, rate)))
    return {name: even(re.sub(r"\\(.)", r"\1", words)) for words, name in found}


def figures(said: dict[str, str]) -> dict[str, str]:
    """What is a number or follows from one: whose prices they are is another question."""
    kept = {name: even(words) for name, words in said.items() if name not in ("priced-at", "basis", "price-basis")}
    return kept | {"answer": re.sub(" at your (prices and N rate|prices|N rate)", "", kept["answer"])}


def price_sets(n: int = 12) -> list[dict[str, float]]:
    """Prices drawn over all that is plausible; some with an N rate of their own."""
    rng, found = np.random.default_rng(20), []
    for i in range(n):
        drawn_set = {
            "crop": rng.uniform(1.2, 18),
            "n-urea": rng.uniform(0.13, 2),
            "premium": rng.uniform(0, 0.7),
            "pass": rng.uniform(0, 48),
        }
        found.append(
            {name: round(value, 3) for name, value in drawn_set.items()}
            | ({"rate": round(rng.uniform(80, 160), 1)} if i % 2 else {})
        )
    # the second has a tie in its last printed digit: half of 0.125
    return [*found, {"crop": 4.25, "pass": 0.0}, {"crop": 18.0, "n-urea": 0.125, "premium": 0.125}]


def at(typed: dict[str, float]) -> dict:
    """Typed prices as arguments of `expected`."""
    names = {"crop": "crop_price", "premium": "coated_premium", "pass": "pass_cost"}
    changed = {names[name]: value for name, value in typed.items() if name in names}
    nitrogen = {"urea": typed.get("n-urea", 0.5)}
    return {"prices": replace(PLANNED, nitrogen=nitrogen, **changed), "rate": typed.get("rate", 120.0)}


def test_the_printed_page_shows_the_planning_prices(page, pooled):
    found = spans(page.read_text(encoding="utf-8"))
    assert found == expected(pooled)
    assert (
        found["priced-at"] == "Planning prices of November 1, 2094: corn $4.50 a bushel, urea N $0.50 per lb, "
        "coated N $0.18 per lb more than urea N, a pass $12.00 an acre."
    )


@NEEDS_BROWSER
def test_the_browser_computes_what_python_computes_at_any_prices(page, pooled, tmp_path):
    sets = price_sets()
    found = answered(
        page, tmp_path,
        f"{HELPERS} return {json.dumps(sets)}.map((prices) => {{ reset(); "
        f"Object.entries(prices).forEach(([name, value]) => type(name, String(value))); return said(); }});",
    )  # fmt: skip
    for typed, said in zip(sets, found, strict=True):
        assert figures(said) == figures(expected(pooled, **at(typed))), typed
    assert {"fewer than 1 in 20", "more than 19 in 20"} < {said["average-0"] for said in found}
    shown = [said["eonr-0"] for said in found] + [said["eonr-2"] for said in found]
    assert (
        len(set(shown)) > 15
        and any("not found up to" in rate for rate in shown)
        and any("no upper end" in rate for rate in shown)
    )


@NEEDS_BROWSER
def test_whose_prices_are_used_is_said_wherever_they_are(page, tmp_path):
    one, both, rate = answered(
        page, tmp_path, f"{HELPERS} type('crop', '6'); const one = said(); "
        f"type('rate', '100'); const both = said(); type('crop', '4.50'); return [one, both, said()];"
    )  # fmt: skip
    assert (
        one["priced-at"]
        == "At your prices: corn $6.00 a bushel. All else is at the planning prices of November 1, 2094: "
        "urea N $0.50 per lb, coated N $0.18 per lb more than urea N, a pass $12.00 an acre."
    )
    assert one["answer"].startswith("The trials do not show whether it pays on average at your prices: $")
    assert (one["basis"], one["price-basis"]) == ("at your prices", "at your prices")
    assert both["priced-at"].startswith(
        "At your prices and N rate: corn $6.00 a bushel, an N rate of 100 lb/ac for the comparisons tested over it. All"
        " else"
    )
    assert (rate["basis"], even(rate["price-basis"])) == ("at your N rate", "at the planning prices")


@NEEDS_BROWSER
def test_the_page_reads_as_delivered_once_prices_are_put_back(page, tmp_path):
    before, by_hand, by_button = answered(
        page, tmp_path,
        f"{HELPERS} const all = () => [...document.body.children].filter((e) => e.tagName !== 'SCRIPT')"
        f".map((e) => e.innerText).join(''); const before = all();"
        "type('crop', '6'); type('n-coated-urea', '0.9'); const changed = all(); type('crop', '4.5'); "
        "type('premium', '0.18'); const byHand = all();"
        "type('pass', '3'); reset(); return before === changed ? [] : [before, byHand, all()];",
    )  # fmt: skip
    assert before == by_hand == by_button


# name of the box, what is typed, what is said beside it
NOT_USED = [
    ("crop", "4,50", ("Write the number with a point and without a comma, like 4.5. Until then the planning price,"
                      " $4.50, is used.")),
    ("crop", "45", "45 is not plausible here (from $1.125 to $18.00 is): the planning price, $4.50, is used."),
    ("crop", "", "Nothing is typed here: the planning price, $4.50, is used."),
    ("crop", "-4", "A price below zero cannot be right: the planning price, $4.50, is used."),
    ("pass", "ten", "ten is not a number: the planning price, $12.00, is used."),
    ("n-urea", "180", ("180 is not plausible here (from $0.125 to $2.00 is): the planning price, $0.50, is used. A"
                       " price per ton goes into the next box.")),
    ("ton-urea", "46", "46 is not plausible here (from $115.00 to $1840.00 is): the planning price, $0.50, is used."),
    ("rate", "999", "999 lies outside the rates tested, 80 to 160: the rates tested are used."),
    ("ton-coated-urea", "600", ("Type the % N of the product too: a price per ton says nothing of N without it. Until"
                                " then the planning price, $0.68, is used.")),
]  # fmt: skip


@pytest.fixture(scope="module")
def not_used(page, tmp_path_factory) -> dict:
    """By box and text: the message beside it, and what the page says. One browser types them all, each after a
    reset.
    """
    typed = json.dumps([(name, text) for name, text, _ in NOT_USED])
    found = answered(
        page, tmp_path_factory.mktemp("not used"),
        f"{HELPERS} return {typed}.map(([name, text]) => {{ reset(); type(name, text); "
        f"return [message(name) || message('pct-coated-urea'), said()]; }});",
    )  # fmt: skip
    return {case[:2]: answer for case, answer in zip(NOT_USED, found, strict=True)}


@NEEDS_BROWSER
@pytest.mark.parametrize(("name", "text", "told"), NOT_USED)
def test_what_cannot_be_right_is_said_beside_its_box_and_not_used(page, not_used, name, text, told):
    message, said = not_used[name, text]
    assert message == told
    assert {key: even(words) for key, words in said.items()} == spans(page.read_text(encoding="utf-8"))


@NEEDS_BROWSER
def test_an_unusable_number_in_a_link_is_said_too(page, tmp_path):
    assert "without a comma" in answered(page, tmp_path, f"{HELPERS} return message('crop');", fragment="crop=4,50")


@NEEDS_BROWSER
def test_prices_per_ton_and_of_the_coated_source_come_to_the_same(page, pooled, tmp_path):
    per_ton, coated, boxes = answered(
        page, tmp_path,
        f"{HELPERS} type('ton-urea', '414'); const perTon = said(); type('ton-coated-urea', '660'); "
        f"type('pct-coated-urea', '44');"
        "return [perTon, said(), ['n-urea', 'premium', 'n-coated-urea', 'pct-urea'].map(box)];",
    )  # fmt: skip
    assert figures(per_ton) == figures(expected(pooled, **at({"n-urea": 414 / TON})))
    assert "At your prices: urea N $0.45 per lb ($414.00 per ton at 46% N)." in per_ton["priced-at"]
    assert figures(coated) == figures(expected(pooled, **at({"n-urea": 0.45, "premium": 0.3})))
    assert "coated urea N $0.75 per lb ($660.00 per ton at 44% N)" in coated["priced-at"]
    assert boxes == ["0.45", "0.3", "0.75", "46"]


@NEEDS_BROWSER
def test_a_link_goes_before_what_the_browser_remembers(page, tmp_path):
    says = (
        f"{HELPERS} return [said()['priced-at'], box('crop'), box('pass'),"
        " document.querySelector('.own-note').textContent];"
    )
    answered(page, tmp_path, f"{HELPERS} type('crop', '6'); type('pass', '9'); return 0;")
    remembered, linked = answered(page, tmp_path, says), answered(page, tmp_path, says, fragment="crop=5.25")
    assert remembered[1:] == ["6", "9", "These are the prices you typed here before."]
    assert linked[1:] == ["5.25", "12", "These prices came with the link."]
    assert answered(page, tmp_path, says, fragment="tbl-money") == remembered, "a link to a table carries no prices"
    followed = (
        f"{HELPERS} location.hash = '#crop=5.5'; await new Promise((r) => setTimeout(r, 50)); const found ="
        " box('crop'); location.hash = '#tbl-money';"
    )
    assert answered(
        page, tmp_path, f"{followed} await new Promise((r) => setTimeout(r, 50)); return [found, box('crop')];"
    ) == ["5.5", "5.5"]
    answered(page, tmp_path, f"{HELPERS} reset(); return 0;")
    assert answered(page, tmp_path, says)[1:] == ["4.5", "12", ""]


@NEEDS_BROWSER
def test_the_link_to_copy_opens_at_the_same_prices(page, tmp_path):
    link, said = answered(
        page, tmp_path,
        f"{HELPERS} type('crop', '6.1'); type('ton-urea', '400'); document.querySelector('.own-link').click(); "
        f"await new Promise((r) => setTimeout(r, 50));"
        "return [document.querySelector('.own-note').textContent, said()];",
        before="Object.defineProperty(navigator, 'clipboard', { value: undefined });",
    )  # fmt: skip
    fragment = link.removeprefix("Copy this link: ").split("#")[1]
    assert answered(page, tmp_path, f"{HELPERS} return said();", fragment=fragment) == said
    before = (
        "Object.defineProperty(navigator, 'clipboard', { value: { writeText: async (text) => { window.copied = text; }"
        " } });"
    )
    copied = answered(
        page, tmp_path, "document.querySelector('.own-link').click(); return window.copied;", fragment=fragment,
        before=before
    )  # fmt: skip
    assert copied.split("#")[1] == fragment


@NEEDS_BROWSER
@NEEDS_POPPLER
def test_paper_says_whose_prices_it_shows(page, tmp_path):
    own, planned = on_paper(page, tmp_path, fragment="crop=6&n-urea=0.4"), on_paper(page, tmp_path)
    assert (
        "At your prices: corn $6.00 a bushel, urea N $0.40 per lb. All else is at the planning prices of November 1,"
        " 2094" in own
    )
    assert own.count("at your prices") >= 5 and "Planning prices of November 1" not in own
    assert "Planning prices of November 1, 2094: corn $4.50 a bushel" in planned and "your prices" not in planned
    assert "per ton of product" not in own + planned, "no boxes on paper"


@NEEDS_BROWSER
def test_without_scripts_there_are_planning_prices_and_no_boxes(page, tmp_path):
    around = tmp_path / "around.html"
    frame = f'<iframe sandbox="allow-same-origin" srcdoc="{html.escape(page.read_text(encoding="utf-8"))}"></iframe>'
    around.write_text(
        f"<!doctype html><html><head><meta charset='utf-8'></head><body>{frame}</body></html>", encoding="utf-8"
    )
    shown = "const of = (what) => what.querySelector('form.own-prices').getClientRects().length;"
    with_scripts = answered(page, tmp_path, f"{shown} return of(document);")
    without, document = answered(
        around, tmp_path,
        f"{shown} const inside = document.querySelector('iframe').contentDocument; "
        f"return [of(inside), inside.body.innerHTML];",
    )  # fmt: skip
    assert (with_scripts, without) == (1, 0)
    assert spans(document) == spans(page.read_text(encoding="utf-8"))


@NEEDS_BROWSER
@pytest.mark.parametrize("position", [3, 4])
def test_a_lead_comparison_with_too_few_seasons_or_site_years_says_so_at_any_price(tmp_path, pooled, position):
    page = drawn(tmp_path, pooled, n_pct={}, positions=(position,))
    dearer = money.told(pd.DataFrame([budgeted(position, replace(PLANNED, crop_price=6.0))[0]])).iloc[0]
    found = answered(page, tmp_path, f"{HELPERS} type('crop', '6'); return said().answer;")
    assert found.replace(" at your prices", "") == money.answer(dearer)


@NEEDS_BROWSER
def test_a_crop_price_below_the_harvest_costs_is_said(tmp_path, pooled):
    page = drawn(tmp_path, pooled, n_pct={}, planned=replace(PLANNED, hauling=1.5))
    found = answered(page, tmp_path, f"{HELPERS} type('crop', '1.5'); return said();")
    assert found["answer"] == money.UNDEFINED
    assert {found[name] for name in ("net-0", "fields-1", "hectare", "box-net", "eonr-0", "grid-0-0")} == {
        money.NOT_GIVEN
    }


@NEEDS_BROWSER
def test_boxes_with_messages_break_no_rule_of_access_and_fit_a_phone(page, tmp_path):
    copy = tmp_path / "typed.html"
    typing = (
        f"<script>addEventListener('load', () => {{ {HELPERS} type('crop', '45'); type('n-urea', '0.9');"
        " type('ton-coated-urea', '700'); });</script>"
    )
    copy.write_text(page.read_text(encoding="utf-8").replace("</body>", f"{typing}</body>"), encoding="utf-8")
    for width, found in zip((360, 1280), examined(copy, tmp_path, (360, 1280)), strict=True):
        assert width - 20 < found["width"] <= width  # less its scroll bar
        assert (found["violations"], found["scroll_width"], found["wide"]) == ([], found["width"], []), width


def test_nothing_in_the_page_asks_the_network(page):
    text = page.read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)=[\"'](?:https?:)?//|fetch\(|XMLHttpRequest|import\(", text)


def test_without_a_budget_there_are_no_boxes():
    row = budgeted(0)[0].to_dict() | {"net_change": float("nan")}
    assert own_prices.boxes(money.told(pd.DataFrame([row])), None) == ""
