"""The forecast for a quiz or any date: the numbers.

Three predictions of the same date are compared: as things stand (nobody reviews any more), with the reviews
still planned, and with the planned reviews after the topic was taught once more in the next lesson. Topics
are put in order by what teaching them again would gain; students never are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

import numpy as np

from bot.evidence.doses.numbers import DoseKind, DoseLine, dose_lines, offer_of
from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.shared.figures import IntervalEstimate, Standing, standing
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import alphabetical
from bot.teaching.doses import DoseRules
from bot.teaching.offers import DoseOffer
from scheduler.calendar.school_days import local_day
from scheduler.values import Floats
from storage.history.evidence_rows import ClassRecord, ClassRecords, StudentRecord
from storage.values import QuizInfo

HALF = 0.5

WORTH_TEACHING = 0.02
"""Least gain in the class's mean for one topic that is worth a lesson's time. Chosen: two points."""

AT_MOST = 3
"""Topics named to teach again; the workbook has all of them."""


class Why(StrEnum):
    """What speaks for teaching a topic again."""

    BELOW_HALF = "below half"
    MANY_BELOW = "many below"
    FADES = "fades"


@dataclass(frozen=True)
class ForecastData:
    """What a forecast is computed from; all snapshots of the same moment, students and topics.

    Attributes
    ----------
    at : datetime
        The date that the forecast is for.
    topics : tuple of int
        The topics that count on that date.
    planned, as_it_stands : Snapshot
        With the reviews still planned, and without any.
    taught_again : Snapshot or None
        With the planned reviews and each topic taught once more in the next lesson (one at a time).
    rules : DoseRules or None
        The rules that make the class's dose; None where doses are not compared.
    one_more, all_days : Snapshot or None
        With one question more each time, and with questions on all school days; None where that is not allowed, or
        is so already.
    effect : ReviewEffect or None
        What the reviews did so far.
    """

    rows: ClassRecords
    generated_at: datetime
    at: datetime
    topics: tuple[int, ...]
    planned: Snapshot
    as_it_stands: Snapshot
    taught_again: Snapshot | None = None
    quiz: QuizInfo | None = None
    rules: DoseRules | None = None
    one_more: Snapshot | None = None
    all_days: Snapshot | None = None
    effect: ReviewEffect | None = None


@dataclass(frozen=True)
class TopicForecast:
    """One topic on the date.

    Attributes
    ----------
    planned, as_it_stands : IntervalEstimate or None
        Class mean; None when the topic is not yet taught to anybody.
    gain : float or None
        What teaching it again in the next lesson adds to the class's mean. [0..1]
    below : int
        Students whose prediction lies under half, with the reviews planned.
    of : int
        Students who have been taught it.
    answers : int
        Answers that the prediction rests on.
    why : Why
        What speaks most for teaching it again.
    """

    id: int
    name: str
    taught_on: date | None
    planned: IntervalEstimate | None
    as_it_stands: IntervalEstimate | None
    gain: float | None
    below: int
    of: int
    answers: int
    standing: Standing
    why: Why


@dataclass(frozen=True)
class StudentForecast:
    """One student on the date; `weak_topics` are those with a prediction under half, weakest first."""

    id: int
    name: str
    active: bool
    planned: IntervalEstimate | None
    as_it_stands: IntervalEstimate | None
    answers: int
    standing: Standing
    weak_topics: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Forecast:
    """A forecast as values.

    Attributes
    ----------
    overall, overall_as_it_stands : IntervalEstimate or None
        Mean over students and topics with the planned reviews, and without.
    topics : tuple of TopicForecast
        In the order taught.
    students : tuple of StudentForecast
        In alphabetical order.
    teach_again : tuple of TopicForecast
        At most `AT_MOST`, by what teaching them again would gain.
    talk_to : tuple of StudentForecast
        In alphabetical order: surely below half, or too little known while it is known of most others.
    mean, low, high : ndarray, shape (n_students, n_topics)
        Per pair with the planned reviews, in the order of `students` and `topics`; NaN where not taught.
    mean_as_it_stands, low_as_it_stands, high_as_it_stands : ndarray, shape (n_students, n_topics)
        The same without them.
    doses : tuple of DoseLine
        What other doses lead to; empty where they are not compared.
    offer : DoseOffer or None
        The one change of the rules that is offered.
    effect : ReviewEffect or None
        What the reviews did so far.
    """

    school_class: ClassRecord
    generated_at: datetime
    at: datetime
    day: date
    quiz: QuizInfo | None
    overall: IntervalEstimate | None
    overall_as_it_stands: IntervalEstimate | None
    answers: int
    topics: tuple[TopicForecast, ...]
    students: tuple[StudentForecast, ...]
    teach_again: tuple[TopicForecast, ...]
    talk_to: tuple[StudentForecast, ...]
    mean: Floats
    low: Floats
    high: Floats
    mean_as_it_stands: Floats
    low_as_it_stands: Floats
    high_as_it_stands: Floats
    doses: tuple[DoseLine, ...] = ()
    offer: DoseOffer | None = None
    effect: ReviewEffect | None = None

    @property
    def too_early(self) -> bool:
        """Whether no topic has enough answers: then silence is no good news."""
        return all(row.standing is Standing.TOO_FEW for row in self.topics)

    @property
    def unknown(self) -> int:
        """Students who are asked but not named, because too little is known of many."""
        named = {row.id for row in self.talk_to}
        return sum(
            row.active and row.standing is Standing.TOO_FEW and row.id not in named for row in self.students
        )


def forecast(data: ForecastData) -> Forecast:
    """Compute the forecast for a quiz or any date.

    Raises
    ------
    ValueError
        When the snapshots speak of different students, topics or moments.
    """
    _check(data)
    order = sorted((row for row in data.rows.students if row.id in data.planned.students), key=alphabetical)
    topics = tuple(_topic(topic, data, [row.id for row in order]) for topic in _in_order(data))
    students = tuple(_student(row, data) for row in order)
    again = [row for row in topics if _worth_teaching(row)]
    again.sort(key=lambda row: (-(row.gain or 0.0), row.name))
    everybody = [row.id for row in order]
    doses = _doses(data, everybody)
    return Forecast(
        school_class=data.rows.school_class,
        generated_at=data.generated_at,
        at=data.at,
        day=local_day(data.at, data.rows.school_class.zone),
        quiz=data.quiz,
        overall=data.planned.estimate(everybody, data.topics),
        overall_as_it_stands=data.as_it_stands.estimate(everybody, data.topics),
        answers=data.planned.evidence(everybody, data.topics),
        topics=topics,
        students=students,
        teach_again=tuple(again[:AT_MOST]),
        talk_to=_talk_to(students),
        mean=_pick(data.planned, data.planned.retention.mean, students, topics),
        low=_pick(data.planned, data.planned.retention.low, students, topics),
        high=_pick(data.planned, data.planned.retention.high, students, topics),
        mean_as_it_stands=_pick(data.as_it_stands, data.as_it_stands.retention.mean, students, topics),
        low_as_it_stands=_pick(data.as_it_stands, data.as_it_stands.retention.low, students, topics),
        high_as_it_stands=_pick(data.as_it_stands, data.as_it_stands.retention.high, students, topics),
        doses=doses,
        offer=offer_of(data.rules, doses) if data.rules is not None else None,
        effect=data.effect,
    )


def _doses(data: ForecastData, everybody: Sequence[int]) -> tuple[DoseLine, ...]:
    if data.rules is None:
        return ()
    snapshots = {
        DoseKind.NONE: data.as_it_stands,
        DoseKind.NOW: data.planned,
        DoseKind.MORE: data.one_more,
        DoseKind.ALL_DAYS: data.all_days,
    }
    known = {kind: one.estimate(everybody, data.topics) for kind, one in snapshots.items() if one is not None}
    return dose_lines(data.rules, known)


def _talk_to(students: Sequence[StudentForecast]) -> tuple[StudentForecast, ...]:
    """Name those surely below half, and those too little is known of while it is known of most others."""
    active = [row for row in students if row.active]
    unknown = sum(row.standing is Standing.TOO_FEW for row in active)
    named = {Standing.BELOW} if 3 * unknown > len(active) else {Standing.BELOW, Standing.TOO_FEW}
    return tuple(row for row in active if row.standing in named)


def _worth_teaching(row: TopicForecast) -> bool:
    """Whether enough is known to say that the class needs it, and that it would help."""
    needed = row.standing is not Standing.ABOVE or row.why is Why.MANY_BELOW
    known = row.standing is not Standing.TOO_FEW and row.gain is not None
    return known and needed and (row.gain or 0.0) >= WORTH_TEACHING


def _check(data: ForecastData) -> None:
    for other in (data.as_it_stands, data.taught_again, data.one_more, data.all_days):
        if other is not None and (other.students, other.topics, other.at) != (
            data.planned.students,
            data.planned.topics,
            data.planned.at,
        ):
            raise ValueError("The predictions of a forecast must be of the same students, topics and moment.")


def _in_order(data: ForecastData) -> list[int]:
    known = {row.id: row for row in data.rows.topics}
    return sorted(
        (topic for topic in data.topics if topic in known and topic in data.planned.topics),
        key=lambda topic: (known[topic].taught_at or data.at, known[topic].name),
    )


def _topic(topic: int, data: ForecastData, students: Sequence[int]) -> TopicForecast:
    row = data.rows.topic(topic)
    kept = data.planned.mask(students, [topic])
    planned = data.planned.estimate(students, [topic])
    stands = data.as_it_stands.estimate(students, [topic])
    again = data.taught_again.estimate(students, [topic]) if data.taught_again else None
    below = int(np.count_nonzero(data.planned.retention.mean[kept] < HALF))
    of = int(np.count_nonzero(kept))
    answers = data.planned.evidence(students, [topic])
    return TopicForecast(
        id=topic,
        name=row.name,
        taught_on=local_day(row.taught_at, data.rows.school_class.zone) if row.taught_at else None,
        planned=planned,
        as_it_stands=stands,
        gain=again.mean - planned.mean if again and planned else None,
        below=below,
        of=of,
        answers=answers,
        standing=standing(planned, answers),
        why=_why(planned, below, of),
    )


def _why(planned: IntervalEstimate | None, below: int, of: int) -> Why:
    if planned is not None and planned.mean < HALF:
        return Why.BELOW_HALF
    return Why.MANY_BELOW if 4 * below >= of > 0 else Why.FADES


def _student(row: StudentRecord, data: ForecastData) -> StudentForecast:
    planned = data.planned.estimate([row.id], data.topics)
    answers = data.planned.evidence([row.id], data.topics)
    place = data.planned.students.index(row.id)
    kept = data.planned.mask([row.id], data.topics)[place]
    means = data.planned.retention.mean[place]
    weak = list(np.flatnonzero(kept & (means < HALF)))
    weak.sort(key=lambda column: float(means[column]))
    return StudentForecast(
        id=row.id,
        name=row.name,
        active=row.active,
        planned=planned,
        as_it_stands=data.as_it_stands.estimate([row.id], data.topics),
        answers=answers,
        standing=standing(planned, answers),
        weak_topics=tuple(data.rows.topic(data.planned.topics[column]).name for column in weak),
    )


def _pick(
    snapshot: Snapshot, values: Floats, students: Sequence[StudentForecast], topics: Sequence[TopicForecast]
) -> Floats:
    """Return the values in the order of the report, NaN where not taught."""
    rows = [snapshot.students.index(row.id) for row in students]
    columns = [snapshot.topics.index(row.id) for row in topics]
    grid = np.ix_(rows, columns)
    return np.asarray(np.where(snapshot.taught[grid], values[grid], np.nan))
