"""The starter: the few questions that would serve this class best at the beginning of the next lesson.

A question put to the whole class is one review of its topic for everybody present. So topics are put in order by
what one review of every student at the next lesson adds to the class's mean retention on the quiz; each topic
gives one question, the one that the class has met longest ago. Gains of different topics add up, so the best
few topics are the best set.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from hashlib import sha256

import numpy as np

from bot.evidence.shared.snapshot import Snapshot
from bot.grading.drawn import BadTemplate, ask
from bot.grading.keys import BadKey, from_dict, shown
from bot.grading.kinds import KINDS, recipe_of
from bot.words import Words
from scheduler.calendar.school_days import local_day
from scheduler.values import Floats
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StarterRecord,
)
from storage.values import QuizInfo

FEWEST, USUAL, MOST = 3, 4, 5
"""Questions of a starter: five minutes of a lesson."""

LETTERS = "ABCDEFGH"


@dataclass(frozen=True, eq=False)
class StarterData:
    """What a starter is chosen from.

    Attributes
    ----------
    lesson_at, target_at : datetime
        The next lesson, and the date that the gain is counted for.
    gain : ndarray, shape (n_students, n_topics)
        What one review of every pair at the next lesson adds to retention on that date.
    present : Snapshot
        Retention at the next lesson, for the same students and topics.
    avoid : frozenset of int
        Questions that do not work.
    starters : tuple of StarterRecord
        Questions that the class was asked together before.
    """

    rows: ClassRecords
    generated_at: datetime
    lesson_at: datetime
    target_at: datetime
    quiz: QuizInfo | None
    topics: tuple[int, ...]
    gain: Floats
    present: Snapshot
    questions: tuple[QuestionRecord, ...]
    asked: tuple[AskedRecord, ...] = ()
    avoid: frozenset[int] = frozenset()
    count: int = USUAL
    starters: tuple[StarterRecord, ...] = ()


@dataclass(frozen=True)
class StarterQuestion:
    """One question of a starter.

    Attributes
    ----------
    options : tuple of str
        In the order shown, lettered from A; empty for a question that is not a choice.
    answer : str
        What is right, with its letter where it has one.
    gain : float
        What it adds to the class's mean retention on its topic on the date. [0..1]
    now : float
        The class's mean retention on the topic at the lesson. [0..1]
    """

    question_id: int
    topic_id: int
    topic: str
    prompt: str
    options: tuple[str, ...]
    answer: str
    letter: str
    explanation: str
    gain: float
    now: float
    has_picture: bool = False
    is_number: bool = False


@dataclass(frozen=True)
class Starter:
    """A starter as values; `questions` best first."""

    school_class: ClassRecord
    generated_at: datetime
    lesson_day: date
    quiz: QuizInfo | None
    target_day: date
    questions: tuple[StarterQuestion, ...]
    without_questions: tuple[str, ...] = ()
    students: int = 0


def starter(data: StarterData) -> Starter:
    """Choose the questions of a starter.

    Raises
    ------
    ValueError
        When `count` is not 3 to 5.
    """
    if not FEWEST <= data.count <= MOST:
        raise ValueError(f"A starter has {FEWEST} to {MOST} questions, not {data.count}.")
    zone = data.rows.school_class.zone
    usable = _usable(data)
    order = sorted(_gains(data).items(), key=lambda item: (-item[1], item[0]))
    chosen = [
        _question(topic, gain, usable[topic], data)
        for topic, gain in order
        if gain > 0.0 and usable.get(topic)
    ]
    missing = [
        data.rows.topic(topic).name
        for topic, gain in order[: data.count]
        if gain > 0.0 and not usable.get(topic)
    ]
    return Starter(
        school_class=data.rows.school_class,
        generated_at=data.generated_at,
        lesson_day=local_day(data.lesson_at, zone),
        quiz=data.quiz,
        target_day=local_day(data.target_at, zone),
        questions=tuple(chosen[: data.count]),
        without_questions=tuple(missing),
        students=sum(row.joined for row in data.rows.students),
    )


def _gains(data: StarterData) -> dict[int, float]:
    """Return the mean gain of each topic over the students who have been taught it, weighed by how many they are."""
    joined = [row.id for row in data.rows.students if row.joined]
    found = {}
    for topic in data.topics:
        kept = data.present.mask(joined, [topic])
        if kept.any():
            found[topic] = float(np.sum(data.gain[kept]) / max(1, len(joined)))
    return found


def _usable(data: StarterData) -> dict[int, list[QuestionRecord]]:
    found: dict[int, list[QuestionRecord]] = {}
    for row in data.questions:
        if not row.retired and row.id not in data.avoid and _readable(row):
            found.setdefault(row.topic_id, []).append(row)
    return found


def _readable(row: QuestionRecord) -> bool:
    """Whether the stored key and template can be read: a damaged one must not keep the rest from being shown."""
    try:
        from_dict(row.answer)
        if row.template is not None:
            ask(row.template, "readable")
    except (BadKey, BadTemplate):
        return False
    return True


def _question(topic: int, gain: float, rows: Sequence[QuestionRecord], data: StarterData) -> StarterQuestion:
    last_asked = _last_asked(data)
    row = min(rows, key=lambda one: (last_asked.get(one.id, 0.0), not KINDS[one.kind].is_tapped, one.id))
    row = _drawn(row, data)
    key = from_dict(row.answer)
    recipe = recipe_of(key)
    options, letter = _lettered(row.id, recipe.options(key)) if recipe.is_tapped else ((), "")
    estimate = data.present.estimate([row.id for row in data.rows.students if row.joined], [topic])
    return StarterQuestion(
        question_id=row.id,
        topic_id=topic,
        topic=data.rows.topic(topic).name,
        prompt=row.prompt,
        options=options,
        answer=shown(key),
        is_number=recipe.is_figure,
        letter=letter,
        explanation=row.explanation,
        gain=gain,
        now=estimate.mean if estimate else 0.0,
        has_picture=row.picture is not None,
    )


def _drawn(row: QuestionRecord, data: StarterData) -> QuestionRecord:
    """Return a question with values drawn for the class, the same all day; one without stays as it is."""
    if row.template is None:
        return row
    asked = ask(row.template, f"starter:{row.id}:{data.generated_at.date()}")
    return replace(row, prompt=asked["prompt"], answer=asked["answer"], explanation=asked["explanation"])


def _last_asked(data: StarterData) -> dict[int, float]:
    """Return when each question was last put to a student, or to the class in a starter. [s since 1970]."""
    seen = [(row.question_id, row.asked_at) for row in data.asked if row.question_id is not None]
    seen += [(row.question_id, row.at) for row in data.starters]
    last: dict[int, float] = {}
    for question, at in seen:
        last[question] = max(last.get(question, 0.0), at.timestamp())
    return last


def _lettered(question_id: int, stored: Sequence[str]) -> tuple[tuple[str, ...], str]:
    """Return the options in an order that depends on nothing but the question, and the letter of the right one."""
    order = sorted(range(len(stored)), key=lambda place: sha256(f"{question_id}:{place}".encode()).digest())
    return tuple(stored[place] for place in order), LETTERS[order.index(0)]


# ---------------------------------------------------------------- how many had it right


class BadCounts(ValueError):
    """What a teacher typed about a starter cannot be read; `say` tells what is wrong and what to type."""

    def __init__(self, key: str, **values: object) -> None:
        super().__init__(key)
        self.key, self.values = key, values

    def say(self, words: Words) -> str:
        """Write what is wrong, and what to type."""
        return words.text(self.key, **self.values)


@dataclass(frozen=True)
class RightCounts:
    """How many of those present had each question right."""

    present: int
    right: tuple[int, ...] = field(default=())


_OF = re.compile(r"^(?P<counts>[\d\s,;]+?)\s*(?:of|out of|von|/)\s*(?P<present>\d+)\s*$", re.IGNORECASE)
_PAIRS = re.compile(r"(\d+)\s*/\s*(\d+)")


def read_counts(text: str, questions: int) -> RightCounts:
    """Read how many had each question of a starter right.

    Parameters
    ----------
    text : str
        ``18 22 9 of 26``, or ``18/26 22/26 9/26``.
    questions : int
        How many questions the starter had.

    Raises
    ------
    BadCounts
        When it cannot be read, the number of counts is another, or a count is larger than the class.

    Examples
    --------
    >>> read_counts("18, 22, 9 of 26", 3)
    RightCounts(present=26, right=(18, 22, 9))
    """
    right, present = _split(" ".join(text.split()))
    if len(right) != questions:
        raise BadCounts("starter.counts_number", found=len(right), questions=questions)
    if present < 1 or present > 500:
        raise BadCounts("starter.counts_present", present=present)
    too_many = [count for count in right if count > present]
    if too_many:
        raise BadCounts("starter.counts_more", count=too_many[0], present=present)
    return RightCounts(present, right)


def _split(text: str) -> tuple[tuple[int, ...], int]:
    if len(text) > 200:
        raise BadCounts("starter.counts_unreadable")
    whole = _OF.match(text)
    pairs = _PAIRS.findall(text)
    if pairs and not _PAIRS.sub("", text).strip(" ,;") and len({present for _, present in pairs}) == 1:
        return tuple(int(right) for right, _ in pairs), int(pairs[0][1])
    if whole is None:
        raise BadCounts("starter.counts_unreadable")
    return tuple(int(found) for found in re.findall(r"\d+", whole["counts"])), int(whole["present"])


def topics_with_questions(questions: Iterable[QuestionRecord]) -> Mapping[int, int]:
    """Return how many questions in use each topic has."""
    found: dict[int, int] = {}
    for row in questions:
        if not row.retired:
            found[row.topic_id] = found.get(row.topic_id, 0) + 1
    return found
