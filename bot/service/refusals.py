"""What was refused, in the words of whoever it was refused to."""

from __future__ import annotations

from bot.service.work import Work
from bot.talk.words import Words, words
from storage import people
from storage.errors import StorageError


def why(problem: StorageError, said: Words) -> str:
    """Return the reason in a language; what has no code is for technicians, and English."""
    return said.text(f"refusal.{problem.code}", **problem.values) if problem.code else str(problem)


def words_of(work: Work) -> Words:
    """Return the words to speak to the speaker in."""
    chosen = "" if work.person_id is None else people.get(work.session, work.person_id).language
    return words(chosen, work.speaker.language, work.desk.language)


def why_to(work: Work, problem: StorageError) -> str:
    """Return the reason in the speaker's language."""
    return why(problem, words_of(work))
