"""From the database and the retention model to what the evidence is computed from.

Two steps, so that no transaction is open while numbers are worked out: `read` takes a session and returns plain
values; the others take those values and the class's model and touch no database. The model is the one that
plans the reviews: ``with memories.of(read.story, read.others) as memory`` in the running service,
``bot.teaching.memories.build(read.story, read.others)`` elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bot.evidence.doses.numbers import TargetTakes, target_takes
from bot.evidence.effect.numbers import ReviewEffect
from bot.evidence.forecast.gains import review_gain, snapshot, taught_again
from bot.evidence.forecast.numbers import ForecastData
from bot.evidence.load_effect import class_effect
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.week.values import WeekData
from bot.teaching.caps import allowance_left
from bot.teaching.dates_that_count import dates_of
from bot.teaching.doses import DoseRules, Needed, dose_rules, needed
from bot.teaching.memories import build, prior_of
from bot.teaching.school_days import class_rules
from bot.words import Words
from bot.words import words as words_of
from scheduler.calendar.school_days import local_day, local_moment, week_bounds, week_of
from scheduler.model.fitting import fit
from scheduler.model.memory import ClassMemory
from scheduler.plan import planner
from scheduler.plan.outcomes import Prospects
from scheduler.values import Dates, Parameters, Retention
from storage.base.database import Session
from storage.base.errors import NotFound
from storage.history import class_history, evidence
from storage.history.class_history import ClassStory, Scored
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecords,
    HomeworkRecord,
    QuestionRecord,
    ScoreRecord,
    StarterRecord,
)
from storage.tables import SchoolClass
from storage.values import QuizInfo

# Each paper's numbers are imported where they are made: a weekly report on the command line needs none of these.
if TYPE_CHECKING:
    from bot.evidence.illustration.numbers import Illustration
    from bot.evidence.questions.numbers import QuestionTable
    from bot.evidence.quiz.numbers import QuizData
    from bot.evidence.starter.numbers import StarterData

BEGINNING = datetime(2000, 1, 1, tzinfo=UTC)
"""Before any question that this program ever asked."""

NOON = 12 * 60
"""A forecast for a day without a quiz is made for this minute of it."""

WITHOUT_QUIZ = timedelta(weeks=4)
"""Papers look this far ahead where no quiz is planned."""


class NothingThere(ValueError):
    """What was asked for cannot be made from what there is.

    Attributes
    ----------
    key, values : str, mapping
        The text of ``bot.words`` that says why and what to do; `say` writes it in a language.
    """

    def __init__(self, key: str, **values: object) -> None:
        super().__init__(key)
        self.key, self.values = key, values

    def say(self, words: Words) -> str:
        """Write why, and what to do."""
        return words.text(self.key, **self.values)

    def __str__(self) -> str:
        return self.say(words_of("en"))


@dataclass(frozen=True)
class ClassEvidence:
    """Everything that the evidence of one class is made of, read in one transaction.

    Attributes
    ----------
    asked : tuple of AskedRecord
        Every question that ever reached a student of the class.
    story, others : ClassStory, tuple of Parameters
        What the class's model is built from.
    dates : Dates
        What the planner works towards.
    caps : mapping of int to int
        Most questions a day for each student who is asked at present.
    left : mapping of int to int, or None
        Questions left of the term's allowance; None without one.
    scores : mapping of int to tuple of ScoreRecord
        Of every quiz with scores, the latest quiz first.
    homework_of : mapping of int to (int, int)
        Homework done, of how many something was reported, by student.
    rules : DoseRules or None
        The rules that make the class's dose.
    """

    rows: ClassRecords
    now: datetime
    asked: tuple[AskedRecord, ...]
    questions: tuple[QuestionRecord, ...]
    story: ClassStory
    others: tuple[Parameters, ...]
    dates: Dates
    caps: Mapping[int, int]
    left: Mapping[int, int] | None
    scores: Mapping[int, tuple[ScoreRecord, ...]]
    starters: tuple[StarterRecord, ...] = ()
    homework: tuple[HomeworkRecord, ...] = ()
    homework_of: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    rules: DoseRules | None = None

    @property
    def target(self) -> float | None:
        """Share to be known on the dates that count, if the class has a target. [0..1]."""
        return None if self.rules is None else self.rules.rules.target_share


def read(session: Session, class_id: int, now: datetime) -> ClassEvidence:
    """Read everything that the evidence of a class is made of, as it stood at a moment.

    Raises
    ------
    NotFound
        When there is no such class.
    """
    school_class = session.get(SchoolClass, class_id)
    if school_class is None:
        raise NotFound("There is no such class.")
    told = class_history.of_class(session, class_id, now)
    rows = evidence.class_rows(session, class_id, now)
    rules = dose_rules(session, school_class, told, now)
    fits = () if told.parameters is not None else class_history.fits_of_others(session, class_id, now)
    return ClassEvidence(
        rows=rows,
        now=now,
        asked=evidence.asked(session, class_id, BEGINNING, now),
        questions=evidence.questions(session, class_id, now),
        story=told,
        others=tuple(Parameters.from_dict(one) for one in fits),
        dates=dates_of(told, class_rules(session, school_class), school_class.nudge_minute, now),
        caps={row.id: rules.a_day for row in rows.students if row.active},
        left=allowance_left(session, school_class, told, now),
        scores={
            quiz: evidence.scores(session, class_id, quiz, now)
            for quiz in evidence.scored_quizzes(session, class_id, now)
        },
        starters=evidence.starters(session, class_id, now),
        homework=evidence.homework(session, class_id, now),
        homework_of=evidence.homework_by_student(session, class_id, now),
        rules=rules,
    )


# ---------------------------------------------------------------- the week


def week_data(
    read: ClassEvidence, memory: ClassMemory | None, year: int | None = None, week: int | None = None
) -> WeekData:
    """Return what a weekly report is computed from; without year and week, of the present week.

    Raises
    ------
    ValueError
        When the year has no such week.
    """
    zone = read.rows.school_class.zone
    if year is None or week is None:
        year, week = week_of(read.now, zone)
    start, end = week_bounds(year, week, zone)
    quiz = read.rows.next_quiz(read.now)
    taught = memory is not None and bool(memory.topics) and bool(memory.students)
    return WeekData(
        rows=read.rows,
        year=year,
        week=week,
        generated_at=read.now,
        asked=tuple(row for row in read.asked if start - timedelta(weeks=5) <= row.asked_at < end),
        now=snapshot(memory, read.now) if memory is not None and taught else None,
        quiz=quiz,
        at_quiz=snapshot(memory, quiz.at) if memory is not None and taught and quiz else None,
        dose=_dose(read, memory) if memory is not None and taught else None,
        target=_target(read, memory) if memory is not None and taught else None,
        effect=effect_now(read, memory) if memory is not None and taught else None,
    )


def effect_now(read: ClassEvidence, memory: ClassMemory) -> ReviewEffect | None:
    """Return what reviewing did for the students who are in the class; None before the first lesson."""
    return class_effect(memory, {row.id for row in read.rows.students if row.state != "left"}, read.now)


def _target(read: ClassEvidence, memory: ClassMemory) -> TargetTakes | None:
    """Return what a class's target takes by now; None without one, or when no date counts any more."""
    if read.rules is None or read.rules.target is None:
        return None
    try:
        return target_of(read, memory, read.rules.target)
    except NothingThere:
        return None


