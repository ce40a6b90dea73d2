"""What a traced estimate is, in a few lines: its size, its formula with the numbers put in, and what it is worked out
from.

A Step's estimate is a row of the reports view that its kind names; each kind has its own way to be told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import pandas as pd

from pipeline.display.words import answers, money, n_response, prices, rate_losses
from pipeline.display.words.answers import TARGET_NAMES
from pipeline.display.words.numbers import UNKNOWN, between, capital, count, n_rate, number, percent, text
from pipeline.display.words.passes import without_ratio
from pipeline.display.words.tables import Markdown, anchored_id, escaped, joined, linked_id
from pipeline.display.words.where import DRAINAGE
from pipeline.estimates.engines.interval_rules import TOO_FEW_DF_FOR_MONEY
from pipeline.estimates.n_response.curves import LINEAR_PLATEAU, MITSCHERLICH, QUADRATIC, QUADRATIC_PLATEAU
from pipeline.estimates.n_response.efficiencies import AGRONOMIC, PARTIAL
from pipeline.trace import Step, Trace
from pipeline.verdicts import is_few

FROM = "Worked out from"
LOG_RATIOS = "log ratios of the arms' means in each site-year, averaged by the rules of the gains"


def opening(trace: Trace) -> list[str]:
    """The first lines of a walk: question, size, formula, the other estimates it rests on, and the run."""
    run = trace.run
    told = [*_told(trace), *_items(trace), *_behind(trace)]
    return [*told, f"Inputs {run['inputs_sha256']}, settings {run['settings_sha256']}, code {run['code_commit']}"]


def in_short(trace: Trace, most: int) -> list[str]:
    """Question, size and formula in at most so many lines, and the other estimates it rests on among them."""
    behind = _behind(trace)[: most - 1]
    return _told(trace)[: most - len(behind)] + behind


def _told(step: Step) -> list[str]:
    row = step.estimate
    return [f"{row['estimate_id']}: {_asked(row)}", *TELLERS[step.kind](row)]


def _behind(step: Step) -> list[str]:
    return [f"{FROM} {other['estimate_id']}, {named(other)}" for other in step.rests_on]


def in_page(steps: Iterable[Step]) -> Markdown:
    """Each figure as a list item with its id, which links lead to, and below it formula, numbers and what it rests
    on.
    """
    parts = []
    for step in steps:
        first, *others = [*TELLERS[step.kind](step.estimate), *_items(step)]
        below = [
            *(escaped(line) for line in others),
            *(joined([FROM, linked_id(other["estimate_id"]), named(other)], by=" ") for other in step.rests_on),
        ]
        parts.append(f"- {joined([first, anchored_id(step.estimate['estimate_id'])], by=' ')}")
        parts += [f"    - {line}" for line in below]
    return Markdown("\n".join(parts) + "\n")


def _items(step: Step) -> list[str]:
    """The items of a partial budget, box by box."""
    items = step.items.sort_values(["box", "item"]).itertuples()
    return [f"{capital(row.box)}: {row.item} {row.amount:.2f} per acre" for row in items]


def named(row: Mapping) -> str:
    """Another estimate in short: 'average gain in the seasons tested: 5.8 bu/ac'."""
    if "family" in row:
        return f"curve of {row['family']}"
    if "slope_unit" in row:
        return f"slope on {row['covariate']}: {_slope_size(row)}"
    if "net_change" in row:
        return f"partial budget: {money.amount(row['net_change'], row['currency'])} per acre"
    size = UNKNOWN if pd.isna(row["estimate"]) else f"{number(row['estimate'], row['digits'])} {row['unit']}"
    weather = "" if "moderator" in row else ", at long-run weather"
    return f"average gain {answers.TARGET[row['target']]}{weather}: {size}"


def _asked(row: Mapping) -> str:
    if "says" in row:
        return f"{row['says']} ({row['comparison_id']})"
    return f"{row['crop']}, {row['family']}"


def _size(row: Mapping) -> str:
    return "not estimable" if pd.isna(row["estimate"]) else f"{number(row['estimate'], row['digits'])} {row['unit']}"


def _warnings(row: Mapping) -> str:
    return f"Warnings: {text(row['warnings']) or 'none'}"


def _average(row: Mapping) -> list[str]:
    size = "not estimable" if pd.isna(row["estimate"]) else f"{_size(row)} ({answers.interval(row)})"
    level = row["level"] if pd.isna(row.get("rate_kg_ha")) else n_rate(row)
    which = "all site-years" if row["moderator"] == "all" else f"{row['moderator']} {level}"
    leads = "the headline" if row["is_headline"] else "not the headline"
    return [
        f"Gain: {size}",
        f"Target: {TARGET_NAMES[row['target']]}; {which}; {row['method']}, {leads}",
        f"Formula: {text(row['formula']) or 'none'}; df: {text(row['df_method']) or UNKNOWN}",
        f"Rule: {row['rule']}",
        _warnings(row),
    ]


def _as_good(row: Mapping) -> list[str]:
    if pd.isna(row["estimate"]):
        return [f"As good, {TARGET_NAMES[row['target']]}: {row['verdict']}; {row['reason']}"]
    d = row["digits"] + 1
    low = (
        f"{number(row['estimate'], d)} − t(97.5%, df {number(row['df'], 1)}) × {number(row['std_error'], d)} ="
        f" {number(row['lower_limit'], d)}"
    )
    size, limit = f"difference {_size(row)}", f"{number(row['margin_limit'], d)} {row['unit']}"
    if row["scale"] == "ratio":
        estimate, margin = number(row["estimate"], row["digits"]), number(row["margin_limit"], d)
        size, limit = f"a ratio of {estimate}", f"a ratio of {margin}"
    made = f"Difference by {LOG_RATIOS}" if row["scale"] == "ratio" else f"Difference by {row['method']}"
    return [
        (
            f"As good, {TARGET_NAMES[row['target']]}:"
            f" {row['verdict']}{', from too few to claim anything' if is_few(row) else ''}; {size}"
        ),
        (
            f"{made}, standard error {number(row['std_error'], d)}, {count(row['n_site_years'], 'site-year')} in"
            f" {count(row['n_seasons'], 'season')}"
        ),
        *filter(None, [without_ratio(row).rstrip(".")]),
        (
            f"Lower limit: {low} {row['unit']}"
            if row["scale"] != "ratio"
            else f"Interval of the ratio: {between(row['lower_limit'], row['upper_limit'], d)}"
        ),
        f"Margin: no worse than {limit}; {row['margin_basis']}",
        f"Could these trials have shown a loss: {row['assay_sensitivity']}; {row['assay_reason']}",
    ]


def _net_change(row: Mapping) -> list[str]:
    if pd.isna(row["net_change"]):
        return [f"Net change: not worked out; {row['reason']}"]
    d = row["digits"] + 2
    value, cost = f"{row['currency']}{row['value_per_unit']:.4f}", money.amount(row["cost"], row["currency"])
    parts = f"{number(row['gain'], d)} {row['unit']} × {value} − {f'({cost})' if row['cost'] < 0 else cost}"
    return [
        (
            f"Net change: {money.amount(row['net_change'], row['currency'])} per acre"
            f" ({money.per_acre(row['conf_low'], row['conf_high'], row['currency'])}), {TARGET_NAMES[row['target']]},"
            f" {row['weather']}"
        ),
        f"Formula: gain × value of one more unit − costs that do not grow with yield = {parts}",
        (
            f"Interval: net change ± t(df {number(row['df'], 1)}) × {number(row['gain_std_error'], d)} {row['unit']} ×"
            f" value; {row['interval_covers']}{_withheld(row)}"
        ),
        f"Breaks even at: costs / value = {number(row['break_even_gain'], d)} {row['unit']}",
        (
            f"{money.planning_prices(row, prices.of_budget(row))} That is"
            f" {money.amount(row['net_change_per_ha'], row['currency'])} per hectare.{money.not_counted(row)}"
        ),
    ]


def _withheld(row: Mapping) -> str:
    """Why the other pages do not print a budget's interval; empty where they do."""
    few = f"With {TOO_FEW_DF_FOR_MONEY} degrees of freedom or fewer the other pages do not print it"
    return "" if row["df"] > TOO_FEW_DF_FOR_MONEY else f" {few}: {money.untold(row)}."


