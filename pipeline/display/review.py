"""The reviewer's page, comparison by comparison: question, counts, model, cross-checks, robustness, and what is in doubt.

Rows are rows of reports.* views. Sentences are plain text; the page escapes them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import pandas as pd

from pipeline.display.numbers import between, count, day, listed, number, p_value, seasons, text
from pipeline.display.tables import Markdown, escaped, grey, joined, pipe_table
from pipeline.display.wording import TARGET, TO_COME, capital
from pipeline.estimates.n_response import resampling
from pipeline.simulation.calibration import PUBLISHED

SYMBOLS = {"site-year": ("A", "site-year"), "place": ("P", "place"), "season": ("S", "season"), "trial": ("T", "trial")}
PROPERTY = {"n_source": "N source", "coated_n_fraction": "coated share", "n_rate_kg_ha": "N rate"}
# Beyond this many standard deviations a residual is worth a look; with 130 of them one is expected near 2.7.
FAR = 3.0
FEW_SEASONS = 5


def question(comparison: Mapping, rates: str) -> list[str]:
    """The question and what exactly is estimated, in words."""
    unit = comparison["unit"]
    target = comparison["declared_target"]
    over = (
        f"over the seasons tested ({seasons(comparison['seasons'])}) and places like these"
        if target != TO_COME and text(comparison["seasons"])
        else "over seasons and places like those tested, seasons to come included"
        if target == TO_COME
        else "over the seasons tested and places like these"
    )
    return [
        f"Question: {comparison['says']}: how much more does the first yield{rates}?",
        f"What is estimated: the average true gain in {unit}, first less second, {over}. Declared on {day(comparison['declared'])}, before yields were looked at.",
        f"What else may differ between the two, as declared: {properties(comparison['may_differ']) or 'nothing'}. "
        f"What also differed: {text(comparison['also_differs']) or 'nothing that was recorded'}.",
    ]


def properties(names: object) -> str:
    """Names of treatment columns in words: 'N source, coated share'."""
    return ", ".join(PROPERTY.get(name, name.replace("_", " ")) for name in text(names).split(", "))


def flow_table(flow: Mapping, *, label: str) -> Markdown:
    """Trials from listed to used; each step says how many it lost, and the counts add up."""
    steps = [
        ("Listed", flow["n_listed"], ""),
        ("Not harvested", flow["n_not_harvested"], "lost or not due yet"),
        ("Held", flow["n_held"], "questions about their data are open"),
        ("Without what this comparison needs", flow["n_not_eligible"], "an arm, a rate or blocks are missing"),
        ("Used", flow["n_used"], f"{count(flow['n_site_years'], 'site-year')}"),
    ]
    frame = pd.DataFrame([{"Trials of the crop": name, "Number": number(n), "Note": note} for name, n, note in steps])
    caption = "Listed = not harvested + held + without what is needed + used."
    return pipe_table(frame, caption=caption, label=label, right=("Number",), widths={"Trials of the crop": 34, "Number": 10, "Note": 40})


def model(components: pd.DataFrame, row: Mapping) -> str:
    """The model behind a headline in textbook notation, with its standard deviations."""
    if row["method"] != "mixed model":
        return f"{capital(row['method'])}: {text(row['formula']) or 'no average can be given'}."
    found = dict(zip(components["component"], components["standard_deviation"], strict=True))
    terms = [name for name in SYMBOLS if name in found]
    symbols = " + ".join(SYMBOLS[name][0] for name in terms)
    spread = listed(f"{SYMBOLS[name][0]} ({SYMBOLS[name][1]}) {_sd(found[name], row)}" for name in terms)
    rest = f"one block's gain scatters by {_sd(found['residual'], row)} around that, blocks weighted by the precision of their trial" if "residual" in found else ""
    return (
        f"Gain of a block = \u03bc + {symbols} + e, all but \u03bc drawn from normal distributions with mean 0. "
        f"Standard deviations: {spread}; {rest}. \u03bc is the average, on {number(row['df'], 1)} df ({text(row['df_method'])})."
    )


def _sd(value: float, row: Mapping) -> str:
    return "estimated as zero" if value == 0 else f"{number(value, row['digits'])} {row['unit']}"


def methods_table(gains: pd.DataFrame, *, label: str) -> Markdown:
    """Every method for both targets, with the id that leads here from the reports.

    Args:
        gains: a comparison's rows of reports.gains with moderator 'all'.
    """
    rows = []
    for _, row in gains.sort_values(["target", "is_headline"], ascending=[False, False]).iterrows():
        shown = "none" if pd.isna(row["estimate"]) else number(row["estimate"], row["digits"])
        leads = "leads" + (", declared" if row["is_declared"] else "") if row["is_headline"] else ""
        rows.append({
            "Target": capital(row["target"]), "Method": capital(row["method"]), "Gain": Markdown(f"**{escaped(shown)}**") if leads else shown,
            "95 % interval": "" if pd.isna(row["conf_low"]) else between(row["conf_low"], row["conf_high"], row["digits"]),
            "One field": "" if pd.isna(row["pred_low"]) else between(row["pred_low"], row["pred_high"], row["digits"]),
            "Role": leads, "Id": Markdown(f"[{grey(row['estimate_id'])}]{{#id-{row['estimate_id']}}}"),
        })  # fmt: skip
    first = gains.iloc[0]
    caption = f"Average gain in {first['unit']} by every method. One field: the range in which the true gain of one more field is expected, 19 times in 20."
    widths = {"Target": 16, "Method": 14, "Gain": 8, "95 % interval": 15, "One field": 15, "Role": 16, "Id": 11}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, widths=widths)


def agreement(rows: pd.DataFrame) -> list[str]:
    """Whether the roads to each headline agree, with the third road's figure."""
    said = []
    for _, row in rows.iterrows():
        third = "" if pd.isna(row["third_road"]) else (
            f" The mixed model refitted by other code gives {number(row['third_road'], row['digits'] + 1)} {row['unit']} "
            f"(standard error {number(row['third_road_std_error'], row['digits'] + 1)}; headline's {number(row['std_error'], row['digits'] + 1)})."
        )
        said.append(f"{capital(TARGET[row['target']])}: {row['sentence']}{third}")
    return said


