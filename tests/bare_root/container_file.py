"""Reads .setup/Containerfile as far as it goes, so that its steps can be run where no container engine is."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

WORDS = ("ARG", "FROM", "RUN", "COPY", "WORKDIR", "USER", "ENV", "ENTRYPOINT", "CMD")


@dataclass(frozen=True)
class Step:
    """One instruction: its word, and its text with line ends joined."""

    word: str
    text: str


def read_steps(path: Path) -> list[Step]:
    """The instructions in order. Raises ValueError for a word that is not known here."""
    text = re.sub(r"^\s*#.*\n", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    lines = [line.strip() for line in text.replace("\\\n", " ").splitlines() if line.strip()]
    steps = [Step(*line.split(maxsplit=1)) for line in lines]
    strange = [step.word for step in steps if step.word not in WORDS]
    if strange:
        raise ValueError(f"{path.name}: unknown instructions {strange}")
    return steps


def faults(steps: list[Step]) -> list[str]:
    """What is wrong with it as an image for an office: no base, root at the end, caches left, fetched over the network
    unseen.
    """
    words = [step.word for step in steps]
    found = []
    if "FROM" not in words:
        found.append("no FROM")
    users = [step.text for step in steps if step.word == "USER"]
    if not users or users[-1] in ("root", "0"):
        found.append("runs as root")
    for step in steps:
        if step.word != "RUN":
            continue
        if "apt-get install" in step.text:
            wanted = ("apt-get update", "--no-install-recommends", "rm -rf /var/lib/apt/lists/*", " -y ")
            found += [f"apt-get install without {part.strip()}" for part in wanted if part not in step.text]
        if re.search(r"\bsudo\b|\bcurl\b|\bwget\b|\bADD\b", step.text):
            found.append(f"fetches or rises by itself: {step.text}")
        if "make setup" in step.text and "PIP_NO_CACHE_DIR=1" not in step.text:
            found.append("leaves pip's cache")
    if words[-1] not in ("CMD", "ENTRYPOINT"):
        found.append("does not say what it runs")
    return found


def installed_by_apt(steps: list[Step]) -> set[str]:
    """Packages that its RUN lines ask apt for."""
    found = set()
    for step in steps:
        for part in step.text.split("&&") if step.word == "RUN" else ():
            words = shlex.split(part)
            if "install" in words and "apt-get" in words:
                found |= {word for word in words[words.index("install") + 1 :] if not word.startswith("-")}
    return found
