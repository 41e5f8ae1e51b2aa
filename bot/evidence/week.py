"""The weekly completion report: the numbers. Text, picture and workbook are drawn from these values alone.

A question belongs to the week in which it was asked, Monday to Sunday in the class's zone; its answer counts
whenever it came, on time or late. Questions that a student asked for ("next") are no nudges: they count as
extra and as answers, never as asked. Nobody is ranked: students stand in alphabetical order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum
from statistics import median

from bot.evidence.figures import (
    Estimate,
    Share,
    Standing,
    paired_change,
    pooled_share,
    rank_sum_z,
    share,
    standing,
)
from bot.evidence.snapshot import Snapshot
from scheduler.schoolday import local_day, week_bounds
from storage.evidence_rows import AskedRow, ClassRow, ClassRows, QuizRow, StudentRow, TopicRow

LOOK_BACK = timedelta(weeks=4)
"""How far back "usual" reaches."""

SILENCE = timedelta(days=7)

SLOWER_FACTOR, SLOWER_HOURS, SLOWER_Z = 2.0, 1.0, 1.645
"""Chosen: a week is slower than usual when the median delay is at least doubled and an hour longer, and the
delays rank above the usual ones at the 5 % level (one-sided): two slow evenings are no news."""

SLOWER_NOW, SLOWER_BEFORE = 3, 8
"""Fewest answers in the week and before it to speak of a usual pace. Chosen."""

BETTER_Z = 1.645
"""Right answers above expectation that deserve a word: one-sided 5 % under the predictions."""


class Reason(StrEnum):
    """Why a student is named."""

    SILENT = "silent"
    SLOWER = "slower"
    BELOW_HALF = "below half"
    BACK = "back"
    MORE = "more"
    BETTER = "better"
    ALL_ON_TIME = "all on time"


@dataclass(frozen=True)
class Note:
    """A student named for a reason, with the two numbers that the reason speaks of."""

    student_id: int
    name: str
    reason: Reason
    value: float = 0.0
    against: float = 0.0
    since: datetime | None = None


@dataclass(frozen=True)
class StudentWeek:
    """One student's week.

    Attributes
    ----------
    asked, answered, on_time, late, waiting, unanswered : int
        Nudged questions: answered = on_time + late, and asked = answered + waiting + unanswered.
    extra : int
        Answers to questions that the student asked for.
    right : Share
        Of all answers of the week, extra ones too.
    due : int
        Reviews planned or open.
    now, quiz : Estimate or None
        Predicted retention over the topics taught so far, and of the next quiz's topics on its date as
        things stand.
    answers_ever : int
        Answers that the predictions rest on.
    delay_h, usual_delay_h : float or None
        Median hours from nudge to answer this week and in the four weeks before.
    """

    id: int
    name: str
    state: str
    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: Share
    due: int
    now: Estimate | None
    quiz: Estimate | None
    answers_ever: int
    delay_h: float | None
    usual_delay_h: float | None
    last_answer_at: datetime | None


@dataclass(frozen=True)
class TopicWeek:
    """One topic's week; the same counts over the class, `standing` against half on the next quiz's date."""

    id: int
    name: str
    taught_on: date | None
    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: Share
    now: Estimate | None
    quiz: Estimate | None
    in_quiz: bool
    answers_ever: int
    standing: Standing


@dataclass(frozen=True)
class Totals:
    """The class's week against the one before.

    Attributes
    ----------
    students, active : int
        All who joined, and those who are asked at present.
    answered_once : int
        Students with at least one answer in the week.
    completion, completion_before : Share
        Answered of asked, with an interval that knows that answers of one student are alike.
    change : Estimate or None
        Completion minus that of the week before, 95 % interval; None when one of them has no data.
    """

    students: int
    active: int
    answered_once: int
    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: Share
    completion: Share
    completion_before: Share
    change: Estimate | None

    @property
    def trend(self) -> str:
        """``more``, ``fewer`` or ``alike``; ``unknown`` without a week before."""
        if self.change is None:
            return "unknown"
        if self.change.low > 0.0:
            return "more"
        return "fewer" if self.change.high < 0.0 else "alike"


@dataclass(frozen=True)
class WeekData:
    """What a weekly report is computed from.

    Attributes
    ----------
    asked : tuple of AskedRow
        Everything asked from five weeks before the end of the week until its end.
    now : Snapshot or None
        Retention at the moment of the report; None before the first lesson.
    at_quiz : Snapshot or None
        Retention on the next quiz's date as things stand: without any further review.
    """

    rows: ClassRows
    year: int
    week: int
    generated_at: datetime
    asked: tuple[AskedRow, ...]
    now: Snapshot | None = None
    quiz: QuizRow | None = None
    at_quiz: Snapshot | None = None


@dataclass(frozen=True)
class WeekReport:
    """The weekly completion report as values.

    Attributes
    ----------
    students : tuple of StudentWeek
        In alphabetical order.
    topics : tuple of TopicWeek
        In the order in which they were taught.
    below_half : tuple of TopicWeek
        Topics of the next quiz whose prediction stands below half, lowest first.
    talk_to, congratulate : tuple of Note
        In alphabetical order of students.
    paused : tuple of str
        Students who are not asked at present.
    """

    school_class: ClassRow
    year: int
    week: int
    first_day: date
    last_day: date
    generated_at: datetime
    running: bool
    totals: Totals
    students: tuple[StudentWeek, ...]
    topics: tuple[TopicWeek, ...]
    quiz: QuizRow | None
    quiz_day: date | None
    below_half: tuple[TopicWeek, ...]
    talk_to: tuple[Note, ...]
    congratulate: tuple[Note, ...]
    paused: tuple[str, ...] = ()


def week_report(data: WeekData) -> WeekReport:
    """Compute the weekly completion report.

    Parameters
    ----------
    data : WeekData
        Rows of the class; rows after the week or the moment of the report are left aside.

    Returns
    -------
    WeekReport
    """
    rows = data.rows
    start, end = week_bounds(data.year, data.week, rows.school_class.zone)
    seen = [row for row in data.asked if row.asked_at <= data.generated_at]
    window = _Window(start, end, min(end, data.generated_at), seen)
    joined = sorted((row for row in rows.students if row.joined and row.state != "left"), key=alphabetical)
    students = tuple(_student_week(row, window, data) for row in joined)
    topics = tuple(_topic_week(row, window, data) for row in sorted(rows.topics, key=by_lesson))
    below = sorted((row for row in topics if row.in_quiz and row.standing.under), key=_lowest_first)
    first = local_day(start, rows.school_class.zone)
    return WeekReport(
        school_class=rows.school_class,
        year=data.year,
        week=data.week,
        first_day=first,
        last_day=first + timedelta(days=6),
        generated_at=data.generated_at,
        running=data.generated_at < end,
        totals=_totals(joined, students, window),
        students=students,
        topics=tuple(row for row in topics if row.asked or row.extra or row.now is not None),
        quiz=data.quiz,
        quiz_day=local_day(data.quiz.at, rows.school_class.zone) if data.quiz else None,
        below_half=tuple(below),
        talk_to=_talk_to(joined, students, window),
        congratulate=_congratulate(students, window),
        paused=tuple(row.name for row in joined if not row.active),
    )


def alphabetical(row: StudentRow) -> tuple[str, int]:
    """Order students by name, whatever the capitals."""
    return row.name.casefold(), row.id


def by_lesson(row: TopicRow) -> tuple[bool, float, str]:
    """Order topics as they were taught; those without a lesson last."""
    return row.taught_at is None, row.taught_at.timestamp() if row.taught_at else 0.0, row.name


def _lowest_first(row: TopicWeek) -> tuple[float, str]:
    return (row.quiz.mean if row.quiz else 1.0), row.name


# ---------------------------------------------------------------- counting


@dataclass(frozen=True)
class _Window:
    """The week and what was asked before it, ready to be picked from."""

    start: datetime
    end: datetime
    until: datetime
    rows: Sequence[AskedRow]
    _by_student: dict[int, list[AskedRow]] = field(default_factory=dict)
    _by_topic: dict[int, list[AskedRow]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for row in self.rows:
            self._by_student.setdefault(row.student_id, []).append(row)
            self._by_topic.setdefault(row.topic_id, []).append(row)

    def week(
        self, student_id: int | None = None, topic_id: int | None = None, weeks_ago: int = 0
    ) -> list[AskedRow]:
        """Rows asked in the week (or `weeks_ago`): of one student, of one topic, or all."""
        start, end = self.start - timedelta(weeks=weeks_ago), self.end - timedelta(weeks=weeks_ago)
        source = self.rows
        if student_id is not None:
            source = self._by_student.get(student_id, [])
        elif topic_id is not None:
            source = self._by_topic.get(topic_id, [])
        return [row for row in source if start <= row.asked_at < end]

    def before(self, student_id: int) -> list[AskedRow]:
        """Rows of one student in the four weeks before the week."""
        source = self._by_student.get(student_id, [])
        return [row for row in source if self.start - LOOK_BACK <= row.asked_at < self.start]

    def last_days(self, student_id: int) -> list[AskedRow]:
        """Rows of one student asked or answered in the seven days up to now or the week's end."""
        since = self.until - SILENCE
        return [
            row
            for row in self._by_student.get(student_id, [])
            if row.asked_at >= since or (row.answered_at and since <= row.answered_at <= self.until)
        ]


