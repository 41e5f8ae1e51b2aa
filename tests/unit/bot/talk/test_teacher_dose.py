"""The dose of a class: the sentence after a timetable, the target, and the buttons of forecast and report."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from storage.base.database import Database
from storage.school import classes, timetable
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft, add
from tests.teaching import START, School, Talker
from tests.unit.bot.talk.test_teacher_evidence import teacher as taught_class

TOPICS = 31
FIRST = date(2026, 11, 30)
KEY = {"kind": "text", "answers": ["yes"], "wrong": [], "typos": True}

taught = taught_class
"""A teacher whose class was taught three topics and asked for a week, ten days before its quiz."""


def lines(*, topics: int = TOPICS, weeks: int = 12) -> bytes:
    """A timetable with so many topics over the first three quarters of its weeks and an exam at their end."""
    rows = ["date,topic,kind,homework"]
    for number in range(topics):
        day = FIRST + timedelta(days=round(number * weeks * 7 * 0.75 / topics))
        day -= timedelta(days=max(day.weekday() - 4, 0))
        rows.append(f"{day.isoformat()},Topic {number + 1},lesson,")
    exam = FIRST + timedelta(weeks=weeks)
    return "\n".join([*rows, f"{exam.isoformat()},Exam,exam,", ""]).encode()


def rules(db: Database) -> tuple[int, list[int], int | None]:
    with db.begin() as session:
        found = classes.get(session, 1)
        return found.questions_per_nudge, found.school_weekdays, found.target


def change(school: School, **changes: object) -> None:
    with school.db.begin() as session:
        classes.change_rules(session, 1, **changes)


def labels(teacher: Talker) -> list[str]:
    return [button.label for button in teacher.buttons()]


# ---------------------------------------------------------------- after a timetable


def test_after_a_timetable_is_stored_it_is_said_what_it_needs(school: School, teacher: Talker) -> None:
    teacher.sends("timetable.csv", lines())
    said = teacher.presses("Use it")
    assert re.search(
        r"31 topics in 6\d school evenings: 3 questions an evening make about four answers", said
    )
    assert "That is how it is set." in said
    assert labels(teacher) == ["Choose a number"]


def test_what_the_timetable_needs_is_taken_with_a_button(school: School, teacher: Talker) -> None:
    change(school, questions_per_nudge=1)
    teacher.sends("timetable.csv", lines())
    assert "It is set to 1." in teacher.presses("Use it")
    teacher.presses("Ask 3")
    assert rules(school.db)[0] == 3


def test_a_class_asked_on_some_days_is_offered_all_school_days(school: School, teacher: Talker) -> None:
    change(school, school_weekdays=[0, 2, 4])
    teacher.sends("timetable.csv", lines())
    said = teacher.presses("Use it")
    assert re.search(r"31 topics in 3\d school evenings: 5 questions", said)
    teacher.presses("Ask 3 on 5 days")
    assert rules(school.db)[:2] == (3, [0, 1, 2, 3, 4])


def test_a_number_can_be_chosen(school: School, teacher: Talker) -> None:
    teacher.sends("timetable.csv", lines())
    teacher.presses("Use it")
    assert "How many questions" in teacher.presses("Choose a number")
    teacher.says("4")
    assert rules(school.db)[0] == 4


def test_more_than_can_be_asked_is_said(school: School, teacher: Talker) -> None:
    teacher.sends("timetable.csv", lines(topics=60, weeks=4))
    said = teacher.presses("Use it")
    assert "even 10 questions an evening, the most that is allowed" in said


# ---------------------------------------------------------------- the target


@pytest.mark.parametrize("words", ["target 75", "Ziel 75 %", "rules target 75", "ziel 75 Prozent"])
def test_a_target_is_answered_with_what_it_takes_and_stored_when_taken(
    school: School, taught: Talker, words: str
) -> None:
    assert "working out" in taught.says(words)
    said = taught.hears(school.work())
    assert re.search(
        r"75 % .* takes about \d questions? at a time, which comes to about \d\d\s% \(\d\d–\d\d\)", said
    )
    assert rules(school.db)[2] is None
    number = int(re.search(r"about (\d) question", said)[1])  # type: ignore[index]
    if number != 3:
        assert re.search(r"With 3, as now: about \d\d\s%", said)
    shown = taught.presses("Take 75 %")
    assert rules(school.db)[::2] == (number, 75)
    assert "Target for quizzes and exams: 75 %" in shown


def test_a_target_out_of_reach_is_said_with_the_best_that_can_be_had(school: School, taught: Talker) -> None:
    change(school, nudges_per_day=2, questions_per_nudge=1, school_weekdays=[6])
    taught.says("target 95")
    said = taught.hears(school.work())
    assert re.search(r"95 % cannot be reached .* The best that can be had is about \d\d\s%", said)
    assert labels(taught)[0].startswith("Take 95 %, 5")


def test_a_target_is_taken_away(school: School, taught: Talker) -> None:
    change(school, target=80)
    assert "Target for quizzes and exams: 80 %" in taught.says("rules")
    assert "Target for quizzes and exams: none" in taught.says("target none")
    assert rules(school.db)[2] is None


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("target 20", "between 50 and 95"),
        ("target 99", "between 50 and 95"),
        ("target 1000", "between 50 and 95"),
        ("target soon", "a number from 50 to 95"),
        ("target", "Type a number from 50 to 95"),
    ],
)
def test_what_is_no_target_is_explained_and_not_stored(
    school: School, taught: Talker, text: str, why: str
) -> None:
    assert why in taught.says(text)
    assert rules(school.db) == (3, [0, 1, 2, 3, 4], None)
    # It was asked for: the next message answers.
    assert "working out" in taught.says("60")


def test_without_a_timetable_a_test_or_a_question_it_is_said_what_is_missing(
    school: School, teacher: Talker
) -> None:
    def asks() -> str:
        school.clock.at += timedelta(minutes=1)
        teacher.says("target 75")
        return teacher.hears(school.work())

    assert "There is no timetable yet" in asks()
    with school.db.begin() as session:
        timetable.teach(Journal(session), classes.get(session, 1), "Springs", START + timedelta(days=5))
    assert "No quiz or exam is to come" in asks()
    with school.db.begin() as session:
        day = (START + timedelta(days=30)).date()
        timetable.teach(
            Journal(session), classes.get(session, 1), "Density", START + timedelta(days=6), quiz_day=day
        )
    assert "has a question yet" in asks()
    with school.db.begin() as session:
        add(Journal(session), 1, QuestionDraft("Density", "text", "Is it dense?", KEY, 0.02), START)
    # Nobody has joined yet: what is usual answers.
    assert "takes about" in asks()
    assert rules(school.db)[2] is None


def test_a_forged_button_changes_nothing(school: School, taught: Talker) -> None:
    for forged in ("dose:1:99:-:-", "dose:1:3:-:20", "dose:1:x:-:-", "dose:1", "dose:1:3:999:-"):
        taught.acts(f"teacher:{forged}")
    assert rules(school.db)[::2] == (3, None)
    assert rules(school.db)[1] == [0, 1, 2, 3, 4]


# ---------------------------------------------------------------- forecast and report


def test_a_forecast_has_a_line_for_each_dose_and_one_button_that_changes_the_rule(
    school: School, taught: Talker
) -> None:
    change(school, questions_per_nudge=1, school_weekdays=[2])
    taught.says("forecast")
    said = taught.hears(school.work())
    for dose in (
        "no more reviews:",
        "as now (1 question",
        "one more each time (2 questions",
        "on all school days (1 question",
    ):
        assert dose in said
    assert "Ask 1 on 5 days" in labels(taught)
    assert [label for label in labels(taught) if label.startswith("Ask")] == ["Ask 1 on 5 days"]
    taught.presses("Ask 1 on 5 days")
    assert rules(school.db)[1] == [0, 1, 2, 3, 4]


def test_the_report_says_when_the_dose_is_too_small(school: School, taught: Talker) -> None:
    change(school, questions_per_nudge=1, school_weekdays=[2])
    taught.says("report")
    said = taught.hears(school.work())
    assert re.search(r"2\.7 answers a topic so far\. .* about four are needed: Ask \d", said)
    assert any(re.match(r"Ask \d on 5 days", label) for label in labels(taught))


def test_the_report_is_silent_about_a_dose_that_is_enough(school: School, taught: Talker) -> None:
    taught.says("report")
    assert "answers a topic so far" not in taught.hears(school.work())
