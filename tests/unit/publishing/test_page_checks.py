from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.display.words.tables import escaped
from pipeline.errors import UserError
from pipeline.publishing.page_checks import check_page

PICTURE = '![Gain.](f.png){#fig-gain fig-alt="Dots."}'


def check(folder: Path, body: str, title: str | None = "T") -> None:
    (folder / "f.png").write_bytes(b"picture")
    check_page("a.qmd", {"title": title}, body, folder)


@pytest.mark.parametrize(
    "body",
    [
        f"See @fig-gain and [-@fig-gain].\n\n{PICTURE}",
        "@tbl-a.\n\n| a |\n|--|\n| 1 |\n\n: Caption. {#tbl-a}",
        "An escaped \\@fig-none, code `@fig-none`, mail a.b@fig-none.org.",
        "```\n@fig-none\n# no heading\n```",
        "## One\n\n### Two\n\n## Three",
    ],
)
def test_sound_pages_pass(tmp_path, body):
    check(tmp_path, body)


@pytest.mark.parametrize(
    ("body", "complaint"),
    [
        ("See @tbl-none.", "@tbl-none refers to nothing"),
        ("See [@fig-a; @fig-b].", "@fig-a refers to nothing on this page; @fig-b"),
        ("See @sec-a.", "@sec-a refers to nothing"),
        ("See ?@tbl-x.", "unresolved"),
        (f"{PICTURE}\n\n{PICTURE}", "#fig-gain is used more than once"),
        ("![Gain.](none.png){fig-alt='x' fig-alt=\"Dots.\"}", "none.png was not written"),
        ("![Gain.](f.png){#fig-gain}", "f.png has no alternative text"),
        ('![Gain.](f.png){#fig-gain fig-alt=" "}', "f.png has no alternative text"),
        ("![Gain.](f.png)", "f.png has no alternative text"),
        ('![Gain.](https://a.example/f.png){fig-alt="x"}', "lies on the network"),
        ("# One", "write ## for a section"),
        ("## One\n\n#### Two", "'Two' skips a level"),
        ("### One", "'One' skips a level"),
    ],
)
def test_faults_fail_the_page(tmp_path, body, complaint):
    with pytest.raises(UserError, match=r"^a\.qmd: ") as caught:
        check(tmp_path, body)
    assert complaint in str(caught.value)


def test_a_page_needs_a_title(tmp_path):
    with pytest.raises(UserError, match="no title"):
        check(tmp_path, "Text.", title=None)


@pytest.mark.parametrize(
    "typed",
    [
        "Alder [3](north)",
        "{#tbl-1} {#tbl-1}",
        "{#fig-x}",
        "a `{python} 1` b",
        "@fig-gains and @tbl-none",
        "![](nothing.png)",
        "```\nnever closed",
        "?@",
        "# a heading",
        "[@sec-x]",
    ],
)
def test_what_somebody_typed_is_no_fault_of_the_page(typed, tmp_path):
    check_page("page", {"title": "A title"}, f"Before {escaped(typed)} after.\n", tmp_path)