def _long_run(row: Mapping) -> list[str]:
    if pd.isna(row["estimate"]):
        return [f"Gain at long-run weather, {TARGET_NAMES[row['target']]}: not estimable; {row['reason']}"]
    return [
        f"Gain at long-run weather: {_size(row)} ({answers.interval(row)}), {TARGET_NAMES[row['target']]}",
        (
            f"Formula: {row['formula']}: class means, each with the share of its class in the reference period; df"
            f" {number(row['df'], 1)} ({row['df_method']})"
        ),
        f"From {count(row['n_site_years'], 'site-year')} with a class; classes met: {row['classes_met']}",
        _warnings(row),
    ]


def _field_share(row: Mapping) -> list[str]:
    if pd.isna(row["share"]):
        return [f"Share of fields whose true gain is above {row['above']}: {row['reason']}"]
    return [
        (
            f"Share of fields whose true gain is above {row['above']} ({number(row['threshold'], row['digits'])}"
            f" {row['unit']}): {percent(100 * row['share'])}"
        ),
        (
            "Formula: normal distribution around the average with the spread between fields,"
            f" {number(row['tau'], row['digits'])} {row['unit']}; {TARGET_NAMES[row['target']]}"
        ),
    ]


def _trait(row: Mapping) -> list[str]:
    size = "not estimable" if pd.isna(row["estimate"]) else f"{_size(row)} ({answers.interval(row)})"
    return [
        f"{capital(row['trait'])}, treatment less comparator: {size}",
        (
            f"Target: {TARGET_NAMES[row['target']]}; {row['method']}; {count(row['n_site_years'], 'site-year')} in"
            f" {count(row['n_seasons'], 'season')}"
        ),
        f"Formula: {text(row['formula']) or 'none'}",
        f"Rule: {row['rule']}",
        _warnings(row),
    ]


