import subprocess
import sys

import click
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from bot.cli.group import COMMANDS, holdfast
from bot.cli.outcome import FAILED, FAULT, SETTINGS, CommandFailed, guarded
from storage.errors import NotFound


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
        (FileNotFoundError(2, "No such file", "week.csv"), FAILED, "week.csv"),
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
    assert "Mira" not in shown
