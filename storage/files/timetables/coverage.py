"""Which topics a quiz covers: those its row names, or else those taught since the last one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from typing import Protocol

from storage.values import QuizKind


class TaughtTopic(Protocol):
    """A lesson: a topic on a day."""

    @property
    def topic(self) -> str:
        """What was taught."""

    @property
    def day(self) -> date:
        """On which day."""

    @property
    def start(self) -> time | None:
        """At what time, if known."""


class Tested(Protocol):
    """A quiz or exam, with the topics it names, if any."""

    @property
    def day(self) -> date:
        """On which day."""

    @property
    def start(self) -> time | None:
        """At what time, if known."""

    @property
    def topics(self) -> tuple[str, ...] | None:
        """The topics named, if any."""

    @property
    def kind(self) -> QuizKind:
        """Quiz or exam."""


def quiz_topics(lessons: Sequence[TaughtTopic], quizzes: Sequence[Tested]) -> tuple[tuple[str, ...], ...]:
    """Say which topics each quiz covers.

    A quiz that names no topics covers those taught after the last quiz or exam and before it; an exam, those taught
    after the last exam. A lesson on the day of a quiz counts as before it only if both times are known and the lesson
    starts earlier; otherwise it belongs to the next one. (Common practice, no source.)

    Parameters
    ----------
    lessons : sequence
        With ``topic``, ``day`` and ``start``; in any order.
    quizzes : sequence
        With ``day``, ``start``, ``topics`` and ``kind``; in any order.

    Returns
    -------
    tuple of tuple of str
        One for each quiz, in the order given; topics in the order taught, each once.

    Examples
    --------
    >>> from storage.files.values import LessonRow, QuizRow
    >>> taught = [LessonRow(2, "Forces", date(2026, 11, 2)), LessonRow(3, "Springs", date(2026, 11, 16))]
    >>> quiz_topics(taught, [QuizRow(4, "Q1", date(2026, 11, 9)), QuizRow(5, "Q2", date(2026, 11, 20))])
    (('Forces',), ('Springs',))
    """
    ordered = sorted(lessons, key=lambda one: (one.day, one.start or time(0)))
    return tuple(_topics(quiz, quizzes, ordered) for quiz in quizzes)


def _topics(quiz: Tested, quizzes: Sequence[Tested], ordered: list[TaughtTopic]) -> tuple[str, ...]:
    """Give the topics of one quiz."""
    if quiz.topics is not None:
        return quiz.topics
    earlier = [
        one for one in quizzes if _moment(one) < _moment(quiz) and (quiz.kind == "quiz" or one.kind == "exam")
    ]
    last = max(earlier, key=_moment, default=None)
    covered = [
        one.topic for one in ordered if _before(one, quiz) and (last is None or not _before(one, last))
    ]
    return tuple(dict.fromkeys(covered))


def _moment(quiz: Tested) -> tuple[date, time]:
    return quiz.day, quiz.start or time(0)


def _before(lesson: TaughtTopic, quiz: Tested) -> bool:
    """Whether a lesson can be asked about in a quiz."""
    if lesson.day != quiz.day:
        return lesson.day < quiz.day
    return lesson.start is not None and quiz.start is not None and lesson.start < quiz.start
