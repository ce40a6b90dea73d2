"""How Quarto is called, and what is said where it fails, against a stand-in; tests/pages draws by Quarto itself."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from pipeline import faces
from pipeline.errors import UserError
from pipeline.publishing import by_quarto, engines
from pipeline.publishing.draw import draw
from pipeline.publishing.page import Page

STAND_IN = """\
#!{python}
import json, os, pathlib, sys, yaml
if sys.argv[1:] == ["--version"]:
    print("1.10.19")
    sys.exit()
project = pathlib.Path(sys.argv[2])
settings = yaml.safe_load((project / "_quarto.yml").read_text())
files = sorted(str(path.relative_to(project)) for path in project.rglob("*") if path.is_file())
called = {{"arguments": sys.argv[1:], "settings": settings, "files": files, "no_color": os.environ.get("NO_COLOR")}}
with open("{record}", "a") as record:
    record.write(json.dumps(called) + "\\n")
sources = settings["project"]["render"]
for number, source in enumerate(sources, start=1):
    if len(sources) > 1:
        print(f"\\r[{{number}}/{{len(sources)}}] {{source}}", file=sys.stderr)
    if "BROKEN" in (project / source).read_text():
        print("WARN: a tool of Quarto's was not found", file=sys.stderr)
        sys.exit("\\x1b[91mERROR: error: unknown variable: broken\\nCompiling a to b...error: unknown variable: broken"
        "\\nERROR: Typst compilation failed")
    made = project / settings["project"]["output-dir"] / source
    made.parent.mkdir(parents=True, exist_ok=True)
    for format in settings["format"]:
        if "NOTHING" not in (project / source).read_text():
            made.with_suffix("." + format.replace("typst", "pdf")).write_text((project / source).read_text())
"""


@pytest.fixture(autouse=True)
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The file in which a stand-in, first on PATH, records its calls."""
    record = tmp_path / "calls.json"
    program = tmp_path / "bin" / "quarto"
    program.parent.mkdir()
    program.write_text(STAND_IN.format(python=sys.executable, record=record))
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(program.parent))
    monkeypatch.setenv(engines.DRAW_BY, engines.QUARTO)
    return record


@pytest.fixture
def pages_of(tmp_path: Path):
    """Makes pages of these texts, named a, b, c ..."""

    def made(*texts: str) -> list[Page]:
        pages = []
        for name, text in zip("abcdefghijklmnopqrstuvwxyz", texts):
            markdown = tmp_path / "woven" / name / "page.md"
            markdown.parent.mkdir(parents=True)
            markdown.write_text(f"---\ntitle: {name}\n---\n\n{text}\n", encoding="utf-8")
            (markdown.parent / "gains.png").write_bytes(b"picture")
            pages.append(Page(markdown, tmp_path / "published", name))
        return pages

    return made


def calls(record: Path) -> list[dict]:
    return [json.loads(line) for line in record.read_text().splitlines()]


def test_one_project_draws_many_pages_and_each_goes_to_its_own_name(pages_of, record):
    pages, counted = pages_of("One.", "Two."), []
    drawn = draw(pages, formats=("html", "pdf"), progress=counted.append)
    (call,) = calls(record)
    assert call["arguments"][0] == "render" and len(call["arguments"]) == 2 and call["no_color"]
    assert [row.path.name for row in drawn] == ["a.html", "a.pdf", "b.html", "b.pdf"]
    assert all(f"title: {row.page.name}" in row.path.read_text() for row in drawn)
    assert counted == pages


def test_a_program_of_many_pages_is_drawn_in_a_few_projects_while_its_pages_are_written(pages_of, record):
    pages = pages_of(*["Text."] * (by_quarto.PAGES_A_PROJECT + 1))
    draw(pages, formats=("html",), write=lambda page: None)
    assert sorted(len(call["settings"]["project"]["render"]) for call in calls(record)) == [
        1,
        by_quarto.PAGES_A_PROJECT,
    ]


def test_every_file_the_settings_name_is_in_the_project(pages_of, record):
    draw(pages_of("Text."), formats=("html", "pdf"))
    (call,) = calls(record)
    named = {"page-1/page.md", "page-1/gains.png", *(filter["path"] for filter in call["settings"]["filters"])}
    for options in call["settings"]["format"].values():
        named |= {options["template"], *options["template-partials"]}
    named |= {*call["settings"]["format"]["html"]["css"], call["settings"]["format"]["typst"]["include-in-header"]}
    (folder,) = call["settings"]["format"]["typst"]["font-paths"]
    assert folder.startswith("/"), "Quarto takes this for a folder of the project"
    faces_there = {file for file in call["files"] if file.startswith(f"{folder[1:]}/")}
    assert {f"{folder[1:]}/{face.file}" for face in faces.FACES} <= faces_there
    assert named | faces_there | {"_quarto.yml"} == set(call["files"])


def test_a_page_that_fails_is_named_with_its_cause_and_nothing_is_published(pages_of, tmp_path):
    with pytest.raises(UserError) as caught:
        draw(pages_of("Fine.", "BROKEN", "Fine."), formats=("html", "pdf"))
    assert (
        str(caught.value) == "b: Quarto could not draw the page: unknown variable: broken; Typst compilation failed. "
        "DRAW_BY=pandoc draws the pages without Quarto."
    )
    assert list((tmp_path / "published").iterdir()) == []


def test_a_page_that_does_not_come_out_is_named(pages_of):
    with pytest.raises(UserError, match="^b: Quarto ended without an error but made no HTML"):
        draw(pages_of("Fine.", "NOTHING"), formats=("html",))


def test_a_quarto_that_cannot_be_started_is_named(pages_of, tmp_path):
    pages = pages_of("Text.")
    with pytest.raises(UserError, match="no-such-quarto could not be started"):
        by_quarto.draw_all(tmp_path / "no-such-quarto", pages, formats=("html",), on_drawn=lambda number: None)


@pytest.mark.parametrize(
    "text", ["{{< include x >}}", r"\{\{\< env HOME \>\}\}", r'"\\{\\{\\< x \\>\\}\\}"', "{{{< x >}}}", ">}}"]
)
def test_no_name_and_no_comment_is_a_shortcode(text):
    found = by_quarto.without_shortcodes(text)
    bare = found.replace("\\", "")
    assert "{{<" not in bare and ">}}" not in bare and found.replace("\u2060", "") == text


@pytest.mark.parametrize("text", ["{=html}\n<b>", "a => {b}}", "{<", "{{ < >} }", "``` {.x}"])
def test_other_text_stays_as_it_is(text):
    assert by_quarto.without_shortcodes(text) == text
