"""A warehouse and season folders of an earlier version go on in this one: what it kept stays, and nothing is stored
twice.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipeline.__main__ import main
from pipeline.steps.changes import NOT_TOLD_APART
from tests.earlier_headings import with_earlier_headings
from tests.tiny_program import TinyProgram

# what each version left behind, as SQL
KEPT_BY = sorted(Path(__file__).parent.glob("version_*.sql"))
OF_RUNS = ("reports.changes", "reports.program")  # one run here, two there
ROW = ["sha256", "sheet", "row_number", "table_name"]


@pytest.mark.usefixtures("fitted_by_own_code")
@pytest.mark.parametrize("kept", KEPT_BY, ids=lambda path: path.stem)
def test_a_warehouse_of_an_earlier_version_gives_what_a_new_one_gives(kept, tiny):
    with_earlier_headings(tiny)
    anew = dict(tiny.load_and_estimate())
    file = tiny.folder / "warehouse.duckdb"
    file.unlink()
    with duckdb.connect(file) as earlier:
        earlier.execute(kept.read_text(encoding="utf-8"))
        before = {name: earlier.execute(f"from {name}").df() for name in ("raw.files", "raw.rows", "estimates.runs")}
    loaded = tiny.load_and_estimate()
    for name, frame in anew.items():
        if name not in OF_RUNS:
            pd.testing.assert_frame_equal(loaded[name], frame, obj=name)
    assert set(loaded["reports.changes"]["cause"]) == {"software"}
    with duckdb.connect(file) as now:
        files, rows, runs = (now.execute(f"from {name}").df() for name in before)
    assert len(runs) == len(before["estimates.runs"]) + 1
    rows["sha256"] = rows["sha256"].str.partition(":")[0]  # whatever it was read by
    assert not rows.duplicated(ROW).any() and len(rows) >= len(before["raw.rows"])
    assert set(before["raw.files"]["arrival"]) <= set(files["arrival"])


ASKED = (["plan"], ["claims"], ["trace", "abcd"], ["preview", "corn"], ["calibrate"], ["check-fits"], ["findings"])


@pytest.mark.parametrize("kept", KEPT_BY, ids=lambda path: path.stem)
@pytest.mark.parametrize("words", ASKED, ids=lambda words: words[0])
def test_what_only_reads_says_what_to_run_first_and_keeps_the_file(kept, tiny, capsys, words):
    file = tiny.folder / "warehouse.duckdb"
    with duckdb.connect(file) as earlier:
        earlier.execute(kept.read_text(encoding="utf-8"))
    before = file.read_bytes()
    code = main([*words, "--program", str(tiny.folder)])
    said = capsys.readouterr().err
    assert file.read_bytes() == before
    assert (code, said) == (0, "") if words == ["findings"] else code == 1 and "Run make report" in said


@pytest.mark.usefixtures("fitted_by_own_code")
def test_a_run_whose_version_kept_no_texts_is_named_and_not_told_apart(estimated_program, tmp_path, capsys):
    tiny = TinyProgram(shutil.copytree(estimated_program, tmp_path / "program"))
    file = tiny.folder / "warehouse.duckdb"
    with duckdb.connect(file) as earlier:
        earlier.execute("drop schema reports cascade; alter table estimates.runs drop column deciding_texts")
    tiny.change("plots", 4, "harvest_weight_lb", "40.9")
    assert main(["findings", "--program", str(tiny.folder)]) == 0
    told = capsys.readouterr().out
    assert "seasons/2091/plots.csv: row 4" in told and "program.yml is new" not in told
    for n_runs in (2, 3):  # the second time its column is there, and holds nothing
        assert set(tiny.load_and_estimate()["reports.changes"]["cause"]) == {NOT_TOLD_APART}
        with duckdb.connect(file, read_only=True) as now:
            assert now.execute("select count(*) from estimates.runs").fetchone() == (n_runs,)
        with duckdb.connect(file) as now:
            now.execute("update estimates.runs set deciding_texts = null")
