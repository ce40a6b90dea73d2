"""What is asserted of a drawn program's pages and messages: they say what the tables beside them hold, and nothing
more.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pandas as pd

from tests.drawn_programs import lint, tables, walked, widths
from tests.drawn_programs.named import names
from tests.drawn_programs.run_drawn import Said
from tests.drawn_programs.settings_of import named_rates
from tests.drawn_programs.words import page_of, plain, shown
from tests.fits_alike import fits_apart

NO_VERDICT, FEW, GAIN, LOSS, COULD_BE_ZERO = "no average", "too few to claim", "a gain", "a loss", "could be zero"


def faults(said: Said) -> list[str]:
    """Every fault of a program's run, each as 'kind: where and what'."""
    found = [*said.failures, *fits_apart(said.fits)]
    for name, text in said.pages.items():
        found += lint.faults(f"page {name if '-20' not in name else 'site-year'}", text)
    for name, text in said.messages.items():
        if not name.startswith("page "):
            found += lint.faults(f"said by {name.split(' ')[0]}", text)
    if said.views:
        for check in (
            _counts,
            _headline_sentences,
            _comparison_rows,
            _fallbacks,
            _claims,
            _as_good,
            _money,
            _names_its_comparison,
            _site_years,
            names,
        ):
            found += check(said)
        found += tables.faults(said)
        found += widths.faults(said.views)
        found += walked.faults(said.views, named_rates(said.drawn.seed, said.drawn.chosen))
    return found


def _counts(said: Said) -> Iterator[str]:
    """Delivered = used + set aside + held + superseded, and listed = used + the rest, in every table that counts."""
    for name in ("row_counts", "trial_counts"):
        counts = said.views[name]
        parts = counts[["used", "set_aside", "held", "superseded"]].sum(axis=1)
        if (parts != counts["delivered"]).any():
            yield f"counts do not add up: {name}: {counts[parts != counts['delivered']].iloc[0].to_dict()}"
    flow = said.views["flow"]
    parts = flow[["n_held", "n_planned", "n_not_harvested", "n_not_eligible", "n_used"]].sum(axis=1)
    if (parts != flow["n_listed"]).any():
        yield f"counts do not add up: flow: {flow.iloc[0].to_dict()}"
    for row in flow.itertuples():
        left_out = (said.views["left_out"]["comparison_id"] == row.comparison_id).sum()
        if row.n_listed != row.n_used + row.n_planned + left_out:
            yield (
                f"counts do not add up: left out: {row.comparison_id} lists {row.n_listed}, uses {row.n_used}, leaves"
                f" out {left_out}"
            )
    dots = said.views["site_year_gains"]
    dots = dots[dots["is_pooled"].eq(True)]
    for row in _headlines(said).itertuples():
        mine = dots[dots["comparison_id"] == row.comparison_id]
        if row.method != "two-stage" and (row.n_site_years, row.n_seasons) != (
            mine["site_year_id"].nunique(),
            mine["season"].nunique(),
        ):
            yield (
                f"counts do not add up: headline: {row.comparison_id} {row.target}: {row.n_site_years} in"
                f" {row.n_seasons}, its table has {len(mine)}"
            )


def _headlines(said: Said) -> pd.DataFrame:
    gains = said.views["gains"]
    return gains[gains["is_headline"].eq(True) & gains["moderator"].eq("all")]


def verdict(row) -> str:
    """What an interval allows to be said, worked out here from the printed limits alone."""
    if pd.isna(row["estimate"]):
        return NO_VERDICT
    if row["n_site_years"] < 6 or row["n_seasons"] < 2:
        return FEW
    return GAIN if row["conf_low"] > 0 else LOSS if row["conf_high"] < 0 else COULD_BE_ZERO