def _dose(read: ClassEvidence, memory: ClassMemory) -> Needed | None:
    """Return the dose that a class needs; None for a class with a target, whose dose is another question."""
    active = [row.id for row in read.rows.students if row.active]
    if read.rules is None or read.target is not None or not active:
        return None
    kept = np.isin(np.array([int(one) for one in memory.students]), active)
    share = float(memory.response_rate()[kept].mean()) if kept.any() else memory.parameters.response_mean
    return needed(read.story, read.dates, read.rules, share, active, read.now)


# ---------------------------------------------------------------- the forecast


def forecast_data(read: ClassEvidence, memory: ClassMemory, day: date | None = None) -> ForecastData:
    """Return what a forecast is computed from: for the next quiz, or for a day.

    Raises
    ------
    NothingThere
        When no quiz is planned and no day was given, the day is over, or nothing has been taught.
    """
    at, quiz, topics = _occasion(read, day)
    if not memory.topics or not memory.students or not topics:
        raise _nothing_taught(read, memory)
    planned = _planned(read, memory, at)
    lesson = _next_lesson(read)
    again = taught_again(memory, lesson, at, planned) if lesson < at else None
    return ForecastData(
        rows=read.rows,
        generated_at=read.now,
        at=at,
        topics=topics,
        planned=snapshot(memory, at, planned),
        as_it_stands=snapshot(memory, at),
        taught_again=snapshot(memory, at, again) if again is not None else None,
        quiz=quiz,
        rules=read.rules,
        one_more=_one_more(read, memory, at),
        all_days=_on_all_days(read, memory, at),
        effect=effect_now(read, memory),
    )


