"""A run of benchmarks ends by saying when, where and on which commit it measured."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests.benchmarks.machine import measured


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    terminalreporter.write_line(measured(datetime.now(UTC)))