def _curve(row: Mapping) -> list[str]:
    """Of the common curves, or of the curve of one trial."""
    of = f" of {row['trial_id']}" if "trial_id" in row else ""
    if pd.isna(row["b"]):
        return [f"{capital(row['model'])} curve{of}: not fitted; {row['flag']}"]
    if of:
        said = f"{of} alone, {count(row['n_plots'], 'plot')}: {row['flag']}"
    else:
        declared = "declared beforehand" if row["is_primary"] else "beside the declared one"
        said = f" over {count(row['n_site_years'], 'site-year')}: {row['flag']}; {declared}"
    return [
        f"{capital(row['model'])} curve{said}",
        _optima(row),
        f"Curve, kg/ha: {_formula(row)}{_priced(row)}",
        _warnings(row),
    ]


def _priced(row: Mapping) -> str:
    """What makes a rate the economic optimum, on a curve with a bend too; empty without a price."""
    if pd.isna(row["price_ratio"]):
        return ""
    return (
        "; economic optimum: the highest rate whose last kg of N returns at least"
        f" {number(row['price_ratio'], 3)} kg of yield, its price"
    )


def _optima(row: Mapping) -> str:
    return (
        f"Rate for highest yield ({row['n_unit']}): {_rate(row, 'aonr')}; economic optimum: {_rate(row, 'eonr')};"
        f" interval: {text(row['interval_method']) or 'none'}"
    )


def _rate(row: Mapping, which: str) -> str:
    """'73.5 (58.1 to 100.0)', or as the other pages say that there is none."""
    if pd.isna(row[which]):
        return n_response.rate(row, which)
    if not text(row["interval_method"]):
        return n_response.RATE_WORDS["no_interval"].format(number(row[which], 1))
    low, high = row[f"{which}_low"], row[f"{which}_high"]
    is_open = n_response.is_open_above(high, row["highest_rate"], 1)
    return (
        f"{number(row[which], 1)} ({'open' if pd.isna(low) else number(low, 1)} to"
        f" {'open' if is_open else number(high, 1)})"
    )


def _loss(row: Mapping) -> list[str]:
    unit, digits = row["n_unit"], 1
    lost = f"{money.amount(row['loss'], row['currency'])} per acre"
    interval, is_drawn = "no interval", bool(text(row["interval_method"]))
    if is_drawn:
        high = "open" if pd.isna(row["conf_high"]) else money.amount(row["conf_high"], row["currency"])
        interval = (
            f"{percent(100 * row['conf_level'])} interval {money.amount(row['conf_low'], row['currency'])} to {high}"
        )
    return [
        (
            f"Net return lost at {number(row['n_rate'], digits)} {unit} against the economic optimum,"
            f" {number(row['eonr'], digits)} {unit}: {lost} ({interval})"
        ),
        (
            f"Formula: (curve at the best rate − curve at this rate − {number(row['price_ratio'], 3)} × (best rate −"
            f" this rate)), kg/ha, / {number(row['worth_1_per_ac_kg_ha'], 2)}, the kg/ha of yield worth"
            f" {row['currency']}1 per acre"
        ),
        *([f"Interval: {rate_losses.INTERVAL}"] if is_drawn else []),
        f"Tested in {row['n_site_years']} of the {count(row['n_curve_site_years'], 'site-year')} behind the curve",
        _warnings(row),
    ]


def _formula(row: Mapping) -> str:
    a, b, join = number(row["a_kg_ha"], 1), number(row["b"], 3), number(row["join_kg_ha"], 1)
    if pd.isna(row["join_kg_ha"]) and row["model"] in (QUADRATIC_PLATEAU, LINEAR_PLATEAU):
        return f"begins as {a} + {b} × N; where it levels off lies beyond the highest rate tested"
    return {
        QUADRATIC_PLATEAU: f"{a} + {b} × (N − N squared / (2 × {join})) up to N = {join}, level above",
        LINEAR_PLATEAU: f"{a} + {b} × N up to N = {join}, level above",
        QUADRATIC: f"{a} + {b} × N + {number(row['c'], 5)} × N squared",
        MITSCHERLICH: f"{a} + {b} × (1 − exp(−{number(row['c'], 5)} × N))",
    }[row["model"]]