def robustness_table(rows: pd.DataFrame, *, label: str) -> Markdown:
    """How far each kind of change moves the headline, and how often it changes what can be concluded.

    Args:
        rows: one comparison's and target's rows of reports.robustness with moderator 'all'.
    """
    lines = []
    for kind, of_kind in rows[rows["estimate"].notna()].groupby("kind", sort=False):
        changed = of_kind[of_kind["changes_conclusion"].eq(True).fillna(False)]
        digits = of_kind["digits"].iloc[0]
        lines.append({
            "What was changed": capital(kind), "Times": number(len(of_kind)),
            "Average, lowest to highest": between(of_kind["estimate"].min(), of_kind["estimate"].max(), digits),
            "Changes whether zero is inside the interval": "never" if changed.empty else _changed(changed),
        })  # fmt: skip
    caption = f"The headline in {rows['unit'].iloc[0]} with something left out, or by another estimator."
    widths = {"What was changed": 30, "Times": 8, "Average, lowest to highest": 20, "Changes whether zero is inside the interval": 36}
    return pipe_table(pd.DataFrame(lines), caption=caption, label=label, right=("Times",), widths=widths)


def _changed(rows: pd.DataFrame) -> str:
    return f"{count(len(rows), 'time')}: {_names(rows)}"


def _names(rows: pd.DataFrame) -> str:
    """What was left out or asked, the first four by name."""
    names = [text(row.left_out) or (row.method if row.kind == "other estimator" else f"first {count(row.n_seasons, 'season')}") for row in rows.itertuples()]
    return f"{listed(names[:4])}{f' and {len(names) - 4} more' if len(names) > 4 else ''}"


def tests_table(tests: pd.DataFrame, *, label: str) -> Markdown:
    """The interaction tests of one comparison and target, with Holm's adjustment and whether each was declared."""
    rows = [
        {
            "Divided by": capital(row["moderator"]), "Kind": text(row["kind"]),
            "F": "not fitted" if pd.isna(row["f_stat"]) else f"{number(row['f_stat'], 2)} on {number(row['df1'])} and {number(row['df2'], 1)} df",
            "p": "" if pd.isna(row["p_value"]) else p_value(row["p_value"]),
            "p, Holm": "" if pd.isna(row["p_value_holm"]) else p_value(row["p_value_holm"]),
            "Site-years": number(row["n_site_years"]),
        }  # fmt: skip
        for _, row in tests.iterrows()
    ]
    caption = f"Does the gain differ between classes? Holm (1979) adjusts for the {count(int(tests['n_tests'].max()), 'test')} of this comparison and target."
    widths = {"Divided by": 28, "Kind": 14, "F": 24, "p": 12, "p, Holm": 12, "Site-years": 11}
    return pipe_table(pd.DataFrame(rows), caption=caption, label=label, right=("Site-years",), widths=widths)


