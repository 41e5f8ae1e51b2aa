"""What is said in a class's channel or group: binding with proof on both sides, topics, silence, losses."""

from __future__ import annotations

import pytest
from sqlmodel import select

from bot.talk.channel import code_in
from storage.school import channels, classes, timetable
from storage.tables import Person
from tests.teaching import START, School, Talker


@pytest.fixture
def bound(school: School, teacher: Talker) -> Talker:
    """A teacher whose class has a place."""
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    return teacher


def topics(school: School) -> list[str]:
    with school.db.begin() as session:
        return [one.name for one in timetable.topics(session, 1, START)]


# ---------------------------------------------------------------- binding


def test_a_place_is_bound_by_the_code_that_a_teacher_got_in_private(school: School, teacher: Talker):
    code = teacher.says("channel").split("code in it within a day: ")[1]
    said = dict(teacher.posts(code, user=""))
    assert said["#class"].startswith("This is the place of 10B Physics now.")
    assert said["@okafor"].startswith("“terminal” belongs to 10B Physics now.")
    with school.db.begin() as session:
        assert [one.address for one in channels.of_class(session, 1)] == ["#class"]


def test_a_code_binds_one_place_once(school: School, teacher: Talker):
    code = teacher.says("channel").split("code in it within a day: ")[1]
    teacher.posts(code)
    assert teacher.posts(code, address="#other") == [
        (
            "#other",
            "This code does not bind a place: it is wrong, used up or too old. In private, channel makes a new one.",
        )
    ]
    with school.db.begin() as session:
        assert [one.address for one in channels.of_class(session, 1)] == ["#class"]


def test_the_other_way_round_the_bot_posts_a_code_that_a_teacher_sends_in_private(
    school: School, teacher: Talker
):
    code = offered(teacher)
    assert teacher.says(code) == (
        "“terminal” belongs to 10B Physics now. Post “New topic: …” there to start a topic."
    )
    with school.db.begin() as session:
        assert [one.address for one in channels.of_class(session, 1)] == ["#class"]


def offered(teacher: Talker) -> str:
    """Let the bot be added to a place; return the code that it posts there."""
    ((place, hello),) = teacher.notices("added")
    assert place == "#class"
    return hello.split("this code in private: ")[1][:10]


def test_a_code_that_the_bot_posted_is_not_used_up_by_those_who_cannot_use_it(
    school: School, teacher: Talker
):
    code = offered(teacher)
    here = teacher.posts(code, user="mira")
    assert here == [
        (
            "#class",
            "This code does nothing here. A teacher of the class sends it to me in private; then this place is bound.",
        )
    ]
    with school.db.begin() as session:
        before = len(session.exec(select(Person)).all())
    stranger = Talker(school, "mira", 0)
    assert stranger.says(code).startswith("This code is for teachers: it binds a channel or group.")
    assert stranger.says("help").startswith("Hello. I help classes")
    with school.db.begin() as session:
        assert len(session.exec(select(Person)).all()) == before
    assert "belongs to 10B Physics now" in teacher.says(code)


def test_a_code_for_a_place_that_is_sent_in_private_stays_good(school: School, teacher: Talker):
    code = teacher.says("channel").split("code in it within a day: ")[1]
    assert teacher.says(code) == (
        "This code does nothing here. Post it in the channel or group that is to be bound. It is still good."
    )
    assert dict(teacher.posts(code))["#class"].startswith("This is the place of 10B Physics now.")


def test_a_colleague_who_teaches_already_sends_the_code_of_another_class_as_it_is(
    school: School, teacher: Talker
):
    code = teacher.says("invite").split("one colleague: ")[1][:10]
    colleague = school.teacher("brown", with_class="9A Chemistry")
    assert "10B Physics" in colleague.says(code)


def test_wrong_codes_are_counted_and_then_refused_unread(school: School, teacher: Talker):
    code = teacher.says("channel").split("code in it within a day: ")[1]
    for _ in range(5):
        teacher.posts("ABCDEFGH23", user="mallory")
    teacher.posts(code, user="mallory")
    with school.db.begin() as session:
        assert channels.of_class(session, 1) == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("7K2MX-9PQRS", "7K2MX9PQRS"),
        ("7k2mx9pqrs", "7K2MX9PQRS"),
        ("basketball", None),
        ("see you at 8", None),
    ],
)
def test_only_what_looks_like_a_code_is_taken_for_one(text: str, code: str | None):
    assert code_in(text) == code


# ---------------------------------------------------------------- topics


def test_a_topic_post_is_told_to_its_teacher_in_private_and_the_place_stays_quiet(
    school: School, bound: Talker
):
    said = bound.posts("New topic: Pressure in liquids\nhomework: p. 12\nUnit? / pascal / newton")
    ((where, text),) = said
    assert where == "@okafor"
    assert text.startswith("Noted for 10B Physics: Pressure in liquids, taught Wed 25 Nov. Homework: p. 12.")
    assert topics(school) == ["Pressure in liquids"]
    assert bound.presses("Looks right") == "Good. Pressure in liquids is in the plan."


