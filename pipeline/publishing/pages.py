"""Which pages there are, and how they come into the published folder.

Everything is woven, drawn and written in a scratch folder beside the published pages and moved into place
at the end, file by file: a run that is killed leaves old pages or new ones, never a part of one.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import yaml

from pipeline import folders, stopping
from pipeline.display.words.links import HANDOUT
from pipeline.display.words.tables import paragraph
from pipeline.display.words.talks import SLIDES
from pipeline.errors import UserError, one_of
from pipeline.file_names import page_names
from pipeline.kept import kept as kept_now
from pipeline.kept import kept_in
from pipeline.publishing import at_once, codes, engines
from pipeline.publishing.dictionary import dictionary_tables
from pipeline.publishing.draw import draw, kept_of
from pipeline.publishing.editions import FOLDER as EDITIONS
from pipeline.publishing.editions import editions_with, keep_edition, withdraw_editions
from pipeline.publishing.exports import write_exports
from pipeline.publishing.in_place import mark_as_earlier, move_into_place
from pipeline.publishing.naming import named_as_allowed
from pipeline.publishing.page import Drawn, Page, PageNotMade
from pipeline.publishing.published_checks import published_checks
from pipeline.publishing.scratch import scratch_in
from pipeline.publishing.standing_pages import SITE_YEAR, StandingPages

FIGURES = "figures"  # beside a woven page: pictures that are published by themselves
NOT_MADE = "This page could not be made"
WHY_NOT_MADE = "The other pages are of this run. What stopped this one:"
SOME_NOT_MADE = "The other pages are published. These could not be made, and a page in their place says so:"
# pages that every program has
SHARED = {"review": ("html", "pdf"), "methods": ("html", "pdf"), "data_dictionary": ("html",), "index": ("html",)}
# how long a page takes beside one of a site-year, as measured with the demo; a review for each of its comparisons
WORK = {"handout.qmd": 1.3, "season.qmd": 2.0, "slides.qmd": 1.5, "review.qmd": 2.5,
        "data_dictionary.qmd": 0.3, "index.qmd": 0.4}  # fmt: skip
SHARE_WRITING = 0.75  # of that, before it is drawn
FOLDERS = (FIGURES, EDITIONS, "data", "site-years")  # beside them
NEW = "new"  # below the scratch folder: what is to be published

Tell = Callable[[str, float, float], None]


@dataclass(frozen=True)
class Planned:
    """One page to make: its source, its parameters, and where it goes below the published folder."""

    source: str
    path: str
    formats: tuple[str, ...]
    parameters: dict


@dataclass(frozen=True)
class Published:
    """One file of a page, in place. is_standing: as an earlier run made it (standing_pages says when)."""

    path: Path
    format: str
    is_standing: bool = False


def publish(
    tables: dict[str, pd.DataFrame],
    *,
    folder: Path,
    program_name: str,
    tell: Tell | None = None,
    draw: Callable[..., list[Drawn]] = draw,
    kept: Path | None = None,
    is_fresh: bool = False,
) -> list[Published]:
    """Weaves and draws every page of a program, writes the tables beside them, and keeps an edition where something
    changed.

    Args:
        tables: the reports layer, 'reports.gains' -> frame and so on.
        folder: where pages go: index.html, <crop>.html, review.html, site-years/<place-season>.html, figures/, data/,
            editions/.
        program_name: printed in the message when the folder cannot be written.
        tell: called with what is being made, the work done, and the work in all.
        draw: what draws the pages once they are woven, as draw.draw does.
        kept: the folder of what the last run drew, so that what is the same is not drawn again; None keeps nothing.
        is_fresh: everything is drawn all the same.

    Raises:
        UserError: the folder cannot be written, and what was published before stays; or a page could not be made: the
            others are published, and in its place stands a page that says so.
    """
    views = views_of(tables, folder)
    planned = plan_pages(views["pages"])
    mark_as_earlier(folder)
    with scratch_in(folder, what=f"the pages of {program_name}") as scratch, kept_in(kept, is_fresh=is_fresh) as files:
        drawn, failed = make(planned, views, scratch, tell or (lambda what, done, of: None), draw)
        new = scratch / NEW
        for figures in scratch.glob(f"woven/*/{FIGURES}"):
            shutil.copytree(figures, new / FIGURES, dirs_exist_ok=True)
        write_exports(views, new / "data")
        keep_edition(views["editions"], views["gains"], sorted(new.glob("*.pdf")), new)
        with stopping.put_off():
            move_into_place(new, folder)
            withdraw_editions(folder, views["program"]["may_be_named"].iloc[0])
        if not failed:
            files.forget_unused()
    tell_failed(failed)
    return [Published(folder / file.path.relative_to(new), file.format, file.is_standing) for file in drawn]


def tell_failed(failed: dict[str, str]) -> None:
    """UserError with every page that could not be made."""
    if failed:
        raise UserError("\n".join([SOME_NOT_MADE, *(f"{path}: {why}" for path, why in failed.items())]))


def views_of(tables: dict[str, pd.DataFrame], published: Path) -> dict[str, pd.DataFrame]:
    """All that pages are made from: the reports layer by name with those named who may be, what draws the pages, and
    the lists of pages and editions.

    published: lies in the program's folder, which keeps the codes.
    """
    views = {name.removeprefix("reports."): frame for name, frame in tables.items()}
    views = named_as_allowed(views, published.parent / codes.FILE)
    views["program"] = views["program"].assign(drawn_by=engines.drawn_by())
    views |= dictionary_tables(views["program"]["display_units"].iloc[0]) | published_checks()
    views["pages"] = page_list(views)
    views["editions"] = editions_with(views["program"].iloc[0], published)
    return views


def preview(name: str, tables: dict[str, pd.DataFrame], *, published: Path, folder: Path) -> list[Path]:
    """Weaves and draws one page into `folder`, as publish would; what is published stays as it is.

    Args:
        name: of the page's files, such as corn, review or a site-year.

    Returns: the files, one a format.

    Raises:
        UserError: there is no such page, it cannot be made, or the folder cannot be written.
    """
    views = views_of(tables, published)
    planned = {plan.path.rpartition("/")[2]: plan for plan in plan_pages(views["pages"])}
    plan = planned.get(name.rpartition("/")[2])
    if plan is None:
        raise UserError(f'There is no page "{name}": {one_of(list(planned), name)}')
    with scratch_in(folder, what="a preview") as scratch:
        drawn, failed = make([plan], views, scratch, lambda what, done, of: None)
        if failed:
            raise UserError(failed[plan.path])
        targets = [folder / file.path.relative_to(scratch / NEW) for file in drawn]
        for file, target in zip(drawn, targets):
            target.parent.mkdir(exist_ok=True)
            os.replace(file.path, target)
    return targets


def page_list(views: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """One row per season page (by crop) and site-year page, with its path without suffix."""
    crops = views["comparisons"]["crop"].drop_duplicates()
    season_pages = pd.DataFrame({"kind": "season", "crop": crops})
    season_pages["path"] = crops.map(page_names(crops, taken=[*SHARED, *FOLDERS], ends=(HANDOUT, SLIDES))).to_list()
    placed = views["trials"].dropna(subset=["site_year_id"]).drop_duplicates("site_year_id")
    site_years = placed[["site_year_id", "place", "season"]].assign(kind="site-year")
    names = page_names(site_years["site_year_id"])
    site_years["path"] = [f"site-years/{names[site_year_id]}" for site_year_id in site_years["site_year_id"]]
    pages = pd.concat([season_pages, site_years.sort_values(["season", "place"])], ignore_index=True)
    return pages.astype({"season": "Int64"})


def plan_pages(pages: pd.DataFrame) -> list[Planned]:
    """Every page; the many short ones last, so that no core waits at the end for a long one."""
    planned, short = [], []
    for page in pages.itertuples():
        if page.kind == "season":
            planned += [
                Planned("handout.qmd", f"{page.path}{HANDOUT}", ("html", "pdf", "docx"), {"crop": page.crop}),
                Planned("season.qmd", page.path, ("html", "pdf", "docx"), {"crop": page.crop}),
                Planned("slides.qmd", f"{page.path}{SLIDES}", ("pptx",), {"crop": page.crop}),
            ]
        else:
            short.append(Planned("site_year.qmd", page.path, ("html", "pdf"), {SITE_YEAR: page.site_year_id}))
    shared = [Planned(f"{name}.qmd", name, formats, {}) for name, formats in SHARED.items()]
    return [*planned, *shared, *short]


def make(
    planned: list[Planned],
    views: dict[str, pd.DataFrame],
    scratch: Path,
    tell: Tell,
    draw: Callable[..., list[Drawn]] = draw,
) -> tuple[list[Drawn], dict[str, str]]:
    """Weaves and draws all pages below `scratch`/NEW that do not stand as they were made before. Returns the files,
    and by path why a page could not be made.
    """
    groups = list(dict.fromkeys(plan.formats for plan in planned))
    plans = {_page_of(plan, scratch): plan for plan in sorted(planned, key=lambda plan: groups.index(plan.formats))}
    standing = StandingPages(views) if kept_now().keeps else None
    made = _standing(plans, standing) if standing else []
    work = {page: _work(plan, views) for page, plan in plans.items()}
    in_all, done = sum(work.values()), []  # a page is written and then drawn, on several threads
    failed: dict[Page, str] = {}
    woven = at_once.woven([_weaving(plan, page) for page, plan in plans.items()], views, scratch)
    in_turn = zip(plans, woven, strict=True)
    written: dict[Page, set[str]] = {}

    def write(page: Page) -> None:
        tell(f"writing {plans[page].path}", min(sum(done), in_all), in_all)
        while page not in written:
            next_one, came_of_it = next(in_turn)
            written[next_one] = came_of_it.used
            if came_of_it.why_not:
                _stand_in(next_one, failed, came_of_it.why_not)
        done.append(SHARE_WRITING * work[page])

    def drawn_one(page: Page) -> None:
        done.append((1 - SHARE_WRITING) * work[page])
        tell(f"drawing {page.name}", min(sum(done), in_all), in_all)

    with closing(woven):
        for formats in groups:
            group = [page for page, plan in plans.items() if plan.formats == formats]
            drawn = _drawn(group, formats, draw, write, drawn_one, failed)
            made += drawn
            for page in (page for page in group if standing and _may_stand(plans[page]) and page not in failed):
                files = [file for file in drawn if file.page is page]
                used = {*written[page], *kept_of(page, formats)}
                standing.keep(plans[page].parameters[SITE_YEAR], files, used)
    return made, {plans[page].path: said for page, said in failed.items()}


def _may_stand(plan: Planned) -> bool:
    """Whether the plan is a site-year's published page; one for a cooperator has a parameter more."""
    return plan.parameters.keys() == {SITE_YEAR}


