"""The weekly completion report as values: what goes in, what comes out, and the orders that rows stand in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from bot.evidence.doses.numbers import TargetTakes
from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.shared.figures import IntervalEstimate, Proportion, Standing
from bot.evidence.shared.snapshot import Snapshot
from bot.teaching.doses import Needed
from bot.teaching.offers import DoseOffer
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    StudentRecord,
    TopicRecord,
)
from storage.values import QuizInfo


class Reason(StrEnum):
    """Why a student is named."""

    UNANSWERED = "unanswered"
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
    right : Proportion
        Of all answers of the week, extra ones too.
    due : int
        Reviews planned or open.
    now, quiz : IntervalEstimate or None
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
    right: Proportion
    due: int
    now: IntervalEstimate | None
    quiz: IntervalEstimate | None
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
    right: Proportion
    now: IntervalEstimate | None
    quiz: IntervalEstimate | None
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
    all_on_time : int
        Students who were asked and answered all of it on time, whatever else they are named for.
    completion, completion_before : Proportion
        Answered of asked, with an interval that knows that answers of one student are alike.
    change : IntervalEstimate or None
        Completion minus that of the week before, 95 % interval; None when one of them has no data.
    """

    students: int
    active: int
    answered_once: int
    all_on_time: int
    asked: int
    answered: int
    on_time: int
    late: int
    waiting: int
    unanswered: int
    extra: int
    right: Proportion
    completion: Proportion
    completion_before: Proportion
    change: IntervalEstimate | None

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
    asked : tuple of AskedRecord
        Everything asked from five weeks before the end of the week until its end.
    now : Snapshot or None
        Retention at the moment of the report; None before the first lesson.
    at_quiz : Snapshot or None
        Retention on the next quiz's date as things stand: without any further review.
    dose : Needed or None
        The dose that the class needs; None where that cannot be told, or a target decides.
    target : TargetTakes or None
        What the class's target takes by now.
    effect : ReviewEffect or None
        What the reviews did; None before the first lesson.
    """

    rows: ClassRecords
    year: int
    week: int
    generated_at: datetime
    asked: tuple[AskedRecord, ...]
    now: Snapshot | None = None
    quiz: QuizInfo | None = None
    at_quiz: Snapshot | None = None
    dose: Needed | None = None
    target: TargetTakes | None = None
    effect: ReviewEffect | None = None


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
    dose : Needed or None
        The dose that the class needs, where the present one is too small.
    target : TargetTakes or None
        What the class's target takes by now, where that is more than the rules allow.
    effect : ReviewEffect or None
        What the reviews did; None before the first lesson.
    """

    school_class: ClassRecord
    year: int
    week: int
    first_day: date
    last_day: date
    generated_at: datetime
    running: bool
    totals: Totals
    students: tuple[StudentWeek, ...]
    topics: tuple[TopicWeek, ...]
    quiz: QuizInfo | None
    below_half: tuple[TopicWeek, ...]
    talk_to: tuple[Note, ...]
    congratulate: tuple[Note, ...]
    paused: tuple[str, ...] = ()
    dose: Needed | None = None
    target: TargetTakes | None = None
    effect: ReviewEffect | None = None

    @property
    def offers(self) -> tuple[DoseOffer, ...]:
        """Changes of the dose that go with the report as buttons."""
        if self.target is not None:
            return (self.target.offer,)
        return () if self.dose is None else self.dose.offers()


def alphabetical(row: StudentRecord) -> tuple[str, int]:
    """Order students by name, whatever the capitals."""
    return row.name.casefold(), row.id


def by_lesson(row: TopicRecord) -> tuple[bool, float, str]:
    """Order topics as they were taught; those without a lesson last."""
    return row.taught_at is None, row.taught_at.timestamp() if row.taught_at else 0.0, row.name
