"""Unexpected faults: a reference for the person, the frames for the log, and nothing that anybody wrote.

An exception's own text can quote what was being stored, such as a name or an answer; so only its type and
the places in our code go to the log.
"""

from __future__ import annotations

import logging
import secrets
import traceback


def note(log: logging.Logger, what: str, problem: BaseException) -> str:
    """Log a fault and return its reference, four signs that a person can read out."""
    ref = secrets.token_hex(2).upper()
    log.error("%s failed, ref %s: %s\n%s", what, ref, type(problem).__name__, frames(problem))
    return ref


def frames(problem: BaseException) -> str:
    """Return where an exception came from, cause first, without its text."""
    parts = [] if problem.__cause__ is None else [frames(problem.__cause__)]
    found = traceback.extract_tb(problem.__traceback__)
    places = [f"  {frame.filename}:{frame.lineno} in {frame.name}" for frame in found]
    return "\n".join([*parts, *places, f"  {type(problem).__name__}"])
