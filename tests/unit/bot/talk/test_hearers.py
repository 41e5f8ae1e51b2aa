"""What a step says to somebody else is in that person's language, whoever caused it.

Theirs is what they chose, else what their platform said when they came, else their class's, else the installation's.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import pytest
from sqlmodel import select

from bot.chat.port import Message
from bot.service.engine.effects import Speaker, Work
from bot.service.teacher.work import guarded
from bot.talk.channel import PlaceNoted
from bot.talk.core import IDLE, Result
from bot.talk.facts import Facts
from bot.talk.router import step
from bot.talk.teacher.effects import KeepPost, Refused
from bot.words import words
from storage.base.errors import InvalidValue, refused
from storage.privacy.erasure import without
from storage.school import channels, classes, codes
from storage.tables import CodeKind, SchoolClass, Upload
from storage.values import ConsentRule
from tests.dialogues import MONDAY, Group, Stage, add_class, at, enrolment, join, stage
from tests.teaching import START, School, Talker

# ---------------------------------------------------------------- a permission that is there


def permission(here: Stage, group: Group, user: str) -> str:
    student = enrolment(here, user, group)
    issued: str = here.run(
        lambda s: codes.issue(s, CodeKind.PERMISSION, now=here.now, enrolment_id=student, uses=1).text
    )
    return issued


def permitted(class_language: str, student_language: str, parent_language: str) -> dict[str, Message]:
    """Let a parent type the code of a permission; return what the parent and the student hear."""
    here = stage(at(MONDAY, 8))
    group = add_class(here, consent=ConsentRule.SCHOOL, language=class_language)
    here.language = student_language
    join(here, group, "mira")
    here.language = parent_language
    said = here.say("parent", f"join {permission(here, group, 'mira')}")
    return {one.address: one.message for one in said}


@pytest.mark.parametrize(
    ("class_language", "student", "parent", "hears"),
    [
        ("en", "en-GB", "de-DE", "en"),
        ("de", "en", "de", "en"),
        ("en", "de-AT", "en", "de"),
        ("de", "", "en", "de"),  # nothing known of the student: the class's
        ("en", "tr", "de", "en"),  # a language that is not spoken here: the class's
    ],
)
def test_a_student_hears_of_a_permission_in_their_own_language(
    class_language: str, student: str, parent: str, hears: str
):
    said = permitted(class_language, student, parent)
    told = said["chat-mira"]
    assert told.text == words(hears).say("joining.may_start", class_name="10B Physics")
    assert told.language == hears
    assert said["chat-parent"].text == words(parent).say(
        "joining.permitted", name="Mira", class_name="10B Physics"
    )


def test_what_a_student_chose_stands_above_what_their_platform_said():
    here = stage(at(MONDAY, 8))
    group = add_class(here, consent=ConsentRule.SCHOOL)
    join(here, group, "mira")
    here.say("mira", "language Deutsch")
    said = {one.address: one.text for one in here.say("parent", f"join {permission(here, group, 'mira')}")}
    assert said["chat-mira"].startswith("Die Erlaubnis")
    assert said["chat-parent"] == "Noted: Mira may take part in 10B Physics."


# ---------------------------------------------------------------- a class's place


@pytest.fixture
def teachers(school: School) -> tuple[Talker, Talker]:
    """Two teachers of one English class: the first chose German, the second nothing."""
    first, second = school.teacher(), school.teacher("brown", with_class="")
    with school.db.begin() as session:
        classes.add_teacher(session, 1, second.person_id, "Mr Brown", START)
    first.says("language Deutsch")
    return first, second


def in_class_language(school: School, language: str) -> None:
    with school.db.begin() as session:
        session.get_one(SchoolClass, 1).language = language


def bind(school: School) -> None:
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")


def test_that_a_place_is_bound_is_said_there_in_the_classs_language_and_to_the_teacher_in_theirs(
    school: School, teachers: tuple[Talker, Talker]
):
    first, _ = teachers
    code = first.says("channel").split("diesen Code hinein: ")[1]
    said = dict(first.posts(code, user=""))
    assert said["#class"] == words("en").text("channel.bound", name="10B Physics")
    assert said["@okafor"] == words("de").text("teacher.channel_bound", title="terminal", name="10B Physics")


@pytest.mark.parametrize(
    ("change", "key"),
    [("removed", "channel_lost"), ("limited", "channel_limited"), ("added", "channel_back")],
)
def test_each_teacher_hears_in_their_own_language_what_became_of_the_place(
    school: School, teachers: tuple[Talker, Talker], change: str, key: str
):
    bind(school)
    if change == "added":
        teachers[0].notices("removed")
    said = dict(teachers[0].notices(change))
    blanks = {"title": "10B", "name": "10B Physics"}
    assert said == {
        "@okafor": words("de").text(f"teacher.{key}", **blanks),
        "@brown": words("en").text(f"teacher.{key}", **blanks),
    }


def test_a_teacher_who_chose_nothing_hears_the_classs_language(
    school: School, teachers: tuple[Talker, Talker]
):
    bind(school)
    in_class_language(school, "de")
    said = dict(teachers[1].notices("removed"))
    assert said["@brown"] == words("de").text("teacher.channel_lost", title="10B", name="10B Physics")
    assert teachers[1].says("language").startswith("Welche Sprache?"), (
        "and so do they when they speak themselves"
    )


def test_what_is_refused_in_the_place_is_told_in_the_teachers_language(
    school: School, teachers: tuple[Talker, Talker]
):
    bind(school)

    @guarded
    def carrier(work: Work, effect: KeepPost) -> Sequence[Result]:
        raise refused(InvalidValue, "topic_taken", field="name", name="Density")

    for teacher, language in zip(teachers, ("de", "en"), strict=True):
        speaker = Speaker("terminal", teacher.user, "#class", "class")
        with school.db.begin() as session:
            work = Work(session, START, speaker, teacher.person_id, school.app_context, words("en"))
            said = carrier(work, KeepPost(1, "x"))
        assert said == [
            Refused(words(language).text("refusal.topic_taken", name="Density"), teacher.person_id)
        ]


def test_why_a_question_of_a_post_was_left_out_is_in_the_teachers_language(
    school: School, teachers: tuple[Talker, Talker]
):
    bind(school)
    for teacher, language in zip(teachers, ("de", "en"), strict=True):
        ((_, said),) = teacher.posts(f"New topic: Pressure {language}\nUnit? / pascal / pascal")
        assert words(language).text("teacher.topic.unclear") in said
        assert ("sind gleich" if language == "de" else "are the same") in said.splitlines()[-1], said


def test_a_doubtful_post_is_asked_about_in_the_teachers_language(
    school: School, teachers: tuple[Talker, Talker]
):
    bind(school)
    for teacher, language in zip(teachers, ("de", "en"), strict=True):
        ((_, said),) = teacher.posts("new topic Hooke's law")
        assert said == words(language).text("teacher.topic.doubtful", name="10B Physics", topic="Hooke's law")
        assert teacher.last[0].language == language


# ---------------------------------------------------------------- what comes by itself


def test_a_reminder_comes_in_each_teachers_language(school: School, teachers: tuple[Talker, Talker]):
    teachers[0].says("New topic: Density")
    school.work(until=datetime(2026, 11, 26, 14, 59, tzinfo=UTC))
    said = dict(school.work(until=datetime(2026, 11, 26, 15, 0, tzinfo=UTC)))
    for teacher, language in zip(teachers, ("de", "en"), strict=True):
        blanks = {"n": 1, "names": "Density", "class_name": "10B Physics"}
        told = said[f"@{teacher.user}"]
        assert told.text == words(language).say("teacher.remind_questions", **blanks)
        assert told.language == language


def test_a_weekly_report_comes_in_each_teachers_language(school: School, teachers: tuple[Talker, Talker]):
    teachers[0].says("rules report Thu 16:00")
    in_class_language(school, "de")
    first, second = teachers
    second.says("language English")
    said = school.work(until=datetime(2026, 11, 26, 16, 0, tzinfo=UTC))
    assert "· Woche 48" in first.hears(said)
    assert "· week 48" in second.hears(said)


@pytest.mark.parametrize("language", ["en", "de"])
def test_what_comes_by_itself_is_in_the_classs_language_for_who_chose_none(
    school: School, teachers: tuple[Talker, Talker], language: str
):
    in_class_language(school, language)
    teachers[0].says("New topic: Density")
    school.work(until=datetime(2026, 11, 26, 14, 59, tzinfo=UTC))
    said = dict(school.work(until=datetime(2026, 11, 26, 15, 0, tzinfo=UTC)))
    assert said["@brown"].language == language


# ---------------------------------------------------------------- what somebody else did


@pytest.mark.parametrize(
    ("does", "taken_back"),
    [
        (["New topic: Pressure"], "topic Pressure."),
        (["holiday 14.12.2026"], "holiday from Mon 14 Dec."),
        (["quiz 14.12.2026"], "quiz moved from Fri 11 Dec."),
        (["add Density", "Density of water? / 1 g/cm³"], "question Density of water?"),
    ],
)
def test_what_one_teacher_did_is_called_in_the_language_of_whoever_takes_it_back(
    school: School, teachers: tuple[Talker, Talker], does: list[str], taken_back: str
):
    first, second = teachers
    first.says("New topic: Density\nquiz: 11.12.2026")
    for said in does:
        first.says(said)
    assert second.says("undo") == f"Taken back: {taken_back} Everything is as it was before."


@pytest.mark.parametrize("erased", ["Topic", "Value", "Kept", "What"])
def test_a_change_called_by_an_erased_name_is_still_taken_back(
    school: School, teachers: tuple[Talker, Talker], erased: str
):
    first, second = teachers
    first.says("New topic: Density")
    with school.db.begin() as session:
        upload = session.exec(select(Upload)).one()
        upload.content = without(upload.content, erased)  # the name of a student who was erased
    assert second.says("undo").startswith("Taken back: Thema Density.")


# ---------------------------------------------------------------- the rule itself


def test_a_step_that_tells_somebody_its_event_does_not_name_is_a_defect():
    facts = Facts(START, words("en"), "terminal", "u", "class")
    with pytest.raises(KeyError):
        step(IDLE, PlaceNoted("removed", "10B", "10B Physics", (7,)), facts)
