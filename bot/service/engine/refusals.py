"""What was refused, in the words of whoever it was refused to."""

from __future__ import annotations

from bot.service.engine.effects import Work
from bot.words import Words
from storage.base.errors import StorageError


def why(problem: StorageError, said: Words) -> str:
    """Return the reason in a language; what has no code is for technicians, and English."""
    return said.text(f"refusal.{problem.code}", **problem.values) if problem.code else str(problem)


def why_to(work: Work, problem: StorageError) -> str:
    """Return the reason in the speaker's language."""
    return why(problem, work.words)
