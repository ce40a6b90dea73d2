"""The run card names whatever could make the same question give another number."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import os
import platform
import subprocess
from types import SimpleNamespace

import importlib_metadata
import pytest

from pipeline import folders, provenance
from pipeline.provenance import inputs_hash, sha256_of, short_id, start_run


def test_a_card_names_code_software_and_settings(tmp_path):
    settings = tmp_path / "program.yml"
    settings.write_text("program: x")
    card = start_run("report", settings)
    assert card.command == "report" and card.python == platform.python_version()
    assert card.settings_sha256 == hashlib.sha256(b"program: x").hexdigest()
    assert card.lock_sha256 == sha256_of(folders.PACKAGE.parent / "requirements.lock") != ""
    versions = json.loads(card.packages)
    assert set(versions) == set(provenance.PACKAGES) and "not installed" not in versions.values()
    assert set(card.as_row()) >= {"run_id", "started", "code_commit", "inputs_sha256", "r_versions"}


@pytest.mark.parametrize("finder", [importlib.metadata, importlib_metadata], ids=lambda finder: finder.__name__)
def test_an_installation_that_was_cut_short_stops_no_run(monkeypatch, tmp_path, finder):
    """It leaves a folder without a name and a version, whichever of two packages looks for what is installed."""
    folder = tmp_path / "~umpy-1.0.dist-info"
    folder.mkdir()
    left = finder.PathDistribution(folder)
    whole = [*importlib.metadata.distributions()]
    found = {}
    for name, packages in (("whole", whole), ("left", [*whole, left])):
        monkeypatch.setattr(provenance, "distributions", lambda packages=packages: packages)
        found[name] = provenance.software_sha256.__wrapped__()
    assert found["left"] != found["whole"]


def test_two_runs_have_two_ids(tmp_path):
    assert start_run("report", tmp_path / "none").run_id != start_run("report", tmp_path / "none").run_id


def test_outside_a_checkout_the_version_stands_for_the_commit(tmp_path, monkeypatch):
    """Even where the environment lies inside somebody's own checkout, whose commit is not ours."""
    subprocess.run(["git", "init", "-q", tmp_path], check=True)
    (tmp_path / "site-packages").mkdir()
    monkeypatch.setattr(folders, "PACKAGE", tmp_path / "site-packages" / "pipeline")
    code = start_run("report", tmp_path / "none").code_commit
    assert code == f"version {provenance.program_version()}" and "not installed" not in code


def test_a_hash_of_no_file_is_empty(tmp_path):
    assert sha256_of(tmp_path / "none") == ""


def test_inputs_have_one_hash_whatever_their_order():
    files = [("a", "1"), ("b", "2")]
    assert inputs_hash(files) == inputs_hash(reversed(files))
    assert inputs_hash(files) != inputs_hash([("a", "2"), ("b", "1")])
    assert inputs_hash(files) != inputs_hash(files[:1])


def test_an_estimate_has_the_same_short_name_from_the_same_parts():
    assert short_id("c", "gain", 1) == short_id("c", "gain", "1") != short_id("c", "gain", 2)
    assert len(short_id("x")) == 8


def test_git_is_asked_without_a_lock(tmp_path, monkeypatch):
    """A git that is killed leaves its lock, and nobody could commit any more."""
    subprocess.run(["git", "init", "-q", tmp_path], check=True)
    (tmp_path / "file").write_text("x")
    subprocess.run(["git", "-C", tmp_path, "add", "file"], check=True)
    os.utime(tmp_path / "file", (1, 1))  # which git would note in its index
    before = (tmp_path / ".git" / "index").read_bytes()
    monkeypatch.setattr(folders, "PACKAGE", tmp_path / "pipeline")
    assert provenance._git("status", "--porcelain", "--untracked-files=no") == "A  file"
    assert (tmp_path / ".git" / "index").read_bytes() == before


@pytest.mark.parametrize("where", ["PACKAGE", "SQL", "REPORTS"])
def test_modules_queries_and_page_sources_are_the_code(monkeypatch, tmp_path, where):
    """Else what an edited query or page made before would be taken for what it makes now."""
    for name in ("PACKAGE", "SQL", "REPORTS"):
        (tmp_path / name / "__pycache__").mkdir(parents=True)
        (tmp_path / name / "one.txt").write_text("as it was")
        monkeypatch.setattr(provenance.folders, name, tmp_path / name)
    told = provenance.code_sha256.__wrapped__
    before = told()
    (tmp_path / where / "__pycache__" / "one.pyc").write_text("of a run")
    assert told() == before
    (tmp_path / where / "one.txt").write_text("edited")
    assert told() != before


def test_another_python_is_other_software(monkeypatch):
    told = provenance.software_sha256.__wrapped__
    before = told()
    assert told() == before
    monkeypatch.setattr(provenance.platform, "python_version", lambda: "3.99.0")
    assert told() != before


@pytest.mark.parametrize(("changed", "said"), [("", "abc123"), (" M pipeline/claims.py", "abc123 with changes")])
def test_code_that_differs_from_its_commit_is_said_to(monkeypatch, tmp_path, changed, said):
    (tmp_path / ".git").mkdir()
    monkeypatch.setattr(provenance.folders, "PACKAGE", tmp_path / "pipeline")
    monkeypatch.setattr(provenance, "_git", lambda what, *_: "abc123" if what == "rev-parse" else changed)
    assert provenance._commit() == said


def test_another_version_of_a_package_is_other_software(monkeypatch):
    told = []
    for version in ("1.0", "1.1", "1.0"):
        package = SimpleNamespace(name="fits", version=version)
        monkeypatch.setattr(provenance, "distributions", lambda package=package: [package])
        told.append(provenance.software_sha256.__wrapped__())
    assert told[0] == told[2] != told[1]
