"""Cooperators who deliver in a shape of their own: a folder each, their sheet names, headings, units and words.

A headings.yml beside their files says what these mean; so the pipeline reads the same trials from them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd
import yaml

from pipeline.contract.units import KG_PER_LB, LITERS_PER_BUSHEL, M_PER_FT
from pipeline.simulation.workbooks import write_workbook

Tables = dict[str, pd.DataFrame]
TRIAL_TABLES = ("trials", "treatments", "nitrogen_applications", "plots")


@dataclass(frozen=True)
class Sender:
    """Names, headings and words map ours to theirs. `converted`: our heading to (our heading in their unit, factor,
    digits).

    With `workbook` all tables are sheets of one file, and `units` stand in a row beneath the headings of plots.
    """

    names: dict[str, str]
    headings: dict[str, dict[str, str]]
    words: dict[str, dict[str, dict[str, str]]]
    converted: dict[str, tuple[str, float, int]] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    workbook: str = ""
    numbers_its_treatments: bool = False


BOOKKEEPER = Sender(
    names={"trials": "Trial list", "treatments": "Treatment key", "nitrogen_applications": "N log",
           "plots": "Plot book"},
    headings={
        "trials": {"trial_id": "Trial", "site_id": "Soil", "previous_crop": "Crop before", "outcome": "Status"},
        "treatments": {"trial_id": "Trial", "treatment_code": "Trt", "n_source": "N from",
                       "n_rate_lb_ac": "N lb per acre"},
        "nitrogen_applications": {"trial_id": "Trial", "treatment_code": "Trt", "application": "Date and product"},
        "plots": {
            "trial_id": "Trial", "block": "Rep", "treatment_code": "Trt", "harvest_weight_lb": "Plot wt",
            "moisture_pct": "Moist",
            "test_weight_lb_bu": "TW", "gin_turnout_fraction": "Lint share", "harvest_length_ft": "Length",
            "outcome": "Status",
        },
    },
    words={
        "trials": {"outcome": {"harvested": "ok"}},
        "treatments": {"n_source": {"coated blend": "part coated", "urea": "plain urea"}},
        "plots": {"outcome": {"harvested": "ok"}},
    },
    units={"Plot wt": "lb", "Moist": "%", "TW": "lb/bu", "Lint share": "fraction", "Length": "ft"},
    workbook="harvest_book.xlsx",
    numbers_its_treatments=True,
)  # fmt: skip
METRIC = Sender(
    names={
        "trials": "trial sheet",
        "treatments": "treatment sheet",
        "nitrogen_applications": "nitrogen sheet",
        "plots": "harvest sheet",
    },
    headings={
        "trials": {"trial_id": "Experiment", "row_spacing_in": "Rows apart (in)"},
        "treatments": {"trial_id": "Experiment", "treatment_code": "Code", "n_rate_lb_ac": "N (lb/ac)"},
        "nitrogen_applications": {"trial_id": "Experiment", "treatment_code": "Code", "n_rate_lb_ac": "N (lb/ac)"},
        "plots": {
            "trial_id": "Experiment",
            "treatment_code": "Code",
            "harvest_weight_kg": "Weight (kg)",
            "moisture_pct": "Water (%)",
            "test_weight_kg_hl": "Test weight (kg/hl)",
            "gin_turnout_pct": "Turnout (%)",
            "harvest_length_m": "Run (m)",
        },
    },
    words={"treatments": {"timing": {"at planting": "with the planter", "split": "two times"}}},
    converted={
        "harvest_weight_lb": ("harvest_weight_kg", KG_PER_LB, 3),
        "test_weight_lb_bu": ("test_weight_kg_hl", KG_PER_LB / LITERS_PER_BUSHEL * 100, 2),
        "gin_turnout_fraction": ("gin_turnout_pct", 100.0, 1),
        "harvest_length_ft": ("harvest_length_m", M_PER_FT, 3),
    },
)
SENDERS = (BOOKKEEPER, METRIC)


def senders_sites(tables: Tables, season: int, touched: set[str]) -> list[str]:
    """The sites whose cooperators deliver by themselves: the first with harvested trials and no planted defect."""
    trials = tables["trials"][tables["trials"]["season"] == season]
    kept = trials.groupby("site_id", sort=False).filter(
        lambda own: (own["outcome"] == "harvested").all() and not set(own["trial_id"]) & touched
    )
    return list(kept["site_id"].unique())[: len(SENDERS)]


def tables_of_site(tables: Tables, season: int, site_id: str) -> tuple[Tables, Tables]:
    """(tables of a season's trials at one site, tables without them), in file order; nobody sends columns they never
    filled.
    """
    trials = tables["trials"]
    own = trials.loc[(trials["season"] == season) & (trials["site_id"] == site_id), "trial_id"]
    parts = {name: tables[name]["trial_id"].isin(own) for name in TRIAL_TABLES}
    rest = {name: frame[~parts[name]] if name in parts else frame for name, frame in tables.items()}
    return {name: tables[name][mask].dropna(axis=1, how="all") for name, mask in parts.items()}, rest


def write_delivery(folder: Path, tables: Tables, sender: Sender) -> None:
    """Writes the sender's files and the headings.yml that speaks for them."""
    folder.mkdir(parents=True, exist_ok=True)
    codes = _own_codes(tables["treatments"]) if sender.numbers_its_treatments else {}
    words = _with_codes(sender.words, codes)
    theirs = {name: _in_their_words(name, frame, sender, words) for name, frame in tables.items()}
    (folder / "headings.yml").write_text(_headings_yml(sender, words), encoding="utf-8")
    if not sender.workbook:
        for name, frame in theirs.items():
            frame.to_csv(folder / f"{sender.names[name]}.csv", index=False, date_format="%Y-%m-%d")
        return
    sheets = theirs | {"plots": _over_units(theirs["plots"], sender.units)}
    write_workbook(folder / sender.workbook, {sender.names[name]: frame for name, frame in sheets.items()})


def _own_codes(treatments: pd.DataFrame) -> dict[str, str]:
    """T1, T2, ... for the treatment codes, in the order they are listed."""
    return {code: f"T{i}" for i, code in enumerate(treatments["treatment_code"].unique(), start=1)}


def _with_codes(words: dict, codes: dict[str, str]) -> dict:
    if not codes:
        return words
    tables = ("treatments", "nitrogen_applications", "plots")
    return words | {name: words.get(name, {}) | {"treatment_code": codes} for name in tables}


def _in_their_words(name: str, frame: pd.DataFrame, sender: Sender, words: dict) -> pd.DataFrame:
    sent = frame.copy()
    for column, pairs in words.get(name, {}).items():
        sent[column] = sent[column].replace(pairs)
    for ours, (converted, factor, digits) in sender.converted.items():
        if ours in sent:
            sent[ours] = (sent[ours] * factor).round(digits)
            sent = sent.rename(columns={ours: converted})
    return sent.rename(columns=sender.headings[name])


def _over_units(frame: pd.DataFrame, units: dict[str, str]) -> pd.DataFrame:
    """The frame with a first row that holds the units, as people set their tables."""
    row = pd.DataFrame([{heading: units.get(heading, "") for heading in frame.columns}], dtype=object)
    return pd.concat([row, frame.astype(object)], ignore_index=True)


def _headings_yml(sender: Sender, words: dict) -> str:
    """What the sender's names mean. A unit from the row beneath belongs to its heading."""

    def full(theirs: str) -> str:
        unit = {"%": "pct", "lb/bu": "lb_bu"}.get(sender.units.get(theirs, ""), sender.units.get(theirs, ""))
        return f"{theirs} {unit}".strip()

    def turned(pairs: dict[str, str]) -> dict[str, str]:
        return {theirs: ours for ours, theirs in pairs.items()}

    meaning = {
        "tables": turned(sender.names),
        "headings": {
            table: {full(theirs): ours for ours, theirs in pairs.items()} for table, pairs in sender.headings.items()
        },
        "words": {
            table: {column: turned(pairs) for column, pairs in columns.items()} for table, columns in words.items()
        },
    }
    return yaml.safe_dump(meaning, sort_keys=False, allow_unicode=True)
