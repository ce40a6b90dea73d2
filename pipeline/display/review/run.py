"""The end of the reviewer's page: findings, corrections, versions, seeds and hashes.

Rows are rows of reports.* views.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import pandas as pd

from pipeline.display.words.checks import check_words
from pipeline.display.words.numbers import capital, count, day, number, text
from pipeline.display.words.program import fitted_by
from pipeline.display.words.tables import Markdown, grey, joined, pipe_table
from pipeline.estimates.n_response import resampling


def findings_table(findings: pd.DataFrame) -> Markdown:
    """How often each check spoke, and what followed."""
    counted = findings.groupby(["severity", "check_name"], sort=False).size().reset_index(name="n")
    frame = pd.DataFrame(
        {
            "Check": counted["check_name"].map(check_words).map(capital),
            "What follows": counted["severity"],
            "Rows": [number(n) for n in counted["n"]],
        }
    )
    return pipe_table(
        frame,
        caption="What the checks flagged; every row is in findings.csv.",
        label="findings",
        right=("Rows",),
        widths={"Check": 50, "What follows": 24, "Rows": 8},
    )


def corrections_table(corrections: pd.DataFrame) -> Markdown:
    """Reviewed corrections: what each changes, why, and whether it still applies."""
    frame = pd.DataFrame(
        {
            "Correction": [
                joined(
                    [f"{row['table_name']} where {row['says']}: {row['changes']}", grey(text(row["correction"]))],
                    by=" ",
                )
                for _, row in corrections.iterrows()
            ],
            "Cause in the field": corrections["cause"],
            "Who, when": [f"{row['who']}, {day(row['date'])}" for _, row in corrections.iterrows()],
            "Treatment known": ["yes" if known else "no" for known in corrections["treatment_known"]],
            "State": [
                f"{row['state']}, {number(row['n_changed'])} of {count(row['n_rows'], 'row')}"
                for _, row in corrections.iterrows()
            ],
        }
    )
    widths = {"Correction": 34, "Cause in the field": 24, "Who, when": 16, "Treatment known": 14, "State": 14}
    return pipe_table(
        frame,
        caption="Corrections: each with the old value it expects, and a cause.",
        label="corrections",
        widths=widths,
    )


def versions(program: Mapping) -> Markdown:
    """Everything that could make the same question give another number."""
    packages = json.loads(program["packages"])
    rows = [
        ("Code", program["code_commit"]),
        ("requirements.lock, sha256", program["lock_sha256"]),
        ("program.yml, sha256", program["settings_sha256"]),
        ("All delivered files, sha256", program["inputs_sha256"]),
        ("Python", program["python"]),
        ("Random seed of resampling", resampling.RANDOM_SEED),
        ("Mixed models fitted by", fitted_by(program)),
        ("Pages drawn by", program["drawn_by"]),
        ("Packages", ", ".join(f"{name} {version}" for name, version in packages.items())),
    ]
    frame = pd.DataFrame(rows, columns=["What", "Which"])
    return pipe_table(frame, caption="What made these numbers.", label="versions", widths={"What": 26, "Which": 74})


def files_table(files: pd.DataFrame) -> Markdown:
    """Every delivered file with its sha256; sizes stand in files.csv."""
    frame = pd.DataFrame({"File": files["file"], "sha256": [grey(sha) for sha in files["sha256"]]})
    return pipe_table(frame, caption="Delivered files.", label="files", widths={"File": 30, "sha256": 70})
