"""Set-up files agree with each other, and set-up speaks plainly where it cannot go on."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SET_UP = ROOT / ".setup" / "set_up.sh"
STAND_IN = ROOT / "pipeline" / "estimates" / "r_stand_in" / "report"
TOOLS = ["bash", "cat", "dirname", "mkdir", "rm", "sed", "tail", "timeout"]


def normalised(name: str) -> str:
    """Package name as PEP 503 compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def locked_entries() -> dict[str, str]:
    """Entries of the lock file: 'name==version' to the text of the entry."""
    text = re.sub(r"^ *#.*\n", "", (ROOT / "requirements.lock").read_text(), flags=re.MULTILINE)
    entries = re.split(r"^(?=\S)", text, flags=re.MULTILINE)
    return {entry.split()[0]: entry for entry in entries if entry}


def declared_pins() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    pins = [pin.split("==") for group in groups for pin in group]
    return [f"{normalised(name)}=={version}" for name, version in pins]


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    # A make that runs these tests must not hand its own options on.
    inherited = {k: v for k, v in os.environ.items() if k not in ("MAKEFLAGS", "MFLAGS", "PROGRAM")}
    return subprocess.run(["make", "-C", ROOT, *arguments], env=inherited, text=True, capture_output=True)


def test_help_lists_every_target():
    targets = re.search(r"^\.PHONY: (.*)$", (ROOT / "Makefile").read_text(), re.MULTILINE)[1]
    shown = re.findall(r"^  ([a-z-]+) +\S", make("help").stdout, re.MULTILINE)
    assert shown == targets.split()


def test_help_is_what_make_alone_shows():
    assert make().stdout == make("help").stdout


@pytest.mark.parametrize("name", ['a"b', "it's", "a b", "a;b", "x,y)", "`id`", "a\\b", "*"])
def test_a_name_reaches_the_command_as_it_was_typed(name):
    words = [
        f"PROGRAM={name}",
        f"SEASON={name}",
        f"ID={name}",
        "PYTHON_HERE=printf '<%s>'",
        "--assume-old=.venv/setup.stamp",
        "-s",
    ]
    assert make("season", *words).stdout.endswith(f"<season><{name}><--program><{name}>")
    assert make("trace", *words).stdout.endswith(f"<trace><{name}><--program><{name}>")
    laid_out = make("layout", *words, f"TRIAL={name}", f"SITE={name}").stdout
    assert laid_out.endswith(f"<layout><{name}><--program><{name}><--season><{name}><--site><{name}>")


def test_season_without_a_folder_says_what_to_type(tmp_path):
    done = make("season", f"PROGRAM={tmp_path}", "--assume-old=.venv/setup.stamp")
    assert done.returncode != 0
    assert "make season SEASON=path" in done.stderr


@pytest.mark.parametrize("target", ["report", "season"])
def test_only_the_demo_program_is_made_when_missing(target, tmp_path):
    mine = make("--dry-run", target, f"PROGRAM={tmp_path}/mine").stdout
    assert "demo --to" not in mine
    assert f"-m pipeline {target} " in mine
    demo = make("--dry-run", "--always-make", target).stdout
    assert "demo --to build/demo" in demo


def test_lock_file_covers_every_declared_dependency():
    missing = set(declared_pins()) - set(locked_entries())
    assert not missing, f"write requirements.lock again (its second line): {sorted(missing)}"


def test_every_locked_package_is_pinned_and_hashed():
    for pin, entry in locked_entries().items():
        assert re.fullmatch(r"[a-z0-9-]+==[^=*]+", pin)
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", entry), pin


def test_lock_file_names_no_place_to_download_from():
    assert not re.search(r"://|index-url|find-links|trusted-host", (ROOT / "requirements.lock").read_text())


def test_what_builds_rpy2_is_locked_under_the_names_set_up_uses():
    names = re.search(r"locked ([\w ]+)\)", SET_UP.read_text())[1].split()
    assert names
    assert set(names) <= {pin.split("==")[0] for pin in locked_entries()}


def run_set_up(tmp_path: Path, **fake_programs: str) -> subprocess.CompletedProcess[str]:
    """Run a copy of set-up on a machine that has only TOOLS, Python and the given shell scripts."""
    (tmp_path / ".setup").mkdir()
    shutil.copy(SET_UP, tmp_path / ".setup")
    bin_dir = tmp_path / "bin"
    bin_dir.mkdir()
    for tool in TOOLS:
        (bin_dir / tool).symlink_to(shutil.which(tool))
    fakes = {"python3": f'exec {sys.executable} "$@"'} | fake_programs
    for name, body in fakes.items():
        program = bin_dir / name.replace("_", "-")
        program.write_text(f"#!{shutil.which('bash')}\n{body}\n")
        program.chmod(0o755)
    return subprocess.run(
        [tmp_path / ".setup" / "set_up.sh"], env={"PATH": str(bin_dir)}, text=True, capture_output=True
    )


def test_set_up_without_root_prints_the_one_command(tmp_path):
    done = run_set_up(tmp_path, id="echo 1000", apt_get="echo apt must not run >&2")
    assert done.returncode == 1
    (command,) = [line for line in done.stderr.splitlines() if line.startswith("  sudo ")]
    assert "apt-get update && apt-get install -y --no-install-recommends" in command
    assert "r-cran-lme4" in command and "python3-venv" in command
    assert "apt must not run" not in done.stderr


def test_set_up_without_apt_names_what_to_install(tmp_path):
    done = run_set_up(tmp_path)
    assert done.returncode == 1
    assert "lmerTest" in done.stderr and "Python 3.11+" in done.stderr


@pytest.mark.parametrize("version", ["3.6.3", "4.0.4", "4.1.2"])
def test_set_up_refuses_an_old_r(tmp_path, version):
    done = run_set_up(tmp_path, Rscript=f"echo -n {version}")
    assert done.returncode == 1
    assert f"R {version} is too old; R 4.2 to 4.4 is needed" in done.stderr


def test_set_up_refuses_an_old_python(tmp_path):
    old = """case "$*" in
      *version_info*) exit 1 ;;
      --version) echo Python 3.9.2 ;;
    esac"""
    done = run_set_up(tmp_path, Rscript="echo -n 4.2.2", python3=old)
    assert done.returncode == 1
    assert "Python 3.9.2 is too old; 3.11 or later is needed" in done.stderr


def test_set_up_shows_why_a_step_failed(tmp_path):
    broken = """case "$*" in
      *debian*|*version_info*|*ensurepip*) exit 0 ;;
      *) echo "no space left on device" >&2; exit 1 ;;
    esac"""
    done = run_set_up(tmp_path, Rscript="echo -n 4.2.2", python3=broken)
    assert done.returncode == 1
    assert "no space left on device" in done.stderr
    assert "run make setup again" in done.stderr


def test_stand_in_says_what_it_is():
    description = (STAND_IN / "DESCRIPTION").read_text()
    assert re.search(r"^Title: .*Stand-In.*Not the Real One", description, re.MULTILINE)
    assert "not the real package" in description


def test_stand_in_function_stops_with_a_clear_error():
    script = f"source('{STAND_IN / 'R' / 'report.R'}'); report(1)"
    done = subprocess.run(["Rscript", "-e", script], text=True, capture_output=True)
    assert done.returncode != 0
    assert "stand-in for the R package 'report'" in done.stderr
