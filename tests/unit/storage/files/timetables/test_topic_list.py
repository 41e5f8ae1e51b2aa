"""A bare list of topics becomes dated lessons, from the day that the teacher chooses, around the holidays."""

from datetime import date

import pytest

from storage.files.timetables.timetable import read_timetable
from storage.files.values import KnownSchoolDays
from storage.values import HolidayInfo

TODAY = date(2026, 11, 30)  # a Monday
HOURS = ((0, 615, 660), (2, 490, 535))  # Monday 10:15, Wednesday 8:10
BREAK = HolidayInfo(1, date(2026, 12, 7), date(2026, 12, 8), "Founders' days")
SCHOOL = KnownSchoolDays(frozenset(range(5)), (BREAK,), HOURS)
TOPICS = "Forces\nSprings\nQuiz on forces\nEnergy\n"


def _read(text: str, school: KnownSchoolDays = SCHOOL, **choices: str):
    return read_timetable(
        text.encode(), "topics.txt", zone="Europe/Berlin", today=TODAY, school=school, choices=choices
    )


def test_each_topic_gets_the_next_lesson_around_the_holidays():
    reading = _read(TOPICS, start="2026-12-02")
    assert reading.clean, reading.problems
    assert [
        (one.row, f"{one.day:%m-%d}", f"{one.start:%H:%M}", one.topic) for one in reading.value.lessons
    ] == [
        (1, "12-02", "08:10", "Forces"),
        (2, "12-09", "08:10", "Springs"),
        (4, "12-16", "08:10", "Energy"),
    ]
    assert [(f"{one.day:%m-%d}", one.name) for one in reading.value.quizzes] == [("12-14", "Quiz on forces")]


def test_the_first_day_is_asked_and_never_guessed():
    (asked,) = _read(TOPICS).problems
    assert asked.code == "list_start"
    assert [one.chosen for one in asked.options] == ["2026-11-30", "2026-12-02", "2026-12-09", "2026-12-14"]


@pytest.mark.parametrize(
    "text",
    ["Topic\nForces\nSprings\n", "1. Forces\n2) Springs\n", "- Forces\n- Springs\n", "\nForces\n\nSprings\n"],
)
def test_headings_numbers_and_blank_lines_are_no_topics(text):
    assert [one.topic for one in _read(text, start="2026-12-02").value.lessons] == ["Forces", "Springs"]


def test_without_lesson_hours_it_says_what_to_set():
    assert [one.code for one in _read(TOPICS, KnownSchoolDays()).problems] == ["hours_unknown"]


def test_two_lessons_of_a_day_hold_two_topics():
    twice = KnownSchoolDays(lesson_hours=((2, 490, 535), (2, 540, 585)))
    lessons = _read("Forces\nSprings\n", twice, start="2026-12-02").value.lessons
    assert [f"{one.day:%m-%d} {one.start:%H:%M}" for one in lessons] == ["12-02 08:10", "12-02 09:00"]


def test_more_topics_than_a_school_year_has_lessons_are_refused():
    reading = _read("".join(f"Topic number {n}\n" for n in range(200)), start="2026-12-02")
    assert [one.code for one in reading.problems] == ["list_long"]
    assert not reading.value.lessons


@pytest.mark.parametrize("text", ["Forces\n", "12\n13\n", "Forces,2026-12-01\nSprings,2026-12-03\n"])
def test_other_tables_are_no_lists_of_topics(text):
    assert [one.code for one in _read(text).problems] == ["headings_none"]


@pytest.mark.parametrize("start", ["9999-12-31", "1900-01-01", "soon", ""])
def test_a_first_day_that_can_be_none_is_asked_again(start):
    assert [one.code for one in _read(TOPICS, start=start).problems] == ["list_start"]