def _planned(
    read: ClassEvidence, memory: ClassMemory, at: datetime, *, more: int = 0, dates: Dates | None = None
) -> Retention:
    """Return retention with the reviews planned, or with so many `more` a day, or on other evenings."""
    cap = _caps(read, memory)
    return planner.forecast(
        memory,
        dates or read.dates,
        read.now,
        at,
        planned=True,
        per_student_cap=np.where(cap > 0, cap + more, 0),
        allowance_left=left_of(read, memory),
        target=read.target,
    )


def left_of(read: ClassEvidence, memory: ClassMemory) -> NDArray[np.float64] | None:
    """Return the questions left of the term's allowance, shape (n_students,); None without one."""
    if read.left is None:
        return None
    return np.array([read.left.get(int(one), 0) for one in memory.students], float)


def _one_more(read: ClassEvidence, memory: ClassMemory, at: datetime) -> Snapshot | None:
    rules = read.rules
    if rules is None or rules.questions >= rules.most:
        return None
    return snapshot(memory, at, _planned(read, memory, at, more=rules.nudges))


def _on_all_days(read: ClassEvidence, memory: ClassMemory, at: datetime) -> Snapshot | None:
    if read.rules is None or not read.rules.some_days:
        return None
    return snapshot(memory, at, _planned(read, memory, at, dates=read.rules.with_evenings(read.dates)))


def target_of(read: ClassEvidence, memory: ClassMemory, target: int) -> TargetTakes:
    """Return what a target takes [%].

    Raises
    ------
    NothingThere
        There is no timetable, no coming quiz or exam, or no topic of it has a question.
    """
    if read.rules is None or not read.dates.lessons:
        raise NothingThere("target.no_timetable")
    if not any(at > read.now for at, _ in (*read.dates.quizzes, *read.dates.exams)):
        raise NothingThere("target.no_date")
    if not memory.students:
        memory = _somebody(read)
    from bot.evidence.starter.numbers import topics_with_questions

    with_questions = {str(topic) for topic in topics_with_questions(read.questions)}
    askable = np.isin(np.array(memory.topics, dtype=object), list(with_questions))
    prospects = Prospects(memory, read.dates, read.now, askable=np.tile(askable, (len(memory.students), 1)))
    found = target_takes(prospects, read.rules, target, left_of(read, memory) if read.caps else None)
    if found is None:
        raise NothingThere("target.no_questions")
    return found


def _somebody(read: ClassEvidence) -> ClassMemory:
    """Return a model of one student of whom nothing is known: a class that nobody has joined yet."""
    return ClassMemory(["0"], [str(topic) for topic in read.story.topics], prior_of(read.story, read.others))


def _occasion(read: ClassEvidence, day: date | None) -> tuple[datetime, QuizInfo | None, tuple[int, ...]]:
    """Return moment, quiz and topics that a forecast is about."""
    zone = read.rows.school_class.zone
    if day is None:
        quiz = read.rows.next_quiz(read.now)
        if quiz is None:
            raise NothingThere("evidence.no_quiz")
        return quiz.at, quiz, quiz.topics
    quiz = next((row for row in read.rows.quizzes if row.day == day and row.at > read.now), None)
    if quiz is not None:
        return quiz.at, quiz, quiz.topics
    at = local_moment(day, NOON, zone)
    if at <= read.now:
        raise NothingThere("evidence.day_over", day=day.isoformat())
    return at, None, tuple(row.id for row in read.rows.topics if row.taught_at and row.taught_at <= at)


def _nothing_taught(read: ClassEvidence, memory: ClassMemory) -> NothingThere:
    """Return which of the two is missing: somebody who could have been taught, or a lesson."""
    taught = any(when <= read.now for when, _ in read.rows.lessons)
    nobody = taught and not memory.students
    return NothingThere("evidence.nobody_joined" if nobody else "evidence.nothing_taught")


def _next_lesson(read: ClassEvidence) -> datetime:
    """Return the next lesson; where none is planned, a moment on the next day on which students can be asked."""
    today = local_day(read.now, read.rows.school_class.zone)
    school_days = (at for at in read.dates.evenings if local_day(at, read.rows.school_class.zone) > today)
    planned = (when for when, _ in read.rows.lessons if when > read.now)
    return next(planned, None) or next(school_days, read.now + timedelta(days=1))