def _efficiency(row: Mapping) -> list[str]:
    if pd.isna(row["estimate"]):
        return [f"{capital(row['efficiency'])}: {row['status']}"]
    interval, by = row["status"], ""  # that there are too few for one
    if pd.notna(row["conf_low"]):
        interval = f"{percent(100 * row['conf_level'])} interval {between(row['conf_low'], row['conf_high'], 2)}"
        by = "; t interval over site-years"
    return [
        (
            f"{capital(row['efficiency'])} at {number(row['n_rate'])} {row['n_unit']}: {number(row['estimate'], 2)} kg"
            f" per kg ({interval}), {count(row['n_site_years'], 'site-year')}"
        ),
        f"Formula: {EFFICIENCY_FORMULAS[row['efficiency']]}, in each site-year{by}",
    ]


EFFICIENCY_FORMULAS = {
    AGRONOMIC: "(mean yield at the rate − mean yield at zero-N) / rate",
    PARTIAL: "mean yield at the rate / rate",
}


def _saved(row: Mapping) -> list[str]:
    if pd.isna(row["nitrogen_saved"]):
        return [f"N saved at equal yield, at {row['rate_is']}: {row['status']}"]
    unit = row["n_unit"]
    ends = [number(row[f"conf_{end}"], 1) if pd.notna(row[f"conf_{end}"]) else "open" for end in ("low", "high")]
    is_drawn = not text(row["warnings"])  # they say why there is no interval
    return [
        (
            f"N saved at equal yield, at {row['rate_is']}: {number(row['nitrogen_saved'], 1)} {unit}"
            f" ({' to '.join(ends) if is_drawn else 'no interval'})"
        ),
        (
            f"Formula: {number(row['comparator_rate'], 1)} {unit} of {row['comparator_family']}, less the"
            f" {number(row['same_yield_rate'], 1)} {unit} at which the curve of {row['family']} gives the same yield;"
            f" both curves over the {count(row['n_site_years'], 'site-year')} with both"
        ),
        *(["Interval: site-years drawn anew, both curves fitted to each draw"] if is_drawn else []),
        _warnings(row),
    ]


def _slope_size(row: Mapping) -> str:
    if pd.isna(row["estimate"]):
        return "not estimable"
    d = row["slope_digits"] + 1
    return f"{number(row['estimate'], d)} {row['slope_unit']} ({between(row['conf_low'], row['conf_high'], d)})"


def _slope(row: Mapping) -> list[str]:
    shown = "" if not row["is_headline"] else ", shown" if row["is_shown"] else ", not shown"
    leads = "the headline" if row["is_headline"] else "not the headline"
    why = f"; {row['reason']}" if pd.isna(row["estimate"]) else ""
    return [
        f"Slope of the gain on {row['covariate']} ({row['kind']}){shown}: {_slope_size(row)}{why}",
        f"Target: {TARGET_NAMES[row['target']]}; rests on {row['part']}; {row['method']}, {leads}",
        f"Formula: {text(row['formula']) or 'none'}; df: {text(row['df_method']) or UNKNOWN}",
        f"Rule: {row['rule']}",
        _warnings(row),
    ]


def _weather_gain(row: Mapping) -> list[str]:
    where = "all places" if row["level"] == "all" else DRAINAGE.get(row["level"], row["level"])
    asked = f"Gain over the {row['covariate']} of the reference years, {where}, {TARGET_NAMES[row['target']]}"
    if pd.isna(row["estimate"]):
        return [f"{asked}: not estimable; {row['reason']}"]
    years = f"each of {count(row['n_years'], 'reference year')}"
    if row["level"] in ("all", *DRAINAGE):
        n = number(row["n_years"])
        years = f"each place's reference years, {n} in all, a place counting as often as it has site-years"
    return [
        f"{asked}: {_size(row)} ({answers.interval(row)})",
        f"Formula: average on the line at the covariate of {years}; df {number(row['df'], 1)} ({row['df_method']})",
        f"Outside the values met: {percent(100 * row['share_outside'])} of these years",
        _warnings(row),
    ]


TELLERS: dict[str, Callable[[Mapping], list[str]]] = {
    "gains": _average,
    "explored": _average,
    "as_good": _as_good,
    "money": _net_change,
    "long_run_gains": _long_run,
    "field_shares": _field_share,
    "trait_gains": _trait,
    "response_curves": _curve,
    "trial_curves": _curve,
    "rate_losses": _loss,
    "efficiencies": _efficiency,
    "nitrogen_saved": _saved,
    "weather_slopes": _slope,
    "weather_gains": _weather_gain,
}
