"""A folder of pages for each cooperator: those of their own trials, which name them and nobody else.

It lies in the program's folder beside what is published, under the same rules: written whole, and what is gone is taken
away.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pandas as pd

from pipeline import stopping
from pipeline.display.site_year.material import VIEWS as SITE_YEAR_VIEWS
from pipeline.file_names import page_names
from pipeline.publishing import codes, engines, in_place, pages
from pipeline.publishing.naming import NAMES, named_as_allowed, sender_of
from pipeline.publishing.pages import NEW, Planned, Tell
from pipeline.publishing.scratch import scratch_in

FOLDER = "for_cooperators"  # in the program's folder
FORMATS = ("html", "pdf")
NEEDED = (NAMES, "files", *SITE_YEAR_VIEWS)  # to name whom they may, and for the page
OF_ALL = ("site_year_gains",)  # a result is ranked among all
# A folder of Windows is called none of these; what lists our own files lies in a folder called data.


def publish_for_cooperators(tables: dict[str, pd.DataFrame], *, program_folder: Path, tell: Tell) -> dict[str, Path]:
    """Draws the pages of every cooperator of the last report.

    Args:
        tables: the reports layer, 'reports.gains' -> frame and so on.
        program_folder: the folders go into its FOLDER.
        tell: called with what is being made, steps done, and steps in all.

    Returns: each cooperator's folder.

    Raises:
        UserError: as pages.publish does.
    """
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views["program"] = views["program"].assign(drawn_by=engines.drawn_by())
    cooperators = page_names(
        sorted(views["trials"]["cooperator"].dropna().unique()), taken=(in_place.LIST_OF_FILES.parent.name,)
    )
    folder, failed, made = program_folder / FOLDER, {}, {}
    in_place.mark_as_earlier(folder)
    with scratch_in(folder, what="the pages for cooperators") as scratch:
        (scratch / NEW / in_place.LIST_OF_FILES).parent.mkdir(parents=True)
        for done, (cooperator, name) in enumerate(cooperators.items()):
            tell(f"pages for {cooperator}", done, len(cooperators))
            own = _for_one(views, cooperator, program_folder / codes.FILE)
            drawn, failed_here = pages.make(_planned(own["trials"], cooperator, name), own, scratch, lambda *_: None)
            failed |= failed_here
            made |= {cooperator: folder / name} if drawn else {}
        with stopping.put_off():
            for each in {path.parent for path in in_place.move_into_place(scratch / NEW, folder)}:
                with suppress(OSError):  # it holds something still
                    each.rmdir()
    pages.tell_failed(failed)
    return made


def _for_one(views: dict[str, pd.DataFrame], cooperator: str, codes_file: Path) -> dict[str, pd.DataFrame]:
    """What a cooperator's pages are made of: the frames of their site-years, with nobody else named."""
    is_own = views["trials"]["cooperator"] == cooperator
    trials, others = views["trials"][is_own], views["trials"][~is_own]
    own_senders = set(map(sender_of, trials["file"])) - set(map(sender_of, others["file"]))
    stays = {cooperator, *own_senders, *trials[["place", "site_id", "trial_id"]].stack().dropna()}
    own = {
        name: (
            frame[frame["site_year_id"].isin(trials["site_year_id"].dropna())]
            if "site_year_id" in frame and name not in OF_ALL
            else frame
        )
        for name, frame in views.items()
        if name in NEEDED
    }
    return named_as_allowed(own, codes_file, for_one=stays)


def _planned(trials: pd.DataFrame, cooperator: str, folder: str) -> list[Planned]:
    own = page_names(trials.loc[trials["cooperator"] == cooperator, "site_year_id"].dropna().unique())
    return [
        Planned(
            "site_year.qmd",
            f"{folder}/{name}",
            FORMATS,
            {"site_year_id": site_year_id, "cooperator": cooperator},
        )
        for site_year_id, name in own.items()
    ]
