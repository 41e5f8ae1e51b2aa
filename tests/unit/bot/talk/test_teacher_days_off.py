"""A day without school is taken as the teacher says it, and said to be one, in every way in which a day is given."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import update

from storage.school import channels, classes, timetable
from storage.tables import Quiz, QuizKind
from tests.teaching import START, School, Talker

ENGLISH = "Sat 12 Dec is no school day of this class."
GERMAN = "Sa., 12. Dez. ist in dieser Klasse kein Schultag."


@pytest.fixture(params=["English", "Deutsch"])
def off(request: pytest.FixtureRequest, teacher: Talker) -> str:
    """What is said of Saturday, 12 December, in the teacher's language."""
    teacher.says(f"language {request.param}")
    return ENGLISH if request.param == "English" else GERMAN


def quiz_days(school: School) -> list[date]:
    with school.db.begin() as session:
        return [one.day for one in timetable.quizzes(session, 1)]


def test_a_quiz_moved_by_the_command(school: School, teacher: Talker, off: str):
    teacher.says("New topic: Density\nquiz: 11 Dec")
    assert teacher.says("quiz 12.12.2026").endswith(f" {off}")
    assert quiz_days(school) == [date(2026, 12, 12)]
    assert teacher.says("quiz 12.12.2026").endswith(f" {off}")  # it is there already
    assert off not in teacher.says("quiz 14.12.2026")


def test_a_quiz_moved_by_a_button_and_a_typed_day(school: School, teacher: Talker, off: str):
    teacher.says("New topic: Density\nquiz: 11.12.2026")
    teacher.acts("teacher:movequiz:1:1")
    assert teacher.says("12.12.").endswith(f" {off}")
    assert quiz_days(school) == [date(2026, 12, 12)]


def test_a_quiz_moved_to_one_of_two_readings(school: School, teacher: Talker, off: str):
    teacher.says("New topic: Density\nquiz: 11.12.2026")
    teacher.acts("teacher:movequiz:1:1")
    teacher.says("5/12/2026")
    said = teacher.acts(f"teacher:quizday:1:1:{date(2026, 12, 12).toordinal()}")
    assert said.endswith(f" {off}")


def test_a_quiz_named_in_a_topic_post(school: School, teacher: Talker, off: str):
    assert off in teacher.says("New topic: Density\nquiz: 12.12.2026")
    assert quiz_days(school) == [date(2026, 12, 12)]
    assert off not in teacher.says("New topic: Pressure"), "nobody gave that day now"


def test_a_quiz_named_in_a_post_in_the_classs_place_is_told_in_private(
    school: School, teacher: Talker, off: str
):
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    ((where, said),) = teacher.posts("New topic: Density\nquiz: 12.12.2026")
    assert where == "@okafor"
    assert off in said


def test_a_quiz_whose_day_could_be_two_in_a_topic_post(school: School, teacher: Talker, off: str):
    teacher.says("New topic: Density\nquiz: 11/12/2026")
    said = teacher.acts(f"teacher:topicquiz:1:1:1:{date(2026, 12, 12).toordinal()}")
    assert off in said


def test_a_quiz_moved_by_correcting_a_topic(school: School, teacher: Talker, off: str):
    teacher.says("New topic: Density\nquiz: 11.12.2026")
    teacher.acts("teacher:requiz:1:1")
    assert teacher.says("12.12.").endswith(f" {off}")


@pytest.mark.parametrize(("language", "exam"), [("English", "(exam)"), ("Deutsch", "(Prüfung)")])
def test_an_exam_without_a_name_is_not_called_a_quiz(
    school: School, teacher: Talker, language: str, exam: str
):
    teacher.says(f"language {language}")
    teacher.says("New topic: Density\nquiz: 11.12.2026")
    with school.db.begin() as session:
        session.exec(update(Quiz).values(kind=QuizKind.EXAM, name=""))
    assert exam in teacher.acts("teacher:requiz:1:1")


def test_a_holiday_is_no_school_day_either(teacher: Talker):
    teacher.says("holiday 21 Dec - 3 Jan winter break")
    teacher.says("New topic: Density\nquiz: 11 Dec")
    assert teacher.says("quiz 22 Dec").endswith("Tue 22 Dec is no school day of this class.")
    assert "no school day" not in teacher.says("quiz 4 Jan")


def test_which_weekdays_are_school_days_is_the_classs_own(school: School, teacher: Talker, off: str):
    with school.db.begin() as session:
        classes.change_rules(session, 1, school_weekdays=[0, 1, 2, 3, 4, 5])
    assert off not in teacher.says("New topic: Density\nquiz: 12.12.2026")
    assert off not in teacher.says("quiz 12.12.2026")


