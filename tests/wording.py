"""What readers and keys find wrong, in the English that a teacher would read."""

from __future__ import annotations

from bot.grading.upload import KeyProblem
from bot.words import problems, words
from storage.files.problem import Problem


def sentence(problem: Problem) -> str:
    """Return place, what is wrong and what to do."""
    return problems.sentence(problem, words("en"))


def key_sentence(problem: KeyProblem) -> str:
    """Return what is wrong with a key and what to do."""
    return problems.key_description(problem, words("en"))
