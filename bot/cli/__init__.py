"""The ``holdfast`` command. Each command lives in a module that is imported only when it is used."""

from __future__ import annotations

import os
import sys

from bot.cli.group import holdfast
from bot.cli.outcome import guarded

__all__ = ["main"]


def main() -> None:
    """Run the command line and exit with its code."""
    # Threads of the linear algebra cost more than they give on the small matrices of a class: a model takes four
    # times the processor time with them on two cores. Read when numpy is first imported, which is later than here.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(guarded(holdfast))
