"""A site-year's page of an earlier season stands as it was made, until data of a season that it speaks for change.

A later season moves the program's average and, a little, every error: each page would be another, though nothing of its
own changed. So a page says up to which season its averages go, and is made anew where it would be another page if that
season were the last. A correction of that season or one before it is such a case, and so is every change of
program.yml, of what draws the pages, or of the site-year's own rows. Even then a page whose whole material is as it
was, as where another crop was corrected, is the same page: it is taken and not made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from pipeline.display.site_year.material import OWN, material
from pipeline.display.site_year.results import findings_here
from pipeline.fingerprint import fingerprint, fingerprints_by
from pipeline.kept import kept
from pipeline.publishing.page import Drawn, Page

SITE_YEAR = "site_year_id"
SETTINGS = ("settings_sha256", "drawn_by")  # of reports.program
GAINS = "site_year_gains"
# what is worked out with the other trials of a season beside the site-year's own: `data_sha256` decides it
OF_ALL_TRIALS = (GAINS, "trial_curves")
USED = "used.txt"


class StandingPages:
    """The pages of one run that need not be made. views: as pages.views_of has them."""

    def __init__(self, views: Mapping[str, pd.DataFrame]) -> None:
        states, pages, program = views["season_inputs"], views["pages"], views["program"].iloc[0]
        self._states = dict(sorted(zip(states["season"], states["data_sha256"], strict=True)))
        leads_to = pages.loc[pages["kind"] == "season", ["crop", "path"]]
        self._shared = (*program[list(SETTINGS)], leads_to.to_dict("records"))
        self._drawn_by = program["drawn_by"]
        self._views, self._own = views, {name: views[name].groupby(SITE_YEAR) for name in OWN}
        self._told = {name: fingerprints_by(views[name], SITE_YEAR) for name in OWN if name != GAINS}
        self._hashes: dict[tuple[str, str], str] = {}

    def taken(self, site_year_id: str, page: Page, formats: Sequence[str]) -> list[Drawn]:
        """The files of the page, put in place as an earlier run made them; none where it is to be made anew.

        Of several seasons that it may speak for, the latest counts.
        """
        files = [page.folder / f"{page.name}.{format}" for format in formats]
        page.folder.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory() as scratch:
            used = Path(scratch) / USED
            stands = any(
                kept().taken(self._keys(site_year_id, season, [*files, used]), [*files, used])
                for season in reversed(self._states)
            )
            if not stands and not kept().taken(self._same(site_year_id, [*files, used]), [*files, used]):
                return []
            made_of = used.read_text(encoding="utf-8").splitlines()
        kept().note_used(made_of)
        drawn = [Drawn(page, format, file, is_standing=stands) for format, file in zip(formats, files)]
        if not stands:
            self.keep(site_year_id, drawn, made_of)
        return drawn

    def keep(self, site_year_id: str, drawn: Sequence[Drawn], used: Iterable[str]) -> None:
        """Keeps a page that was just made, which speaks for the seasons up to the last. used: names of the kept files
        that it is made of; they are not forgotten while it stands.
        """
        with TemporaryDirectory() as scratch:
            files = [*(file.path for file in drawn), Path(scratch) / USED]
            files[-1].write_text("\n".join(sorted(used)), encoding="utf-8")
            if self._states:
                kept().keep(self._keys(site_year_id, max(self._states), files), files)
            kept().keep(self._same(site_year_id, files), files)

    def _keys(self, site_year_id: str, season: int, files: Sequence[Path]) -> list[str]:
        """By all that decides what the page would be if this season were the last."""
        own = self._hash("own", site_year_id, self._own_rows)
        return kept().keys(lambda: (own, season, self._states[season], self._shared), files)

    def _same(self, site_year_id: str, files: Sequence[Path]) -> list[str]:
        """By all that the page is made of; asked for only where a page does not stand."""
        whole = self._hash("whole", site_year_id, self._whole)
        return kept().keys(lambda: (whole, self._drawn_by), files)

    def _hash(self, what: str, site_year_id: str, of: Callable[[str], dict]) -> str:
        """Of what a function gives of a site-year, worked out once."""
        if (what, site_year_id) not in self._hashes:
            self._hashes[what, site_year_id] = fingerprint(of(site_year_id))
        return self._hashes[what, site_year_id]

    def _own_rows(self, site_year_id: str) -> dict[str, pd.DataFrame]:
        """The rows that are the site-year's own and that no other trial moves."""
        findings = findings_here(self._views["findings"], self._rows("trials", site_year_id))
        own = {name: of.get(site_year_id) for name, of in self._told.items() if name not in OF_ALL_TRIALS}
        return own | {"findings": _numbered(findings)}

    def _whole(self, site_year_id: str) -> dict:
        """All that its page is made of."""
        of = material(self._views, {name: self._rows(name, site_year_id) for name in OWN}, site_year_id)
        told = {name: of.get(site_year_id) for name, of in self._told.items()} | {GAINS: _numbered(of.here[GAINS])}
        return vars(of) | {"here": told, "findings": _numbered(of.findings)}

    def _rows(self, name: str, site_year_id: str) -> pd.DataFrame:
        rows = self._own[name]
        return rows.get_group(site_year_id) if site_year_id in rows.groups else rows.obj.iloc[:0]


def _numbered(rows: pd.DataFrame) -> pd.DataFrame | None:
    """Numbered anew; None where there is no row, as the types of the columns are then those of other site-years."""
    return rows.reset_index(drop=True) if len(rows) else None
