"""What bash completes: the script that the program prints is sourced by a real bash."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from storage.base.database import connect
from storage.school import classes
from tests.contracts.storage_school import NOW, school_class

BASH = shutil.which("bash")

# Asks the function that the script has registered, as the Tab key would.
ASK = """
source <(_HOLDFAST_COMPLETE=bash_source holdfast)
complete -p holdfast >/dev/null || exit 9
COMP_WORDS=("$@")
COMP_CWORD=$(($# - 1))
_holdfast_completion holdfast
printf '%s\\n' "${COMPREPLY[@]}"
"""


@pytest.fixture
def school(sqlite_url, tmp_path, monkeypatch) -> Path:
    """A school with two open classes and a closed one, and a folder with a `holdfast` command."""
    database = connect(sqlite_url)
    with database.begin() as session:
        for name in ("10B Physics", "10C Physics", "9A"):
            school_class(session, name)
        classes.close(session, 2, NOW)
    database.close()
    command = tmp_path / "bin" / "holdfast"
    command.parent.mkdir()
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "from bot.cli import main; main()" "$@"\n')
    command.chmod(0o755)
    monkeypatch.setenv("PATH", f"{command.parent}:{os.environ['PATH']}")
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", sqlite_url)
    monkeypatch.chdir(tmp_path)
    return Path(tmp_path)


def _completed(*words: str) -> list[str]:
    assert BASH is not None
    done = subprocess.run(
        [BASH, "--norc", "-c", ASK, "bash", *words], capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    return done.stdout.split()


@pytest.mark.skipif(BASH is None, reason="no bash is installed")
@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["holdfast", "ba"], ["backup", "bank"]),
        (["holdfast", "class", "c"], ["close", "create"]),
        (["holdfast", "import", "r"], ["roster"]),
        (["holdfast", "report", "--js"], ["--json"]),
        (["holdfast", "report", "--class", ""], ["10b-physics", "9a"]),
        (["holdfast", "teacher", "add", "--class", "9"], ["9a"]),
    ],
)
def test_bash_completes_commands_options_and_classes(school, words, offered):
    del school
    assert _completed(*words) == offered


@pytest.mark.skipif(BASH is None, reason="no bash is installed")
def test_without_a_database_nothing_is_offered_and_nothing_said(school, monkeypatch):
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", f"sqlite:///{school}/nowhere.db")
    assert _completed("holdfast", "report", "--class", "") == []