def _home_sentence(said: Said, row: dict, found: str, wanted: list[str]) -> Iterator[str]:
    """On the home page the figure's caption has the numbers, and the section of the crop what they allow to be said."""
    if "index" not in said.pages or found == NO_VERDICT:
        return
    sections = re.split(r"^### ", said.pages["index"], flags=re.M)
    page = next((plain(part) for part in sections if part.lower().startswith(row["crop"])), "")
    few = f"too few {'seasons' if row['n_site_years'] >= 6 else 'trials'}"
    sides = {COULD_BE_ZERO: "do not show", FEW: few, GAIN: "out-yield", LOSS: "less than"}
    missing = [part for part in [*(wanted if found != FEW else []), sides[found]] if part not in page]
    if missing:
        yield (
            f"the home page does not say the headline: {row['comparison_id']} {row['target']}: {missing}; {page[:400]}"
        )


def _headline_sentences(said: Said) -> Iterator[str]:
    """The sentence that answers: size, interval, counts and how sure, on the crop's page, the index and in the review
    file.
    """
    for row in _headlines(said)[lambda rows: rows["is_declared"]].to_dict("records"):
        pages = ["review"]
        of_crop = said.views["comparisons"].query("crop == @row['crop']")
        if of_crop["comparison_id"].iloc[0] == row["comparison_id"]:
            pages += [re.sub(r"[^\w-]+", "-", row["crop"])]
        growers = of_crop.sort_values("is_against_standard", ascending=False, kind="stable")
        if growers["comparison_id"].iloc[0] == row["comparison_id"]:
            pages += ["index"]
        digits, found = int(row["digits"]), verdict(row)
        where = (
            f"{row['n_site_years']:,} site-year{'s' * (row['n_site_years'] != 1)} in {row['n_seasons']}"
            f" season{'s' * (row['n_seasons'] != 1)}"
        )
        wanted = (
            []
            if found == NO_VERDICT
            else [
                f"{shown(abs(row['estimate']), digits)} {row['unit']}",
                f"{shown(row['conf_low'], digits)} to {shown(row['conf_high'], digits)}",
                where,
            ]
        )
        for name in pages:
            if name == "index":  # its words are the growers' sheet's; too few are told without a figure
                yield from _home_sentence(said, row, found, wanted[:3])
                continue
            wanted = wanted[:3] + {COULD_BE_ZERO: ["could be zero"], FEW: ["too few"]}.get(found, [])
            says = row["says"][1:]
            sentences = [line for line in said.pages.get(name, "").split("\n") if says.split(" against ")[0] in line]
            if (
                name in said.pages
                and wanted
                and not any(all(part in plain(line) for part in wanted) for line in sentences)
            ):
                yield (
                    f"no sentence says the headline: {name}: {row['comparison_id']} {row['target']}: {wanted};"
                    f" {[plain(s)[:300] for s in sentences[:2]]}"
                )
            for line in sentences:
                if (
                    name != "review"
                    and re.search("not shown|do not show", plain(line))
                    and found in (GAIN, LOSS)
                    and line.startswith("**")
                    and "per acre" not in line
                ):
                    yield f"not shown though the interval lies on one side: {name}: {plain(line)[:300]}"


def table_rows(page: str, label: str) -> list[list[str]]:
    """The cells of the table with a label, headings first; none where the page has no such table."""
    before, mark, _ = page.partition(f"{{#tbl-{label}}}")
    if not mark:
        return []
    lines = before.rstrip().split("\n")
    rows = [line for line in lines[_last_table(lines) :] if line.startswith("|")]
    return [[plain(cell).strip() for cell in row.strip("|").split(" | ")] for row in rows[:1] + rows[2:]]


def _last_table(lines: list[str]) -> int:
    end = max((i for i, line in enumerate(lines) if line.startswith("|")), default=0)
    while end and lines[end - 1].startswith("|"):
        end -= 1
    return end


