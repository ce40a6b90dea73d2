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
TOOLS = ["bash", "cat", "dirname", "mkdir", "sed", "tail"]


def normalized(name: str) -> str:
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
    return [f"{normalized(name)}=={version}" for name, version in pins]


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


@pytest.mark.parametrize(
    "name", ['a"b', "it's", "a b", "a;b", "x,y)", "`id`", "a\\b", "*", "a$b", "$(shell id)", "${HOME}", "$$"]
)
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
    assert make("trace", *words, "WHOLE=yes").stdout.endswith(f"<trace><{name}><--whole><--program><{name}>")
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


def test_every_command_takes_the_place_of_its_shell():
    """Else a request to end, which make hands to the shell alone, leaves the command at work."""
    recipes = [line for line in (ROOT / "Makefile").read_text().splitlines() if "-m pipeline" in line]
    assert recipes
    assert [line for line in recipes if not line.startswith("\texec ")] == []


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


def run_set_up(tmp_path: Path, *, settings: dict[str, str] | None = None, **fakes: str) -> subprocess.CompletedProcess:
    """Run a copy of set-up on a machine that has only TOOLS, Python and the given shell scripts."""
    (tmp_path / ".setup").mkdir()
    shutil.copy(SET_UP, tmp_path / ".setup")
    bin_dir = tmp_path / "bin"
    bin_dir.mkdir()
    for tool in TOOLS:
        (bin_dir / tool).symlink_to(shutil.which(tool))
    fakes = {"python3": f'exec {sys.executable} "$@"'} | fakes
    for name, body in fakes.items():
        program = bin_dir / name.replace("_", "-")
        program.write_text(f"#!{shutil.which('bash')}\n{body}\n")
        program.chmod(0o755)
    environment = {"PATH": str(bin_dir)} | (settings or {})
    return subprocess.run([tmp_path / ".setup" / "set_up.sh"], env=environment, text=True, capture_output=True)


def fake_r(version: str, *, has_packages: bool = True) -> str:
    return f'case "$*" in *getRversion*) echo -n {version} ;; *) exit {0 if has_packages else 1} ;; esac'


# a Python with venv at which set-up stops when it comes to its packages, so that nothing is fetched
STOPS_AT_PACKAGES = """case "$*" in
  *version_info*) echo 3.12.1 ;;
  *ensurepip*) exit 0 ;;
  *) echo "no space left on device" >&2; exit 1 ;;
esac"""


def apt_with(candidates: dict[str, str]) -> dict[str, str]:
    """apt-get and apt-cache of a system with these candidates; everything else is there at 9.9."""
    cases = "".join(f"{name}) echo '  Candidate: {version}' ;; " for name, version in candidates.items())
    policy = f'case "$2" in {cases}*) echo "  Candidate: 9.9-1" ;; esac'
    return {"apt_cache": policy, "apt_get": 'echo "apt-get $*" >>"${0%/*}/ran"', "id": "echo 0"}


def installed(tmp_path: Path) -> bool:
    ran = tmp_path / "bin" / "ran"
    return ran.is_file() and " install " in ran.read_text()


def test_set_up_without_root_prints_the_one_command_and_the_way_without_r(tmp_path):
    done = run_set_up(tmp_path, id="echo 1000", apt_get="echo apt must not run >&2")
    assert done.returncode == 1
    (command,) = [line for line in done.stderr.splitlines() if line.startswith("  sudo ")]
    assert "apt-get update && apt-get install -y --no-install-recommends" in command
    assert "r-cran-lme4" in command and "python3-venv" in command
    assert "WITHOUT_R=yes make setup" in done.stderr
    assert "apt must not run" not in done.stderr


def test_set_up_asks_for_no_root_where_python_and_r_are_there(tmp_path):
    """It comes as far as the packages, which this Python refuses."""
    done = run_set_up(
        tmp_path,
        id="echo 1000",
        apt_get="echo apt must not run >&2",
        Rscript=fake_r("4.5.0"),
        python3=STOPS_AT_PACKAGES,
    )
    assert "no space left on device" in done.stderr and "sudo" not in done.stderr
    assert "apt must not run" not in done.stderr


def test_set_up_without_r_on_request_needs_none(tmp_path):
    done = run_set_up(tmp_path, settings={"WITHOUT_R": "yes"}, id="echo 1000", python3=STOPS_AT_PACKAGES)
    assert "no space left on device" in done.stderr and "R was not found" not in done.stdout + done.stderr