def doubts(comparison: Mapping, headlines: pd.DataFrame, agreement: pd.DataFrame, robustness: pd.DataFrame, diagnostics: pd.DataFrame,
           site_years: pd.DataFrame, flow: Mapping) -> list[str]:  # fmt: skip
    """What to doubt about a comparison's figures, each doubt computed from its rows; never empty."""
    said = list(agreement.loc[agreement["agrees"].notna() & agreement["agrees"].ne(True).fillna(False), "sentence"])
    for _, row in headlines.iterrows():
        if text(row["warnings"]):
            said.append(f"{capital(TARGET[row['target']])}, the fit warned: {row['warnings']}.")
    if 0 < comparison["n_seasons"] < FEW_SEASONS:
        said.append(f"{capital(count(comparison['n_seasons'], 'season'))} say little about how much seasons differ: the figure for seasons to come rests on few of them.")
    tipping = robustness[robustness["changes_conclusion"].eq(True).fillna(False)]
    for kind, of_kind in tipping.groupby("kind", sort=False):
        said.append(f"{capital(kind)}: {_names(of_kind)} would change whether the interval reaches zero.")
    far = diagnostics[diagnostics["standardized"].abs() > FAR]
    if len(far):
        where = listed(sorted({f"{row.place} {row.season}" for row in far.itertuples()}))
        said.append(f"{count(len(far), 'residual')} beyond {number(FAR)} standard deviations ({where}): look at the field notes.")
    near = site_years[site_years["near_cut"].eq(True).fillna(False)]
    if len(near):
        said.append(f"{count(len(near), 'site-year')} within 0.2 of a rainfall cut point: other cut points would class them differently.")
    if flow["n_held"]:
        said.append(f"{count(flow['n_held'], 'trial')} of the crop held: the figures may change when their questions are settled.")
    if comparison["n_trials_missing_rates"]:
        said.append(f"{count(comparison['n_trials_missing_rates'], 'trial')} without one of the named rates.")
    said.append("Site-years are those that cooperators offered, not a random draw from the region: how far they stand for it is a judgement.")
    return said


def calibration_table(calibration: pd.DataFrame) -> Markdown:
    """How often the published interval caught the truth, by comparison, truth and target.

    Args:
        calibration: rows of reports.calibration.
    """
    rows = [
        {
            "Comparison": row["comparison_id"], "True state": capital(row["truth"]), "Target": row["target"],
            "Caught": f"{number(100 * row['coverage'], 1)} % (simulation error {number(100 * row['coverage_mc_error'], 1)})",
            "Verdict": capital(row["verdict"]),
        }
        for _, row in calibration[calibration["method"] == PUBLISHED].iterrows()
    ]  # fmt: skip
    n = number(calibration["n_programs"].iloc[0])
    caption = f"How often the 95 % interval by these rules caught the true average, in {n} simulated programs laid out as this one, for each true state."
    widths = {"Comparison": 26, "True state": 26, "Target": 14, "Caught": 18, "Verdict": 26}
    return pipe_table(pd.DataFrame(rows), caption=caption, label="calibration", widths=widths)


def versions(program: Mapping) -> Markdown:
    """Everything that could make the same question give another number."""
    packages = json.loads(program["packages"]) | (json.loads(program["r_versions"]) if text(program["r_versions"]) else {})
    rows = [
        ("Code", program["code_commit"]),
        ("requirements.lock, sha256", program["lock_sha256"]),
        ("program.yml, sha256", program["settings_sha256"]),
        ("All delivered files, sha256", program["inputs_sha256"]),
        ("Python", program["python"]),
        ("Random seed of resampling", resampling.RANDOM_SEED),
        ("Packages and R", ", ".join(f"{name} {version}" for name, version in packages.items())),
    ]
    frame = pd.DataFrame(rows, columns=["What", "Which"])
    return pipe_table(frame, caption="What made these numbers.", label="versions", widths={"What": 26, "Which": 74})


def files_table(files: pd.DataFrame) -> Markdown:
    """Every delivered file with its sha256."""
    frame = pd.DataFrame({"File": files["file"], "Bytes": [number(n) for n in files["size_bytes"]], "sha256": [grey(sha) for sha in files["sha256"]]})
    return pipe_table(frame, caption="Delivered files.", label="files", right=("Bytes",), widths={"File": 34, "Bytes": 10, "sha256": 56})


def corrections_table(corrections: pd.DataFrame) -> Markdown:
    """Reviewed corrections, and whether each still applies."""
    frame = pd.DataFrame({
        "Correction": [joined([row["says"], grey(text(row["correction"]))], by=" ") for _, row in corrections.iterrows()],
        "Cause in the field": corrections["cause"], "Who, when": [f"{row['who']}, {day(row['date'])}" for _, row in corrections.iterrows()],
        "Treatment known": ["yes" if known else "no" for known in corrections["treatment_known"]], "State": corrections["state"],
    })  # fmt: skip
    widths = {"Correction": 34, "Cause in the field": 24, "Who, when": 16, "Treatment known": 14, "State": 14}
    return pipe_table(frame, caption="Corrections: each with the old value it expects, and a cause.", label="corrections", widths=widths)


def findings_table(findings: pd.DataFrame) -> Markdown:
    """How often each check spoke, and what followed."""
    counted = findings.groupby(["severity", "check_name"], sort=False).size().reset_index(name="n")
    frame = pd.DataFrame({"Check": counted["check_name"].map(capital), "What follows": counted["severity"], "Rows": [number(n) for n in counted["n"]]})
    return pipe_table(frame, caption="What the checks found; every row stands in findings.csv.", label="findings", right=("Rows",), widths={"Check": 50, "What follows": 24, "Rows": 8})
