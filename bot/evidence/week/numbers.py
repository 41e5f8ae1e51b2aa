"""The weekly completion report: the numbers. Text, picture and workbook are drawn from these values alone.

A question belongs to the week in which it was asked, Monday to Sunday in the class's zone; its answer counts
whenever it came, on time or late. Questions that a student asked for ("next") are no nudges: they count as
extra and as answers, never as asked. Nobody is ranked: students stand in alphabetical order.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import timedelta

from bot.evidence.shared.figures import paired_change, pooled_share, share, standing
from bot.evidence.week.counts import Window, count, median_delay, pooled_right
from bot.evidence.week.notes import congratulate, talk_to
from bot.evidence.week.values import (
    StudentWeek,
    TopicWeek,
    Totals,
    WeekData,
    WeekReport,
    alphabetical,
    by_lesson,
)
from scheduler.calendar.school_days import local_day, week_bounds
from storage.history.evidence_rows import StudentRecord, TopicRecord


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
    joined = sorted((row for row in rows.students if row.joined and row.state != "left"), key=alphabetical)
    # Who has left is in no figure: topics and students then add up to the same.
    known = {row.id for row in joined}
    seen = [row for row in data.asked if row.asked_at <= data.generated_at and row.student_id in known]
    window = Window(start, end, min(end, data.generated_at), seen)
    students = tuple(_student_week(row, window, data) for row in joined)
    topics = tuple(_topic_week(row, window, data, known) for row in sorted(rows.topics, key=by_lesson))
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
        below_half=tuple(below),
        talk_to=talk_to(joined, students, window),
        congratulate=congratulate(students, window),
        paused=tuple(row.name for row in joined if not row.active),
        dose=data.dose if data.dose is not None and not data.dose.set_to.enough else None,
        target=data.target if data.target is not None and data.target.more else None,
        effect=data.effect,
    )


def _lowest_first(row: TopicWeek) -> tuple[float, str]:
    return (row.quiz.mean if row.quiz else 1.0), row.name


def _student_week(row: StudentRecord, window: Window, data: WeekData) -> StudentWeek:
    counts = count(window.week(row.id))
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
        delay_h=median_delay(window.week(row.id)),
        usual_delay_h=median_delay(window.before(row.id)),
        last_answer_at=row.last_answer_at,
    )


def _topic_week(row: TopicRecord, window: Window, data: WeekData, students: Collection[int]) -> TopicWeek:
    rows = window.week(topic_id=row.id)
    counts = count(rows)
    now, quiz = data.now, data.at_quiz
    in_quiz = row.id in _quiz_topics(data)
    at_quiz = quiz.estimate(students, [row.id]) if quiz and in_quiz else None
    told = quiz if quiz and in_quiz else now
    answers = told.evidence(students, [row.id]) if told else 0
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
        right=pooled_right(rows),
        now=now.estimate(students, [row.id]) if now else None,
        quiz=at_quiz,
        in_quiz=in_quiz,
        answers_ever=answers,
        standing=standing(at_quiz, answers),
    )


def _quiz_topics(data: WeekData) -> tuple[int, ...]:
    return data.quiz.topics if data.quiz else ()


def _totals(joined: Sequence[StudentRecord], students: Sequence[StudentWeek], window: Window) -> Totals:
    rows = window.week()
    counts = count(rows)
    week = [(row.answered, row.asked) for row in students]
    earlier = [count(window.week(row.id, weeks_ago=1)) for row in students]
    before = [(count.answered, count.asked) for count in earlier]
    return Totals(
        students=len(students),
        active=sum(row.active for row in joined),
        answered_once=sum(row.answered + row.extra > 0 for row in students),
        all_on_time=sum(0 < row.asked == row.on_time for row in students),
        asked=counts.asked,
        answered=counts.answered,
        on_time=counts.on_time,
        late=counts.late,
        waiting=counts.waiting,
        unanswered=counts.unanswered,
        extra=counts.extra,
        right=pooled_right(rows),
        completion=pooled_share(*_columns(week)),
        completion_before=pooled_share(*_columns(before)),
        change=paired_change(before, week),
    )


def _columns(pairs: Sequence[tuple[int, int]]) -> tuple[list[int], list[int]]:
    return [count for count, _ in pairs], [of for _, of in pairs]