@pytest.mark.parametrize(
    ("r", "said"),
    [
        ({}, "R was not found. README has the lines"),
        (
            {"Rscript": fake_r("4.4.1", has_packages=False)},
            'install.packages(c("lme4", "lmerTest"))',
        ),
    ],
)
def test_set_up_without_apt_goes_on_without_r_and_says_how_to_add_it(tmp_path, r, said):
    done = run_set_up(tmp_path, python3=STOPS_AT_PACKAGES, **r)
    assert said in done.stdout and "Going on without R" in done.stdout
    assert "no space left on device" in done.stderr


def test_set_up_without_apt_or_python_says_what_to_install(tmp_path):
    done = run_set_up(tmp_path, python3="exit 1", settings={"PYTHON": "python-that-is-nowhere"})
    assert done.returncode == 1
    assert "Python 3.11 or later with its venv module is needed" in done.stderr


@pytest.mark.parametrize("version", ["3.6.3", "4.0.4", "4.1.2"])
def test_an_old_r_is_refused_before_anything_is_fetched(tmp_path, version):
    done = run_set_up(tmp_path, Rscript=fake_r(version), **apt_with({}))
    assert done.returncode == 1 and not (tmp_path / "bin" / "ran").exists()
    assert f"R {version} is too old; 4.2 or later is needed" in done.stderr


@pytest.mark.parametrize("version", ["3.9.2", "3.10.12", "2.7.18"])
def test_an_old_python_is_refused_before_anything_is_fetched(tmp_path, version):
    done = run_set_up(tmp_path, Rscript=fake_r("4.2.2"), python3=f"echo {version}", **apt_with({}))
    assert done.returncode == 1 and not (tmp_path / "bin" / "ran").exists()
    assert f"Python {version} is too old; 3.11 or later is needed" in done.stderr


@pytest.mark.parametrize(
    ("candidates", "said"),
    [
        ({"python3": "3.10.6-1~22.04", "r-base-core": "4.1.2-1ubuntu2"}, "this system has Python 3.10.6-1~22.04"),
        ({"r-base-core": "4.1.2-1ubuntu2"}, "this system has R 4.1.2-1ubuntu2; 4.2 or later is needed"),
        ({"r-cran-lmertest": "(none)"}, "apt does not know: r-cran-lmertest. On Ubuntu"),
    ],
)
def test_what_apt_would_install_is_looked_at_first(tmp_path, candidates, said):
    done = run_set_up(tmp_path, python3="exit 1", settings={"PYTHON": "python-that-is-nowhere"}, **apt_with(candidates))
    assert done.returncode == 1 and said in done.stderr
    assert not installed(tmp_path)


def test_root_on_apt_installs_what_is_missing(tmp_path):
    """The machine has no Python: apt is asked for it and for R."""
    done = run_set_up(tmp_path, settings={"PYTHON": "python-that-is-nowhere"}, **apt_with({}))
    assert installed(tmp_path) and "cannot make a virtual environment" in done.stderr


def test_set_up_shows_why_a_step_failed(tmp_path):
    done = run_set_up(tmp_path, Rscript=fake_r("4.2.2"), python3=STOPS_AT_PACKAGES)
    assert done.returncode == 1
    assert "no space left on device" in done.stderr
    assert "run make setup again" in done.stderr


def test_set_up_stays_with_what_every_system_has():
    """macOS has neither timeout nor flock, and its bash is 3.2."""
    script = SET_UP.read_text()
    assert not re.search(r"\b(timeout|flock|readlink -f|mapfile|declare -A|sort -V)\b|\$\{\w+\^", script)


# markers in the lock file by what they ask; every locked package must be had on each system
@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_lock_file_covers_every_system(platform, python):
    from packaging.markers import Marker

    system = {"sys_platform": platform, "python_version": python, "python_full_version": f"{python}.1"}
    here = set()
    for pin, entry in locked_entries().items():
        marker = re.match(r"\S+ ; (.*?) \\", entry)
        if marker is None or Marker(marker[1]).evaluate(system):
            here.add(pin)
    assert set(declared_pins()) <= here
    assert len({pin.split("==")[0] for pin in here}) == len(here), "two versions of one package"
