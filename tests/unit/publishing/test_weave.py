from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from pipeline.errors import UserError
from pipeline.publishing.weave import weave


def woven_text(folder: Path, body: str, *, parameters: dict | None = None, names: dict | None = None) -> str:
    page = folder / "a.qmd"
    page.write_text(f"---\ntitle: T\n---\n{body}", encoding="utf-8")
    return weave(page, parameters=parameters or {}, names=names or {}, folder=folder / "w").read_text(encoding="utf-8")


def metadata_of(page: Path) -> dict:
    return yaml.safe_load(page.read_text(encoding="utf-8").split("---\n")[1])


def test_the_full_page_becomes_plain_markdown(woven):
    text = woven.read_text(encoding="utf-8")
    assert "```{python}" not in text and "`{python}" not in text
    assert "The blend gained 5.0 bu/ac" in text
    assert "| Dunnavel 2091 | 4.0 |" in text
    assert (woven.parent / "gains.png").stat().st_size > 1000


def test_metadata_passes_through_with_its_expressions_evaluated(woven):
    metadata = metadata_of(woven)
    assert metadata["title"] == "Coated blend on corn, season 2094"
    assert metadata["provisional"] == "2 trials are held."
    assert metadata["program"] == "Orrenvale nitrogen trials"
    assert metadata["lang"] == "en-US"


PARAMETERS = "```{python}\n#| tags: [parameters]\nsite_id = 'none'\n```\n\nSite `{python} site_id`.\n"


def test_parameters_override_the_parameters_cell(tmp_path):
    assert "Site none." in woven_text(tmp_path, PARAMETERS)
    assert "Site alder." in woven_text(tmp_path, PARAMETERS, parameters={"site_id": "alder"})


def test_an_unknown_parameter_is_refused(tmp_path):
    with pytest.raises(UserError, match="no parameter site; its parameters cell has site_id"):
        woven_text(tmp_path, PARAMETERS, parameters={"site": "alder"})


def test_pages_woven_one_after_another_share_nothing(tmp_path):
    woven_text(tmp_path, "```{python}\nleft_over = 1\n```\n")
    with pytest.raises(UserError, match="left_over"):
        woven_text(tmp_path, "`{python} left_over`\n")


def test_a_page_can_insist_on_its_own_site(tmp_path):
    body = (
        PARAMETERS
        + "\n```{python}\nassert set(plots) == {site_id}, f'plots of {plots} on the page of {site_id}'\n```\n"
    )
    woven_text(tmp_path, body, parameters={"site_id": "alder"}, names={"plots": ["alder"]})
    with pytest.raises(UserError, match="plots of .'birch'. on the page of alder"):
        woven_text(tmp_path, body, parameters={"site_id": "alder"}, names={"plots": ["birch"]})


@pytest.mark.parametrize(
    ("cell", "line", "complaint"),
    [
        ("x = 1\n\nx / 0", 7, "ZeroDivisionError"),
        ("def f():\n    return 1 / 0\nf()", 6, "ZeroDivisionError"),
        ("x = (", 5, "SyntaxError"),
        ("raise SystemError('gone')", 5, "SystemError: gone"),
    ],
)
def test_a_failing_cell_names_page_cell_line_and_error(tmp_path, cell, line, complaint):
    with pytest.raises(UserError, match=rf"^a\.qmd, cell 1, line {line} of a\.qmd: {complaint}"):
        woven_text(tmp_path, f"```{{python}}\n{cell}\n```\n")


def test_a_cell_may_not_end_the_run(tmp_path):
    with pytest.raises(UserError, match="SystemExit"):
        woven_text(tmp_path, "```{python}\nraise SystemExit(0)\n```\n")


def test_a_cell_that_prints_must_say_so(tmp_path):
    with pytest.raises(UserError, match="cell 1, line 4 of a.qmd: the cell prints but does not say"):
        woven_text(tmp_path, "```{python}\nprint('x')\n```\n")


@pytest.mark.parametrize("expression", ["None", "float('nan')", "no_such_name", "1 +"])
def test_an_inline_value_that_is_missing_fails_the_page(tmp_path, expression):
    with pytest.raises(UserError, match=r"^a\.qmd, line 5, inline"):
        woven_text(tmp_path, f"One\nTwo `{{python}} {expression}`\n")


def test_an_inline_expression_over_two_lines_is_refused(tmp_path):
    with pytest.raises(UserError, match="keep it on one line"):
        woven_text(tmp_path, "Two `{python} 1 +\n1`\n")


def test_inline_markdown_says_that_it_is_markdown(tmp_path):
    class Bold:
        def _repr_markdown_(self) -> str:
            return "**b**"

    assert "x **b** y" in woven_text(tmp_path, "x `{python} b` y\n", names={"b": Bold()})
