"""The Quarto way, against a stand-in that records how it is called. Quarto itself is not run here."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pypandoc
import pytest

from pipeline.errors import UserError
from pipeline.publishing import by_quarto
from pipeline.publishing.draw import Page, draw

STAND_IN = """\
#!{python}
import json, pathlib, sys, yaml, zipfile
if sys.argv[1:] == ["--version"]:
    print("{version}")
    sys.exit()
project = pathlib.Path(sys.argv[2])
settings = yaml.safe_load((project / "_quarto.yml").read_text())
files = sorted(str(path.relative_to(project)) for path in project.rglob("*") if path.is_file())
with open("{record}", "a") as record:
    record.write(json.dumps({{"arguments": sys.argv[1:], "settings": settings, "files": files}}) + "\\n")
if {fails}:
    sys.exit("ERROR: it broke")
for source in settings["project"]["render"]:
    made = project / settings["project"]["output-dir"] / source
    made.parent.mkdir(parents=True, exist_ok=True)
    for format in settings["format"]:
        text = (project / source).read_text() if {makes} else None
        target = made.with_suffix("." + format.replace("typst", "pdf"))
        if text is not None and format == "docx":
            with zipfile.ZipFile(target, "w") as parts:
                parts.writestr("word/document.xml", "<w:tr><w:tc>text</w:tc></w:tr>")
        elif text is not None:
            target.write_text(text)
"""


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Put a stand-in first on PATH and return the file in which it records its calls."""

    def put(*, version: str = "1.10.19", fails: bool = False, makes: bool = True) -> Path:
        record = tmp_path / "calls.json"
        program = tmp_path / "bin" / "quarto"
        program.parent.mkdir()
        program.write_text(
            STAND_IN.format(python=sys.executable, version=version, record=record, fails=fails, makes=makes)
        )
        program.chmod(0o755)
        monkeypatch.setenv("PATH", str(program.parent))
        return record

    return put


@pytest.fixture
def pages(tmp_path: Path) -> list[Page]:
    made = []
    for name in ("alder", "birch"):
        markdown = tmp_path / "woven" / name / "page.md"
        markdown.parent.mkdir(parents=True)
        markdown.write_text(f"---\ntitle: {name}\n---\n", encoding="utf-8")
        (markdown.parent / "gains.png").write_bytes(b"picture")
        made.append(Page(markdown, tmp_path / "published", name))
    return made


def test_one_call_draws_all_pages_and_each_goes_to_its_own_name(install, pages):
    record = install()
    drawn = draw(pages, formats=("html", "pdf"))
    (call,) = [json.loads(line) for line in record.read_text().splitlines()]
    assert call["arguments"][0] == "render" and len(call["arguments"]) == 2
    assert [row.path.name for row in drawn] == ["alder.html", "alder.pdf", "birch.html", "birch.pdf"]
    for row in drawn:
        assert f"title: {row.page.name}" in row.path.read_text()
        assert row.drawn_by == "Quarto 1.10.19"


def test_the_project_holds_the_pages_their_figures_and_the_look(install, pages):
    record = install()
    draw(pages, formats=("html",))
    call = json.loads(record.read_text())
    assert call["files"] == [
        "_quarto.yml",
        "filter.lua",
        "page-1/gains.png",
        "page-1/page.md",
        "page-2/gains.png",
        "page-2/page.md",
        "page.css",
        "page.docx",
        "page.typ",
        "title-block.html",
        "typst-show.typ",
    ]
    settings = call["settings"]
    assert settings["project"]["render"] == ["page-1/page.md", "page-2/page.md"]
    assert settings["drawn-by"] == "Drawn by Quarto 1.10.19."
    assert settings["from"] == "markdown-tex_math_dollars"
    assert list(settings["format"]) == ["html"]
    assert settings["format"]["html"]["embed-resources"] is True


def test_every_file_the_settings_name_is_in_the_project(install, pages):
    record = install()
    draw(pages, formats=("html", "pdf", "docx"))
    call = json.loads(record.read_text())
    formats = call["settings"]["format"]
    named = [*call["settings"]["filters"], formats["html"]["css"], formats["typst"]["include-in-header"]]
    named.append(formats["docx"]["reference-doc"])
    for options in formats.values():
        named += options.get("template-partials", [])
    assert len(named) == 6 and set(named) <= set(call["files"])


def test_rows_of_a_docx_are_kept_whole_this_way_too(install, pages):
    install()
    for drawn in draw(pages, formats=("docx",)):
        with zipfile.ZipFile(drawn.path) as parts:
            assert "<w:trPr><w:cantSplit /></w:trPr>" in parts.read("word/document.xml").decode()


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"fails": True}, "could not draw the pages. It said:\nERROR: it broke"),
        ({"makes": False}, "made no alder.html"),
    ],
)
def test_where_quarto_fails_pandoc_draws_and_page_and_user_are_told(install, pages, how, said):
    install(**how)
    counted: list[Page] = []
    drawn = draw(pages, formats=("html",), progress=counted.append)
    assert counted == pages
    for row in drawn:
        assert said in row.complaint
        assert row.drawn_by.startswith("pandoc") and row.drawn_by.endswith("(Quarto failed)")
        assert f"Drawn by {row.drawn_by}." in row.path.read_text()


def test_a_quarto_that_cannot_be_started_is_named(tmp_path):
    with pytest.raises(UserError, match="no-such-quarto could not be started"):
        by_quarto._render(tmp_path / "no-such-quarto", tmp_path)


@pytest.mark.parametrize("version", ["1.8.24", "", "not a version"])
def test_an_old_or_silent_quarto_is_passed_over(install, pages, version):
    install(version=version)
    drawn = draw(pages, formats=("html",))
    assert drawn[0].drawn_by.startswith("pandoc") and drawn[0].drawn_by.endswith("(Quarto was not found)")


def test_under_quarto_the_filter_leaves_its_constructs_alone_and_adds_the_line(tmp_path):
    """Quarto sets the global `quarto` for the filters it runs; here a one-line filter does so."""
    (tmp_path / "as_quarto.lua").write_text(f'quarto = {{}}\nreturn dofile("{by_quarto.HERE / "filter.lua"}")\n')
    page = "See @fig-a.\n\n::: {.callout-note}\nText.\n:::\n"
    arguments = [
        f"--lua-filter={tmp_path / 'as_quarto.lua'}",
        "--metadata=drawn-by:Drawn by Quarto.",
        "--to=native",
    ]
    filtered = subprocess.run(
        [pypandoc.get_pandoc_path(), *arguments],
        input=page,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert 'citationId = "fig-a"' in filtered and '"callout-note"' in filtered
    assert filtered.count('"Quarto."') == 1
