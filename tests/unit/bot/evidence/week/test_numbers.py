"""The numbers of the weekly report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from bot.evidence.shared.figures import Standing
from bot.evidence.week import notes
from bot.evidence.week.counts import Window
from bot.evidence.week.numbers import week_report
from bot.evidence.week.values import Reason, StudentWeek, TopicWeek, Totals, WeekData, WeekReport
from storage.history.evidence_rows import AskedRecord, ClassRecord, ClassRecords, StudentRecord, TopicRecord

MONDAY = datetime(2026, 11, 30, tzinfo=UTC)
END = MONDAY + timedelta(days=7)


def _rows(
    *names: str, state: str = "active", joined_at: datetime = MONDAY - timedelta(weeks=9)
) -> ClassRecords:
    students = tuple(StudentRecord(n, name, state, True, joined_at) for n, name in enumerate(names, start=1))
    topic = TopicRecord(1, "Density", MONDAY - timedelta(days=3))
    return ClassRecords(ClassRecord(1, "10B", "10b", "", "Europe/London", "en"), students, (topic,))


def _ask(
    student: int, day: float, *, hours: float | None = 1.0, verdict: str = "right", **more: object
) -> AskedRecord:
    at = MONDAY + timedelta(days=day, hours=18)
    row = AskedRecord(
        student, 1, 1, at, verdict=verdict, on_time=True, answered_at=at + timedelta(hours=hours or 0)
    )
    if hours is None:
        row = replace(row, verdict=None, on_time=False, answered_at=None)
    return replace(row, **more)  # type: ignore[arg-type]  # fields of the row


def _report(rows: ClassRecords, *asked: AskedRecord, at: datetime = END) -> WeekReport:
    return week_report(WeekData(rows, 2026, 49, at, asked))


def test_every_question_is_answered_late_open_or_unanswered(made_week: WeekData) -> None:
    report = week_report(made_week)
    every: list[StudentWeek | TopicWeek | Totals] = [*report.students, *report.topics, report.totals]
    for row in every:
        assert row.asked == row.answered + row.waiting + row.unanswered
        assert row.answered == row.on_time + row.late
    assert sum(row.asked for row in report.students) == report.totals.asked
    assert sum(row.asked for row in report.topics) == report.totals.asked


def test_students_topics_and_the_class_add_up_after_somebody_has_left() -> None:
    rows = _rows("Mira", "Tom")
    gone = replace(rows, students=(rows.students[0], replace(rows.students[1], state="left")))
    report = _report(gone, *(_ask(student, day) for student in (1, 2) for day in range(4)))
    assert [row.name for row in report.students] == ["Mira"]
    assert sum(row.asked for row in report.topics) == report.totals.asked == 4


def test_a_week_runs_from_monday_to_sunday_in_the_zone_of_the_class() -> None:
    rows = _rows("Mira")
    tokyo = replace(rows, school_class=replace(rows.school_class, zone="Asia/Tokyo"))
    asked = _ask(1, 6)  # Sunday 18:00 UTC is Monday in Tokyo
    assert _report(rows, asked).totals.asked == 1
    assert _report(tokyo, asked, at=END + timedelta(days=1)).totals.asked == 0
    assert _report(tokyo, asked).first_day == date(2026, 11, 30)


def test_an_answer_of_the_week_after_counts_for_the_week_it_was_asked_in() -> None:
    report = _report(_rows("Mira"), _ask(1, 6, hours=30, on_time=False), at=END + timedelta(days=3))
    assert (report.totals.answered, report.totals.late, report.running) == (1, 1, False)


def test_questions_that_were_asked_for_are_no_nudges() -> None:
    report = _report(_rows("Mira"), _ask(1, 1, asked_for=True))
    (mira,) = report.students
    assert (mira.asked, mira.answered, mira.extra, mira.right.of) == (0, 0, 1, 1)


def test_not_sure_is_an_answer_and_not_right() -> None:
    (mira,) = _report(_rows("Mira"), _ask(1, 1, verdict="unsure")).students
    assert (mira.answered, mira.right.count, mira.right.of) == (1, 0, 1)


def test_students_stand_in_alphabetical_order_whatever_they_did() -> None:
    report = _report(_rows("zoë", "Amira", "ben"), _ask(1, 1), _ask(1, 2))
    assert [row.name for row in report.students] == ["Amira", "ben", "zoë"]


def test_a_question_that_can_still_be_answered_is_not_unanswered() -> None:
    (mira,) = _report(
        _rows("Mira"), _ask(1, 2, hours=None, open=True), at=MONDAY + timedelta(days=3)
    ).students
    assert (mira.waiting, mira.unanswered) == (1, 0)


def test_what_is_asked_after_the_moment_of_the_report_is_not_in_it() -> None:
    report = _report(_rows("Mira"), _ask(1, 1), _ask(1, 4), at=MONDAY + timedelta(days=3))
    assert report.totals.asked == 1
    assert report.running


# ---------------------------------------------------------------- silent


def _reasons(report: WeekReport) -> dict[str, Reason]:
    return {note.name: note.reason for note in report.talk_to}


def test_a_student_without_an_answer_for_a_week_is_silent() -> None:
    report = _report(_rows("Elif", "Mira"), _ask(1, 1, hours=None), _ask(1, 3, hours=None), _ask(2, 1))
    assert _reasons(report) == {"Elif": Reason.UNANSWERED}


def test_a_late_answer_to_an_older_question_breaks_the_silence() -> None:
    older = _ask(1, -3, hours=24 * 5)
    assert not _report(_rows("Elif"), older, _ask(1, 1, hours=None)).talk_to


def test_an_answer_to_a_question_that_was_asked_for_breaks_the_silence() -> None:
    assert not _report(_rows("Elif"), _ask(1, 1, hours=None), _ask(1, 2, asked_for=True)).talk_to


def test_who_was_not_asked_is_not_silent() -> None:
    assert not _report(_rows("Elif")).talk_to


def test_who_joined_during_the_week_is_not_silent() -> None:
    rows = _rows("Elif", joined_at=MONDAY + timedelta(days=1))
    assert not _report(rows, _ask(1, 2, hours=None)).talk_to


def test_a_paused_student_is_named_as_not_asked_and_not_as_silent() -> None:
    report = _report(_rows("Elif", state="paused"), _ask(1, 1, hours=None))
    assert not report.talk_to
    assert report.paused == ("Elif",)


def test_silence_is_counted_back_from_the_moment_of_a_running_week() -> None:
    answered_on_friday = _ask(1, -3)
    report = _report(_rows("Elif"), answered_on_friday, _ask(1, 1, hours=None), at=MONDAY + timedelta(days=2))
    assert not report.talk_to


# ---------------------------------------------------------------- slower


def _history(hours: float) -> list[AskedRecord]:
    return [_ask(1, -day, hours=hours + 0.1 * (day % 3)) for day in range(1, 13)]


def test_a_student_who_takes_far_longer_than_usual_is_slower() -> None:
    slow = [_ask(1, day, hours=9) for day in range(4)]
    assert _reasons(_report(_rows("Tom"), *_history(1.0), *slow)) == {"Tom": Reason.SLOWER}


def test_two_slow_evenings_are_no_news() -> None:
    slow = [_ask(1, day, hours=9) for day in range(2)]
    assert not _report(_rows("Tom"), *_history(1.0), *slow).talk_to


def test_ten_minutes_instead_of_four_are_no_news() -> None:
    slow = [_ask(1, day, hours=10 / 60) for day in range(4)]
    history = [_ask(1, -day, hours=4 / 60) for day in range(1, 13)]
    assert not _report(_rows("Tom"), *history, *slow).talk_to


# ---------------------------------------------------------------- a good word


def _good(report: WeekReport) -> dict[str, Reason]:
    return {note.name: note.reason for note in report.congratulate}


def test_a_student_who_comes_back_after_a_silent_week_is_noticed() -> None:
    before = [_ask(1, day - 7, hours=None) for day in range(4)]
    now = [_ask(1, day) for day in range(3)] + [_ask(1, 3, hours=None)]
    assert _good(_report(_rows("Mira"), *before, *now)) == {"Mira": Reason.BACK}


def test_a_student_who_answers_more_than_usual_is_noticed() -> None:
    before = [_ask(1, -day, hours=1 if day % 4 == 0 else None) for day in range(1, 21)]
    now = [_ask(1, day / 2) for day in range(8)]
    assert _good(_report(_rows("Mira"), *before, *now)) == {"Mira": Reason.MORE}


def test_more_answers_are_counted_by_nudges_and_not_by_questions() -> None:
    # Two evenings of four questions are two evenings, however often they are counted.
    before = [_ask(1, -day, hours=1 if day % 4 == 0 else None) for day in range(1, 21)]
    two = [_ask(1, day) for day in (0, 1) for _ in range(4)]
    assert Reason.MORE not in _good(_report(_rows("Mira"), *before, *two)).values()
    late = [replace(row, on_time=False) for row in (_ask(1, day) for day in range(5) for _ in range(4))]
    assert _good(_report(_rows("Mira"), *before, *late)) == {"Mira": Reason.MORE}


def test_the_chance_of_so_many_is_fishers() -> None:
    # The lady who tells milk from tea: 4 of 4 right has probability 1/70, 3 of 4 or more 17/70 (R. A. Fisher, "The
    # Design of Experiments", 1935, chapter 2).
    assert notes._chance_of_so_many(4, 4, 0, 4) == pytest.approx(1 / 70)
    assert notes._chance_of_so_many(3, 4, 1, 4) == pytest.approx(17 / 70)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_where_nothing_changed_at_most_five_percent_answer_more_than_usual(share: float) -> None:
    rng, names = np.random.default_rng(7), [f"student {n:03d}" for n in range(400)]
    asked = [
        _ask(student, day, hours=1.0 if answers else None, on_time=False)
        for student in range(1, 401)
        for day in (*range(-28, 5),)
        if day % 7 < 5
        for answers in [rng.random() < share]
        for _ in range(3)
    ]
    reasons = list(_good(_report(_rows(*names), *asked)).values())
    assert reasons.count(Reason.MORE) <= 0.05 * len(names)


def test_who_is_named_first_changes_from_week_to_week() -> None:
    first = set()
    for week in range(8):
        start = MONDAY - timedelta(weeks=week)
        good = tuple(replace(_steady(), id=n, name=f"student {n}") for n in range(1, 7))
        first.add(notes.congratulate(good, Window(start, start + timedelta(7), start, []))[0].name)
    assert len(first) > 2


def _steady() -> StudentWeek:
    asked = [_ask(1, day) for day in range(5)]
    return _report(_rows("Mira"), *asked).students[0]


def test_more_right_than_predicted_is_noticed() -> None:
    now = [_ask(1, day / 2, predicted=0.4, chance=0.0) for day in range(8)] + [_ask(1, 5, hours=None)]
    assert _good(_report(_rows("Mira"), *now)) == {"Mira": Reason.BETTER}


def test_everything_on_time_is_noticed() -> None:
    now = [_ask(1, day, predicted=0.9) for day in range(4)]
    assert _good(_report(_rows("Mira"), *now)) == {"Mira": Reason.ALL_ON_TIME}


# ---------------------------------------------------------------- predictions


def test_topics_below_half_come_lowest_first_and_say_how_sure(made_week: WeekData) -> None:
    report = week_report(made_week)
    assert [(row.name, row.standing) for row in report.below_half] == [
        ("Pressure in liquids", Standing.BELOW),
        ("Moments", Standing.PERHAPS_BELOW),
    ]


def test_a_topic_without_answers_is_too_little_to_tell(made_week: WeekData) -> None:
    report = week_report(made_week)
    (buoyancy,) = [row for row in report.topics if row.name == "Buoyancy"]
    assert buoyancy.standing is Standing.TOO_FEW


def test_a_report_works_without_any_prediction(made_week: WeekData) -> None:
    report = week_report(replace(made_week, now=None, at_quiz=None))
    assert not report.below_half
    assert report.totals.asked


def test_the_change_against_the_week_before_says_when_it_may_be_chance(made_week: WeekData) -> None:
    assert week_report(made_week).totals.trend == "alike"


def test_a_class_that_answers_far_more_is_said_to(make_week: Callable[..., WeekData]) -> None:
    data = make_week()
    fewer = tuple(
        replace(row, verdict=None, answered_at=None, on_time=False)
        if MONDAY - timedelta(days=7) <= row.asked_at < MONDAY and row.student_id % 3
        else row
        for row in data.asked
    )
    assert week_report(replace(data, asked=fewer)).totals.trend == "more"


def test_a_week_that_the_year_does_not_have_is_refused() -> None:
    with pytest.raises(ValueError, match="week"):
        week_report(WeekData(_rows("Mira"), 2027, 53, END, ()))
