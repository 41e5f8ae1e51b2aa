"""Counting a week: which questions belong to it, what became of them, how long answers took."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median

from bot.evidence.shared.figures import Proportion, pooled_share
from storage.history.evidence_rows import AskedRecord

LOOK_BACK = timedelta(weeks=4)
"""How far back "usual" reaches."""

RECENT = timedelta(days=7)
"""Who answered nothing for so long is named."""


@dataclass(frozen=True)
class Window:
    """The week and what was asked before it, ready to be picked from."""

    start: datetime
    end: datetime
    until: datetime
    rows: Sequence[AskedRecord]
    _by_student: dict[int, list[AskedRecord]] = field(default_factory=dict)
    _by_topic: dict[int, list[AskedRecord]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row in self.rows:
            self._by_student.setdefault(row.student_id, []).append(row)
            self._by_topic.setdefault(row.topic_id, []).append(row)

    def week(
        self, student_id: int | None = None, topic_id: int | None = None, weeks_ago: int = 0
    ) -> list[AskedRecord]:
        """Rows asked in the week (or `weeks_ago`): of one student, of one topic, or all."""
        start, end = self.start - timedelta(weeks=weeks_ago), self.end - timedelta(weeks=weeks_ago)
        source = self.rows
        if student_id is not None:
            source = self._by_student.get(student_id, [])
        elif topic_id is not None:
            source = self._by_topic.get(topic_id, [])
        return [row for row in source if start <= row.asked_at < end]

    def before(self, student_id: int) -> list[AskedRecord]:
        """Rows of one student in the four weeks before the week."""
        source = self._by_student.get(student_id, [])
        return [row for row in source if self.start - LOOK_BACK <= row.asked_at < self.start]

    def last_days(self, student_id: int) -> list[AskedRecord]:
        """Rows of one student asked or answered in the seven days up to now or the week's end."""
        since = self.until - RECENT
        return [
            row
            for row in self._by_student.get(student_id, [])
            if row.asked_at >= since or (row.answered_at and since <= row.answered_at <= self.until)
        ]


@dataclass(frozen=True)
class OutcomeCounts:
    """What became of some questions; `answers` and `right` take extra ones too."""

    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: int
    answers: int


def count(rows: Iterable[AskedRecord]) -> OutcomeCounts:
    """Count what became of questions."""
    every = list(rows)
    nudged = [row for row in every if not row.asked_for]
    extra = sum(row.answered for row in every if row.asked_for)
    answered = [row for row in nudged if row.answered]
    on_time = sum(row.on_time for row in answered)
    waiting = sum(row.open and not row.answered for row in nudged)
    return OutcomeCounts(
        asked=len(nudged),
        answered=len(answered),
        on_time=on_time,
        late=len(answered) - on_time,
        waiting=waiting,
        unanswered=len(nudged) - len(answered) - waiting,
        extra=extra,
        right=sum(row.right for row in every),
        answers=len(answered) + extra,
    )


def nudges_answered(rows: Iterable[AskedRecord]) -> tuple[int, int]:
    """Return how many of one student's nudges have an answer, and of how many; those that still wait are left out."""
    answered: dict[datetime, bool] = {}
    for row in rows:
        if not row.asked_for and (row.answered or not row.open):
            answered[row.asked_at] = answered.get(row.asked_at, False) or row.answered
    return sum(answered.values()), len(answered)


def _per_student(rows: Iterable[AskedRecord]) -> dict[int, list[AskedRecord]]:
    grouped: dict[int, list[AskedRecord]] = {}
    for row in rows:
        grouped.setdefault(row.student_id, []).append(row)
    return grouped


def pooled_right(rows: Iterable[AskedRecord]) -> Proportion:
    """Return the share of right answers, knowing that answers of one student are alike."""
    answered = _per_student(row for row in rows if row.answered)
    right = [sum(row.right for row in own) for own in answered.values()]
    return pooled_share(right, [len(own) for own in answered.values()])


def delays(rows: Iterable[AskedRecord]) -> list[float]:
    """Hours from nudge to answer, of answers to nudges."""
    return [
        (row.answered_at - row.asked_at).total_seconds() / 3600.0
        for row in rows
        if row.answered_at is not None and not row.asked_for
    ]


def median_delay(rows: Iterable[AskedRecord]) -> float | None:
    """Return the median hours from nudge to answer, None without an answer."""
    waits = delays(rows)
    return median(waits) if waits else None
