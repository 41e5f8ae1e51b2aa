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
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    "bot/evidence/PICTURES.md",
    "deploy/CHANGES.md",
    "deploy/CONTRIBUTING.md",
    "deploy/SECURITY.md",
    "scheduler/MODEL.md",
    "scheduler/RESULTS.md",
    "tests/benchmarks/RESULTS.md",
)
"""All but deploy/OPERATORS.md, which also names files that an operator makes."""


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


@pytest.mark.parametrize("page", PAGES)
def test_commands_of_the_command_line_in_the_pages_exist(page):
    named = set(re.findall(r"holdfast (?!-)([a-z]+)", (TOP / page).read_text())) - {"command"}
    assert named <= set(COMMAND_LINE)


@pytest.mark.parametrize("page", PAGES)
def test_files_named_in_the_pages_exist(page):
    named = re.findall(r"\b((?:bot|scheduler|storage|tests|deploy)/[\w./*-]*\w)", (TOP / page).read_text())
    missing = [name for name in named if "LANGUAGE" not in name and not any(TOP.glob(name))]
    assert missing == []


@pytest.mark.parametrize("page", PAGES)
def test_links_in_the_pages_lead_to_files(page):
    links = re.findall(r"\]\(([^)#]+)", (TOP / page).read_text())
    assert [
        link for link in links if "://" not in link and not (TOP / page).parent.joinpath(link).exists()
    ] == []


def test_readme_lists_the_rest_of_the_command_line():
    """The commands of its blocks, and those that it says ``--help`` lists besides."""
    rest = re.search(r"`holdfast --help` lists the rest: ([a-z, ]+)\.", README)
    assert rest is not None
    in_block = set(re.findall(r"^\.venv/bin/holdfast ([a-z]+)", README, re.MULTILINE))
    assert set(rest[1].split(", ")) == set(COMMAND_LINE) - in_block - {"demo"}, "demo is deploy/try.sh there"


def test_the_developers_page_is_short_enough_to_be_read():
    assert len(DEVELOPERS.encode()) <= 14_000


def test_the_house_on_the_developers_page_is_the_one_that_stands():
    house = DEVELOPERS.split("```")[1]
    shown = {
        block.split("/", 1)[0]: set(re.findall(r"^  (\w+)/ ", block, re.MULTILINE))
        for block in re.split(r"\n(?=\w)", house)
        if block.strip()
    }
    for top in ("scheduler", "storage", "bot"):
        there = {path.parent.name for path in (TOP / top).glob("*/__init__.py")}
        assert shown[top] == there
    stages = {path.name for path in (TOP / "tests").iterdir() if any(path.glob("**/test_*.py"))}
    (line,) = re.findall(r"^tests/ +(.+)$", house, re.MULTILINE)
    assert set(line.split(" · ")) == stages


def test_measured_figures_and_threats_stand_beside_what_they_are_about():
    """Each page has its tables, and the developers' page has none of them."""
    for page, heading in [
        ("scheduler/RESULTS.md", "## Against the bar"),
        ("tests/benchmarks/RESULTS.md", "### What one unit costs"),
        ("deploy/SECURITY.md", "## What is required, and the test that holds it"),
        ("bot/evidence/PICTURES.md", "# Pictures, and the question each answers"),
    ]:
        text = (TOP / page).read_text()
        assert re.search(r"^\|---", text.split(heading, 1)[1], re.MULTILINE), page
        assert heading.lstrip("# ") not in DEVELOPERS
        assert page in DEVELOPERS


def test_the_top_level_holds_what_it_should_and_nothing_else():
    visible = {path.name for path in TOP.iterdir() if not path.name.startswith(".")} - {
        "try-out",
        "holdfast-data",
    }
    assert visible == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "bot", "scheduler", "storage", "tests", "deploy",
    }  # fmt: skip
