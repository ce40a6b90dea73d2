"""The published trials through `manyfields report` itself: it ends well, and its page says what the warehouse holds.

Sources: Andrews and Herzberg 1985 (maize), Yates 1935 (oats), Immer, Hayes and Powers 1934 with Cleveland 1993
(barley); see the modules that write them. None has weather, one has no replicates and one is a single trial.

Source and standing of each number: pipeline/contract/published_checks.yml.
"""

import re

import pytest
from antigua_program import write_antigua
from barley_program import write_barley
from oats_program import write_oats
from program_folder import read

from pipeline.__main__ import main

HEADLINES = """select g.estimate / c.kg_ha_per_display_unit as estimate, g.conf_low / c.kg_ha_per_display_unit as low,
  g.conf_high / c.kg_ha_per_display_unit as high
from estimates.pooled_gains as g inner join estimates.comparisons as k using (comparison_id, target)
inner join reference.crops as c on c.word = k.crop
where g.moderator = 'all' and g.is_headline and g.estimate is not null"""


def page_text(page):
    text = re.sub(r"(?s)<(style|script).*?</\1>|<[^>]+>", " ", page.read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", text.replace("\N{MINUS SIGN}", "-"))


@pytest.mark.parametrize(
    ("write", "crop"),
    [
        (write_oats, "oats"),
        pytest.param(write_antigua, "corn", marks=pytest.mark.thorough),
        pytest.param(write_barley, "barley", marks=pytest.mark.thorough),
    ],
)
def test_report(write, crop, tmp_path, capsys):
    program = write(tmp_path)
    assert main(["report", "--program", str(program)]) == 0, capsys.readouterr().err
    assert (program / "published" / f"{crop}.pdf").read_bytes().startswith(b"%PDF")
    text = page_text(program / "published" / f"{crop}.html")
    headlines = read(program / "warehouse.duckdb", HEADLINES)
    for row in headlines.itertuples():
        assert f"{row.estimate:.1f} ({row.low:.1f} to {row.high:.1f})" in text
    assert ("too few for an average" in text.lower()) == headlines.empty == (crop == "oats")
