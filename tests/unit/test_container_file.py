"""The container file: what an office may expect of an image, and the same packages as set-up asks for."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bare_root.container_file import faults, installed_by_apt, read_steps

SETUP_FOLDER = Path(__file__).resolve().parents[2] / ".setup"
CONTAINER_FILE = SETUP_FOLDER / "Containerfile"


def test_it_has_no_fault():
    assert faults(read_steps(CONTAINER_FILE)) == []


@pytest.mark.parametrize(
    ("written", "instead", "fault"),
    [
        ("USER office\n", "", "runs as root"),
        (" --no-install-recommends", "", "apt-get install without --no-install-recommends"),
        (" && rm -rf /var/lib/apt/lists/*", "", "apt-get install without rm -rf /var/lib/apt/lists/*"),
        ("PIP_NO_CACHE_DIR=1 ", "", "leaves pip's cache"),
        ("RUN PIP", "RUN curl x | sh\nRUN PIP", "fetches or rises by itself: curl x | sh"),
        ('ENTRYPOINT ["make"]\nCMD ["help"]\n', "", "does not say what it runs"),
    ],
)
def test_a_fault_is_found(tmp_path, written, instead, fault):
    text = CONTAINER_FILE.read_text()
    assert written in text
    (tmp_path / "Containerfile").write_text(text.replace(written, instead))
    assert fault in faults(read_steps(tmp_path / "Containerfile"))


def test_an_unknown_instruction_is_refused(tmp_path):
    (tmp_path / "Containerfile").write_text("FORM debian\n")
    with pytest.raises(ValueError, match="FORM"):
        read_steps(tmp_path / "Containerfile")


def test_it_installs_what_set_up_asks_for():
    asked = re.search(r"^debian_packages=\(([^)]*)\)", (SETUP_FOLDER / "set_up.sh").read_text(), re.MULTILINE)[1]
    assert set(asked.split()) <= installed_by_apt(read_steps(CONTAINER_FILE))


def test_where_no_bare_root_can_be_made_it_says_so_and_does_not_pass_for_one(tmp_path):
    command = [sys.executable, "-m", "tests.bare_root", "--release", "trixie", "--folder", tmp_path]
    done = subprocess.run(command, capture_output=True, text=True, env={"PATH": ""})
    assert (done.returncode, done.stdout.partition(":")[0]) == (77, "No bare trixie was tried")