@dataclass(frozen=True)
class _Counts:
    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: int
    answers: int


def _counts(rows: Iterable[AskedRow]) -> _Counts:
    every = list(rows)
    nudged = [row for row in every if not row.asked_for]
    extra = sum(row.answered for row in every if row.asked_for)
    answered = [row for row in nudged if row.answered]
    on_time = sum(row.on_time for row in answered)
    waiting = sum(row.open and not row.answered for row in nudged)
    return _Counts(
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


def _student_week(row: StudentRow, window: _Window, data: WeekData) -> StudentWeek:
    counts = _counts(window.week(row.id))
    now, quiz = data.now, data.at_quiz
    return StudentWeek(
        id=row.id,
        name=row.name,
        state=row.state,
        asked=counts.asked,
        answered=counts.answered,
        on_time=counts.on_time,
        late=counts.late,
        waiting=counts.waiting,
        unanswered=counts.unanswered,
        extra=counts.extra,
        right=share(counts.right, counts.answers),
        due=data.rows.due.get(row.id, 0),
        now=now.estimate([row.id]) if now else None,
        quiz=quiz.estimate([row.id], _quiz_topics(data)) if quiz else None,
        answers_ever=now.evidence([row.id]) if now else 0,
        delay_h=_median_delay(window.week(row.id)),
        usual_delay_h=_median_delay(window.before(row.id)),
        last_answer_at=row.last_answer_at,
    )


def _topic_week(row: TopicRow, window: _Window, data: WeekData) -> TopicWeek:
    rows = window.week(topic_id=row.id)
    counts = _counts(rows)
    now, quiz = data.now, data.at_quiz
    in_quiz = row.id in _quiz_topics(data)
    at_quiz = quiz.estimate(None, [row.id]) if quiz and in_quiz else None
    answers = (
        quiz.evidence(None, [row.id]) if quiz and in_quiz else now.evidence(None, [row.id]) if now else 0
    )
    zone = data.rows.school_class.zone
    return TopicWeek(
        id=row.id,
        name=row.name,
        taught_on=local_day(row.taught_at, zone) if row.taught_at else None,
        asked=counts.asked,
        answered=counts.answered,
        on_time=counts.on_time,
        late=counts.late,
        waiting=counts.waiting,
        unanswered=counts.unanswered,
        extra=counts.extra,
        right=_pooled_right(rows),
        now=now.estimate(None, [row.id]) if now else None,
        quiz=at_quiz,
        in_quiz=in_quiz,
        answers_ever=answers,
        standing=standing(at_quiz, answers),
    )


def _quiz_topics(data: WeekData) -> tuple[int, ...]:
    return data.quiz.topics if data.quiz else ()


def _per_student(rows: Iterable[AskedRow]) -> dict[int, list[AskedRow]]:
    grouped: dict[int, list[AskedRow]] = {}
    for row in rows:
        grouped.setdefault(row.student_id, []).append(row)
    return grouped


def _pooled_right(rows: Iterable[AskedRow]) -> Share:
    answered = _per_student(row for row in rows if row.answered)
    right = [sum(row.right for row in own) for own in answered.values()]
    return pooled_share(right, [len(own) for own in answered.values()])


def _totals(joined: Sequence[StudentRow], students: Sequence[StudentWeek], window: _Window) -> Totals:
    rows = window.week()
    known = {row.id for row in students}
    counts = _counts(row for row in rows if row.student_id in known)
    week = [(row.answered, row.asked) for row in students]
    earlier = [_counts(window.week(row.id, weeks_ago=1)) for row in students]
    before = [(count.answered, count.asked) for count in earlier]
    return Totals(
        students=len(students),
        active=sum(row.active for row in joined),
        answered_once=sum(row.answered + row.extra > 0 for row in students),
        asked=counts.asked,
        answered=counts.answered,
        on_time=counts.on_time,
        late=counts.late,
        waiting=counts.waiting,
        unanswered=counts.unanswered,
        extra=counts.extra,
        right=_pooled_right(row for row in rows if row.student_id in known),
        completion=pooled_share(*_columns(week)),
        completion_before=pooled_share(*_columns(before)),
        change=paired_change(before, week),
    )


def _columns(pairs: Sequence[tuple[int, int]]) -> tuple[list[int], list[int]]:
    return [count for count, _ in pairs], [of for _, of in pairs]


# ---------------------------------------------------------------- who to talk to, whom to congratulate


def _delays(rows: Iterable[AskedRow]) -> list[float]:
    """Hours from nudge to answer, of answers to nudges."""
    return [
        (row.answered_at - row.asked_at).total_seconds() / 3600.0
        for row in rows
        if row.answered_at is not None and not row.asked_for
    ]


def _median_delay(rows: Iterable[AskedRow]) -> float | None:
    delays = _delays(rows)
    return median(delays) if delays else None


def _talk_to(
    joined: Sequence[StudentRow], students: Sequence[StudentWeek], window: _Window
) -> tuple[Note, ...]:
    notes: list[Note] = []
    for row, week in zip(joined, students, strict=True):
        note = _silent(row, window) or _slower(week, window) or _below_half(week)
        if note is not None:
            notes.append(note)
    return tuple(notes)


def _silent(row: StudentRow, window: _Window) -> Note | None:
    """Asked at least once in the last seven days, a student for all of them, and not one answer."""
    if not row.active or row.joined_at > window.until - SILENCE:
        return None
    recent = window.last_days(row.id)
    if not any(not item.asked_for for item in recent) or any(item.answered for item in recent):
        return None
    last = row.last_answer_at if row.last_answer_at and row.last_answer_at <= window.until else None
    asked = sum(not item.asked_for for item in recent)
    return Note(row.id, row.name, Reason.SILENT, value=float(asked), since=last)


def _slower(week: StudentWeek, window: _Window) -> Note | None:
    now, usual = _delays(window.week(week.id)), _delays(window.before(week.id))
    if len(now) < SLOWER_NOW or len(usual) < SLOWER_BEFORE:
        return None
    fast, slow = median(usual), median(now)
    if slow < SLOWER_FACTOR * fast or slow - fast < SLOWER_HOURS or rank_sum_z(now, usual) < SLOWER_Z:
        return None
    return Note(week.id, week.name, Reason.SLOWER, value=slow, against=fast)


def _below_half(week: StudentWeek) -> Note | None:
    if week.quiz is None or standing(week.quiz, week.answers_ever) is not Standing.BELOW:
        return None
    return Note(week.id, week.name, Reason.BELOW_HALF, value=week.quiz.mean)


def _congratulate(students: Sequence[StudentWeek], window: _Window) -> tuple[Note, ...]:
    notes: list[Note] = []
    for week in students:
        note = _back(week, window) or _more(week, window) or _better(week, window) or _all_on_time(week)
        if note is not None:
            notes.append(note)
    return tuple(notes)


def _back(week: StudentWeek, window: _Window) -> Note | None:
    """Silent the week before, at least three answers and half of what was asked this week."""
    before = _counts(window.week(week.id, weeks_ago=1))
    if before.asked < 3 or before.answers or week.answered < 3 or 2 * week.answered < week.asked:
        return None
    return Note(week.id, week.name, Reason.BACK, value=float(week.answered), against=float(week.asked))


def _more(week: StudentWeek, window: _Window) -> Note | None:
    """Note a share answered that lies above the student's own usual one, beyond both 80 % intervals."""
    before = _counts(window.before(week.id))
    if week.asked < 4 or before.asked < 8:
        return None
    usual, now = share(before.answered, before.asked), share(week.answered, week.asked)
    if now.low <= usual.high:
        return None
    return Note(week.id, week.name, Reason.MORE, value=now.count / now.of, against=usual.count / usual.of)


def _better(week: StudentWeek, window: _Window) -> Note | None:
    """More right answers than the predictions expected, counting the chance of a guess."""
    rows = [row for row in window.week(week.id) if row.answered and row.predicted is not None]
    if len(rows) < 5:
        return None
    expected = [row.chance + (1.0 - row.chance) * (row.predicted or 0.0) for row in rows]
    variance = sum(p * (1.0 - p) for p in expected)
    right = sum(row.right for row in rows)
    if variance <= 0.0 or (right - sum(expected)) / variance**0.5 < BETTER_Z:
        return None
    return Note(week.id, week.name, Reason.BETTER, value=float(right), against=float(sum(expected)))


def _all_on_time(week: StudentWeek) -> Note | None:
    if week.asked < 4 or week.on_time < week.asked:
        return None
    return Note(week.id, week.name, Reason.ALL_ON_TIME, value=float(week.on_time))
