"""What lies in a program folder: found, refused with the mend, brought in whole or not at all."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import socket
from pathlib import Path

import pytest
from filelock import FileLock

from pipeline.errors import UserError
from pipeline.incoming.arriving import brought_in
from pipeline.incoming.deliveries import beside_files, check_season_complete, find_files, read_sheets
from pipeline.incoming.headings import SendersWords


def refusal(call) -> str:
    with pytest.raises(UserError) as problem:
        call()
    return str(problem.value)


def test_files_in_order_of_season_and_path(tiny):
    files = find_files(tiny.folder)
    assert [f.season for f in files] == sorted(f.season for f in files)
    first = files[0]
    assert (first.file, first.delivery, first.season) == (
        "seasons/2091/nitrogen_applications.csv",
        "seasons/2091",
        2091,
    )
    content = first.path.read_bytes()
    assert first.sha256 == hashlib.sha256(content).hexdigest() and first.size_bytes == len(content)


def test_a_subfolder_is_a_delivery_of_its_own_and_a_workbook_too(tiny):
    tiny.add_delivery("east farm")
    (tiny.folder / "seasons/2091/West.XLSX").write_bytes(b"x")
    deliveries = {f.file: f.delivery for f in find_files(tiny.folder)}
    assert deliveries["seasons/2091/east farm/plots.csv"] == "seasons/2091/east farm"
    assert deliveries["seasons/2091/West.XLSX"] == "seasons/2091/West.XLSX"


def test_hidden_files_and_lock_files_of_a_spreadsheet_program_are_no_delivery(tiny):
    before = find_files(tiny.folder)
    for name in (".plots.csv", "~$plots.xlsx", ".DS_Store"):
        (tiny.folder / "seasons/2091" / name).write_text("x")
    (tiny.folder / "seasons/.2093.arriving").mkdir()
    assert find_files(tiny.folder) == before


@pytest.mark.parametrize("suffix", [".xlsm", ".xlsb", ".numbers"])
def test_a_table_of_a_kind_that_is_not_read_is_not_passed_over(tiny, suffix):
    (tiny.folder / f"seasons/2092/more{suffix}").write_text("x")
    (file,) = [f for f in find_files(tiny.folder) if f.file == f"seasons/2092/more{suffix}"]
    assert refusal(lambda: read_sheets(file, SendersWords())).startswith(
        f"seasons/2092/more{suffix}: {suffix} files are not read; save it as"
    )


@pytest.mark.parametrize(
    ("name", "make", "says"),
    [
        ("sites2.csv", lambda path: path.symlink_to("/nowhere/sites.csv"), "a link to something that is not there"),
        ("east", lambda path: path.symlink_to("/nowhere/east"), "a link to something that is not there"),
        ("loop", lambda path: path.symlink_to("."), "a link to a folder, which is not followed; copy"),
        ("more.csv", lambda path: path.mkdir(), "a folder named like a file; rename it"),
        ("corrections.yml", lambda path: path.mkdir(), "a folder named like a file; rename it"),
        ("corrections.yaml", Path.touch, "is not read under this name; call it corrections.yml"),
        ("Headings.YML", Path.touch, "is not read under this name; call it headings.yml"),
        ("pipe.csv", os.mkfifo, "neither a file nor a folder; remove it"),
        (
            "mail.sock",
            lambda path: socket.socket(socket.AF_UNIX).bind(str(path)),
            "neither a file nor a folder; remove it",
        ),
    ],
)
def test_what_cannot_be_read_is_not_passed_over(tiny, name, make, says):
    make(tiny.folder / "seasons/2091" / name)
    assert refusal(lambda: find_files(tiny.folder)).startswith(f"seasons/2091/{name}: {says}")


@pytest.mark.parametrize("name", ["2091", "2091/north"])
def test_a_folder_that_may_not_be_opened_is_not_passed_over(tiny, monkeypatch, name):
    """Its files would count as withdrawn. Who runs the tests may open every folder: the mode alone is asked."""
    folder = tiny.folder / "seasons" / name
    folder.mkdir(exist_ok=True)
    folder.chmod(0o000)
    monkeypatch.setattr(os, "access", lambda path, how: bool(Path(path).stat().st_mode & 0o400))
    says = refusal(lambda: find_files(tiny.folder))
    folder.chmod(0o755)
    assert says == f"seasons/{name}: a folder that may not be opened; check who may read it"


@pytest.mark.parametrize("make", [Path.mkdir, Path.touch])
def test_a_name_that_is_no_text_is_told(tiny, make):
    make(Path(os.fsdecode(os.fsencode(tiny.folder) + b"/seasons/2091/H\xf6he.csv")))
    says = refusal(lambda: find_files(tiny.folder))
    assert says == "seasons/2091/H\ufffdhe.csv: its name is not UTF-8 text; rename it, as to plots.csv"


@pytest.mark.parametrize("name", ["corrections.yml", "manifest.csv"])
def test_what_speaks_for_a_season_is_not_passed_over_in_a_folder_below(tiny, name):
    tiny.add_delivery("north")
    (tiny.folder / "seasons/2091/north" / name).write_text("")
    assert refusal(lambda: find_files(tiny.folder)) == (
        f"seasons/2091/north/{name}: {name} speaks for a whole season and is read in seasons/2091 alone. Put what it"
        f" says into seasons/2091/{name}, or give the file another name."
    )


@pytest.mark.parametrize("name", [".stversions", ".ipynb_checkpoints", "~$mail"])
def test_what_a_program_hides_beside_the_deliveries_is_none(tiny, name):
    before = find_files(tiny.folder), beside_files(tiny.folder)
    (tiny.folder / "seasons/2091" / name / "old").mkdir(parents=True)
    for file in ("plots.csv", "headings.yml", "corrections.yml"):
        shutil.copy(tiny.path("plots"), tiny.folder / "seasons/2091" / name / "old" / file)
    assert (find_files(tiny.folder), beside_files(tiny.folder)) == before


def test_a_link_to_a_file_is_read(tiny, tmp_path):
    place = tiny.path("sites")
    place.rename(tmp_path / "sites.csv")
    place.symlink_to(tmp_path / "sites.csv")
    assert "seasons/2091/sites.csv" in [f.file for f in find_files(tiny.folder)]


@pytest.mark.parametrize("name", ["2091b", "91", "corn", "20911"])
def test_a_season_folder_is_named_by_its_year(tiny, name):
    (tiny.folder / "seasons" / name).mkdir()
    assert (
        refusal(lambda: find_files(tiny.folder))
        == f"seasons/{name}: expected a folder named by its harvest year, like seasons/2093"
    )


def test_a_season_folder_without_a_table(tiny):
    (tiny.folder / "seasons/2093").mkdir()
    assert "seasons/2093 holds no .csv, .xlsx or other table" in refusal(lambda: find_files(tiny.folder))


def test_no_season_at_all(tiny):
    shutil.rmtree(tiny.folder / "seasons")
    assert "Put each season's deliveries into seasons/<year>/" in refusal(lambda: find_files(tiny.folder))
    (tiny.folder / "seasons").mkdir()
    assert "holds no season yet" in refusal(lambda: find_files(tiny.folder))


def test_a_file_where_the_seasons_should_be(tiny, season_elsewhere):
    seasons = tiny.folder / "seasons"
    shutil.rmtree(seasons)
    seasons.write_text("a file")
    assert f"{seasons} is a file. Put each season's deliveries into" in refusal(lambda: find_files(tiny.folder))
    with pytest.raises(UserError, match="seasons is a file, and must be the folder of the seasons"):
        with brought_in(season_elsewhere, tiny.folder):
            pass
    assert seasons.read_text() == "a file"


def _sheets(tiny, table: str):
    (delivered,) = [f for f in find_files(tiny.folder) if f.file == f"seasons/2091/{table}.csv"]
    return read_sheets(delivered, SendersWords())


def test_a_file_is_named_for_the_table_it_holds(tiny):
    tiny.path("plots").rename(tiny.path("plot"))
    assert (
        '"plot" is no table of ours (did you mean "plots"?; by its headings it may be plots); name the file for what it'
        " holds, or put into seasons/2091/headings.yml: tables: {plot: <our table>}, or none where it holds no table"
        in refusal(lambda: _sheets(tiny, "plot"))
    )


def test_every_lacking_column_is_named_with_its_meaning_and_a_hint(tiny):
    tiny.rename("plots", "block", "rep")
    tiny.rename("plots", "plot", "No.")
    message = refusal(lambda: _sheets(tiny, "plots"))
    assert message.startswith("seasons/2091/plots.csv: lacks the column block (block (replicate) of the plot")
    assert "\n  lacks the column plot (plot number" in message
    assert message.count("rename the heading if one of these is it: rep, No.;") == 2
    assert 'or put into seasons/2091/headings.yml: headings: {plots: {"' in message


def test_one_of_several_units_is_enough(tiny):
    tiny.rename("treatments", "n_rate_lb_ac", "n_rate_kg_ha")
    assert _sheets(tiny, "treatments")
    tiny.rename("treatments", "n_rate_kg_ha", "n_rate")
    assert "lacks the column n_rate_lb_ac or n_rate_kg_ha" in refusal(lambda: _sheets(tiny, "treatments"))


@pytest.mark.parametrize(
    ("tables", "says"),
    [
        (["trials", "plots"], "no treatments table was delivered (a file treatments.csv, or a sheet named treatments)"),
        (["sites"], "no trials and no treatments table was delivered (a file trials.csv, or a sheet named trials)"),
    ],
)
def test_a_season_lacks_a_table(tables, says):
    assert refusal(lambda: check_season_complete(2091, tables)) == f"seasons/2091: {says}"


def test_a_season_with_what_is_needed():
    check_season_complete(2091, ["trials", "treatments"])
    check_season_complete(2091, ["trials", "treatments", "plots"], is_harvested=True)
    check_season_complete(2091, ["trials", "treatments", "printed_means"], is_harvested=True)
    says = "seasons/2091: no plots table was delivered (a file plots.csv, or a sheet named plots)"
    assert refusal(lambda: check_season_complete(2091, ["trials", "treatments"], is_harvested=True)) == says


@pytest.fixture
def season_elsewhere(tiny, tmp_path):
    return shutil.copytree(tiny.folder / "seasons/2092", tmp_path / "post" / "2093")


def test_a_season_from_elsewhere_is_copied_in(tiny, season_elsewhere):
    with brought_in(season_elsewhere, tiny.folder):
        pass
    copied = tiny.folder / "seasons/2093"
    assert {p.name: p.read_bytes() for p in copied.iterdir()} == {
        p.name: p.read_bytes() for p in season_elsewhere.iterdir()
    }
    assert not (tiny.folder / "seasons/.2093.arriving").exists()


@pytest.mark.parametrize("why", [UserError("refused"), KeyboardInterrupt(), RuntimeError("a defect of ours")])
def test_a_season_whose_run_does_not_finish_is_taken_out_again(tiny, season_elsewhere, why):
    with pytest.raises(type(why)), brought_in(season_elsewhere, tiny.folder):
        raise why
    assert sorted(p.name for p in (tiny.folder / "seasons").iterdir()) == ["2091", "2092"]
    assert season_elsewhere.exists()


def test_a_season_that_is_there_already(tiny, season_elsewhere, tmp_path):
    with brought_in(season_elsewhere, tiny.folder):
        pass
    with brought_in(season_elsewhere, tiny.folder):  # the same files again
        pass
    with brought_in(tiny.folder / "seasons/2093", tiny.folder):  # named in its place
        pass
    (season_elsewhere / "plots.csv").write_text("other")
    with pytest.raises(
        UserError, match="2093 is there already, with other files. Put the new or corrected files into it"
    ):
        with brought_in(season_elsewhere, tiny.folder):
            pass
    assert (tiny.folder / "seasons/2093/plots.csv").read_text() != "other"


def test_a_season_named_wrongly(tiny, tmp_path):
    (tmp_path / "harvest").mkdir()
    (tmp_path / "2094").write_text("a file")
    for path, says in (
        ("nowhere/2094", "is not a folder"),
        ("2094", "is not a folder"),
        ("harvest", "name the folder by its harvest year"),
    ):
        with pytest.raises(UserError, match=says), brought_in(tmp_path / path, tiny.folder):
            pass


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: path.symlink_to("gone.csv"), "odd: a link to something that is not there"),
        (lambda path: path.symlink_to("."), "odd: a link to a folder, which is not followed"),
        (os.mkfifo, "odd: neither a file nor a folder"),
    ],
)
def test_a_season_with_what_cannot_be_read_is_not_brought_in(tiny, season_elsewhere, make, says):
    make(season_elsewhere / "odd")
    with pytest.raises(UserError, match=says), brought_in(season_elsewhere, tiny.folder):
        pass
    assert sorted(p.name for p in (tiny.folder / "seasons").iterdir()) == ["2091", "2092"]


def test_a_season_that_cannot_be_copied_whole_is_not_brought_in(tiny, season_elsewhere, monkeypatch):
    def forbidden(source, target):
        raise shutil.Error([(str(season_elsewhere / "plots.csv"), str(target), "Permission denied")])

    monkeypatch.setattr(shutil, "copytree", forbidden)
    with (
        pytest.raises(UserError, match="plots.csv cannot be copied into the program"),
        brought_in(season_elsewhere, tiny.folder),
    ):
        pass
    assert sorted(p.name for p in (tiny.folder / "seasons").iterdir()) == ["2091", "2092"]


def killed(season: Path, program: Path) -> None:
    """What a command that is killed in its run leaves: its season, the mark beside it, and no lock."""
    child = os.fork()
    if not child:
        with brought_in(season, program):
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)


def test_the_season_of_a_killed_command_is_taken_out_by_the_next(tiny, season_elsewhere):
    killed(season_elsewhere, tiny.folder)
    assert (tiny.folder / "seasons/2093").is_dir()
    assert {file.season for file in find_files(tiny.folder)} == {2091, 2092}
    assert sorted(path.name for path in (tiny.folder / "seasons").iterdir()) == ["2091", "2092"]


def test_the_season_of_a_killed_command_is_brought_in_as_it_is_now(tiny, season_elsewhere):
    """Not held to be there already, with other files."""
    killed(season_elsewhere, tiny.folder)
    (season_elsewhere / "plots.csv").write_text("corrected")
    with brought_in(season_elsewhere, tiny.folder):
        assert (tiny.folder / "seasons/2093/plots.csv").read_text() == "corrected"


def test_a_season_that_was_changed_since_is_not_taken_out(tiny, season_elsewhere):
    killed(season_elsewhere, tiny.folder)
    (tiny.folder / "seasons/2093/plots.csv").write_text("corrected")
    assert 2093 in {file.season for file in find_files(tiny.folder)}
    assert (tiny.folder / "seasons/2093/plots.csv").read_text() == "corrected"
    assert not list((tiny.folder / "seasons").glob(".*"))


def test_the_season_of_a_command_at_work_is_left_to_it(tiny, season_elsewhere):
    with brought_in(season_elsewhere, tiny.folder):
        assert 2093 in {file.season for file in find_files(tiny.folder)}


def test_a_season_that_another_command_is_copying_is_left_to_it(tiny, season_elsewhere):
    with (
        FileLock(tiny.folder / "seasons/.2093.unfinished"),
        pytest.raises(UserError, match="Another command is bringing season 2093 into the program. Let it end"),
        brought_in(season_elsewhere, tiny.folder),
    ):
        pass


@pytest.mark.parametrize(
    ("n_calls", "problem", "stays"),
    [(1, KeyboardInterrupt, True), (1, UserError, False), (2, UserError, True), (0, KeyboardInterrupt, False)],
)
def test_a_season_stays_as_far_as_its_run_is_stored(tiny, season_elsewhere, n_calls, problem, stays):
    with pytest.raises(problem), brought_in(season_elsewhere, tiny.folder) as storing:
        for _ in range(n_calls):
            storing()
        raise problem("x")
    assert (tiny.folder / "seasons/2093").is_dir() == stays
    assert not list((tiny.folder / "seasons").glob(".*"))
