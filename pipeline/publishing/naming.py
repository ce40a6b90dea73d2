"""Who may be named in what is published: decided here alone, before a page or a table is made of the reports layer.

Persons are cooperators, those who corrected, and senders; the name of a sender's folder is taken for a person's. Under
`place only` they are named nowhere. Under `nobody` places, sites and trials have codes too, and no position is told.
A cell that holds a name gets a word or a code in its place; in all other texts names are looked for (`names_in_texts`).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from pathlib import Path

import pandas as pd

from pipeline.contract.vocabulary import COOPERATOR, NOBODY
from pipeline.errors import UserError
from pipeline.publishing.codes import DELIVERED_FILE, PLACE, SENDER, SITE, TRIAL, Codes
from pipeline.publishing.names_in_texts import carrying, replacing, surnames, words_of

NAMES = "names"  # the view of what may have to be hidden
NOT_NAMED, WITHHELD, NOT_TOLD = "not named", "[name withheld]", "not told"
PERSONS = ("cooperator", "who")
KEYS = {"place": PLACE, "site_id": SITE, "trial_id": TRIAL}
SITE_YEAR = "site_year_id"  # made of its place and season
AS_DELIVERED = "deciding_texts"  # program.yml and what lies beside the deliveries, word by word
POSITIONS = ("latitude", "longitude")
WHERE = (*KEYS, *POSITIONS, "also_called")  # columns of a delivery that say where a trial is
# Rows stand in the order of names; under codes in the order of these, what comes before a name as it stood.
ORDER = (
    "position", "crop", "rank", "kind", "part", "covariate", "moderator", "level", "target", "trait", "family",
    "season", "n_seasons",
    "place", SITE_YEAR, "trial_id", "left_out",
)  # fmt: skip
BY_CODE = ("place", SITE_YEAR, "trial_id", "left_out")
# Columns that hold this program's own words, which are never taken for a name.
OWN_WORDS = (
    "crop", "target", "moderator", "kind", "status", "fate", "severity", "check_name", "drainage_class",
    "drainage_group", "rainfall_class",
    "spi_class", "texture", "timing", "placement", "n_source", "method", "verdict", "question", "unit", "model", "rule",
    "warnings", "item",
    "table_name", "design", "component", "covariate", "settling", "state", "formula",
)  # fmt: skip


def named_as_allowed(
    views: Mapping[str, pd.DataFrame], codes: Path, *, for_one: Collection[str] = ()
) -> dict[str, pd.DataFrame]:
    """The views with those names alone that program.yml lets stand.

    Args:
        views: frames of the reports schema by name; `names` says what may have to be hidden, `program` what may be
            named.
        codes: the file that keeps which code stands for what; written where a code is new.
        for_one: for a cooperator's own pages, what they may read: their name, places, sites, trials and sender's
            folders. Then no other person is named, whatever program.yml says.

    Returns: the views without `names`.

    Raises:
        UserError: the codes cannot be read or written, or the warehouse was made by a version that kept no names.
    """
    if NAMES not in views or "may_be_named" not in views["program"]:
        raise UserError("The warehouse was made by an older version. Run make report, then this again.")
    shown = {name: frame for name, frame in views.items() if name != NAMES}
    allowed = views["program"]["may_be_named"].iloc[0]
    if allowed == COOPERATOR and not for_one:
        return shown
    kept = Codes(codes)
    hidden = _Hidden(views, kept, is_nobody=allowed == NOBODY, stays=set(for_one))
    kept.keep()
    return hidden.in_all(shown)


class _Hidden:
    """What stands for each name of a program."""

    def __init__(
        self, views: Mapping[str, pd.DataFrame], codes: Codes, *, is_nobody: bool, stays: Collection[str]
    ) -> None:
        self._codes, self._is_nobody, self._stays = codes, is_nobody, stays
        names, own = views[NAMES], _own_words(views)
        is_person = names["kind"] == "person"
        files = {*views["files"]["file"], *views["findings"]["file"].dropna()}
        senders = codes.of(SENDER, {sender for sender in map(sender_of, files) if sender and sender not in stays})
        persons = {*names.loc[is_person, "name"], *senders} - set(stays)
        persons |= set().union(*map(surnames, persons))
        self._keys = self._coded_keys(views, names[~is_person], persons, own)
        said = {each: self._keys["place"].get(of) for each, of in zip(names["name"], names["stands_for"])}
        said = {each: code for each, code in said.items() if code}
        said |= {each: code for coded in reversed(self._keys.values()) for each, code in coded.items()}
        said |= {each: code.capitalize().replace("-", " ") for each, code in self._keys[SITE_YEAR].items()}
        said |= dict.fromkeys(persons, WITHHELD)
        self._in_paths = _in_paths(senders, self._coded_files(files, said, own))
        # a name that stays is whole in texts, though a part of it is another's: cooperators share surnames
        self._in_texts = replacing(said | {each: each for each in stays if each not in said}, own)

    def in_all(self, views: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
        named = {name: self._in_frame(frame) for name, frame in views.items()}
        if self._is_nobody:
            findings, cells, corrections = (named.get(name) for name in ("findings", "corrected_cells", "corrections"))
            named["findings"] = _untold(findings, findings["column_name"].isin(WHERE), ("found", "expected", "mend"))
            if cells is not None:
                named["corrected_cells"] = _untold(cells, cells["heading"].isin(POSITIONS), ("old", "new"))
            if corrections is not None:
                is_where = (corrections["says"] + corrections["changes"]).str.contains("|".join(POSITIONS))
                named["corrections"] = _untold(corrections, is_where, ("says", "changes"))
        return named

    def _in_frame(self, frame: pd.DataFrame) -> pd.DataFrame:
        if self._is_nobody and set(POSITIONS) & set(frame):
            frame = frame[:0]
        named = frame.assign(**{name: self._in_column(name, column) for name, column in frame.items()})
        by = [column for column in ORDER if column in named]
        if not self._is_nobody or not set(by) & set(BY_CODE) or "severity" in named:
            return named
        places = {each: named[each] if each in BY_CODE else pd.factorize(named[each])[0] for each in by}
        order = pd.DataFrame(places, index=named.index).reset_index(drop=True).sort_values(by, kind="stable").index
        return named.iloc[order].reset_index(drop=True)

    def _in_column(self, name: str, column: pd.Series) -> pd.Series:
        if column.dtype != object:
            return column
        if name in PERSONS:
            return column.mask(column.notna() & ~column.isin(self._stays), NOT_NAMED)
        if name == AS_DELIVERED:
            return column.mask(column.notna(), "{}")
        known = self._keys.get(name)
        texts = {text for text in column if isinstance(text, str)}
        said = known if known is not None else {text: self._in_texts(self._in_paths(text)) for text in texts}
        return column.map(lambda value: said.get(value, value) if isinstance(value, str) else value)

    def _coded_keys(
        self, views: Mapping[str, pd.DataFrame], told: pd.DataFrame, persons: Collection[str], own: Collection[str]
    ) -> dict[str, dict[str, str]]:
        """By column, the code of each value that may not stand: of all under `nobody`, else of those that carry a
        person's name.
        """
        carries = carrying(persons, own)
        coded = {}
        for column, kind in KEYS.items():
            met = {key for frame in views.values() if column in frame for key in frame[column].dropna()}
            met |= set(told.loc[told["kind"] == kind, "stands_for"].dropna())
            coded[column] = self._codes.of(
                kind, (key for key in met - set(self._stays) if self._is_nobody or carries(key))
            )
        pairs = pd.concat([views[name][[SITE_YEAR, "place", "season"]] for name in ("trials", "site_years")]).dropna()
        coded[SITE_YEAR] = {
            row.site_year_id: f"{'-'.join(words_of(coded['place'][row.place])).lower()}-{row.season}"
            for row in pairs.itertuples()
            if row.place in coded["place"]
        }
        return coded

    def _coded_files(self, files: Collection[str], said: Collection[str], own: Collection[str]) -> dict[str, str]:
        """The code of each file whose name carries one of a person or place; by its name without the last ending."""
        carries = carrying(said, own)
        stems = {file.rpartition("/")[2].rpartition(".")[0] for file in files}
        return self._codes.of(DELIVERED_FILE, (stem for stem in stems if carries(stem)))


def _untold(frame: pd.DataFrame, is_where: pd.Series, columns: Collection[str]) -> pd.DataFrame:
    """The frame without what these columns say in the rows that are about where a trial is."""
    return frame.assign(**{column: frame[column].mask(is_where.astype(bool), NOT_TOLD) for column in columns})


def sender_of(file: str) -> str:
    """The sender's folder of a delivered file, below the season's; empty where the file lies in the season's own."""
    return "/".join(file.split("/")[2:-1])


def _in_paths(senders: Mapping[str, str], stems: Mapping[str, str]):
    """'seasons/2094/sender-01/file-02.xlsx' for what lies in a sender's folder, wherever a text names it."""
    folders, names = (
        "|".join(map(re.escape, sorted(known, key=len, reverse=True))) or "(?!)" for known in (senders, stems)
    )
    pattern = re.compile(
        rf"(?:(?<=seasons/\d\d\d\d/)(?:{folders})(?![\w.-])|(?<![\w/.-])(?:{folders})(?=/))|(?<![\w.-])(?P<stem>{names})(?=\.\w)"
    )
    return lambda text: pattern.sub(lambda m: (stems if m["stem"] else senders)[m[0]], text)


def _own_words(views: Mapping[str, pd.DataFrame]) -> set[str]:
    cells = (cell for frame in views.values() for name in OWN_WORDS if name in frame for cell in frame[name].unique())
    return {word for cell in cells if isinstance(cell, str) for word in words_of(cell)}
