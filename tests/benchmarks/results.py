"""What a run measured, written into its section of a RESULTS.md; the prose around it stays.

``python -m tests.benchmarks.results scheduler/RESULTS.md doses python -m scheduler.simulation.doses`` runs the command,
shows what it says, and if it ends well, writes it into the section `doses` with the command, date, machine and commit.
The benchmarks write theirs with ``pytest tests/benchmarks -s --write-results`` (`tests/benchmarks/conftest.py`).

A section stands between two comments, which no reader of the page sees::

    <!-- run: doses -->
    <!-- end of run: doses -->
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from tests.benchmarks.machine import measured

HEAD = "| benchmark | what it said | when and where |\n|---|---|---|\n"
_ROW = re.compile(r"^\| (?P<name>\S+::\S+) \| .+ \|$", re.MULTILINE)
_CELL_MARKS = str.maketrans({"|": r"\|", "<": "&lt;"})


class NoSection(LookupError):
    """A file has no section of that name, or has it twice."""


def section(page: str, name: str) -> tuple[int, int]:
    """Return where the text of a section begins and ends.

    Raises
    ------
    NoSection
        Its two marks are not there once each, the first before the second.
    """
    first, last = f"<!-- run: {name} -->\n", f"<!-- end of run: {name} -->"
    if page.count(first) != 1 or page.count(last) != 1 or page.index(last) < page.index(first):
        there = ", ".join(re.findall(r"<!-- run: (.+?) -->", page)) or "none"
        raise NoSection(
            f"There has to be one line {first.strip()} and after it one line {last}. Sections there: {there}."
        )
    return page.index(first) + len(first), page.index(last)


def write_section(path: Path, name: str, text: str) -> None:
    """Put a text in the place of what a section says; everything else in the file stays, to the byte.

    Raises
    ------
    NoSection
        The file lacks the section. Nothing is written.
    """
    page = path.read_text("utf-8")
    begin, end = section(page, name)
    whole = f"{page[:begin]}\n{text.strip()}\n\n{page[end:]}"
    beside = path.with_name(f".{path.name}.writing")
    beside.write_text(whole, "utf-8")
    beside.replace(path)


def merged(said: str, rows: Mapping[str, str]) -> str:
    """Return a table of benchmarks: those that ran anew, the others as they stood, sorted by name.

    Parameters
    ----------
    said : str
        What the section says.
    rows : mapping of str to str
        For each benchmark, ``FILE::TEST``, its row as `row` makes it.
    """
    stood = {str(found["name"]): str(found[0]) for found in _ROW.finditer(said)}
    both = {**stood, **rows}
    return HEAD + "\n".join(both[name] for name in sorted(both))


def row(name: str, lines: Sequence[str], where: str, *, passed: bool) -> str:
    """Return what one benchmark said as a row of the table; a bar that it missed is said, too."""
    told = [*(line.translate(_CELL_MARKS) for line in lines), *([] if passed else ["**failed**"])]
    return f"| {name} | {'<br>'.join(told)} | {where} |"


def write_benchmarks(path: Path, rows: Mapping[str, str]) -> None:
    """Write rows of benchmarks into the section `benchmarks` of a file."""
    page = path.read_text("utf-8")
    begin, end = section(page, "benchmarks")
    write_section(path, "benchmarks", merged(page[begin:end], rows))


def run(path: Path, name: str, command: Sequence[str], now: datetime) -> int:
    """Run a command, show what it says, and write that into a section if it ends well; return its exit code."""
    section(path.read_text("utf-8"), name)  # before what may take an hour
    here = [sys.executable, *command[1:]] if command[0] == "python" else list(command)
    with subprocess.Popen(here, stdout=subprocess.PIPE, text=True) as program:
        lines = []
        for line in program.stdout or ():
            sys.stdout.write(line)
            lines.append(line)
    if program.returncode == 0:
        told = "".join(lines).strip("\n")
        fenced = told if "\n|---" in told else f"```\n{told}\n```"
        write_section(path, name, f"`{shlex.join(command)}`. {measured(now)}\n\n{fenced}")
    return program.returncode


def main(words: Sequence[str]) -> int:
    """Run the command of the words: file, section, command."""
    if len(words) < 3:
        sys.stderr.write("Say: python -m tests.benchmarks.results FILE SECTION COMMAND ...\n")
        return 2
    try:
        return run(Path(words[0]), words[1], words[2:], datetime.now(UTC))
    except (NoSection, OSError) as error:
        sys.stderr.write(f"{words[0]}: {error}\n")
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
