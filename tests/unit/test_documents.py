"""The pages for people agree with the program."""

import re
from pathlib import Path

import pytest

from bot.cli.group import COMMANDS as COMMAND_LINE
from bot.talk.commands import COMMANDS
from bot.words import words

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text()
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text()


@pytest.mark.parametrize("role", ["student", "teacher"])
def test_readme_lists_the_commands_of_a_role(role):
    (row,) = re.findall(rf"^\| a {role} \| (.*) \|$", README, re.MULTILINE)
    listed = re.findall(r"`(\w+)`", row)
    wanted = dict.fromkeys(
        command.word for command in COMMANDS if role in command.roles and command.word != "start"
    )
    assert listed == list(wanted)


def test_every_command_has_a_description():
    for command in COMMANDS:
        assert words("en").text(f"command.{command.word}")


def test_commands_of_the_command_line_in_the_pages_exist():
    named = set(re.findall(r"holdfast (?!-)([a-z]+)", README + DEVELOPERS)) - {"command"}
    assert named <= set(COMMAND_LINE)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_files_named_in_the_pages_exist(page):
    named = re.findall(r"\b((?:bot|scheduler|storage|tests|deploy)/[\w./*-]*\w)", (TOP / page).read_text())
    missing = [name for name in named if "LANGUAGE" not in name and not any(TOP.glob(name))]
    assert missing == []


def test_the_top_level_holds_what_it_should_and_nothing_else():
    visible = {path.name for path in TOP.iterdir() if not path.name.startswith(".")} - {
        "try-out",
        "holdfast-data",
    }
    assert visible == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "bot", "scheduler", "storage", "tests", "deploy",
    }  # fmt: skip
