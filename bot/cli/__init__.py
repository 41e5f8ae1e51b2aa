"""The ``holdfast`` command. Each command lives in a module that is imported only when it is used."""

from __future__ import annotations

import sys

from bot.cli.group import holdfast
from bot.cli.outcome import guarded

__all__ = ["main"]


def main() -> None:
    """Run the command line and exit with its code."""
    sys.exit(guarded(holdfast))
