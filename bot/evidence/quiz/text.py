"""A quiz against its predictions, as text."""

from __future__ import annotations

from collections.abc import Sequence

from bot.evidence.quiz.numbers import Compared, Fit, QuizComparison
from bot.evidence.shared.phrases import about, briefly, stacked, title_of
from bot.evidence.week.text import few
from bot.words import Words
from bot.words.rich import Rich


def quiz_text(comparison: QuizComparison, words: Words) -> Rich:
    """Write predicted against actual, what was off, and how the model moved."""
    title = words.say(
        "quiz.title", title=title_of(comparison.school_class), what=quiz_name(comparison, words)
    )
    off = _off(comparison, words)
    return stacked(
        title,
        _overall(comparison, words),
        words.say("quiz.error", error=round(100 * comparison.typical_error), n=comparison.answers),
        *(off or [words.say("quiz.nobody")]),
        _moved(comparison, words),
        _missing(comparison, words),
        words.say("evidence.how_to_read"),
    )


def quiz_name(comparison: QuizComparison, words: Words) -> str:
    """Write ``quiz of Fri 11 Dec``."""
    return words.text(f"quiz.{comparison.quiz.kind}", day=words.day(comparison.quiz.day))


def signed(difference: float) -> str:
    """Write a difference in points of 100 with its sign: ``+4``, ``−8``, ``0``."""
    points = round(100 * difference)
    return f"+{points}" if points > 0 else f"−{-points}" if points else "0"


def _overall(comparison: QuizComparison, words: Words) -> Rich:
    line = words.say(
        "quiz.overall",
        predicted=about(words, comparison.predicted),
        actual=about(words, comparison.actual),
        n=len(comparison.students),
    )
    return line + Rich.of(" ") + words.say(f"quiz.fit.{comparison.fit.name.lower()}")


def _off(comparison: QuizComparison, words: Words) -> list[Rich]:
    lines = []
    for fit, topics, students in (
        (Fit.LOWER, "quiz.lower", "quiz.students_lower"),
        (Fit.HIGHER, "quiz.higher", "quiz.students_higher"),
    ):
        found = [row for row in comparison.topics if row.fit is fit]
        if found:
            lines.append(words.say(topics, names=few([_topic(row, words) for row in found], words)))
        people = _names(comparison.students, fit)
        if people:
            lines.append(words.say(students, names=few(people, words)))
    return lines


def _topic(row: Compared, words: Words) -> str:
    return words.text(
        "quiz.topic", topic=row.name, predicted=briefly(row.predicted), actual=briefly(row.actual)
    )


def _names(rows: Sequence[Compared], fit: Fit) -> list[str]:
    return [row.name for row in rows if row.fit is fit]


def _moved(comparison: QuizComparison, words: Words) -> Rich:
    most = max(comparison.topics, key=lambda row: abs(row.moved), default=None)
    text = "" if most is None else words.text("quiz.moved_most", topic=most.name, moved=signed(most.moved))
    return words.say("quiz.moved", moved=signed(comparison.moved), most=text)


def _missing(comparison: QuizComparison, words: Words) -> Rich | None:
    if not comparison.missing:
        return None
    return words.say("quiz.missing", n=len(comparison.missing), names=few(comparison.missing, words))
