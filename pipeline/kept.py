"""What was made before and is the same now is not made again: files, kept by all that decides what is in them.

A key is a hash of this program's code, the installed packages and what the file is made from. A kept file carries the
hash of its content in its name: one that was changed or cut short is made anew. What a run did not need is gone after
it, so that the folder holds the files of one run.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cached_property
from pathlib import Path

from pipeline.fingerprint import NoFingerprint, fingerprint
from pipeline.provenance import sha256_of, software_sha256

FOLDER = ".kept"  # in the program's folder; below it one folder for what is drawn and one for results
DRAWN, RESULTS = f"{FOLDER}/drawn", f"{FOLDER}/results"
TEXT = Path("text")
LENGTH = 32  # of a hash in a file's name


class Kept:
    """Files of the last run in a folder; without a folder nothing is kept.

    is_fresh: nothing of before is taken; what is made now is kept all the same.
    """

    def __init__(self, folder: Path | None = None, *, is_fresh: bool = False) -> None:
        self._folder, self._is_fresh = folder, is_fresh
        self._used: set[str] = set()

    @property
    def keeps(self) -> bool:
        return self._folder is not None

    @property
    def used(self) -> set[str]:
        """Names of the files that were taken or kept since this object was made."""
        return set(self._used)

    def note_used(self, names: Iterable[str]) -> None:
        """What another part of the run used of the same folder: it is not forgotten."""
        self._used |= set(names)

    def for_a_part(self) -> Kept:
        """The same files, which tells by itself what one part of the run uses of them."""
        part = Kept(self._folder, is_fresh=self._is_fresh)
        if self.keeps:
            part._there, part._by_content = self._there, self._by_content  # read once
        return part

    def made(self, parts: Callable[[], object], files: Sequence[Path], make: Callable[[], object]) -> None:
        """Puts files in place: as they were kept, else by calling `make`, which writes them.

        parts: gives all that decides what is in them; called only where files are kept.
        """
        keys = self.keys(parts, files)  # before they are made, which may change the parts
        if not self.taken(keys, files):
            make()
            self.keep(keys, files)

    def keys(self, parts: Callable[[], object], files: Sequence[Path]) -> list[str]:
        """One a file, none where nothing is kept or the parts cannot be told from others.

        A file's name counts, its folder does not: that is a scratch folder.
        """
        if self._folder is None:
            return []
        told = parts()
        with suppress(NoFingerprint):
            return [fingerprint(software_sha256(), told, file.name)[:LENGTH] for file in files]
        return []

    def names(self, keys: Sequence[str]) -> list[str]:
        """Names of the files that are kept under these keys."""
        return [self._there[key] for key in keys if key in self._there]

    def taken(self, keys: Sequence[str], files: Sequence[Path]) -> bool:
        """Whether all the files were kept whole under their keys; then they are in place."""
        if self._is_fresh or not keys:
            return False
        try:
            found = [self._whole(key) for key in keys]
            for path, file in zip(found, files, strict=True):
                shutil.copyfile(path, file)
        except (OSError, LookupError):
            return False
        self._used |= {path.name for path in found}
        return True

    def told(self, parts: Callable[[], object], make: Callable[[], str]) -> str:
        """A text: as it was kept, else as `make` gives it; parts as for made."""
        keys = self.keys(parts, [TEXT])
        with suppress(OSError, LookupError, UnicodeDecodeError):
            if keys and not self._is_fresh:
                path = self._whole(keys[0])
                text = path.read_bytes().decode()  # line ends as they were kept
                self._used.add(path.name)
                return text
        text = make()
        with suppress(OSError):
            for key in keys:
                self._put(key, hashlib.sha256(text.encode()).hexdigest(), lambda half: half.write_bytes(text.encode()))
        return text

    def keep(self, keys: Sequence[str], files: Sequence[Path]) -> None:
        """Keeps what was just made. A disk that takes no more costs no more than making it again."""
        with suppress(OSError):
            for key, file in zip(keys, files, strict=False):
                self._put(key, sha256_of(file), lambda half, file=file: shutil.copyfile(file, half))

    def forget_unused(self) -> None:
        """Takes away what was neither taken nor kept since this object was made."""
        if self._folder is not None:
            with suppress(OSError):
                for path in self._folder.iterdir():
                    if path.name not in self._used:
                        with suppress(OSError):  # such as of a folder, which a file server makes for itself
                            path.unlink()

    def _put(self, key: str, sha256: str, write: Callable[[Path], object]) -> None:
        """What is kept under another key already takes no room a second time."""
        self._folder.mkdir(parents=True, exist_ok=True)
        name = f"{key}-{sha256[:LENGTH]}"
        half = self._folder / f"{name}.{os.getpid()}"
        half.unlink(missing_ok=True)
        try:
            os.link(self._whole(self._by_content[sha256[:LENGTH]].partition("-")[0]), half)
        except (LookupError, OSError):
            write(half)
        os.replace(half, self._folder / name)
        half.unlink(missing_ok=True)  # it stays where both were one file already
        self._used.add(name)
        self._there[key] = name
        self._by_content[sha256[:LENGTH]] = name

    def _whole(self, key: str) -> Path:
        """LookupError where none is kept as it was written."""
        name = self._there[key]
        if name != f"{key}-{sha256_of(self._folder / name)[:LENGTH]}":
            raise LookupError(key)
        return self._folder / name

    @cached_property
    def _there(self) -> dict[str, str]:
        """Names of kept files by key, as the last run left them; of two that were made for one key any will do."""
        try:
            return {name.partition("-")[0]: name for name in sorted(os.listdir(self._folder)) if "." not in name}
        except OSError:
            return {}

    @cached_property
    def _by_content(self) -> dict[str, str]:
        """One name of a kept file by the hash of its content."""
        return {name.partition("-")[2]: name for name in self._there.values()}


_here = Kept()


def kept() -> Kept:
    """What stands by for this run: see `kept_in`."""
    return _here


@contextmanager
def kept_in(folder: Path | None, *, is_fresh: bool = False) -> Iterator[Kept]:
    """While it lasts `kept()` is a folder's."""
    with standing_by(Kept(folder, is_fresh=is_fresh)) as files:
        yield files


@contextmanager
def standing_by(files: Kept) -> Iterator[Kept]:
    """While it lasts `kept()` is these files, as in a process that got them from another."""
    global _here
    before, _here = _here, files
    try:
        yield _here
    finally:
        _here = before
