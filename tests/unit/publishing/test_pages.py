"""Publishing a whole program: which pages, what they say, and what stays when a run fails."""

from __future__ import annotations

import re
import shutil
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from pipeline import jobs
from pipeline.display.figures import theme
from pipeline.errors import UserError
from pipeline.publishing import in_place, pages
from pipeline.publishing.dictionary import dictionary_tables
from pipeline.publishing.page import PageNotMade
from pipeline.verbs.answers import stored_views
from tests.benchmarks import pages as benchmark
from tests.unit.publishing.weather_told import with_weather
from tests.unit.publishing.woven import as_markdown, figures_left_blank


@pytest.fixture(scope="module")
def tables(estimated_program: Path) -> dict[str, pd.DataFrame]:
    """The report views of a tiny program: corn at Alder in two seasons, cotton at Birch in one."""
    return {f"reports.{name}": frame for name, frame in stored_views(estimated_program).items()}


@pytest.fixture(scope="module")
def published(drawn_program: Path) -> Path:
    return drawn_program


@pytest.fixture(scope="module")
def as_text(tables, tmp_path_factory):
    """The published folder with the Markdown of each page in every file of it, copy it, and the steps that were
    told.
    """
    folder, steps = tmp_path_factory.mktemp("as-text") / "published", []
    with figures_left_blank():
        tell = lambda what, done, of: steps.append((what, done, of))  # noqa: E731
        pages.publish(tables, folder=folder, program_name="Tiny", tell=tell, draw=as_markdown)
    return folder, steps


@pytest.fixture
def blank_figures():
    """For tests of what becomes of pages; the figures of `published` are drawn."""
    with figures_left_blank():
        yield


@pytest.fixture
def pages_alone(blank_figures, monkeypatch):
    """The same, without the tables beside the pages."""
    monkeypatch.setattr(pages, "write_exports", lambda views, folder: folder.mkdir(parents=True))


