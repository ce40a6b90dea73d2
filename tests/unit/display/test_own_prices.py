"""The reader's own prices, typed into the page in a real browser, against the partial budget in Python, to the cent."""

from __future__ import annotations

import html
import re
from datetime import date

import pandas as pd
import pytest

from pipeline.display import money, own_prices
from pipeline.estimates.budget_inputs import Prices
from pipeline.estimates.partial_budget import budget
from pipeline.publishing.draw import Page, draw
from pipeline.steps.money import formula_inputs, gives_chances
from tests.pages.browser import NEEDS_BROWSER, opened

BU = 62.767665
LB = 1.120851156194456
PLANNED = {"crop_price": 4.5, "coated_premium": 0.18, "pass_cost": 12.0}
# position -> comparator's passes, comparator's share of the treatment's rate, gain, standard error (bu/ac), tau; the last has too few df
CASES = {
    0: (1, 1.0, 5.6, 1.4, 4.0),
    1: (2, 1.0, 0.8, 1.0, 2.0),
    2: (0, 0.0, -3.0, 2.0, None),
    3: (2, 1.0, 1.5, 4.0, 3.0),
}


def prices(**changed) -> Prices:
    return Prices(
        fixed_on=date(2094, 11, 1),
        nitrogen={"urea": 0.5},
        hauling=0.1,
        drying=0.045,
        standard_moisture_pct=15.5,
        **(PLANNED | changed),
    )


def arms(position: int, rate: float) -> pd.DataFrame:
    passes, share, *_ = CASES[position]
    arm = {"comparison_id": f"c{position}", "n_trials": 30}
    return pd.DataFrame(
        [
            arm | {"arm": "treatment", "n_source": "coated blend", "additive": "", "n_rate_kg_ha": rate * LB, "coated_n_kg_ha": rate * LB / 2, "passes": 1, "moisture_pct": 18.4},
            arm | {"arm": "comparator", "n_source": "urea", "additive": "", "n_rate_kg_ha": share * rate * LB, "coated_n_kg_ha": 0.0, "passes": passes, "moisture_pct": 18.6},
        ]
    )  # fmt: skip


def budgeted(position: int, rate: float = 120.0, **changed) -> tuple[pd.Series, pd.DataFrame]:
    *_, gain, error, tau = CASES[position]
    average = pd.Series(
        {"comparison_id": f"c{position}", "target": "seasons to come", "estimate": gain * BU, "std_error": error * BU, "df": 1.9 if position == 3 else 2.7,
         "conf_level": 0.95, "tau2": float("nan") if tau is None else (tau * BU) ** 2, "n_site_years": 33, "n_seasons": 4}
    )  # fmt: skip
    found, items, _ = budget(
        average,
        arms(position, rate),
        prices(**changed),
        comparator_yield_kg_ha=175 * BU,
        unit="bu/ac",
        kg_ha_per_unit=BU,
    )
    row = found.iloc[0]
    inputs = formula_inputs(arms(position, rate), prices(**changed)) | {"gives_chances": gives_chances(row)}
    shown = {
        "estimate_id": f"id-{position}", "position": position, "says": f"blend {position}, against urea", "digits": 1,
        "half_width": (row["conf_high"] - row["net_change"]) / row["value_per_unit"], "weather": money.LONG_RUN,
    }  # fmt: skip
    return pd.Series(row.to_dict() | inputs | shown), items


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    rows = money.told(pd.DataFrame([budgeted(position)[0] for position in CASES]))
    lead, items = budgeted(0)
    parts = [
        own_prices.boxes(rows),
        money.own_answer(lead),
        money.money_table(rows),
        money.boxes_table(lead, items),
    ]
    folder = tmp_path_factory.mktemp("own prices")
    (folder / "page.md").write_text("---\ntitle: Own prices\n---\n\n" + "\n\n".join(parts) + "\n", encoding="utf-8")
    drawn = draw([Page(folder / "page.md", folder, "corn")], formats=("html",))
    return next(iter(drawn)).path


def spans(text: str) -> dict[str, str]:
    """What stands in each span of class own-..., spaces and quotes evened out."""
    found = {}
    for name, words in re.findall(r'<span class="own-([\w-]+)">(.*?)</span>', text, re.DOTALL):
        found[name] = re.sub(r"\s+", " ", html.unescape(words)).replace("\u2019", "'").strip()
    return found


def in_browser(page, typed: str) -> dict[str, str]:
    return spans(opened(page, page.parent, fragment=typed).stdout)


def expected(rate: float | None = None, **changed) -> dict[str, str]:
    """The same spans from Python's own budget at these prices."""
    rows = money.told(pd.DataFrame([budgeted(position, rate or 120.0, **changed)[0] for position in CASES]))
    lead, items = budgeted(0, rate or 120.0, **changed)
    written = f"{money.own_answer(lead)}\n{money.money_table(rows)}\n{money.boxes_table(lead, items)}"
    found = re.findall(r"(?<!\\)\[((?:[^\[\]\\]|\\.)*)\]\{\.own-([\w-]+)\}", written)
    return {name: re.sub(r"\s+", " ", re.sub(r"\\(.)", r"\1", words)).strip() for words, name in found}


def test_the_printed_page_shows_the_planning_prices(page):
    assert spans(page.read_text(encoding="utf-8")) == expected()


@NEEDS_BROWSER
@pytest.mark.parametrize(
    ("typed", "changed"),
    [
        ("", {}),
        (
            "crop=4.2&premium=0.2&pass=10&rate=100",
            {"crop_price": 4.2, "coated_premium": 0.2, "pass_cost": 10, "rate": 100},
        ),
        ("crop=2.37&premium=0.613", {"crop_price": 2.37, "coated_premium": 0.613}),
        ("crop=7.15&pass=31.99&rate=163.5", {"crop_price": 7.15, "pass_cost": 31.99, "rate": 163.5}),
        ("premium=0", {"coated_premium": 0.0}),
        ("crop=&premium=-1&pass=abc", {}),
    ],
)
def test_the_browser_says_what_python_says(page, typed, changed):
    assert in_browser(page, typed) == expected(**changed)


@NEEDS_BROWSER
def test_a_lead_comparison_with_too_few_seasons_says_so_at_any_price(tmp_path):
    lead = money.told(pd.DataFrame([budgeted(3)[0]]))
    (tmp_path / "page.md").write_text(
        f"---\ntitle: Few\n---\n\n{own_prices.boxes(lead)}\n\n{money.own_answer(lead.iloc[0])}\n",
        encoding="utf-8",
    )
    drawn = next(iter(draw([Page(tmp_path / "page.md", tmp_path, "few")], formats=("html",)))).path
    dearer = money.told(pd.DataFrame([budgeted(3, crop_price=6.0)[0]]))
    assert in_browser(drawn, "crop=6")["answer"] == money.answer(dearer.iloc[0])


@NEEDS_BROWSER
def test_a_crop_price_below_the_harvest_costs_is_said(page):
    found = in_browser(page, "crop=0.1")
    assert found["answer"] == money.UNDEFINED and found["net-0"] == found["fields-1"] == money.NOT_GIVEN


def test_nothing_in_the_page_asks_the_network(page):
    text = page.read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)=[\"'](?:https?:)?//|fetch\(|XMLHttpRequest|import\(", text)


def test_without_a_budget_there_are_no_boxes():
    row = budgeted(0)[0].to_dict() | {"net_change": float("nan")}
    assert own_prices.boxes(money.told(pd.DataFrame([row]))) == ""
