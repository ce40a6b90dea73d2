"""What the published tables of a drawn program say of each other, and the sentences that must follow from them."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pandas as pd

from pipeline import trace as tracing
from tests.drawn_programs.run_drawn import Said
from tests.drawn_programs.words import page_of, plain, shown

ALPHA = 0.05


def faults(said: Said) -> Iterator[str]:
    for check in (
        _intervals,
        _weights,
        _ids,
        _class_sentences,
        _unclassed,
        _where_cells,
        _money_sentences,
        _firmness,
        _provisional,
        _plan,
    ):
        yield from check(said)


def _intervals(said: Said) -> Iterator[str]:
    """An interval holds its average, one field's range reaches beyond it, and other seasons only add doubt."""
    gains = said.views["gains"].dropna(subset=["estimate"])
    for row in gains.to_dict("records"):
        name = f"{row['comparison_id']} {row['target']} {row['level']} {row['method']}"
        if not row["conf_low"] <= row["estimate"] <= row["conf_high"]:
            yield (
                f"an average outside its interval: {name}: {row['estimate']} in {row['conf_low']} to {row['conf_high']}"
            )
        if pd.notna(row["pred_low"]) and not (
            row["pred_low"] <= row["conf_low"] and row["conf_high"] <= row["pred_high"]
        ):
            yield f"one field known better than the average: {name}: {row['pred_low']} to {row['pred_high']}"
    leading = gains[gains["is_headline"].eq(True) & gains["moderator"].eq("all")]
    widths = (
        (leading["conf_high"] - leading["conf_low"])
        .groupby([leading["comparison_id"], leading["target"]])
        .first()
        .unstack()
    )
    if {"seasons tested", "seasons to come"} <= set(widths):
        for comparison_id, row in widths.dropna().iterrows():
            if row["seasons to come"] < row["seasons tested"] * (1 - 2e-3):
                yield f"seasons to come known better than those tested: {comparison_id}: {row.to_dict()}"


def _weights(said: Said) -> Iterator[str]:
    """Weights add up to one, and weights times gains to the average."""
    leading = _leading(said).set_index(["comparison_id", "target"])
    for key, rows in said.views["headline_weights"].groupby(["comparison_id", "target"]):
        row = leading.loc[key]
        found = float((rows["weight"] * rows["gain"]).sum())
        if abs(rows["weight"].sum() - 1) > 1e-6 or abs(found - row["estimate"]) > 0.002 * max(
            1.0, abs(row["estimate"])
        ):
            yield (
                f"weights times gains are not the average: {key}: {found}, average {row['estimate']}, weights"
                f" {rows['weight'].sum()}"
            )


def _leading(said: Said) -> pd.DataFrame:
    gains = said.views["gains"]
    return gains[gains["is_headline"].eq(True) & gains["moderator"].eq("all")]


def _ids(said: Said) -> Iterator[str]:
    every = pd.concat([said.views[kind]["estimate_id"].dropna() for kind in tracing.KINDS])
    if every.duplicated().any():
        yield f"an id leads to two figures: {every[every.duplicated()].iloc[0]}"


def _class_sentences(said: Said) -> Iterator[str]:
    """'The gain differs between ...' stands exactly where two classes may be claimed and the adjusted p is below
    ALPHA.
    """
    words = {
        "drainage group": "drainage groups",
        "rainfall class": "rainfall classes",
        "drainage group x rainfall class": "the cells of drainage and rainfall",
    }
    for crop, lead in _leads(said):
        tests = said.views["interaction_tests"].query(
            "comparison_id == @lead.comparison_id and target == @lead.declared_target and kind == 'declared'"
        )
        page = plain(page_of(said, crop))
        for test in tests[tests["moderator"].isin(list(words))].to_dict("records"):
            classes = said.views["gains"].query(
                "comparison_id == @lead.comparison_id and target == @lead.declared_target and moderator =="
                " @test['moderator'] and is_headline"
            )
            n_claimed = int(((classes["n_site_years"] >= 6) & (classes["n_seasons"] >= 2)).sum())
            differs = n_claimed > 1 and test["p_value_holm"] < ALPHA
            if page and (f"The gain differs between {words[test['moderator']]} (" in page) != differs:
                yield (
                    f"a difference between classes against its test: {crop} {test['moderator']}: p"
                    f" {test['p_value_holm']}, {n_claimed} classes"
                )


def _unclassed(said: Said) -> Iterator[str]:
    """Site-years that are said to lack a class are those that lack it."""
    dots = said.views["site_year_gains"]
    for crop, lead in _leads(said):
        mine = dots[dots["is_pooled"].eq(True) & dots["comparison_id"].eq(lead["comparison_id"])]
        lacking = {"drainage": mine["drainage_group"].isna().sum(), "rainfall": mine["rainfall_class"].isna().sum()}
        for n, what in re.findall(r"(\d+) site-years? without a (drainage|rainfall) class", plain(page_of(said, crop))):
            if int(n) != lacking[what]:
                yield (
                    f"site-years without a class, miscounted: {crop}: says {n} without a {what} class, the table has"
                    f" {lacking}"
                )


