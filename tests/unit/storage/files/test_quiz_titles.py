"""Quizzes and exams by the words of schools in six languages; what can be a topic is asked about."""

from __future__ import annotations

from datetime import date

import pytest

from storage.files.timetables.quiz_titles import quiz_in_title
from storage.files.timetables.timetable import read_timetable
from storage.files.values import Reading, TimetableFile
from tests.wording import sentence as english

TODAY = date(2026, 11, 25)

# Titles as they stand in plans of schools: common practice, no source.
EXAMS = [
    "Klassenarbeit", "Physics exam", "1. Klausur", "Klausur Nr. 2", "Physikklausur", "2. Physikklausur Mechanik",
    "Mathe-Klassenarbeit", "Schulaufgabe Mechanik", "Examen de física", "Esame di fisica", "Proefwerk hoofdstuk 3",
    "Compito in classe", "Final exam", "Exam 2: waves", "Prüfung Mechanik", "évaluation de physique", "Mechanics exam",
]  # fmt: skip
QUIZZES = [
    "Test Kräfte", "Quiz on forces", "contrôle", "Contrôle n°2", "contrôle sur les forces", "Contrôle de physique",
    "Quiz 2", "Test", "Test 3", "Physics test", "Unit test", "Chapter 3 test", "Forces quiz", "Kurztest Federn",
    "Physiktest", "Test on springs", "Test über Federn", "Prueba de física", "Verifica di fisica", "Toets krachten",
    "interro", "Stegreifaufgabe", "Forces (quiz)", "2. Test", "Test 2 Kräfte", "Control de física", "Test: Forces",
]  # fmt: skip
DOUBTFUL = [
    "Test charges in fields", "Flame test", "Prueba de hipótesis", "Contrôle de la température", "Crashtest",
    "Practice exam", "Prüfung der Werkstoffe", "Test tubes and burners", "Hypothesis test", "Control systems",
]  # fmt: skip
LESSONS = [
    "Testing materials", "Forces", "Protest in history", "Exam preparation", "Rückgabe der Klassenarbeit",
    "Klausurvorbereitung", "Besprechung Klausur", "Examples of motion", "So many forces", "Überprüfung",
    "Revision for the exam", "Feedback on quiz 2",
]  # fmt: skip


def read(text: str, **choices: str) -> Reading[TimetableFile]:
    return read_timetable(text.encode(), "p.csv", zone="Europe/Berlin", today=TODAY, choices=choices)


@pytest.mark.parametrize(
    ("title", "kind"), [*((one, "exam") for one in EXAMS), *((one, "quiz") for one in QUIZZES)]
)
def test_f20_what_a_school_calls_a_quiz_or_exam_is_one(title: str, kind: str) -> None:
    reading = read(f"topic,date\n{title},2026-12-01\n")
    assert reading.clean
    assert [one.kind for one in reading.value.quizzes] == [kind]


@pytest.mark.parametrize("title", DOUBTFUL)
def test_f20_what_can_be_a_topic_is_asked_about(title: str) -> None:
    text = f"topic,date\nForces,2026-12-01\n{title},2026-12-02\n"
    reading = read(text)
    assert [one.topic for one in reading.value.lessons] == ["Forces"]
    assert reading.value.quizzes == ()
    (question,) = reading.questions
    assert f'"{title}" can be a quiz or the topic of a lesson' in english(question)
    assert [(one.about, one.chosen) for one in question.options] == [("tests", "quiz"), ("tests", "lesson")]
    assert [one.name for one in read(text, tests="quiz").value.quizzes] == [title]
    assert [one.topic for one in read(text, tests="lesson").value.lessons] == ["Forces", title]


@pytest.mark.parametrize("title", LESSONS)
def test_f20_lessons_about_a_quiz_stay_lessons(title: str) -> None:
    assert quiz_in_title(title) is None
    assert [one.topic for one in read(f"topic,date\n{title},2026-12-01\n").value.lessons] == [title]


def test_f20_a_known_topic_or_a_german_noun_behind_test_leaves_no_doubt() -> None:
    assert [
        one.name for one in read("topic,date\nForces,2026-12-01\nForces test,2026-12-08\n").value.quizzes
    ] == ["Forces test"]
    assert len(read("Thema,Datum\nTest Federn,08.12.2026\n").value.quizzes) == 1
    assert len(read("topic,date\nTest Springs,2026-12-08\n").value.quizzes) == 0


def test_f20_a_calendar_asks_too() -> None:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:x"]
    for day, title in ((1, "1. Klausur"), (2, "Flame test")):
        lines += [
            "BEGIN:VEVENT",
            f"UID:{day}",
            f"DTSTART:2026120{day}T090000",
            f"SUMMARY:{title}",
            "END:VEVENT",
        ]
    reading = read("\r\n".join([*lines, "END:VCALENDAR", ""]))
    assert [one.name for one in reading.value.quizzes] == ["1. Klausur"]
    assert 'Event 2: "Flame test" can be a quiz' in english(reading.questions[0])


def test_f20_the_kind_column_takes_the_same_words() -> None:
    (quiz,) = read("topic,date,kind\nForces,2026-12-01,1. Klausur\n").value.quizzes
    assert (quiz.name, quiz.kind) == ("Forces", "exam")
