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


def test_what_is_kept_twice_takes_room_once_and_each_is_looked_at_by_itself(folder, tmp_path):
    first, second = (tmp_path / name for name in ("first.pdf", "second.pdf"))
    for file in (first, second):
        file.write_text("the same page")
    files = Kept(folder)
    files.made(lambda: 1, [first], lambda: None)
    files.made(lambda: 2, [second], lambda: None)
    assert len({path.stat().st_ino for path in folder.iterdir()}) == 1 and len(list(folder.iterdir())) == 2
    next(iter(folder.iterdir())).write_text("cut")
    for parts, file in ((1, first), (2, second)):
        assert not (again := Kept(folder)).taken(again.keys(lambda parts=parts: parts, [file]), [file])
        file.write_text("the same page")
        again.keep(again.keys(lambda parts=parts: parts, [file]), [file])
        assert Kept(folder).taken(again.keys(lambda parts=parts: parts, [file]), [file])


def test_the_same_kept_again_leaves_nothing_beside_it(folder, tmp_path):
    file = tmp_path / "page.pdf"
    file.write_text("the same page")
    for _ in range(2):
        files = Kept(folder)
        files.keep(files.keys(lambda: 1, [file]), [file])
    assert len(list(folder.iterdir())) == 1


def test_where_files_cannot_share_room_each_is_kept_whole(folder, tmp_path, monkeypatch):
    monkeypatch.setattr("os.link", lambda *paths: (_ for _ in ()).throw(OSError("not here")))
    file = tmp_path / "page.pdf"
    file.write_text("the same page")
    for parts in (1, 2):
        Kept(folder).made(lambda parts=parts: parts, [file], lambda: None)
    assert [path.read_text() for path in folder.iterdir()] == ["the same page"] * 2


def test_a_folder_of_the_file_server_keeps_nothing_from_being_forgotten(folder, tmp_path):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    for name in ("#recycle", "0", "@eaDir", "~"):
        (folder / name).mkdir()
    Kept(folder).forget_unused()
    assert all(path.is_dir() for path in folder.iterdir())


def test_fresh_takes_no_text_and_the_next_run_takes_its_own(folder):
    assert Kept(folder).told(lambda: 1, lambda: "before") == "before"
    fresh = Kept(folder, is_fresh=True)
    assert fresh.told(lambda: 1, lambda: "anew") == "anew"
    fresh.forget_unused()
    assert Kept(folder).told(lambda: 1, lambda: "not asked for") == "anew"


def test_what_a_part_of_the_run_used_is_told_and_not_forgotten(folder, tmp_path):
    make, whole = Making(tmp_path), Kept(folder)
    part, nothing = whole.for_a_part(), Kept().for_a_part()
    assert whole.keeps and part.keeps and not nothing.keeps
    keys = part.keys(lambda: 1, make.files)
    assert part.names(keys) == [] and nothing.keys(lambda: 1, make.files) == []
    part.made(lambda: 1, make.files, make)
    whole.told(lambda: 2, lambda: "the whole's own")
    assert part.used == set(part.names(keys)) and len(part.used) == 2 and not part.used & whole.used
    whole.note_used(part.used)
    whole.forget_unused()
    nothing.forget_unused()
    assert {path.name for path in folder.iterdir()} == part.used | whole.used and len(whole.used) == 3


def test_a_part_of_a_fresh_run_takes_nothing_either(folder, tmp_path):
    make = Making(tmp_path)
    Kept(folder).made(lambda: 1, make.files, make)
    Kept(folder, is_fresh=True).for_a_part().made(lambda: 1, make.files, make)
    assert make.times == 2


def test_a_text_that_was_taken_is_not_forgotten(folder):
    for files in (Kept(folder), Kept(folder), Kept(folder)):
        assert files.told(lambda: 1, lambda files=files: str(id(files))) == next(folder.iterdir()).read_text()
        files.forget_unused()
        assert len(list(folder.iterdir())) == 1


def test_a_text_comes_back_with_its_line_ends(folder):
    text = "one\r\nother\rlast\n"
    assert [Kept(folder).told(lambda: 1, lambda: text) for _ in range(2)] == [text, text]


def test_what_a_killed_run_kept_half_hides_nothing_whole(folder):
    Kept(folder).told(lambda: 1, lambda: "whole")
    (whole,) = folder.iterdir()
    (folder / f"{whole.name}.4711").write_text("who")
    assert Kept(folder).told(lambda: 1, lambda: "not asked for") == "whole"