def _leads(said: Said) -> Iterator[tuple[str, pd.Series]]:
    for crop, of_crop in said.views["comparisons"].groupby("crop", sort=False):
        yield crop, of_crop.iloc[0]


def _where_cells(said: Said) -> Iterator[str]:
    """Every class that has a figure and enough site-years shows it with its interval and count."""
    for crop, lead in _leads(said):
        page = plain(page_of(said, crop))
        rows = said.views["gains"].query(
            "comparison_id == @lead.comparison_id and target == @lead.declared_target and moderator != 'all' and"
            " is_headline"
        )
        for row in rows.dropna(subset=["estimate"]).query("n_site_years > 2").to_dict("records"):
            digits = int(row["digits"])
            cell = (
                f"{shown(row['estimate'], digits)} ({shown(row['conf_low'], digits)} to"
                f" {shown(row['conf_high'], digits)}), n = {row['n_site_years']}"
            )
            if page and cell not in page:
                yield f"a class is not in its table: {crop} {row['moderator']} {row['level']}: {cell}"


def _money_sentences(said: Said) -> Iterator[str]:
    """'It pays on average' stands where the whole interval is above zero, 'not shown' where it holds zero; dollars are
    whole.
    """
    for crop, _ in _leads(said):
        page = page_of(said, crop)
        rows = said.views["money"].query("crop == @crop").dropna(subset=["net_change"])
        bullet = next((plain(line) for line in page.split("\n") if line.startswith("- **Money.**")), "")
        if rows.empty or not bullet:
            continue
        row = rows.iloc[0]
        wanted = (
            "is not known from"
            if row["df"] <= 2  # so few seasons tell no interval
            else (
                "It pays on average"
                if row["conf_low"] > 0
                else (
                    "It does not pay on average"
                    if row["conf_high"] < 0
                    else "The trials do not show whether it pays on average"
                )
            )
        )
        if wanted not in bullet and "no gain pays" not in bullet:
            yield f"money words against their interval: {crop}: {bullet[:200]}; {row['conf_low']} to {row['conf_high']}"
        if f"${abs(row['net_change']):.0f}" not in bullet and "no gain pays" not in bullet:
            yield f"another net change than its table's: {crop}: {bullet[:200]}; {row['net_change']}"


def _firmness(said: Said) -> Iterator[str]:
    """'Leave out one season, and ... in n of m cases' counts the rows of the table of robustness."""
    for crop, lead in _leads(said):
        rows = (
            said.views["robustness"]
            .query("comparison_id == @lead.comparison_id and is_declared and moderator == 'all'")
            .dropna(subset=["estimate"])
        )
        line = next((plain(line) for line in page_of(said, crop).split("\n") if line.startswith("- **How firm.**")), "")
        for part, n, of in re.findall(r"one (season|place|site-year), (?:and .*? )?in (\d+) of (\d+)", line):
            mine = rows[rows["kind"] == f"one {part} left out"]
            found = (int(mine["changes_conclusion"].eq(True).sum()), len(mine))
            if len(mine) and found != (int(n), int(of)):
                yield f"how firm, against its table: {crop} {part}: says {n} of {of}, table {found}"


def _provisional(said: Said) -> Iterator[str]:
    """The mark of provisional pages stands exactly where a trial is held, or used with its unit in doubt."""
    trials, findings = said.views["trials"], said.views["findings"]
    for crop, _ in _leads(said):
        mine = trials[trials["crop"] == crop]
        doubted = findings["check_name"].isin(["kilograms under pounds", "yield beyond reach"]) & findings[
            "trial_id"
        ].isin(mine["trial_id"])
        page = page_of(said, crop)
        if page and ("provisional: ''" not in page) != bool((mine["status"] == "held").any() or doubted.any()):
            yield f"provisional against its trials: {crop}: {mine['status'].value_counts().to_dict()}"


def _plan(said: Said) -> Iterator[str]:
    """The interval printed now, as the plan says it, is that of the average."""
    told = said.messages.get("plan", "")
    for row in _leading(said).query("is_declared").to_dict("records"):
        outlook = said.views["outlook"].query("comparison_id == @row['comparison_id'] and target == @row['target']")
        if outlook["half_width"].notna().any():
            half = f"the interval printed now: {(row['conf_high'] - row['conf_low']) / 2:.{int(row['digits'])}f}"
            if half not in told:
                yield f"the plan says another interval: {row['comparison_id']}: wanted '{half}'"
