"""What a student's conversation may know about the speaker's own reviews: plain values, loaded for each step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any, Protocol

from bot.chat.port import Attachment
from bot.grading.keys import AnswerKey, from_dict
from storage.values import QuizInfo


@dataclass(frozen=True, slots=True)
class ShownOption:
    """A choice as it is shown: its letter, its place in the stored question, its text."""

    letter: str
    number: int
    text: str


@dataclass(frozen=True)
class AskedQuestion:
    """One question asked of the speaker: what every button of the question names.

    Attributes
    ----------
    position, of : int
        Which question of its nudge it is, from 1.
    answer : mapping
        The key as `bot.grading` wrote it.
    state : str
        ``planned``, ``open``, ``answered`` or ``expired``.
    chance : float
        Probability of a right answer without knowing anything. [0..1)
    reason : mapping
        The planner's numbers of the moment at which it was chosen.
    class_name : str
        The class that it is about, where the speaker is in several; else empty.
    feedback : mapping or None
        What a wrong answer is told, as `bot.grading` wrote it.
    still_counts : bool
        It is closed, but only since minutes and because the day's nudge took its place: an answer still counts.
    """

    review_id: int
    nudge_id: int
    enrolment_id: int
    class_id: int
    position: int
    of: int
    topic: str
    kind: str
    prompt: str
    answer: Mapping[str, Any]
    explanation: str
    options: tuple[ShownOption, ...]
    state: str
    chance: float
    zone: str
    picture: Attachment | None = None
    reason: Mapping[str, Any] = field(default_factory=dict)
    asked_at: datetime | None = None
    topic_id: int = 0
    class_name: str = ""
    still_counts: bool = False
    feedback: Mapping[str, Any] | None = None

    @cached_property
    def key(self) -> AnswerKey:
        """The key, read when it is first needed. Raises `bot.grading.keys.BadKey` when it is damaged."""
        return from_dict(self.answer)


@dataclass(frozen=True, slots=True)
class HomeworkFacts:
    """Homework of today that the speaker has not yet been asked about, or not answered."""

    lesson_id: int
    enrolment_id: int
    topic: str
    text: str


@dataclass(frozen=True, slots=True)
class NudgeFacts:
    """The few questions of one day for the speaker.

    Attributes
    ----------
    class_name : str
        The classes whose questions wait in it; where none does, that of the nudge.
    questions, answered, left : int
        How many there are, how many have an answer, how many can still be answered.
    lesson_days : tuple of date
        For each question, the local day on which its topic was last taught.
    """

    id: int
    enrolment_id: int
    class_id: int
    class_name: str
    zone: str
    state: str
    day: date
    asked_for: bool
    questions: int
    answered: int
    left: int
    lesson_days: tuple[date, ...] = ()
    homework: tuple[HomeworkFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class QuizAhead:
    """The next date that counts for the speaker, and the evenings with questions that are left before it."""

    class_id: int
    quiz: QuizInfo
    evenings: int


class Learning(Protocol):
    """Everything of the speaker's own reviews that a step may need. What is not looked at is not loaded.

    Attributes
    ----------
    open : AskedQuestion or None
        The question that waits for an answer.
    named : AskedQuestion or None
        The review that a pressed button or a result names, if it is the speaker's own.
    replied : AskedQuestion or None
        The speaker's own question whose message a text replies to.
    last : AskedQuestion or None
        The question asked last, open or not: what "why" is about.
    nudge : NudgeFacts or None
        The nudge that a pressed button or a result names, else the one under way; only the speaker's own.
    """

    @property
    def open(self) -> AskedQuestion | None: ...  # noqa: D102 - described above

    @property
    def named(self) -> AskedQuestion | None: ...  # noqa: D102

    @property
    def replied(self) -> AskedQuestion | None: ...  # noqa: D102

    @property
    def last(self) -> AskedQuestion | None: ...  # noqa: D102

    @property
    def nudge(self) -> NudgeFacts | None: ...  # noqa: D102

    def quiz(self, class_id: int) -> QuizAhead | None:
        """Return the next quiz of one of the speaker's classes."""
        ...

    def others(self, asked: AskedQuestion) -> tuple[str, ...]:
        """Return the answers to the other text questions of a question's topic: they are no slip of its own."""
        ...


@dataclass(frozen=True, slots=True)
class Learned:
    """A `Learning` of plain values: of somebody who learns nothing here, and for tests."""

    open: AskedQuestion | None = None
    named: AskedQuestion | None = None
    replied: AskedQuestion | None = None
    last: AskedQuestion | None = None
    nudge: NudgeFacts | None = None
    quizzes: tuple[QuizAhead, ...] = ()

    def others(self, asked: AskedQuestion) -> tuple[str, ...]:
        """Return no answers of other questions."""
        return ()

    def quiz(self, class_id: int) -> QuizAhead | None:
        """Return the next quiz of a class."""
        return next((quiz for quiz in self.quizzes if quiz.class_id == class_id), None)
