"""What stands beside a measured figure is true: date, machine, commit."""

import subprocess
from datetime import UTC, datetime

import pytest

from tests.benchmarks import machine

NOON = datetime(2026, 11, 29, 12, tzinfo=UTC)


def test_the_line_names_the_commit_and_says_when_files_differ_from_it(tmp_path, monkeypatch):
    for name in ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE"):
        monkeypatch.delenv(name, raising=False)

    def git(*words):
        who = ["-c", "user.name=Test", "-c", "user.email=test@example.org", "-c", "commit.gpgsign=false"]
        done = subprocess.run(["git", *who, *words], cwd=tmp_path, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    try:
        git("init", "-q")
    except FileNotFoundError:
        pytest.skip("git is not installed here")
    (tmp_path / "a.txt").write_text("one")
    git("add", "a.txt")
    git("commit", "-q", "-m", "One")
    short = git("rev-parse", "--short", "HEAD")
    line = machine.measured(NOON, tmp_path)
    assert line.startswith("Measured on 2026-11-29; ")
    assert line.endswith(f"; commit {short}.")
    (tmp_path / "a.txt").write_text("two")
    assert machine.measured(NOON, tmp_path).endswith(f"; commit {short} with changes.")


def test_outside_a_checkout_the_commit_is_unknown(tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert machine.measured(NOON, tmp_path).endswith("; commit unknown.")


def test_without_git_the_commit_is_unknown(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert machine.measured(NOON).endswith("; commit unknown.")
