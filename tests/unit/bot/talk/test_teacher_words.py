"""Days, topic posts and questions as teachers type them."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from bot.talk.commands import COMMANDS, TEACHER
from bot.talk.teacher.drafts import as_line, read_draft
from bot.talk.teacher.posts import read_post
from bot.talk.teacher.rulebook import READERS
from bot.talk.teacher.sending import kind_in
from bot.talk.zones import zones_named
from bot.teaching.typed_days import read_days, read_span
from bot.teaching.typed_times import minute_of_day
from bot.words.catalogue import texts

TODAY = date(2026, 11, 25)  # a Wednesday


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("today", [date(2026, 11, 25)]),
        ("Tomorrow", [date(2026, 11, 26)]),
        ("friday", [date(2026, 11, 27)]),
        ("Wednesday", [date(2026, 12, 2)]),
        ("on 11 Dec", [date(2026, 12, 11)]),
        ("11.12.", [date(2026, 12, 11)]),
        ("2026-12-11", [date(2026, 12, 11)]),
        ("3 Jan", [date(2027, 1, 3)]),
        ("31.11.", []),
        ("soon", []),
        ("", []),
        ("04/03/2027", [date(2027, 3, 4), date(2027, 4, 3)]),
        ("11/12", [date(2026, 12, 11), date(2026, 11, 12)]),
    ],
)
def test_days_are_read_without_guessing(text: str, days: list[date]):
    assert sorted(read_days(text, TODAY)) == sorted(days)


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("21 Dec - 3 Jan", (date(2026, 12, 21), date(2027, 1, 3))),
        ("2026-12-21 to 2027-01-03", (date(2026, 12, 21), date(2027, 1, 3))),
        ("21.12.-03.01.2027", (date(2026, 12, 21), date(2027, 1, 3))),
        ("8 Dec", (date(2026, 12, 8), date(2026, 12, 8))),
        ("nonsense", None),
        ("3/4/2027 - 5/6/2027", None),
    ],
)
def test_spans_of_days_are_read(text: str, span: tuple[date, date] | None):
    assert read_span(text, TODAY) == span


@pytest.mark.parametrize(
    ("text", "minute"), [("18:00", 1080), ("6.30 pm", 1110), ("7", 420), ("24:00", None), ("x", None)]
)
def test_times_of_day_are_read(text: str, minute: int | None):
    assert minute_of_day(text) == minute


@pytest.mark.parametrize(
    "first",
    [
        "New topic: Hooke's law",
        "new topic - Hooke's law",
        "/topic Hooke's law",
        "Topic: Hooke's law.",
        "/topic@holdfast_bot Hooke's law",
    ],
)
def test_a_topic_post_is_recognised_in_its_natural_forms(first: str):
    post = read_post(first, TODAY)
    assert post is not None
    assert post.certain
    assert post.topic == "Hooke's law"


@pytest.mark.parametrize(
    "text", ["Nice topic today", "The topics are online", "Good morning", "", "topical remarks: none"]
)
def test_ordinary_talk_is_no_topic_post(text: str):
    assert read_post(text, TODAY) is None


def test_a_topic_post_carries_homework_quiz_date_and_questions():
    post = read_post(
        "New topic: Pressure\n\nHomework: page 12, 3-5\nquiz on 11 Dec\nUnit of pressure? / pascal / newton\nsee you",
        TODAY,
    )
    assert post is not None
    assert post.homework == "page 12, 3-5"
    assert post.quiz_days == (date(2026, 12, 11),)
    assert post.questions == ("Unit of pressure? / pascal / newton",)
    assert post.unclear == ("see you",)


def test_a_post_that_may_be_talk_is_marked_doubtful():
    post = read_post("new topic Hooke's law", TODAY)
    assert post is not None
    assert not post.certain
    assert read_post("New topic:", TODAY) == type(post)("")


def test_a_question_line_has_an_answer_and_wrong_options():
    assert read_draft("Unit of force? / newton / joule / watt") == {
        "prompt": "Unit of force?",
        "answer": "newton",
        "wrong": ["joule", "watt"],
    }


def test_slashes_within_answers_stay():
    draft = read_draft("Half of 3/2? / 3/4")
    assert draft == {"prompt": "Half of 3/2?", "answer": "3/4"}
    assert read_draft("Density of water? / 1 g/cm³") == {"prompt": "Density of water?", "answer": "1 g/cm³"}


def test_a_question_can_be_written_on_several_lines():
    draft = read_draft(
        "A block of 270 g\nhas 100 cm³. Its density?\nanswer: 2.7\nunit: g/cm³\ntolerance: 5 %\nbecause: m / V"
    )
    assert draft == {
        "prompt": "A block of 270 g\nhas 100 cm³. Its density?",
        "answer": "2.7",
        "unit": "g/cm³",
        "tolerance": "5 %",
        "explanation": "m / V",
    }


@pytest.mark.parametrize("text", ["Good morning", "/ /", "question / ", "", "answer: only"])
def test_a_text_without_question_and_answer_is_no_question(text: str):
    assert read_draft(text) is None


def test_a_question_is_read_back_from_the_line_it_is_shown_as():
    line = as_line("Unit of\nforce?", "newton", ["joule"])
    assert read_draft(line) == {"prompt": "Unit of force?", "answer": "newton", "wrong": ["joule"]}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("physics_timetable.xlsx", "timetable"),
        ("10B class list.csv", "roster"),
        ("Questions-autumn.csv", "questions"),
        ("marks quiz 1.ods", "scores"),
        ("10B.csv", ""),
        ("questions and timetable", ""),
    ],
)
def test_the_kind_of_a_file_is_read_from_its_name(name: str, kind: str):
    assert kind_in(name) == kind


def test_cities_lead_to_their_zone():
    assert zones_named("london", parts=True) == ("Europe/London",)
    assert zones_named("New York", parts=True) == ("America/New_York",)
    assert zones_named("Atlantis", parts=True) == ()
    assert zones_named("lond", parts=True) == ("Europe/London",)
    assert zones_named("lond") == zones_named("lo", parts=True) == ()


@pytest.mark.parametrize(
    ("rule", "text", "changes"),
    [
        ("nudge", "19:00", {"nudge_minute": 1140}),
        ("quiet", "21:00 - 7:00", {"quiet_from": 1260, "quiet_until": 420}),
        ("questions", "5", {"questions_per_nudge": 5}),
        ("allowance", "none", {"term_allowance": None}),
        ("lessons", "Wed 10:00-11:30, Mon 8:00-8:45", {"lesson_hours": [[0, 480, 525], [2, 600, 690]]}),
        ("days", "Mon Tue Sat", {"school_weekdays": [0, 1, 5]}),
        ("holidays", "yes", {"on_holidays": True}),
        ("report", "Mon 7:45", {"report_weekday": 0, "report_minute": 465}),
        ("permission", "yes", {"consent": "school"}),
        ("zone", "Vienna", {"zone": "Europe/Vienna"}),
        ("keep", "31 July 2027", {"retain_until": date(2027, 7, 31)}),
        ("keep", "2 weeks", None),
        ("lessons", "Mon sometimes", None),
        ("quiet", "night", None),
        ("questions", "many", None),
        ("days", "Mon Noday", None),
    ],
)
def test_every_rule_has_a_value_that_can_be_typed(rule: str, text: str, changes: dict[str, object] | None):
    assert READERS[rule](text, TODAY) == changes


def test_every_text_that_the_conversation_names_exists():
    folder = Path(__file__).parents[4] / "bot" / "talk" / "teacher"
    source = "".join(path.read_text() for path in sorted(folder.glob("*.py")))
    buttons = re.findall(r'press\(\s*facts,\s*"([a-z_.]+)"', source)
    said = re.findall(r'(?:say|text)\(\s*"(teacher\.[a-z_.]+)"', source)
    assert len(buttons) > 20
    assert len(said) > 20
    missing = {f"teacher.button.{name}" for name in buttons} | set(said)
    assert missing - set(texts("en")) == set()


def test_every_command_of_a_teacher_is_described_and_has_a_handler():
    from bot.talk.teacher import COMMANDS as HANDLERS

    words = [command.word for command in COMMANDS if command.conversation == "teacher"]
    assert len(words) == len(set(words))
    assert set(words) == set(HANDLERS)
    assert {f"command.{word}" for word in words} <= set(texts("en"))
    assert all(command.roles == TEACHER for command in COMMANDS if command.conversation == "teacher")
