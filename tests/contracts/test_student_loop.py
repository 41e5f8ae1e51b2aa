"""A student's evening on every database: what the service does there has to work on all of them."""

from __future__ import annotations

from datetime import timedelta

from sqlmodel import select

from storage.base.database import Database
from storage.school import people
from storage.tables import Answer, Enrolment, HomeworkReport, Nudge
from tests.dialogues import (
    CHOICE,
    MONDAY,
    NUMBER,
    Stage,
    add_class,
    add_quiz,
    at,
    join,
    teach,
    verify_dialogue,
)

DAY = timedelta(days=1)


def test_a_student_joins_is_nudged_answers_moves_and_is_erased(db: Database):
    school = Stage(db, at(MONDAY, 8))
    group = add_class(school, nudges_per_day=2)
    topics = [teach(school, group, f"Topic {n}", at(MONDAY - (5 + n) * DAY, 10), [CHOICE]) for n in range(4)]
    topics.append(teach(school, group, "Density", at(MONDAY - 5 * DAY, 12), [NUMBER]))
    teach(school, group, "Moments", at(MONDAY, 9), [], homework="p. 12")
    add_quiz(school, group, at(MONDAY + 10 * DAY, 10), topics)
    join(school, group, "mira")
    school.go_to(at(MONDAY, 15))
    verify_dialogue(school, "mira", [("[In an hour]", "I will ask at 16:00")])
    school.go_to(at(MONDAY, 16))
    school.press("mira", "Start")
    _answer(school)
    school.go_to(at(MONDAY, 18))
    verify_dialogue(school, "mira", [("[Homework done]", "homework on Moments is done"), ("start", "Topic")])
    _answer(school)
    for word in ("next", "progress", "data"):
        school.say("mira", word)
        assert school.work(), word
    verify_dialogue(school, "mira", [("time 22:00", "quiet hours"), ("zone Lisbon", "clock of Lisbon")])
    _count(school, nudges=2, answers=5)
    (said,) = school.say("mira", "move")
    school.say("elsewhere", f"join {said.text.split('join ')[1].split()[0]}")
    assert school.run(lambda s: people.find_contact(s, "terminal", "elsewhere")) is not None
    verify_dialogue(school, "elsewhere", [("erase", "cannot be undone"), ("[Erase everything]", "Erased.")])
    _count(school, nudges=0, answers=0)
    assert not school.run(lambda s: s.exec(select(Enrolment)).all())


def _answer(school: Stage) -> None:
    """Answer until no question is open."""
    for _ in range(6):
        labels = school.of("mira")[-1].labels
        if "10 cm" in labels:
            school.press("mira", "10 cm")
        elif labels[-2:] == ["Not sure", "Later"]:
            school.say("mira", "2.7 g/cm³")


def _count(school: Stage, *, nudges: int, answers: int) -> None:
    assert len(school.run(lambda s: s.exec(select(Nudge).where(Nudge.number <= 2)).all())) == nudges
    found = school.run(lambda s: s.exec(select(Answer)).all())
    assert len(found) == answers
    assert len(school.run(lambda s: s.exec(select(HomeworkReport)).all())) == (1 if nudges else 0)
