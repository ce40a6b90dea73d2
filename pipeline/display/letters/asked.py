"""Which findings a sender is asked about: what they can mend, and what no unread file may explain."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.contract.checks import ANALYST, OF_ANY_FOLDER, Check
from pipeline.display.words.trials import FILE_NOT_READ


def may_follow(findings: pd.DataFrame, files: pd.DataFrame, checks: Iterable[Check]) -> pd.Series:
    """Whether a finding may be there only because a file is not read: what it misses may stand in that file.

    Args:
        findings: rows of reports.findings.
        files: every delivered file: file, is_held.
        checks: of which some say where the unread file may be.
    """
    reach = {check.name: check.may_follow_from for check in checks if check.may_follow_from}
    unread = {_folder(file) for file in files.loc[files["is_held"], "file"]}
    told = [
        bool(unread) and (reach.get(check) == OF_ANY_FOLDER or check in reach and _is_beside(_folder(file), unread))
        for check, file in zip(findings["check_name"], findings["file"], strict=True)
    ]
    return pd.Series(told, index=findings.index, dtype=bool)


def asked_of_senders(findings: pd.DataFrame, files: pd.DataFrame, checks: Iterable[Check]) -> pd.DataFrame:
    """The findings that senders can mend.

    Args:
        findings: rows of reports.findings.
        files: every delivered file: file, is_held, only_sender_mends.
        checks: all that may have found something and are written by hand.
    """
    checks = list(checks)
    is_for_analyst = findings["check_name"].isin({check.name for check in checks if check.asks == ANALYST})
    to_be_sent_again = set(files.loc[files["only_sender_mends"], "file"])
    is_sent_again = (findings["check_name"] == FILE_NOT_READ) & findings["file"].isin(to_be_sent_again)
    return findings[(~is_for_analyst | is_sent_again) & ~may_follow(findings, files, checks)]


def _folder(file: str) -> str:
    return file.rsplit("/", 1)[0] + "/"


def _is_beside(folder: str, others: set[str]) -> bool:
    """Whether one of the others is this folder, lies in it, or has it in itself."""
    return any(folder.startswith(other) or other.startswith(folder) for other in others)