def _comparison_rows(said: Said) -> Iterator[str]:
    """The table of all comparisons: counts and verdict of each follow from its row."""
    for crop in said.views["comparisons"]["crop"].unique():
        page = page_of(said, crop)
        declared = _headlines(said).query("crop == @crop and is_declared").sort_values("position")
        if not page:
            continue
        rows = table_rows(page, "comparisons")[1:]
        if len(rows) != len(declared):
            yield f"a comparison is missing: {crop}: {len(declared)} in the table of gains, {len(rows)} on the page"
        for cells, row in zip(rows, declared.to_dict("records"), strict=False):
            if not cells[1].startswith(verdict(row)):
                yield (
                    f"a verdict's word does not follow from its interval: {crop}: {cells[1]} beside {row['conf_low']}"
                    f" to {row['conf_high']}, {verdict(row)}"
                )
            if not cells[-1].startswith(f"{row['n_site_years']} in {row['n_seasons']} season"):
                yield f"counts differ from the table: {crop}: {cells[-1]}"


def _fallbacks(said: Said) -> Iterator[str]:
    """A sentence that stands in for a table stands exactly where its table is empty."""
    views, comparisons = said.views, said.views["comparisons"]
    for crop in comparisons["crop"].unique():
        page = page_of(said, crop)
        if not page:
            continue
        of = {name: view[view["crop"] == crop] for name, view in views.items() if "crop" in view.columns}
        lead = comparisons[comparisons["crop"] == crop]["comparison_id"].iloc[0]
        dots = of["site_year_gains"].query("comparison_id == @lead and is_pooled")
        ids = set(of["trials"]["trial_id"])
        yield from _either("No site-year has this comparison yet.", dots.empty, page, f"{crop} page")
        yield from _either("declares a margin, so whether", of["as_good"].empty, page, f"{crop} page")
        yield from _either(
            "The checks flagged nothing in these trials' data.",
            bool(ids) and not views["findings"]["trial_id"].isin(ids).any(),
            page,
            f"{crop} page",
        )
        yield from _either("{#tbl-left-out}", len(of["left_out"]) > 0, page, f"{crop} page")
    if "review" in said.pages:
        yield from _either("No correction was made", views["corrections"].empty, said.pages["review"], "review")
        yield from _either("states no claims", views["claims"].empty, said.pages["review"], "review")


def _either(words: str, expected: bool, page: str, where: str) -> Iterator[str]:
    if (words in page) != expected:
        yield (
            f"a sentence against its table: {where}: '{words}'"
            f" {'is missing' if expected else 'stands beside a table that is not empty'}"
        )


def _claims(said: Said) -> Iterator[str]:
    """Verdicts follow from the limits beside them; the exit code says whether one blocks."""
    claims = said.views["claims"]
    blocking = claims["verdict"].isin(["contradicted", "says more than shown"]).any()
    if not said.failures and bool(said.claims_code) != bool(blocking):
        yield f"claims leave with code {said.claims_code}: verdicts {list(claims['verdict'])}"
    for row in claims[claims["states"] != "as good"].to_dict("records"):
        if row["verdict"] == "too few" or pd.isna(row["conf_low"]):
            if row["verdict"] != "too few":
                yield f"a claim judged without an interval: {row['sentence']}: {row['verdict']}"
            continue
        side = -1 if row["stated"] < 0 else 1
        low, high = sorted((side * row["conf_low"], side * row["conf_high"]))
        wrong = {
            "contradicted": side * row["stated"] <= high,
            "borne out": not low > 0 or side * row["stated"] > high,
            "says more than shown": not low > 0 or side * row["stated"] < side * row["estimate"],
            "not shown": low > 0,
        }[row["verdict"]]
        if wrong:
            yield (
                f"a claim's verdict does not follow: {row['verdict']}: states {row['stated']}, {row['estimate']}"
                f" ({row['conf_low']} to {row['conf_high']})"
            )


