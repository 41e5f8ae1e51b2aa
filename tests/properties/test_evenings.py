"""No person gets more than one nudge an evening (two only where a class allows them) or ten questions a day.

Whatever set of classes they are in, whatever the rules of each, and whatever they do.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import hypothesis.strategies as st
from hypothesis import HealthCheck, example, given, settings
from sqlmodel import select

from bot.service.asking import planning
from scheduler.calendar.school_days import local_day
from storage.asked import evenings
from storage.asked.evenings import Candidate
from storage.school import classes, enrolments
from storage.tables import Enrolment, Review
from storage.values import QUESTIONS_A_DAY_AT_MOST
from tests.dialogues import CHOICE, MONDAY, Stage, add_class, at, join, stage, teach

DAY = timedelta(days=1)
HOURS = ("15:00", "16:30", "18:00", "19:45")


@dataclass(frozen=True)
class Rules:
    """The rules of one class, and what the student chose there (None: nothing)."""

    nudges: int
    questions: int
    minute: int
    zone: str
    chosen: str | None
    topics: int
    paused: bool
    busy: bool  # has lessons in the afternoon


RULES = st.builds(
    Rules,
    st.integers(1, 2),
    st.integers(1, 5),
    st.sampled_from([15 * 60, 17 * 60 + 20, 18 * 60, 19 * 60 + 30]),
    st.sampled_from(["Europe/London", "Europe/London", "Europe/Berlin", "America/New_York"]),
    st.sampled_from([None, *HOURS]),
    st.integers(1, 8),
    st.booleans(),
    st.booleans(),
)
DEEDS = st.lists(st.sampled_from(["nothing", "answer", "answer", "next", "later"]), min_size=24, max_size=24)
FOUR = [Rules(1, 3, 18 * 60, "Europe/London", "18:00", 8, False, False)] * 4
TWICE = [Rules(2, 5, 18 * 60, "Europe/London", None, 8, False, False)] * 5


def a_school(known: list[Rules]) -> Stage:
    school = stage(at(MONDAY - 3 * DAY, 12))
    for number, one in enumerate(known):
        group = add_class(
            school,
            f"Class {number}",
            f"Teacher {number}",
            zone=one.zone,
            nudge_minute=one.minute,
            nudges_per_day=one.nudges,
            questions_per_nudge=one.questions,
            lesson_hours=[[day, 14 * 60, 16 * 60 + 10] for day in range(5)] if one.busy else [],
        )
        for topic in range(one.topics):
            when = at(MONDAY - (4 + topic) * DAY, 10)
            teach(school, group, f"Class {number} topic {topic}", when, [CHOICE])
        student = join(school, group, "mira", one.chosen or "18:00")

        def as_it_is(session: Any, student: int = student, one: Rules = one) -> None:
            if one.chosen is None:
                enrolments.get(session, student).nudge_minute = None
            if one.paused:
                enrolments.pause(session, student)

        school.run(as_it_is)
    school.now = at(MONDAY, 5)
    school.run(planning.look_at_all, school.now)
    return school


def act(school: Stage, deed: str) -> None:
    labels = school.of("mira")[-1].labels
    if deed == "next":
        school.say("mira", "next")
        school.work()
    elif deed == "later" and "In an hour" in labels:
        school.press("mira", "In an hour")
    elif deed == "answer":
        if "Start" in labels:
            school.press("mira", "Start")
        for _ in range(4):
            if school.of("mira")[-1].labels[-2:] == ["Not sure", "Later"]:
                school.press("mira", "10 cm")


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(RULES, min_size=1, max_size=5), DEEDS)
@example(FOUR, ["nothing", "answer"] * 12)
@example(TWICE, ["answer", "next"] * 12)
def test_f04_no_person_gets_more_than_the_days_nudges_or_ten_questions(
    known: list[Rules], deeds: list[str]
) -> None:
    school = a_school(known)
    put_off = 0
    for step, deed in enumerate(deeds):
        school.go_to(at(MONDAY + step // 12 * DAY, 8 + step % 12, 5))
        put_off += deed == "later"
        act(school, deed)
    person = school.run(lambda s: s.exec(select(Enrolment.person_id)).first())
    wanted = school.run(evenings.wishes, [person])[person]
    first_of = {
        one.nudge_id: one.at for one in reversed(school.of("mira")) if one.nudge_id is not None
    }  # sent once more only because it was put off
    sent = Counter(local_day(moment, wanted.zone) for moment in first_of.values())
    allowed = max((one.nudges for one in known if not one.paused), default=0)
    assert all(count <= allowed for count in sent.values()), sent
    written = [one for one in school.of("mira") if one.nudge_id is not None]
    assert len(written) <= len(first_of) + put_off
    rows = school.run(lambda s: list(s.exec(select(Review))))
    shown = Counter(local_day(row.asked_at, wanted.zone) for row in rows if row.asked_at is not None)
    assert all(count <= QUESTIONS_A_DAY_AT_MOST for count in shown.values()), shown


def test_f04_the_property_reaches_classes_that_would_ask_more() -> None:
    """A property that never comes near its bound proves nothing."""
    school = a_school(TWICE)
    assert all(row.nudges_per_day == 2 for row in school.run(classes.open_classes))
    for hour in range(14, 20):
        school.go_to(at(MONDAY, hour, 5))
        act(school, "answer")
    assert len([one for one in school.of("mira") if one.nudge_id is not None]) in (1, 2)
    rows = school.run(lambda s: list(s.exec(select(Review))))
    assert len([row for row in rows if row.asked_at is not None]) == QUESTIONS_A_DAY_AT_MOST


CANDIDATES = st.lists(
    st.builds(Candidate, st.integers(1, 10**6), st.integers(1, 14), st.integers(1, 99), st.floats(0, 1)),
    max_size=40,
    unique_by=lambda one: one.review_id,
)


@given(CANDIDATES, st.integers(-2, 12))
def test_f04_an_evening_has_room_for_the_best_of_every_class(found: list[Candidate], room: int) -> None:
    kept = evenings.fair(found, room, {})
    assert len(kept) == min(len(found), max(room, 0))
    assert [one.gain for one in kept] == sorted((one.gain for one in kept), reverse=True)
    classes_found = {one.enrolment_id for one in found}
    if len(classes_found) <= room:
        assert {one.enrolment_id for one in kept} == classes_found
        best = {e: max(one.gain for one in found if one.enrolment_id == e) for e in classes_found}
        assert all(any(one.gain == best[one.enrolment_id] for one in kept) for one in kept)
