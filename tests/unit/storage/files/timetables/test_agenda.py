"""Timetables that come as calendars."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

from storage.files.timetables.timetable import read_timetable
from storage.files.values import HolidayRow, KnownSchoolDays, LessonRow, QuizRow, Reading, TimetableFile
from tests.wording import sentence as english

SAMPLE = Path(__file__).parents[4] / "samples" / "files" / "physics_autumn.ics"


def read(data: bytes) -> Reading[TimetableFile]:
    return read_timetable(data, "plan.ics", zone="Europe/London", today=date(2026, 9, 1))


def calendar(*events: str) -> bytes:
    body = "".join(f"BEGIN:VEVENT\n{event}\nEND:VEVENT\n" for event in events)
    return f"BEGIN:VCALENDAR\nVERSION:2.0\n{body}END:VCALENDAR\n".encode()


def test_calendar_gives_lessons_quizzes_and_holidays() -> None:
    reading = read(SAMPLE.read_bytes())
    assert (reading.clean, reading.kind, reading.rows_read) == (True, "ics", 6)
    assert reading.value.lessons == (
        LessonRow(1, "Density", date(2026, 9, 8), time(8, 30), time(9, 15), "p. 12 no. 3"),
        LessonRow(2, "Lab skills", date(2026, 10, 19), time(10, 0), time(10, 45)),
        LessonRow(3, "Lab skills", date(2026, 11, 3), time(11, 0), time(11, 45)),
        LessonRow(2, "Lab skills", date(2026, 11, 9), time(10, 0), time(10, 45)),
    )
    assert reading.value.quizzes == (QuizRow(4, "First quiz", date(2026, 9, 22), time(8, 30), ("Density",)),)
    assert reading.value.holidays == (
        HolidayRow(5, date(2026, 10, 26), date(2026, 10, 30), "Autumn half-term"),
    )


def test_calendar_problems_say_which_event_and_notes_say_what_was_assumed() -> None:
    reading = read(
        calendar(
            "SUMMARY:Project week\nDTSTART;VALUE=DATE:20261005\nDTEND;VALUE=DATE:20261010",
            "SUMMARY:Physics\nDTSTART:20260907T080000\nRRULE:FREQ=WEEKLY;COUNT=6",
            "SUMMARY:Quiz 1\nDTSTART:20260930T080000\nDESCRIPTION:Topics: optics",
            "SUMMARY:Holiday: long\nDTSTART;VALUE=DATE:20270101\nDTEND;VALUE=DATE:20270601",
        )
    )
    assert {english(one) for one in reading.problems} == {
        'Event 1: "Project week" fills 5 days and does not say what it is. '
        "Begin its title with “Holiday:” if it is one, or enter the lessons one by one.",
        'Event 3: "optics" is not a topic of this timetable. '
        "Write topics as they stand in their lessons, with ; between them.",
        "Event 4: the holiday would last 151 days; the limit is 100. Correct one of the two dates.",
        '6 lessons are all called "Physics", so they count as one topic. '
        "If each lesson has its own topic, write it into the title of each event.",
    }
    assert len(reading.value.lessons) == 6
    assert (reading.value.quizzes, reading.value.holidays) == ((), ())


def test_calendar_categories_say_the_kind_when_the_title_does_not() -> None:
    reading = read(
        calendar(
            "SUMMARY:Forces\nCATEGORIES:School,Exam\nDTSTART:20260930T080000Z",
            "SUMMARY:Tag der Einheit\nCATEGORIES:Feiertag\nDTSTART;VALUE=DATE:20261003",
        )
    )
    assert [(quiz.name, quiz.kind) for quiz in reading.value.quizzes] == [("Forces", "exam")]
    assert [holiday.name for holiday in reading.value.holidays] == ["Tag der Einheit"]


def test_calendar_refused_as_a_whole_gives_no_rows() -> None:
    reading = read(b"BEGIN:VCALENDAR\nEND:VCALENDAR\n")
    assert (reading.refused, reading.value) == (True, TimetableFile())


def test_an_event_on_a_weekday_without_school_is_noted() -> None:
    data = calendar(
        "UID:1\nDTSTART;VALUE=DATE:20260912\nSUMMARY:Density",
        "UID:2\nDTSTART;VALUE=DATE:20260913\nSUMMARY:Quiz: One",
    )
    school = KnownSchoolDays(frozenset(range(5)))
    reading = read_timetable(data, "plan.ics", zone="Europe/London", today=date(2026, 9, 1), school=school)
    assert [english(one).split(". ")[0] for one in reading.problems if "weekdays" in english(one)] == [
        'Event 1: lessons on weekdays without school: 1, the first is "Density" on a Saturday',
        'Event 2: quizzes on weekdays without school: 1, the first is "One" on a Sunday',
    ]