def _as_good(said: Said) -> Iterator[str]:
    for row in said.views["as_good"].to_dict("records"):
        if pd.isna(row["estimate"]):
            continue
        center = 1.0 if row["scale"] == "ratio" else 0.0
        is_as_good, is_better = row["lower_limit"] > row["margin_limit"], row["lower_limit"] > center
        wrong = {
            "as good within the margin": not is_as_good,
            "better": not is_better,
            "worse": row["upper_limit"] >= center,
        }.get(row["verdict"], False)
        if wrong:
            yield (
                f"a verdict on the margin does not follow: {row['verdict']}: {row['lower_limit']} to"
                f" {row['upper_limit']}, limit {row['margin_limit']}"
            )


def _names_its_comparison(said: Said) -> Iterator[str]:
    """Words at the head of a page that are not of its first comparison, and counts that differ between comparisons,
    name theirs.
    """
    for crop, of_crop in said.views["comparisons"].groupby("crop", sort=False):
        page = page_of(said, crop)
        says, lead = list(of_crop["says"]), of_crop["comparison_id"].iloc[0]
        budgets = said.views["money"].query("crop == @crop and net_change == net_change")
        bullet = next((plain(line) for line in page.split("\n") if line.startswith("- **Money.**")), "")
        if (
            bullet
            and len(budgets)
            and budgets["comparison_id"].iloc[0] != lead
            and budgets["says"].iloc[0][1:] not in bullet
        ):
            yield f"money of a comparison that is not named: {crop}: {bullet[:200]}"
        flows = re.findall(rf"[^.]*\d {crop} trials? listed", plain(page))
        if len(flows) > 1 and not all(any(words in flow for words in says) for flow in flows):
            yield f"counts of comparisons that are not named: {crop}: {flows}"


def _money(said: Said) -> Iterator[str]:
    """Net change = gain x value less cost; the interval holds it; a crop without prices has none."""
    for row in said.views["money"].to_dict("records"):
        if pd.isna(row["net_change"]):
            continue
        if not row["reason"] and said.drawn.chosen.prices == "none":
            yield f"money without prices: {row['comparison_id']}"
        if pd.notna(row["conf_low"]) and not row["conf_low"] <= row["net_change"] <= row["conf_high"]:
            yield f"a net change outside its interval: {row['comparison_id']}"
    budgets = said.views["money"].set_index("comparison_id")
    for row in said.views["site_year_gains"].dropna(subset=["net_change"]).to_dict("records"):
        budget = budgets.loc[row["comparison_id"]]
        expected = row["gain_kg_ha"] / budget["kg_ha_per_unit"] * budget["value_per_unit"] - budget["cost"]
        if abs(row["net_change"] - expected) > 0.005:
            returned = f"{row['net_change']}, not {expected}"
            yield f"a site-year's return is not by its budget: {row['comparison_id']}: {returned}"


def _site_years(said: Said) -> Iterator[str]:
    """A cooperator's page: a row for each of its gains, and words on them that fit."""
    pages = said.views["pages"].query("kind == 'site-year'")
    for row in pages.itertuples():
        page = said.pages.get(row.path.rsplit("/", 1)[-1])
        if page is None:
            continue
        own = (
            said.views["site_year_gains"].query("site_year_id == @row.site_year_id")
            if hasattr(row, "site_year_id")
            else None
        )
        rows = table_rows(page, "results")[1:]
        if own is not None and len(rows) != len(own):
            yield f"a result is missing: {row.path}: {len(own)} in the table, {len(rows)} on the page"
        outside = [cells for cells in rows if cells[-1].endswith((": above", ": below"))]
        inside = [cells for cells in rows if cells[-1].endswith(": inside")]
        if "The others are inside it" in page and not (outside and inside and len(outside) + len(inside) == len(rows)):
            yield f"the others lie inside: {row.path}: {len(outside)} outside, {len(inside)} inside of {len(rows)}"
        if "Every result here is inside" in page and len(inside) != len(rows):
            yield f"every result lies inside: {row.path}: {len(inside)} of {len(rows)}"