def test_a_class_asked_on_the_days_of_its_subject_is_still_at_school_on_five(
    school: School, teacher: Talker, off: str
):
    with school.db.begin() as session:
        classes.change_rules(session, 1, school_weekdays=[0, 2, 4])
    assert "no school day" not in teacher.says("New topic: Density\nquiz: 10.12.2026")  # a Thursday
    assert off in teacher.says("quiz 12.12.2026")
    assert "school" not in teacher.sends("t.csv", b"date,topic\n2026-12-08,Springs\n", caption="timetable")


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("English", "Wed 25 Nov and Sat 12 Dec are no school days of this class."),
        ("Deutsch", "Mi., 25. Nov. und Sa., 12. Dez. sind in dieser Klasse keine Schultage."),
    ],
)
def test_a_lesson_given_on_a_day_without_school_is_said_too(teacher: Talker, language: str, said: str):
    teacher.says(f"language {language}")
    teacher.says("holiday 25.11.2026")
    assert said in teacher.says("New topic: Density\nquiz: 12.12.2026")


def test_a_lesson_that_the_timetable_has_on_that_day_is_no_news(teacher: Talker):
    teacher.says("holiday 25 Nov")
    assert "no school day" in teacher.says("New topic: Density")
    assert "no school day" not in teacher.says("New topic: Density")


# ---------------------------------------------------------------- a file


@pytest.mark.parametrize(
    ("language", "notes"),
    [
        (
            "English",
            (
                'Row 3: quizzes on weekdays without school: 1, the first is "Quiz 1" on a Saturday.',
                'Row 4: lessons inside the holiday "training day": 1, the first is "Springs".',
            ),
        ),
        (
            "Deutsch",
            (
                "Zeile 3: Tests an Wochentagen ohne Schule: 1, der erste ist „Quiz 1“ an einem Samstag.",
                "Zeile 4: Stunden in den Ferien „training day“: 1, die erste ist „Springs“.",
            ),
        ),
    ],
)
def test_a_timetable_is_taken_whole_and_its_days_without_school_are_said_before(
    school: School, teacher: Talker, language: str, notes: tuple[str, str]
):
    teacher.says(f"language {language}")
    teacher.says("holiday 8.12.2026 training day")
    said = teacher.sends(
        "timetable.csv",
        b"date,topic,kind\n2026-12-01,Density,lesson\n2026-12-12,Quiz 1,quiz\n2026-12-08,Springs,lesson\n",
    )
    for note in notes:
        assert note in said
    teacher.presses("Apply" if language == "English" else "Übernehmen")
    assert quiz_days(school) == [date(2026, 12, 12)]


# ---------------------------------------------------------------- what stands on a day that loses its school


@pytest.mark.parametrize(
    ("language", "added", "standing"),
    [
        (
            "English",
            "No questions from Mon 7 Dec to Fri 11 Dec. Reviews follow.",
            "Planned on days that have no school now\n• Tue 8 Dec: Springs\n• Fri 11 Dec: quiz\n"
            "Nothing was moved. quiz moves a quiz, a changed timetable moves lessons.",
        ),
        (
            "Deutsch",
            "Keine Fragen vom Mo., 7. Dez. bis Fr., 11. Dez. Die Wiederholungen folgen dem.",
            "Geplant an Tagen, die jetzt ohne Schule sind\n• Di., 8. Dez.: Springs\n• Fr., 11. Dez.: Test\n"
            "Nichts wurde verlegt. quiz verlegt einen Test, ein geänderter Unterrichtsplan verlegt Stunden.",
        ),
    ],
)
def test_a_holiday_over_lessons_and_quizzes_says_which(
    school: School, teacher: Talker, language: str, added: str, standing: str
):
    teacher.sends(
        "timetable.csv", b"date,topic,kind\n2026-12-08,Springs,lesson\n2026-12-14,Pressure,lesson\n"
    )
    teacher.presses("Use it")
    teacher.says("New topic: Density\nquiz: 11.12.2026")
    teacher.says(f"language {language}")
    assert teacher.says("holiday 7.12.2026 - 11.12.2026") == f"{added}\n{standing}"
    assert quiz_days(school) == [date(2026, 12, 11)]


def test_a_holiday_over_what_had_no_school_before_says_nothing_more(teacher: Talker):
    teacher.says("New topic: Density\nquiz: 12.12.2026")  # a Saturday
    assert "no school now" not in teacher.says("holiday 12.12.2026")
    assert "no school now" not in teacher.says("holiday 14.12.2026")


def test_a_holiday_over_a_lesson_alone_does_not_speak_of_quizzes(teacher: Talker):
    teacher.says("New topic: Density")  # today, a Wednesday
    said = teacher.says("holiday 25.11.2026")
    assert said.endswith("• Wed 25 Nov: Density\nNothing was moved. A changed timetable moves lessons.")


def test_a_weekday_that_is_no_school_day_any_more_says_what_stands_there(teacher: Talker):
    teacher.acts("teacher:rule:1:days")
    teacher.says("Mon Tue Wed Thu Fri Sat")
    teacher.says("New topic: Density\nquiz: 12.12.2026")
    teacher.acts("teacher:rule:1:days")
    said = teacher.says("Mon Tue Wed Thu Fri")
    assert "Planned on days that have no school now\n• Sat 12 Dec: quiz\n" in said
    teacher.acts("teacher:rule:1:days")
    assert "no school now" not in teacher.says("Mon Tue Wed")
