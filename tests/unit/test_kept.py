"""Files that are the same as in the last run are not made again."""

from __future__ import annotations

import threading

import pytest

from pipeline.kept import FOLDER, Kept, kept, kept_in


@pytest.fixture
def folder(tmp_path):
    return tmp_path / FOLDER


class Making:
    """Writes a text into files and counts how often."""

    def __init__(self, where) -> None:
        self.times, self.files = 0, [where / "a.png", where / "a.svg"]

    def __call__(self) -> None:
        self.times += 1
        for file in self.files:
            file.write_text(f"{file.name} as it should be")

    def gone(self) -> None:
        for file in self.files:
            file.unlink()

    def are_there(self) -> bool:
        return all(file.read_text() == f"{file.name} as it should be" for file in self.files)


def test_the_same_parts_are_made_once(folder, tmp_path):
    make = Making(tmp_path)
    for parts, times in (({"gain": 1.0}, 1), ({"gain": 1.0}, 1), ({"gain": 1.1}, 2)):
        Kept(folder).made(lambda parts=parts: parts, make.files, make)
        assert make.times == times and make.are_there()
        make.gone()


def test_without_a_folder_each_is_made_and_its_parts_are_not_asked_for(tmp_path):
    make = Making(tmp_path)
    for times in (1, 2):
        kept().made(lambda: pytest.fail("asked"), make.files, make)
        assert make.times == times


def test_fresh_takes_nothing_and_keeps_all_the_same(folder, tmp_path):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    Kept(folder, is_fresh=True).made(lambda: 1, make.files, make)
    Kept(folder).made(lambda: 1, make.files, make)
    assert make.times == 2


@pytest.mark.parametrize(
    "damage", [lambda file: file.write_bytes(b""), lambda file: file.unlink(), lambda file: file.write_text("b")]
)
def test_a_file_that_was_changed_is_made_anew(folder, tmp_path, damage):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    damage(next(folder.iterdir()))
    make.gone()
    Kept(folder).made(lambda: 1, make.files, make)
    assert make.times == 2 and make.are_there()


def test_what_a_run_did_not_need_is_gone_after_it(folder, tmp_path):
    make = Making(tmp_path)
    for parts in (1, 2, 2):
        with kept_in(folder) as files:
            kept().made(lambda parts=parts: parts, make.files, make)
            files.forget_unused()
        assert len(list(folder.iterdir())) == 2
    assert make.times == 2 and kept().keys(lambda: 2, make.files) == []


def test_where_nothing_can_be_kept_it_is_made_each_time(folder, tmp_path):
    folder.write_text("a file where the folder should be")
    make = Making(tmp_path)
    for times in (1, 2):
        Kept(folder).made(lambda: 1, make.files, make)
        assert make.times == times and make.are_there()


@pytest.mark.parametrize("fails", ["copyfile", "replace"])
def test_a_folder_that_may_not_be_read_or_written_stops_nothing(folder, tmp_path, monkeypatch, fails):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    monkeypatch.setattr(f"pipeline.kept.{'shutil' if fails == 'copyfile' else 'os'}.{fails}", refuse)
    later = Kept(folder)
    later.made(lambda: 2, make.files, make)
    later.made(lambda: 1, make.files, make)
    monkeypatch.setattr("pathlib.Path.unlink", refuse)
    later.forget_unused()
    assert make.times == (3 if fails == "copyfile" else 2) and make.are_there()


def refuse(*arguments, **named):
    raise PermissionError(13, "Permission denied")


def test_what_cannot_be_told_from_others_is_made_each_time(folder, tmp_path):
    make = Making(tmp_path)
    for times in (1, 2):
        Kept(folder).made(threading.Lock, make.files, make)
        assert make.times == times and make.are_there()


def test_other_software_makes_it_again(folder, tmp_path, monkeypatch):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    monkeypatch.setattr("pipeline.kept.software_sha256", lambda: "another")
    Kept(folder).made(lambda: 1, make.files, make)
    assert make.times == 2