def _caps(read: ClassEvidence, memory: ClassMemory) -> NDArray[np.int64]:
    """Return the daily cap of each student of the model; 0 for those who are not asked at present."""
    return np.array([read.caps.get(int(student), 0) for student in memory.students], dtype=np.int64)


# ---------------------------------------------------------------- the illustration


def class_illustration(read: ClassEvidence) -> Illustration:
    """Return the illustration of a class's own timetable.

    Raises
    ------
    NothingThere
        When the timetable has no lesson.
    """
    from bot.evidence.illustration.numbers import exposures_of, illustration

    zone = read.rows.school_class.zone
    if not read.rows.lessons:
        raise NothingThere("evidence.no_lesson")
    return illustration(
        read.rows.school_class,
        [(local_day(at, zone), topic) for at, topic in read.rows.lessons],
        [(quiz.day, quiz.topics) for quiz in read.rows.quizzes],
        exposures_of(read.asked, read.rows.lessons),
        today=local_day(read.now, zone),
    )


# ---------------------------------------------------------------- questions and starter


def class_questions(read: ClassEvidence) -> QuestionTable:
    """Return the statistics of every question of a class."""
    from bot.evidence.questions.numbers import question_table

    return question_table(read.rows, read.questions, read.asked, read.now)


def starter_data(read: ClassEvidence, memory: ClassMemory, count: int | None = None) -> StarterData:
    """Return what a starter for the next lesson is chosen from.

    The gain is counted for the next quiz, or for four weeks ahead when none is planned.

    Raises
    ------
    NothingThere
        When nothing has been taught yet.
    """
    from bot.evidence.starter.numbers import USUAL, StarterData

    lesson = _next_lesson(read)
    quiz = read.rows.next_quiz(lesson + timedelta(hours=1))
    target = quiz.at if quiz else lesson + WITHOUT_QUIZ
    present = snapshot(memory, lesson)
    if not present.taught.any():
        raise _nothing_taught(read, memory)
    return StarterData(
        rows=read.rows,
        generated_at=read.now,
        lesson_at=lesson,
        target_at=target,
        quiz=quiz,
        topics=quiz.topics if quiz else tuple(present.topics),
        gain=review_gain(memory, lesson, target),
        present=present,
        questions=read.questions,
        asked=read.asked,
        avoid=class_questions(read).avoid,
        count=count or USUAL,
        starters=read.starters,
    )


# ---------------------------------------------------------------- a quiz against its predictions


def quiz_data(read: ClassEvidence, quiz_id: int | None = None) -> QuizData:
    """Return what a quiz is compared from: the one given, or the latest that has scores.

    Two models are built for it, neither the running one: what was known before the quiz, with the class's parameters
    fitted to that alone, and the same with the quiz's scores. Answers given since change nothing in either, so the
    prediction is the same whenever one looks back at it.

    Raises
    ------
    NothingThere
        When there is no such quiz, or it has no scores.
    """
    from bot.evidence.quiz.numbers import QuizData

    chosen = quiz_id if quiz_id is not None else next(iter(read.scores), None)
    quiz = next((row for row in read.rows.quizzes if row.id == chosen), None)
    if quiz is None:
        raise NothingThere("quiz.no_quiz")
    scores = read.scores.get(quiz.id, ())
    if not scores:
        raise NothingThere("quiz.no_scores")
    told = _as_known(read, quiz.at)
    results = tuple(one for one in read.story.happenings if isinstance(one, Scored) and one.at == quiz.at)
    with_scores = replace(told, happenings=told.happenings + results)
    return QuizData(
        rows=read.rows,
        generated_at=read.now,
        quiz=quiz,
        scores=scores,
        before=snapshot(build(told), quiz.at),
        after=snapshot(build(with_scores), quiz.at),
    )


def _as_known(read: ClassEvidence, moment: datetime) -> ClassStory:
    """Return the class's story as it was at a moment, with parameters fitted to nothing later."""
    told = before(read, moment)
    fitted = fit(build(told, read.others, own=False), prior_of(told, read.others, own=False))
    return replace(told, parameters=fitted.to_dict(), fitted_at=moment)


def before(read: ClassEvidence, moment: datetime) -> ClassStory:
    """Return the class's story as it was at a moment: what a prediction made then rests on."""
    return replace(read.story, happenings=tuple(one for one in read.story.happenings if one.at < moment))
