"""A run of benchmarks ends by saying when, where and on which commit it measured, and writes it down if asked."""

from __future__ import annotations

import io
import sys
from collections.abc import Generator
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

import pytest

from tests.benchmarks.machine import measured
from tests.benchmarks.results import row, write_benchmarks

_SAID = pytest.StashKey[io.StringIO]()
_ROWS = pytest.StashKey[dict[str, str]]()
RESULTS = Path(__file__).with_name("RESULTS.md")


class _Both:
    """A stream that writes to two, and is the first in everything else."""

    def __init__(self, shown: TextIO, kept: io.StringIO) -> None:
        self._shown, self._kept = shown, kept

    def write(self, text: str) -> int:
        self._kept.write(text)
        return self._shown.write(text)

    def __getattr__(self, name: str) -> object:
        return getattr(self._shown, name)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-results",
        nargs="?",
        const=str(RESULTS),
        metavar="FILE",
        help="Write what the benchmarks say into the section of FILE; default: tests/benchmarks/RESULTS.md. Needs -s.",
    )


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--write-results", None) and config.getoption("capture") != "no":
        raise pytest.UsageError("--write-results needs -s: what benchmarks say is not kept otherwise.")
    config.stash[_ROWS] = {}


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    if not item.config.getoption("--write-results", None):
        return (yield)
    kept, shown = item.stash.setdefault(_SAID, io.StringIO()), sys.stdout
    sys.stdout = _Both(shown, kept)
    try:
        return (yield)
    finally:
        sys.stdout = shown


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if _SAID not in item.stash:
        return report
    lines = [line for line in item.stash[_SAID].getvalue().splitlines() if line.strip(". ")]
    if call.when == "call" and not report.skipped and lines:
        name, where = f"{item.path.name}::{item.name}".replace(" ", "_"), measured(datetime.now(UTC))
        item.config.stash[_ROWS][name] = row(name, lines, where, passed=report.passed)
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    terminalreporter.write_line(measured(datetime.now(UTC)))
    path, rows = config.getoption("--write-results", None), config.stash[_ROWS]
    if path and rows:
        write_benchmarks(Path(path), rows)
        terminalreporter.write_line(f"{len(rows)} rows written into {path}")