def test_a_post_without_an_author_in_a_bound_channel_counts_as_its_teachers(school: School, bound: Talker):
    ((where, _),) = bound.posts("/topic Moments", user="")
    assert where == "@okafor"
    assert topics(school) == ["Moments"]


def test_a_student_or_a_stranger_cannot_start_a_topic(school: School, bound: Talker):
    assert bound.posts("New topic: Nonsense", user="mira") == []
    assert topics(school) == []


def test_a_teacher_of_another_class_cannot_start_a_topic_here(school: School, bound: Talker):
    other = school.teacher("brown", with_class="9A Chemistry")
    assert other.posts("New topic: Acids") == []
    assert topics(school) == []


def test_a_place_that_is_bound_to_nothing_is_silent(school: School, teacher: Talker):
    assert teacher.posts("New topic: Pressure") == []
    assert teacher.posts("Good morning") == []
    assert topics(school) == []


def test_ordinary_talk_and_commands_of_other_roles_meet_silence(school: School, bound: Talker):
    for text in ("Good morning", "help", "/report", "next", "undo", "[all] @room", "", "*" * 5000):
        assert bound.posts(text) == []


def test_what_is_unclear_is_asked_back_in_private(school: School, bound: Talker):
    ((where, text),) = bound.posts("new topic Hooke's law")
    assert where == "@okafor"
    assert text == "In 10B Physics you wrote about “Hooke's law”. Is that a new topic, taught today?"
    assert topics(school) == []
    assert bound.presses("It is a topic").startswith("Noted for 10B Physics: Hooke's law")
    assert topics(school) == ["Hooke's law"]


def test_a_doubtful_post_that_was_none_is_forgotten(school: School, bound: Talker):
    bound.posts("new topic on Monday I think")
    assert bound.presses("Not a topic") == "Good, I leave it alone."
    assert topics(school) == []


def test_a_topic_post_without_a_name_is_answered_in_private(school: School, bound: Talker):
    ((where, text),) = bound.posts("New topic:")
    assert where == "@okafor"
    assert "I found no name" in text


def test_what_is_refused_is_told_in_private_too(school: School, bound: Talker):
    ((where, text),) = bound.posts("New topic: Hooke\x00s law")
    assert where == "@okafor"
    assert "NUL" in text
    assert topics(school) == []


def test_posting_in_the_place_does_not_disturb_what_stands_in_private(school: School, bound: Talker):
    bound.says("create")
    bound.posts("New topic: Pressure")
    assert "which subject do you teach them" in bound.says("9B Physics")


def test_not_a_topic_takes_a_post_from_the_place_back(school: School, bound: Talker):
    bound.posts("New topic: Pressure")
    bound.presses("Not a topic")
    assert topics(school) == []


# ---------------------------------------------------------------- losing and finding a place


def test_a_removal_is_told_to_the_teachers_and_nothing_is_lost(school: School, bound: Talker):
    bound.posts("New topic: Pressure")
    ((where, text),) = bound.notices("removed")
    assert where == "@okafor"
    assert text.startswith("I was removed from “10B”.")
    assert topics(school) == ["Pressure"]
    assert bound.posts("New topic: Moments") == []
    ((_, text),) = bound.notices("added")
    assert text == "I am in “10B” again. It still belongs to 10B Physics."
    bound.posts("New topic: Moments")
    assert topics(school) == ["Pressure", "Moments"]


def test_a_lost_right_to_write_is_told_and_summaries_stop(school: School, bound: Talker):
    ((_, text),) = bound.notices("limited")
    assert text.startswith("I may no longer write in “10B”.")
    assert bound.says("share").startswith("There is no channel that I may write in.")


def test_a_summary_needs_five_students(school: School, bound: Talker):
    bound.says("share")
    said = school.work()
    assert [where for where, _ in said] == ["@okafor"]
    assert "5" in said[0][1].text.plain


def test_a_place_can_be_let_go(school: School, bound: Talker):
    bound.says("channel")
    assert bound.presses("Let “10B” go") == "“10B” no longer belongs to this class."
    assert bound.posts("New topic: Pressure") == []
    ((where, text),) = bound.notices("added")
    assert (where, text[:18]) == ("#class", "To bind this place"), "coming back there binds nothing"


def test_only_teachers_of_a_class_can_let_its_place_go(school: School, bound: Talker):
    other = school.teacher("brown", with_class="9A Chemistry")
    assert other.acts("teacher:unbind:1:1") == "This button belongs to somebody else, so nothing happened."
    assert "no longer there" in other.acts("teacher:unbind:2:1")
    with school.db.begin() as session:
        assert len(channels.of_class(session, 1)) == 1
        assert classes.teaches(session, other.person_id, 2)
