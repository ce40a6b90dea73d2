"""Rules that were changed after a run had read the yields they are used with: what they were, and until which run.

A day written in program.yml proves nothing by itself. Each run keeps the program.yml it had, so that what was fixed
when can be read there.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

import pandas as pd
import yaml

from pipeline.contract.results import frame_of
from pipeline.contract.vocabulary import NITROGEN_RELEASED, NOT_DECLARED, TESTED

COMPARISONS, PROGRAM, CROP = "comparisons", "", "crop"
RELEASE_TESTS = "release_tests"
RULES = ("rainfall", "fewest_blocks", "nearly_as_well_within", "also_divide_by", "crops", RELEASE_TESTS)
OF_A_CROP = (("crops",), ("rainfall", "windows"))  # below these a key names a crop: no other crop is concerned
NAMED_BY = ("covariate", "product")  # one names a section of a list, of which the order does not count
AS_WRITTEN = ("codes", "factor_")  # keys of an arm
# how a thing is told or planned, and not what is done
WORDS = ("says", "in_short", "basis", "source", "display_unit", "display_digits", "typical", "worth_finding")


def settings_changes(runs: pd.DataFrame, headlines: pd.DataFrame, now: str) -> pd.DataFrame:
    """One row per rule that stood otherwise in a run which had read its yields; the last such run is named.

    Args:
        runs: the runs before this one, as they were stored: run_id, started, deciding_texts.
        headlines: of these runs: run_id, comparison_id, target, n_site_years.
        now: program.yml of this run.

    Returns: rows of estimates.settings_changes; comparison_id is '' for a rule of the whole program.
    """
    present = _rules(now)
    counted = headlines[(headlines["target"] == TESTED) & (headlines["n_site_years"] > 0)]
    found: dict[tuple[str, str], dict] = {}
    for run in runs.itertuples():
        read = set(counted.loc[counted["run_id"] == run.run_id, "comparison_id"])
        before = _rules(json.loads(run.deciding_texts).get("program.yml", ""))
        for (comparison, key), was, is_now in _differing(before, present):
            if read & _concerned(comparison, key, before, present):
                told = {"comparison_id": comparison, "key": key, "before": was, "now": is_now}
                found[(comparison, key)] = told | {"until_run": run.run_id, "until_day": run.started}
    return frame_of(list(found.values()), "settings_changes")


Rules = Mapping[tuple[str, str], str]


def _rules(text: str) -> Rules:
    """(comparison or '', key) -> its text, of all that decides what is estimated; empty for what cannot be read."""
    try:
        read = yaml.load(text, yaml.BaseLoader)
    except yaml.YAMLError:
        return {}
    read = read if isinstance(read, dict) else {}
    comparisons = read.get(COMPARISONS)
    declared = [each for each in comparisons or [] if isinstance(each, dict) and isinstance(each.get("id"), str)]
    found = {(PROGRAM, path): text for name in RULES for path, text in _leaves(read.get(name), (name,))}
    found |= {(each["id"], path): text for each in declared for path, text in _leaves(each, ())}
    return {rule: text.lower() if rule[1] == CROP else text for rule, text in found.items()}  # as it is read


def _leaves(value: object, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Every text below with the keys that lead to it; a section whose keys are numbers is one text, such as N rates.
    An empty list or section states nothing, as if its key were not there.
    """
    name = ": ".join(path)
    if not value:
        return
    if isinstance(value, dict) and all(map(_is_number, value)):
        yield name, ", ".join(f"{key}: {value[key]}" for key in sorted(value, key=float))
    elif isinstance(value, dict):
        for key, below in value.items():
            if key not in WORDS:
                yield from _leaves(below, (*path, key))
    elif isinstance(value, list) and all(map(_name_of, value)):
        for each in value:
            yield from _leaves(each, (*path, _name_of(each)))
    elif isinstance(value, list):
        yield name, ", ".join(map(str, value))
    else:
        yield name, str(value)


def _name_of(section: object) -> str:
    """Empty where it has none."""
    names = [str(section[key]) for key in NAMED_BY if key in section] if isinstance(section, dict) else []
    return next(iter(names), "")


def _differing(before: Rules, now: Rules) -> Iterator[tuple[tuple[str, str], str, str]]:
    """Rules that stand otherwise; a comparison that one of the two does not have is told once, by its name alone."""
    gone, new = _ids(before) - _ids(now), _ids(now) - _ids(before)
    yield from (((each, ""), "declared", NOT_DECLARED) for each in sorted(gone))
    yield from (((each, ""), NOT_DECLARED, "declared") for each in sorted(new))
    for rule in sorted({*before, *now}):
        was, is_now = before.get(rule, NOT_DECLARED), now.get(rule, NOT_DECLARED)
        if rule[0] not in gone | new and not _is_same(rule[1], was, is_now):
            yield rule, was, is_now


def _ids(rules: Rules) -> set[str]:
    return {comparison for comparison, _ in rules if comparison != PROGRAM}


def _concerned(comparison: str, key: str, before: Rules, now: Rules) -> set[str]:
    """Comparisons of the earlier run whose yields a change comes after: its own; of a new one and of a rule of one
    crop, those of its crop; of a test of release, those whose gain N released is declared to explain, then or now.
    """
    if comparison in _ids(before):
        return {comparison}
    if key.startswith(f"{RELEASE_TESTS}: "):
        return _ids(before) & (_explained_by_release(before) | _explained_by_release(now))
    crop = _crop_of(key) if comparison == PROGRAM else now.get((comparison, CROP))
    return {each for each in _ids(before) if crop in (None, before.get((each, CROP)))}


def _explained_by_release(rules: Rules) -> set[str]:
    named = f"explained_by: {NITROGEN_RELEASED}: "
    return {comparison for comparison, key in rules if key.startswith(named)}


def _crop_of(key: str) -> str | None:
    names = key.lower().split(": ")
    of_one = (names[len(of)] for of in OF_A_CROP if tuple(names[: len(of)]) == of and len(names) > len(of))
    return next(of_one, None)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _is_same(key: str, one: str, other: str) -> bool:
    return _meaning(key, one) == _meaning(key, other)


def _meaning(key: str, text: str) -> list[tuple[str, ...]]:
    """The parts of a list or of rates in whatever order. Capitals do not count, and 80.0 is 80, but in what picks
    treatments as it is written.
    """
    if key.rpartition(": ")[2].startswith(AS_WRITTEN):
        return sorted((part,) for part in text.split(", "))
    parts = (part.split(": ") for part in text.lower().split(", "))
    return sorted(tuple(str(float(word)) if _is_number(word) else word for word in part) for part in parts)
