"""The ``holdfast`` command. Each command lives in a module that is imported only when it is used."""

from __future__ import annotations

import gc
import io
import os
import sys

from bot.cli.group import holdfast
from bot.cli.outcome import guarded

__all__ = ["main"]

_NEW_OBJECTS = 20_000
"""So many new objects before the collector of reference cycles looks at them."""


def main() -> None:
    """Run the command line and exit with its code."""
    # Threads of the linear algebra cost more than they give on the small matrices of a class: a model takes four
    # times the processor time with them on two cores. Read when numpy is first imported, which is later than here.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Importing libraries makes hundreds of thousands of objects that stay. With Python's own 700 the collector goes
    # through them again and again: a tenth of the processor time of a short command.
    gc.set_threshold(_NEW_OBJECTS, *gc.get_threshold()[1:])
    for stream in (sys.stdout, sys.stderr):
        # A name with a sign that this terminal's encoding lacks is shown with an escape, and ends no command.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(guarded(holdfast))