def text_of(page: Path) -> str:
    text = re.sub(r"(?s)<(style|script).*?</\1>|<[^>]+>", " ", page.read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", text)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_every_page_is_there_and_nothing_else(published, tables):
    found = set(contents(published))
    made = {"index.html", "data_dictionary.html"}
    made |= {f"{name}.{format}" for name in ("corn", "corn-handout") for format in ("html", "pdf", "docx")}
    made |= {"corn-slides.pptx", *(f"figures/corn-gains.{format}" for format in ("svg", "png", "txt"))}
    made |= {f"{name}.{format}" for name in ("review", "methods") for format in ("html", "pdf")}
    made |= {
        f"site-years/{name}.{format}"
        for name in ("alder-2091", "alder-2092", "birch-2091")
        for format in ("html", "pdf")
    }
    assert {name for name in found if not name.startswith(("data/", "editions/"))} == made
    tables_made = {f"data/{name.removeprefix('reports.')}.parquet" for name in tables}
    assert tables_made - found == {"data/names.parquet"}  # what may have to be hidden


def test_pages_are_what_their_names_say(published):
    assert (published / "corn.pdf").read_bytes().startswith(b"%PDF")
    with zipfile.ZipFile(published / "corn.docx") as docx:
        assert docx.testzip() is None and "word/document.xml" in docx.namelist()


def test_the_links_of_the_index_lead_somewhere(published):
    links = re.findall(r'href="([^"#:]+)"', (published / "index.html").read_text(encoding="utf-8"))
    assert len(links) == 4 + 2 * 3 + 1 + 4 + 2  # crop, site-years, dictionary, review and methods, columns and edition
    assert all((published / link).is_file() for link in links)


def test_a_site_years_page_is_its_own(published, tables):
    trials = tables["reports.trials"]
    for page in (published / "site-years").glob("*.html"):
        mentioned = {trial for trial in trials["trial_id"] if trial in text_of(page)}
        assert mentioned == set(trials[trials["site_year_id"] == page.stem]["trial_id"])


def test_numbers_of_a_page_are_those_of_the_views(published, tables):
    text = text_of(published / "site-years" / "alder-2091.html")
    gain = tables["reports.site_year_gains"].query("site_year_id == 'alder-2091'").iloc[0]
    assert f"{gain['gain']:.1f} bu/ac" in text
    for mean in tables["reports.treatment_means"].query("site_year_id == 'alder-2091'")["mean"]:
        assert f"{mean:.1f}" in text


def test_parquet_files_give_the_tables_back(published, tables):
    back = pd.read_parquet(published / "data" / "plots.parquet")
    pd.testing.assert_frame_equal(back, tables["reports.plots"].reset_index(drop=True), check_dtype=False)


def test_progress_is_told_of_each_page_woven_and_drawn_by_how_long_it_takes(as_text):
    _, steps = as_text
    shares = [done / of for _, done, of in steps]
    assert len(steps) == 20 and shares == sorted(shares) and shares[0] == 0 and shares[-1] == pytest.approx(1)
    began = {what: done for what, done, _ in steps}
    after = dict(zip(began, [*list(began.values())[1:], None]))
    long, short = (after[f"writing {name}"] - began[f"writing {name}"] for name in ("corn", "site-years/alder-2091"))
    assert long == pytest.approx(2 * short)


def spoiled(tables):
    """One kind of page cannot be written from these."""
    return tables | {"reports.trials": tables["reports.trials"].assign(lsd_5pct="not a number")}


@pytest.mark.usefixtures("pages_alone")
def test_a_page_that_fails_does_not_stop_the_others(published, tables, tmp_path):
    shutil.copytree(published, tmp_path / "published")
    with pytest.raises(UserError, match="(?s)could not be made.*site-years/alder-2091: site_year.qmd, line"):
        pages.publish(spoiled(tables), folder=tmp_path / "published", program_name="Tiny", draw=as_markdown)
    stand_in = (tmp_path / "published/site-years/alder-2091.html").read_text(encoding="utf-8")
    assert pages.NOT_MADE in stand_in and "site\\_year" in stand_in and "bu/ac" not in stand_in
    assert (tmp_path / "published/corn.html").read_bytes() != (published / "corn.html").read_bytes()
    assert in_place.EARLIER not in (tmp_path / "published/index.html").read_text(encoding="utf-8")


@pytest.mark.usefixtures("pages_alone")
def test_a_page_that_cannot_be_drawn_gives_way_to_one_that_says_so(tables, tmp_path):
    """As when the text of one cell cannot be drawn: all others come out, and each of its formats says why."""

    def draw(group, *, formats, write, progress):
        for page in group:
            write(page)
            if page.name == "corn" and pages.NOT_MADE not in page.markdown.read_text(encoding="utf-8"):
                raise PageNotMade(page.markdown.resolve(), "corn: typst could not make the PDF")
        return as_markdown(group, formats=formats, write=lambda page: None, progress=progress)

    with pytest.raises(UserError, match="corn: corn: typst could not make the PDF"):
        pages.publish(tables, folder=tmp_path, program_name="Tiny", draw=draw)
    assert all(
        pages.NOT_MADE in (tmp_path / f"corn.{kind}").read_text(encoding="utf-8") for kind in ("html", "pdf", "docx")
    )
    assert pages.NOT_MADE not in (tmp_path / "corn-handout.html").read_text(encoding="utf-8")


def test_pages_of_an_earlier_run_say_so_until_they_are_replaced(published, tables, tmp_path):
    folder = shutil.copytree(published, tmp_path / "published")

    def stopped(*_, **__):
        raise UserError("the disk is full")

    for _ in range(2):
        with pytest.raises(UserError, match="disk is full"):
            pages.publish(tables, folder=folder, program_name="Tiny", draw=stopped)
    marked = [path for path in folder.rglob("*.html") if in_place.EARLIER in path.read_text(encoding="utf-8")]
    assert len(marked) == len([*published.rglob("*.html")])
    assert (folder / "index.html").read_text(encoding="utf-8").count(in_place.EARLIER) == 1
    before, after = contents(published), contents(folder)
    assert {name for name in before if before[name] != after[name]} == {
        str(path.relative_to(folder)) for path in marked
    }


@pytest.mark.parametrize("unreadable", [False, True])
def test_a_list_of_files_that_someone_changed_deletes_nothing_outside(tmp_path, unreadable):
    folder, new, victim = tmp_path / "published", tmp_path / "new", tmp_path / "victim.txt"
    for path in (folder / "data", folder / "site-years", new / "data"):
        path.mkdir(parents=True)
    (folder / "old.html").write_text("old")
    (folder / "out.html").symlink_to(victim)
    (new / "index.html").write_text("new")
    victim.write_text("mine")
    lines = ["../victim.txt", str(victim), "site-years", "", ".", "a\0b", "out.html", "old.html"]
    (folder / in_place.LIST_OF_FILES).write_bytes("\n".join(lines).encode() + (b"\xff" if unreadable else b""))
    in_place.move_into_place(new, folder)
    assert victim.read_text() == "mine" and (folder / "site-years").is_dir()
    assert (folder / "old.html").exists() == unreadable and (folder / "index.html").read_text() == "new"


@pytest.mark.usefixtures("pages_alone")
def test_pages_of_trials_that_are_gone_do_not_stay(as_text, tables, tmp_path):
    shutil.copytree(as_text[0], tmp_path, dirs_exist_ok=True)
    assert (tmp_path / "site-years" / "alder-2092.html").exists()
    (tmp_path / "site-years" / "mine.html").write_text("of the user")
    fewer = {
        name: view[view["site_year_id"] != "alder-2092"] if "site_year_id" in view.columns else view
        for name, view in tables.items()
    }
    pages.publish(fewer, folder=tmp_path, program_name="Tiny", draw=as_markdown)
    names = {path.name for path in (tmp_path / "site-years").iterdir()}
    assert "alder-2092.html" not in names and {"alder-2091.html", "mine.html"} <= names


@pytest.mark.usefixtures("pages_alone")
def test_editions_stay_and_pages_of_the_same_inputs_add_none(as_text, tables, tmp_path):
    shutil.copytree(as_text[0], tmp_path, dirs_exist_ok=True)
    pages.publish(tables, folder=tmp_path, program_name="Tiny", draw=as_markdown)
    assert len(list((tmp_path / "editions").iterdir())) == 1
    changed = tables["reports.program"].assign(
        inputs_sha256="other", started=tables["reports.program"]["started"] + pd.Timedelta("1 day")
    )
    pages.publish(tables | {"reports.program": changed}, folder=tmp_path, program_name="Tiny", draw=as_markdown)
    editions = sorted((tmp_path / "editions").iterdir())
    assert len(editions) == 2
    assert {path.name for path in editions[0].iterdir()} == {
        "corn-handout.pdf",
        "corn.pdf",
        "review.pdf",
        "methods.pdf",
        "gains.csv",
        "edition.json",
    }
    listed = re.findall(r"\(editions/([^/)]+)/gains.csv\)", (tmp_path / "index.html").read_text(encoding="utf-8"))
    assert listed == [path.name for path in reversed(editions)]


def test_an_id_leads_from_the_report_to_the_review_file(published, tables):
    ids = set(re.findall(r'href="review.html#(id-[0-9a-f-]+)"', (published / "corn.html").read_text(encoding="utf-8")))
    gains = tables["reports.gains"].query("is_headline == True and moderator == 'all'")
    assert ids == {f"id-{estimate_id}" for estimate_id in gains["estimate_id"]}
    assert ids <= set(re.findall(r'id="(id-[0-9a-f-]+)"', (published / "review.html").read_text(encoding="utf-8")))


def test_the_benchmark_draws_the_figures_of_a_site_years_page(tables, monkeypatch):
    views = {name.removeprefix("reports."): frame for name, frame in with_weather(tables).items()}
    site_year = views["season_days"]["site_year_id"].iloc[0]
    views["pages"] = pages.page_list(views)
    page = next(p for p in pages.plan_pages(views["pages"]) if p.parameters.get("site_year_id") == site_year)
    drawn, save = [], theme.save
    monkeypatch.setattr(theme, "save", lambda figure, file, sheet: drawn.append(file.name) or save(figure, file, sheet))
    monkeypatch.setattr(jobs, "cpu_count", lambda: 1)
    benchmark.draw_figures([page], views)
    alone, drawn[:] = sorted(drawn), []
    benchmark.make([page], views)
    assert alone == sorted(drawn) == ["gains-corn", "rain", "season"]


def test_exported_csv_gives_the_printed_numbers(published, tables):
    back = pd.read_csv(published / "data/csv/site_year_gains.csv", float_precision="round_trip")
    assert back["gain"].tolist() == tables["reports.site_year_gains"]["gain"].tolist()
    text = text_of(published / "site-years" / "alder-2091.html")
    gain = back.loc[back["site_year_id"] == "alder-2091", "gain"].iloc[0]
    assert f"{gain:.1f} bu/ac" in text


def test_a_file_in_the_way_is_named(tables, tmp_path):
    (tmp_path / "published").write_text("a file where the folder should be")
    with pytest.raises(UserError, match="published: the pages of Tiny cannot be written here"):
        pages.publish(tables, folder=tmp_path / "published", program_name="Tiny")


def test_the_dictionary_names_every_column_and_its_words():
    frames = dictionary_tables()
    drainage = frames["dictionary_columns"].query("heading == 'drainage_class'").iloc[0]
    assert "somewhat poorly drained" in drainage["words"]
    moisture = frames["dictionary_columns"].query("heading == 'moisture_pct'").iloc[0]
    assert moisture["hard"] == "8 to 45% (corn); 5 to 30% (soybean)"
    assert set(frames["dictionary_checks"]["severity"]) == {"holds the trial", "sets the row aside", "noted"}


OTHER_CROP = """\
  - id: soybean-blend-vs-urea
    says: half-coated blend against urea
    crop: soybean
    target: seasons to come
    treatment: {n_source: coated blend}
    comparator: {n_source: urea}
    match: none
    declared: 2090-11-15
claims:
  - {sentence: "Two more *bushels* | of beans", where: "=flyer", comparison: soybean-blend-vs-urea,
    gain: 2, unit: bu/ac}
  - {sentence: "In wet springs more", where: flyer, comparison: corn-blend-vs-urea,
    gain: 2, unit: bu/ac, only_in: P x wet}
"""


@pytest.mark.usefixtures("blank_figures", "fitted_by_own_code")
def test_a_comparison_without_any_trial_is_said_to_have_none(tiny, tmp_path):
    tiny.settings_file.write_text(tiny.settings_file.read_text() + OTHER_CROP)
    made = pages.preview(
        "review", dict(tiny.load_and_estimate()), published=tmp_path / "published", folder=tmp_path / "preview"
    )
    text = text_of(made[0])
    assert (
        "Nothing can be said: there is no site-year of this class, drainage group P (somewhat poorly drained and"
        " wetter), wet." in text
    )
    assert "Two more *bushels* | of beans" in text and "No trial of this crop is listed." in text


def test_a_preview_is_the_published_page_and_touches_nothing_published(tables, published, tmp_path):
    before = contents(published)
    made = pages.preview("alder-2091", tables, published=published, folder=tmp_path / "preview")
    assert [path.relative_to(tmp_path / "preview").as_posix() for path in made] == [
        "site-years/alder-2091.html",
        "site-years/alder-2091.pdf",
    ]
    assert sorted(path for path in (tmp_path / "preview").rglob("*") if path.is_file()) == made
    assert made[0].read_bytes() == before["site-years/alder-2091.html"]
    assert contents(published) == before


def test_slides_drawn_again_are_the_same_bytes(tables, published, tmp_path):
    (made,) = pages.preview("corn-slides", tables, published=published, folder=tmp_path)
    assert made.read_bytes() == (published / "corn-slides.pptx").read_bytes()


def test_a_page_that_is_not_there_is_refused_with_the_nearest(tables, published, tmp_path):
    with pytest.raises(UserError, match='There is no page "alder-291": did you mean "alder-2091"'):
        pages.preview("alder-291", tables, published=published, folder=tmp_path)
