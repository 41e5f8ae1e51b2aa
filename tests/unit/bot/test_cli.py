import json
import os
import subprocess
import sys
from datetime import UTC, datetime

import click
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from bot.cli.group import COMMANDS, holdfast
from bot.cli.outcome import FAILED, FAULT, SETTINGS, CommandFailed, guarded
from storage import migrations
from storage.base import revisions
from storage.base.errors import NotFound


def _commands() -> list[click.Command]:
    context = click.Context(holdfast)
    found = []
    for name in COMMANDS:
        command = holdfast.get_command(context, name)
        assert command is not None
        found += list(command.commands.values()) if isinstance(command, click.Group) else [command]
    return found


def test_help_names_every_command_without_importing_anything_heavy():
    code = (
        "import sys; from bot.cli.group import holdfast\n"
        "try: holdfast.main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'sqlalchemy', 'telegram', 'nio', 'matplotlib', 'pydantic', 'rich', 'apscheduler'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert all(f"\n  {name}" in out for name in COMMANDS)
    assert out.rstrip().endswith("[]")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_where_the_table_says(name):
    assert holdfast.get_command(click.Context(holdfast), name) is not None


def test_every_command_shows_an_example_in_its_help():
    without = [command.name for command in _commands() if "Example: holdfast " not in (command.help or "")]
    assert without == []


def test_an_unknown_command_is_a_usage_error():
    assert CliRunner().invoke(holdfast, ["teach"]).exit_code == 2


@pytest.mark.parametrize(
    ("typed", "meant"), [("reprot", "report"), ("Docter", "doctor"), ("bakcup", "backup")]
)
def test_a_mistyped_command_names_the_one_that_was_meant(typed, meant):
    done = CliRunner().invoke(holdfast, [typed])
    assert done.exit_code == 2
    assert f"There is no command '{typed}'. Did you mean: {meant}" in done.stderr


def test_a_word_unlike_any_command_gets_no_guess():
    assert "Did you mean" not in CliRunner().invoke(holdfast, ["xyzzy"]).stderr


def _run(folder, *words: str | bytes, **environment: str) -> subprocess.CompletedProcess[bytes]:
    code = "from bot.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *words], cwd=folder, env={**os.environ, **environment},
        capture_output=True, check=False,
    )  # fmt: skip


@pytest.fixture
def place(tmp_path):
    """Make a folder with a database in its data folder, where commands find it by default."""
    (tmp_path / "holdfast-data").mkdir(mode=0o700)
    migrations.upgrade(
        f"sqlite:///{tmp_path / 'holdfast-data/holdfast.db'}", now=datetime(2026, 9, 1, tzinfo=UTC)
    )
    return tmp_path


def test_bytes_that_are_no_text_are_a_sentence_and_no_fault(place):
    done = _run(place, "report", "--class", b"\xff\xfe")
    assert done.returncode == FAILED
    assert b"holds bytes that are no text (in UTF-8)" in done.stderr


def test_what_the_terminal_cannot_show_ends_no_command(place):
    shown = _run(place, "doctor", "--offline", HOLDFAST_DATA_DIR="Schüler-Ω", PYTHONIOENCODING="latin-1")
    assert shown.returncode == FAILED
    assert b"Sch\xfcler-\\u03a9" in shown.stdout


def test_json_stays_json_in_any_encoding(place):
    assert _run(place, "class", "create", "Größe Ω").returncode == 0
    for encoding in ("ascii", "latin-1", "utf-8"):
        shown = _run(place, "class", "list", "--json", PYTHONIOENCODING=encoding).stdout
        (told,) = json.loads(shown.decode(encoding))["classes"]
        assert told["name"] == "Größe Ω"


def test_status_as_json_says_what_the_lines_say(place):
    told = json.loads(_run(place, "db", "status", "--json").stdout)
    assert told["counts"]["people"] == 0
    assert told["waiting"]["messages to send"] == {"number": 0, "since": None}
    assert (told["last_backup"], told["sending_held"]) == (None, False)
    assert told["revision"] == revisions.head()


@pytest.mark.parametrize(
    ("variables", "text"),
    [
        ({}, "No chat is set up"),
        ({"HOLDFAST_TICK_S": "soon"}, "HOLDFAST_TICK_S"),
        ({"HOLDFAST_SETTINGS": "nowhere.toml"}, "There is no settings file nowhere.toml"),
    ],
)
def test_wrong_settings_end_a_start_with_a_code_of_their_own(variables, text, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "argv", ["holdfast", "run"])
    assert guarded(holdfast) == SETTINGS
    assert text in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "text"),
    [
        (CommandFailed("The class is empty.", 3), 3, "The class is empty."),
        (NotFound("There is no class 7."), FAILED, "There is no class 7."),
        (
            FileNotFoundError(2, "No such file", "week.csv"),
            FAILED,
            "week.csv: there is no such file or folder. Is the path right?\n",
        ),
        (
            PermissionError(13, "Permission denied", "papers/report.txt"),
            FAILED,
            "papers/report.txt: this user may not do that. Run the command as the user who owns it, or give this "
            "user the right.\n",
        ),
        (OSError(28, "No space left on device"), FAILED, "No space is left on the disk."),
        (OSError(5, "Input/output error", "x.db"), FAILED, "x.db: Input/output error.\n"),
        (
            sa.exc.OperationalError("INSERT", {"name": "Mira"}, Exception("disk is full\nfor Mira")),
            FAILED,
            "The database did not do it: disk is full. See: holdfast doctor",
        ),
        (RuntimeError("Mira wrote 27"), FAULT, "a fault of the program (RuntimeError, ref "),
    ],
)
def test_errors_end_with_a_code_and_a_sentence_and_no_traceback(error, code, text, capsys, monkeypatch):
    monkeypatch.delenv("HOLDFAST_TRACEBACK", raising=False)
    monkeypatch.setattr(sys, "argv", ["holdfast"])

    @click.command()
    def failing() -> None:
        raise error

    assert guarded(failing) == code
    shown = capsys.readouterr().err
    assert text in shown
    assert "Traceback" not in shown
    assert "[Errno" not in shown
    assert "Mira" not in shown
