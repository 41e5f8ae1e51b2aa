"""The ``holdfast`` command. Each command lives in a module that is imported only when it is used."""

from __future__ import annotations

import io
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
    for stream in (sys.stdout, sys.stderr):
        # A name with a sign that this terminal's encoding lacks is shown with an escape, and ends no command.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(guarded(holdfast))