def _standing(plans: dict[Page, Planned], standing: StandingPages) -> list[Drawn]:
    """Puts in place the pages that stand as an earlier run made them, and takes them out of the plans."""
    found: list[Drawn] = []
    for page, plan in list(plans.items()):
        files = standing.taken(plan.parameters[SITE_YEAR], page, plan.formats) if _may_stand(plan) else []
        if files:
            found += files
            del plans[page]
    return found


def _drawn(group, formats, draw, write, progress, failed: dict[Page, str]) -> list[Drawn]:
    """Draws a group; a page that cannot be drawn gives way to one that says so, and the group is drawn again."""
    while True:
        try:
            return draw(group, formats=formats, write=write, progress=progress)
        except PageNotMade as problem:
            page = next(page for page in group if page.markdown.resolve() == problem.markdown.resolve())
            if page in failed:
                raise
            _stand_in(page, failed, str(problem))


def _work(plan: Planned, views: dict[str, pd.DataFrame]) -> float:
    return WORK.get(plan.source, 1.0) * (len(views["comparisons"]) if plan.source == "review.qmd" else 1)


def _weaving(plan: Planned, page: Page) -> at_once.Weaving:
    return at_once.Weaving(folders.REPORTS / plan.source, plan.parameters, page.markdown.parent)


def _stand_in(page: Page, failed: dict[Page, str], why: str) -> None:
    """A page in the place of one that cannot be made, so that none of an earlier run stays there."""
    failed[page] = why
    header = yaml.safe_dump({"title": NOT_MADE, "lang": "en-US"}, sort_keys=False)
    page.markdown.parent.mkdir(parents=True, exist_ok=True)
    page.markdown.write_text(f"---\n{header}---\n\n{paragraph([WHY_NOT_MADE, why])}\n", encoding="utf-8")


def _page_of(plan: Planned, scratch: Path) -> Page:
    target = scratch / NEW / plan.path
    return Page(scratch / "woven" / plan.path / "page.md", target.parent, target.name)
