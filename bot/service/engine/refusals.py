"""What was refused, in the words of whoever it was refused to."""

from __future__ import annotations

from bot.service.engine.effects import Work
from bot.words.problems import why
from storage.base.errors import StorageError


def why_to(work: Work, problem: StorageError) -> str:
    """Return the reason in the speaker's language."""
    return why(problem, work.words)
