"""The student's conversation, as dialogues on the real service."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest
from sqlmodel import col, select

from bot.chat.port import TextSaid
from bot.grading import keys
from bot.grading.keys import FormulaKey, TextKey
from bot.grading.kinds import KINDS
from bot.grading.kinds.recipe import Recipe
from bot.talk.student import nudging
from bot.talk.student.effects import NudgeDue
from bot.words import words
from storage.asked import nudges
from storage.school import enrolments, people, timetable
from storage.tables import (
    Answer,
    Contact,
    Enrolment,
    EnrolmentState,
    HomeworkReport,
    Nudge,
    NudgeState,
    OutboxItem,
    Person,
    Review,
    ReviewState,
    Topic,
    Verdict,
)
from storage.values import QuizInfo
from tests.dialogues import (
    CHOICE,
    FORMULA,
    MONDAY,
    NUMBER,
    TEXT,
    Frozen,
    Stage,
    add_class,
    add_quiz,
    at,
    join,
    stage,
    teach,
    verify_dialogue,
)

DAY = timedelta(days=1)


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda session: list(session.exec(select(table).order_by(col(table.id)))))


def with_nudge(*keys, topics: int = 1, **rules) -> Stage:
    """Return a stage on which mira has just got her nudge."""
    return _with_nudge(keys, topics, tuple(rules.items())).thaw()


@cache
def _with_nudge(keys, topics, rules) -> Frozen:
    rules = dict(rules)
    school = stage(at(MONDAY, 12))
    group = add_class(school, **rules)
    for number in range(topics):
        teach(school, group, f"Topic {number}", at(MONDAY - (5 + number) * DAY, 10), keys or [CHOICE])
    join(school, group, "mira")
    school.go_to(at(MONDAY, 17, 50))
    school.go_to(at(MONDAY, 18))
    assert school.of("mira")[-1].labels[:3] == ["Start", "In an hour", "Not today"], school.of("mira")[
        -1
    ].text
    return school.freeze()


def started(*keys, topics: int = 1, **rules) -> Stage:
    """Return a stage on which mira sees her first question."""
    school = with_nudge(*keys, topics=topics, **rules)
    school.press("mira", "Start")
    return school


# ---------------------------------------------------------------- the nudge


def test_the_nudge_says_how_many_how_long_and_from_when():
    school = with_nudge(topics=3)
    said = school.of("mira")[-1]
    assert said.text.startswith("3 quick self-checks (about 2 min). The first is from ")
    assert said.message.urgent is False
    assert said.not_after == at(MONDAY, 20)
    assert said.nudge_id is not None


def test_start_can_be_typed():
    school = with_nudge()
    verify_dialogue(school, "mira", [("start", ["Started: 1 quick self-check.", "Topic 0, question 1?"])])


def test_start_takes_the_buttons_of_the_nudge_away_once():
    school = with_nudge(topics=2)
    nudge = school.of("mira")[-1].message
    begun, question = school.press("mira", "Start")
    assert (begun.text, begun.labels, begun.message.replaces) == (
        "Started: 2 quick self-checks.",
        [],
        nudge.key,
    )
    assert question.message.replaces == ""
    (again,) = school.press_action("mira", nudge.buttons[0][0].action)
    assert again.text == question.text


def test_not_today_ends_it_and_edits_the_nudge():
    school = with_nudge()
    nudge_key = school.of("mira")[-1].message.key
    (said,) = school.press("mira", "Not today")
    assert said.text == "All right, not today."
    assert said.message.replaces == nudge_key
    assert rows(school, Nudge)[0].state is NudgeState.DECLINED
    assert rows(school, Review)[0].state is ReviewState.EXPIRED
    assert not school.go_to(at(MONDAY, 23))


def test_in_an_hour_it_comes_again_once():
    school = with_nudge()
    verify_dialogue(school, "mira", [("[In an hour]", "I will ask at 19:00")])
    assert not school.go_to(at(MONDAY, 18, 55))
    (said,) = school.go_to(at(MONDAY, 19, 30))
    assert said.labels == ["Start", "In an hour", "Not today"]


def test_in_an_hour_is_refused_where_that_would_be_in_quiet_hours():
    school = with_nudge()
    school.go_to(at(MONDAY, 19, 20))
    (said,) = school.press("mira", "In an hour")
    assert "too late for today" in said.text
    assert said.labels == ["Start", "Not today"]
    assert said.message.replaces == said.message.key == f"nudge:{rows(school, Nudge)[0].id}"
    verify_dialogue(school, "mira", [("[Start]", ["Started: ", "Topic 0, question 1?"])])


def test_the_evening_before_a_quiz_says_so():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    topic = teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    add_quiz(school, group, at(MONDAY + DAY, 10), [topic], "Quiz 2")
    join(school, group, "mira")
    (said,) = school.go_to(at(MONDAY, 18, 5))
    assert "Tomorrow is Quiz 2; these help most for it." in said.text


@pytest.mark.parametrize(
    ("language", "kind", "says"),
    [
        ("en", "exam", "Tomorrow is the exam; "),
        ("en", "quiz", "Tomorrow is the quiz; "),
        ("de", "exam", "Morgen ist die Prüfung; "),
    ],
)
def test_the_evening_before_an_exam_without_a_name_does_not_call_it_a_quiz(language, kind, says):
    nudge: Any = SimpleNamespace(zone="UTC", lesson_days=[])
    facts: Any = SimpleNamespace(now=at(MONDAY, 18, zone="UTC"), words=words(language))
    tomorrow = QuizInfo(1, "", kind, at(MONDAY + DAY, 10, zone="UTC"), MONDAY + DAY, (1,))
    assert nudging._why_these(nudge, NudgeDue(1, facts.now, tomorrow), facts).plain.startswith(says)


# ---------------------------------------------------------------- choices


def test_a_tap_is_answered_in_the_same_message_with_reason_and_return():
    school = started(topics=2)
    question = school.of("mira")[-1]
    right = next(b for b in question.message.all_buttons if b.label == "10 cm")
    edit, following = school.press("mira", "10 cm")
    assert edit.message.replaces == edit.message.key == question.message.key
    topic = question.text.split(" · ")[1].split("\n")[0]
    assert edit.text.startswith(f"1 of 2 · {topic} — ✓ Right: {right.letter}, 10 cm\nBecause of {topic}.\n")
    assert "back" in edit.text or "again" in edit.text
    assert not edit.labels
    assert following.text.startswith("2 of 2 · Topic ")


def test_options_are_lettered_and_shuffled_and_no_button_tells_which_is_right():
    school = started()
    question = school.of("mira")[-1].message
    options = [b for b in question.all_buttons if b.letter]
    assert [b.letter for b in options] == ["A", "B", "C", "D"]
    assert sorted(b.label for b in options) == sorted(CHOICE.options)
    (review,) = rows(school, Review)
    assert [b.label for b in options] == [CHOICE.options[number] for number in review.option_order]
    assert [b.action for b in options] == [f"student:pick:{review.id}:{place}" for place in range(4)]


def test_different_students_see_options_in_different_orders():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    for user in "abcdef":
        join(school, group, user * 3)
    school.go_to(at(MONDAY, 18, 5))
    for user in "abcdef":
        school.press(user * 3, "Start")
    assert len({tuple(review.option_order) for review in rows(school, Review)}) > 1


@pytest.mark.parametrize("typed", ["{}", "{})", "{}.", "({})", "option {}"])
def test_a_letter_can_be_typed_in_any_way(typed):
    school = started()
    letter = school.button("mira", "10 cm").letter.lower()
    school.say("mira", typed.format(letter))
    (answer,) = rows(school, Answer)
    assert answer.verdict is Verdict.RIGHT
    assert answer.option == 0


def test_a_wrong_choice_is_said_plainly_with_the_right_one():
    school = started()
    wrong, right = school.button("mira", "8 cm").letter, school.button("mira", "10 cm").letter
    edit, end = school.press("mira", "8 cm")
    assert f"✗ Not this time: you chose {wrong}, 8 cm; it is {right}, 10 cm." in edit.text
    assert end.text.startswith("That is all for now: 0 of 1 right.")
    assert rows(school, Nudge)[0].state is NudgeState.DONE


def test_not_sure_is_an_answer_and_no_guess():
    school = started()
    edit, _ = school.press("mira", "Not sure")
    assert "It is" in edit.text
    assert "✗" not in edit.text
    (answer,) = rows(school, Answer)
    assert answer.verdict is Verdict.UNSURE


def test_words_that_fit_no_option_are_asked_again_and_count_nothing():
    school = started()
    (said,) = school.say("mira", "E")
    assert "letter from A to D" in said.text
    assert not rows(school, Answer)
    assert rows(school, Review)[0].state is ReviewState.OPEN


def test_later_puts_the_question_off_and_the_old_button_says_so():
    school = started()
    pick = school.button("mira", "10 cm").action
    verify_dialogue(school, "mira", [("[Later]", "Topic 0 — put off. I will ask at 19:00.")])
    (said,) = school.press_action("mira", pick)
    assert said.text == "This question was put off. Type next to have it now."
    order = rows(school, Review)[0].option_order
    (said,) = school.say("mira", "next")
    assert "Topic 0, question 1?" in said.text
    assert rows(school, Review)[0].option_order == order


# ---------------------------------------------------------------- numbers, texts, formulas


def test_a_number_with_its_unit_is_right_however_it_is_written():
    school = started(NUMBER)
    assert "type your answer with its unit" in school.of("mira")[-1].text
    edit, _ = school.say("mira", "2,7 g/cm^3")
    assert "✓" in edit.text


def test_a_number_without_unit_asks_for_the_unit_with_buttons():
    school = started(NUMBER)
    (said,) = school.say("mira", "2.7")
    assert "Which unit?" in said.text
    assert "g/cm³" in said.labels
    assert not rows(school, Answer)
    edit, _ = school.press("mira", "g/cm³")
    assert "✓ Right: 2.7 g/cm³" in edit.text
    assert rows(school, Answer)[0].verdict is Verdict.RIGHT


def test_a_key_is_read_once_from_the_question_to_the_end_of_the_nudge(monkeypatch: pytest.MonkeyPatch):
    # Shown, asked for its unit, answered and named in the verdict: five steps on one key.
    read: list[str] = []

    def counted(of: Callable[..., Any]) -> Callable[..., Any]:
        def reading(own: Recipe[Any], stored: Mapping[str, Any]) -> Any:
            read.append(own.kind)
            return of(own, stored)

        return reading

    for recipe in KINDS.values():
        monkeypatch.setattr(type(recipe), "read", counted(type(recipe).read))
    school = with_nudge(NUMBER, topics=2)
    keys._read.cache_clear()
    school.press("mira", "Start")
    school.say("mira", "2.7")
    edit, _ = school.press("mira", "g/cm³")
    assert "✓ Right: 2.7 g/cm³" in edit.text
    assert read == ["number"]


def test_the_missing_unit_can_be_typed():
    school = started(NUMBER)
    school.say("mira", "2.7")
    edit, _ = school.say("mira", "g/cm3")
    assert "✓" in edit.text


def test_a_wrong_number_is_shown_with_the_right_one():
    school = started(NUMBER)
    edit, _ = school.say("mira", "27 g/cm³")
    assert "you wrote 27 g/cm³; it is 2.7 g/cm³." in edit.text


def test_words_instead_of_a_number_are_asked_again_and_leave_no_trace():
    school = started(NUMBER)
    (said,) = school.say("mira", "about two and a bit")
    assert said.text.startswith("I could not read a number in that. Please write it in figures")
    assert "Nothing counted yet" in said.text
    assert not rows(school, Answer)


def test_a_typing_error_in_a_word_is_right_and_shown_as_it_is_spelled():
    school = started(TEXT)
    edit, _ = school.say("mira", "Photosinthesis")
    assert "✓ Right: photosynthesis" in edit.text


def test_a_formula_is_compared_by_value_and_chat_is_asked_again():
    school = started(FORMULA)
    (said,) = school.say("mira", "no idea about this one")
    assert "formula" in said.text
    edit, _ = school.say("mira", "E = m*v^2/2")
    assert "✓" in edit.text


def test_a_command_word_is_asked_about_at_an_open_text_and_works_with_a_slash():
    school = started(TEXT)
    (said,) = school.say("mira", "/help")
    assert said.text.startswith("You can type:")
    (said,) = school.say("mira", "/time")
    assert said.text.startswith("Your questions come at")
    school = started(TEXT)
    (said,) = school.say("mira", "time")
    assert said.text.startswith("Did you mean “time” as your answer")


@pytest.mark.parametrize(
    ("text", "begins"), [("help", "You can type:"), ("Why?", "You last met"), ("next", "Topic 0")]
)
def test_words_that_our_messages_name_are_no_wrong_answers(text: str, begins: str):
    school = started(TEXT)
    (said,) = school.say("mira", text)
    assert said.text.startswith(begins)
    assert rows(school, Answer) == []


def test_a_word_that_our_messages_name_may_be_the_right_answer():
    school = started(TextKey(("next",)))
    edit, _ = school.say("mira", "next")
    assert "✓" in edit.text


def test_a_command_word_works_while_a_number_is_open():
    school = started(NUMBER)
    (said,) = school.say("mira", "help")
    assert said.text.startswith("You can type:")
    edit, _ = school.say("mira", "2.7 g/cm³")
    assert "✓" in edit.text


def test_the_code_of_a_second_class_is_taken_while_a_number_is_open_and_the_number_still_waits():
    school = started(NUMBER)
    second = add_class(school, "9A Chemistry")
    (said,) = school.say("mira", second.code)
    assert "9A Chemistry" in said.text
    school.press("mira", "No thanks")
    edit, _ = school.say("mira", "2.7 g/cm³")
    assert "✓" in edit.text


@pytest.mark.parametrize(("key", "attempt"), [(TEXT, "C2H5N3C4S7"), (NUMBER, "2345678 kgs")])
def test_what_has_the_form_of_a_code_and_may_be_an_answer_is_one(key: Any, attempt: str):
    school = started(key)
    said = school.say("mira", attempt)
    assert not any("code" in one.text for one in said)


def test_after_a_setting_the_open_question_still_waits():
    school = started(NUMBER)
    school.say("mira", "time")
    school.say("mira", "17:00")
    edit, _ = school.say("mira", "2.7 g/cm³")
    assert "✓" in edit.text


# ---------------------------------------------------------------- replies


def sent_as(school: Stage, words: str, reference: str) -> None:
    """Note how the platform calls the latest message with these words, as the sender does."""

    def note(session: Any) -> None:
        asked = select(OutboxItem).order_by(col(OutboxItem.id).desc())
        item = next(one for one in session.exec(asked) if words in "".join(t for t, _ in one.body["text"]))
        item.message_ref = reference
        session.add(item)

    school.run(note)


def two_questions() -> Stage:
    """Return a stage on which the first of two questions is answered; its message is $1, the open one's $2."""
    school = started(topics=2)
    sent_as(school, "1 of 2", "$1")
    school.press("mira", "10 cm")
    sent_as(school, "2 of 2", "$2")
    return school


def test_a_reply_to_the_open_question_answers_it():
    school = two_questions()
    edit, _ = school.event("mira", TextSaid("10 cm", "$2"))
    assert "✓ Right" in edit.text
    assert len(rows(school, Answer)) == 2


@pytest.mark.parametrize("text", ["a", "8 cm", "thanks", "not sure", "later"])
def test_a_reply_to_another_question_is_no_answer_to_the_open_one(text: str):
    school = two_questions()
    (said,) = school.event("mira", TextSaid(text, "$1"))
    assert said.text == "This question was already answered."
    assert len(rows(school, Answer)) == 1
    assert len(school.say("mira", "10 cm")) == 2, "the open one still waits"


def test_why_as_a_reply_is_about_the_question_replied_to():
    school = two_questions()
    first, second = (rows(school, Review)[place].topic_id for place in (0, 1))
    names = {topic.id: topic.name for topic in rows(school, Topic)}
    (said,) = school.event("mira", TextSaid("why", "$1"))
    assert names[first] in said.text
    (said,) = school.say("mira", "why")
    assert names[second] in said.text


def test_why_as_a_reply_is_no_attempt_at_an_open_text():
    school = started(TEXT, topics=2)
    sent_as(school, "1 of 2", "$1")
    school.say("mira", "photosynthesis")
    (said,) = school.event("mira", TextSaid("why", "$1"))
    assert said.text.startswith("You last met Topic")
    assert len(rows(school, Answer)) == 1


def test_a_reply_to_a_message_that_is_no_question_is_plain_words():
    school = two_questions()
    sent_as(school, "Started", "$0")
    for reference in ("$0", "$unknown"):
        (said,) = school.event("mira", TextSaid("blah", reference))
        assert said.text == "Please answer with a letter from A to D. (Nothing counted yet.)"


# ---------------------------------------------------------------- once


def test_a_second_tap_on_an_answered_question_changes_nothing():
    school = started()
    pick = school.button("mira", "8 cm").action
    school.press("mira", "10 cm")
    (said,) = school.press_action("mira", pick)
    assert said.text == "This question was already answered."
    (answer,) = rows(school, Answer)
    assert answer.verdict is Verdict.RIGHT


def test_a_repeated_delivery_changes_nothing_and_says_nothing():
    school = started(NUMBER, topics=2)
    school.event("mira", TextSaid("2.7 g/cm³"), key="same")
    before = (len(rows(school, Answer)), len(school.heard))
    assert school.event("mira", TextSaid("2.7 g/cm³"), key="same") == []
    assert (len(rows(school, Answer)), len(school.heard)) == before


def test_somebody_elses_button_gets_one_line_and_no_effect():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    join(school, group, "mira")
    join(school, group, "jonas")
    school.go_to(at(MONDAY, 18, 5))
    for user in ("mira", "jonas"):
        school.press(user, "Start")
    for action in (school.button("mira", "10 cm").action, f"student:start:{rows(school, Nudge)[0].id}"):
        (said,) = school.press_action("jonas", action)
        assert said.text == "This button belongs to somebody else, so nothing happened."
    assert not rows(school, Answer)


FORGED = (
    "student:", "student:pick", "student:pick:x:y", "student:pick:1:99", "student:pick:-1:0", "student:unit:1:0",
    "student:start:999999", "student:pick:99999999999999999999:0", "student:homework:1:2", "student:homework:99:1:1",
    "student:zone:Atlantis", "student:time:5000", "student:pause:9999", "student:leave:77", "student:nonsense:1",
    "nonsense", "", "student:homework:1", "student:language:xx", "student:leaving:0", "student:pick:１:0",
)  # fmt: skip


def test_a_forged_button_is_answered_and_has_no_effect():
    school = started()
    for action in FORGED:
        said = school.press_action("mira", action)
        assert len(said) == 1, action
    assert not rows(school, Answer)
    assert rows(school, Review)[0].state is ReviewState.OPEN


# ---------------------------------------------------------------- more, why, progress


def test_next_asks_about_topics_that_gain_and_says_when_there_is_nothing():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    join(school, group, "mira")
    school.say("mira", "next")
    assert [said.text for said in school.work()] == [
        "There are no questions for your topics yet. I will write as soon as there are."
    ]
    teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    school.say("mira", "next")
    (said,) = school.work()
    assert "Density, question 1?" in said.text
    school.press("mira", "10 cm")
    school.say("mira", "next")
    assert [said.text for said in school.work()] == [
        "Nothing needs a check just now. I will write when something does."
    ]


def test_next_starts_todays_questions_early_and_they_do_not_come_again():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    join(school, group, "mira")
    school.go_to(at(MONDAY, 17, 50))
    (said,) = school.say("mira", "next")
    assert "Density, question 1?" in said.text
    school.press("mira", "10 cm")
    assert not school.go_to(at(MONDAY, 20))


def test_next_stops_at_ten_questions_a_day():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    for number in range(14):
        teach(school, group, f"Topic {number}", at(MONDAY - (10 + number) * DAY, 10))
    join(school, group, "mira")
    for _ in range(5):
        school.say("mira", "next")
        school.work()
        while school.of("mira")[-1].labels[-2:] == ["Not sure", "Later"]:
            school.press("mira", "Not sure")
    assert len(rows(school, Answer)) == 10
    assert school.of("mira")[-1].text == "That is ten questions today, which is enough. More tomorrow."


def test_why_explains_the_question_from_the_planners_numbers():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    topic = teach(school, group, "Density", at(MONDAY - 9 * DAY, 10))
    add_quiz(school, group, at(MONDAY + 11 * DAY, 10), [topic])
    join(school, group, "mira")
    school.go_to(at(MONDAY, 18, 5))
    school.press("mira", "Start")
    (said,) = school.say("mira", "why now?")
    reason = rows(school, Review)[0].reason

    def about(p: float) -> str:
        return f"{5 * round(min(max(p, 0.05), 0.95) * 20)}\u00a0%"

    assert said.text == (
        "You last met Density 9 days ago, and I have not asked you about it before. When I chose it, a right "
        f"answer was about {about(reason['now'])} likely ({about(reason['now_low'])[:-2]}–"
        f"{about(reason['now_high'])[:-2]}). One check lifts that for Fri 11 Dec "
        f"from about {about(reason['without'])} to about {about(reason['with_review'])}. "
        "No other topic gained as much."
    )
    assert reason["with_review"] > reason["without"]


def test_why_before_any_question_says_so():
    school = stage(at(MONDAY, 12))
    join(school, add_class(school), "mira")
    verify_dialogue(school, "mira", [("why?", "I have not asked you anything yet")])


def test_progress_shows_the_own_topics_as_text_and_as_a_picture():
    school = started(topics=3)
    school.press("mira", "10 cm")
    school.say("mira", "progress")
    (said,) = school.work()
    assert said.text.startswith("10B Physics: your topics")
    assert "It is too early for a figure" in said.text  # one answer is not enough
    assert "By Mon 28 Dec one review tonight helps most with" in said.text
    (picture,) = school.run(_attachments).values()
    assert picture.startswith(b"\x89PNG")


def test_progress_before_anything_was_taught_says_so():
    school = stage(at(MONDAY, 12))
    join(school, add_class(school), "mira")
    school.say("mira", "progress")
    (said,) = school.work()
    assert said.text == "Nothing has been taught in 10B Physics yet, so there is nothing to show."


# ---------------------------------------------------------------- settings


def joined() -> Stage:
    return _joined().thaw()


@cache
def _joined() -> Frozen:
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    join(school, group, "mira")
    school.go_to(at(MONDAY, 12, 5))
    return school.freeze()


def own(school: Stage) -> Any:
    return rows(school, Enrolment)[0]


def test_pausing_for_a_week_ends_what_is_planned_and_goes_on_by_itself():
    school = joined()
    verify_dialogue(school, "mira", [("pause", "For how long?"), ("[A week]", "Paused until Mon 7 Dec")])
    assert own(school).state is EnrolmentState.PAUSED
    assert not school.go_to(at(MONDAY + 6 * DAY, 23))
    said = school.go_to(at(MONDAY + 7 * DAY, 18, 15))
    assert [one.labels for one in said] == [["Start", "In an hour", "Not today"]]


@pytest.mark.parametrize(
    ("typed", "day"),
    [
        ("pause 2 weeks", 14),
        ("pause until 2026-12-10", 10),
        ("pause 10 Dec", 10),
        ("pause friday", 4),
        ("pause Dec 11", 11),
    ],
)
def test_a_pause_can_be_typed_with_its_end(typed, day):
    school = joined()
    school.say("mira", typed)
    assert own(school).paused_until == MONDAY + day * DAY


def test_a_pause_whose_end_can_be_two_days_asks_which():
    school = joined()
    (said,) = school.say("mira", "pause 12/1/2027")
    assert said.text.startswith("Which day do you mean?")
    assert said.labels == ["12 January 2027", "1 December 2027"]
    school.press("mira", "12 January 2027")
    assert own(school).paused_until == date(2027, 1, 12)


def test_a_pause_of_more_than_a_year_is_not_offered():
    school = joined()
    (said,) = school.say("mira", "pause 3/4/2029")
    assert "I could not read a day" in said.text
    assert own(school).paused_until is None


def test_a_pause_that_cannot_be_read_asks_again_and_then_until_resumed():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [
            ("pause", "For how long?"),
            ("when I feel like it", "I could not read a day"),
            ("pause", "For how long?"),
            ("[Until I type resume]", "Paused. Type resume"),
            ("next", "You are paused. Type resume"),
            ("resume", "Good, I go on."),
            ("resume", "You are not paused."),
        ],
    )
    assert own(school).state is EnrolmentState.ACTIVE


def test_a_new_time_moves_todays_nudge():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [("time", "Your questions come at 18:00"), ("[19:30]", "your questions come at 19:30")],
    )
    assert not school.go_to(at(MONDAY, 19, 25))
    assert len(school.go_to(at(MONDAY, 19, 35))) == 1


def test_quiet_hours_of_ones_own_are_kept_beside_those_of_the_class():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [
            ("quiet", "quiet from 20:00 to 07:30"),
            ("all day", "I could not read hours"),
            ("21:00-8", "nothing from 21:00 to 08:00"),
            ("quiet 17:00-07:00", "lies in the quiet hours, 17:00 to 07:00"),
            ("quiet off", "the quiet hours of your class hold"),
        ],
    )
    assert (own(school).quiet_from, own(school).quiet_until) == (None, None)


def test_a_zone_is_found_by_its_city():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [
            ("zone", "Your time zone is that of London"),
            ("Atlantis", "I know no time zone of “Atlantis”"),
            ("Lisbon", "I go by the clock of Lisbon"),
            ("zone Asia/Kolkata", "I go by the clock of Kolkata"),
        ],
    )
    assert own(school).zone == "Asia/Kolkata"


def test_the_nudge_comes_at_the_students_own_clock():
    school = joined()
    school.say("mira", "zone New York")
    school.go_to(at(MONDAY, 22, 55))
    assert school.of("mira")[-1].labels == []
    school.go_to(at(MONDAY, 23, 5))
    assert school.of("mira")[-1].labels == ["Start", "In an hour", "Not today"]


def test_the_language_can_be_chosen_among_those_there_are():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [
            ("language", "Which language?"),
            ("[English]", "Done"),
            ("language Klingon", "I speak English"),
        ],
    )
    assert rows(school, Person)[-1].language == "en"


# ---------------------------------------------------------------- homework


def with_homework(questions: bool = True) -> Stage:
    school = stage(at(MONDAY, 8))
    group = add_class(school)
    if questions:
        teach(school, group, "Density", at(MONDAY - 5 * DAY, 10))
    teach(school, group, "Moments", at(MONDAY, 10), [], homework="p. 12, 1-4")
    join(school, group, "mira")
    school.go_to(at(MONDAY, 18, 5))
    return school


def test_homework_is_asked_once_in_the_evening_with_the_nudge_and_takes_one_tap():
    school = with_homework()
    (said,) = [one for one in school.of("mira") if one.nudge_id]
    assert "Homework on Moments: is it done?" in said.text
    assert said.labels == ["Start", "In an hour", "Not today", "Homework done", "Not yet"]
    verify_dialogue(
        school,
        "mira",
        [("[Homework done]", "homework on Moments is done"), ("[Start]", ["Started: ", "Density"])],
    )
    (report,) = school.run(lambda s: list(s.exec(select(HomeworkReport))))
    assert report.done
    assert not report.by_teacher


def test_a_nudge_that_is_begun_still_asks_about_homework():
    school = with_homework()
    begun = school.press("mira", "Start")[0]
    assert begun.text == "Started: 1 quick self-check. Homework on Moments: is it done?"
    assert begun.labels == ["Homework done", "Not yet"]


def test_homework_alone_is_asked_without_questions():
    school = with_homework(questions=False)
    (said,) = [one for one in school.of("mira") if one.nudge_id]
    assert said.text == "Homework on Moments: is it done?"
    assert said.labels == ["Homework done", "Not yet"]


def test_the_teachers_word_on_homework_stands():
    school = with_homework(questions=False)
    student = own(school)
    (lesson,) = school.run(lambda s: timetable.lessons(s, student.class_id))
    school.run(
        lambda s: timetable.set_homework(s, student.class_id, lesson.id, student.id, False, school.now)
    )
    verify_dialogue(
        school, "mira", [("[Homework done]", "Your teacher has noted the homework on Moments already")]
    )
    (report,) = school.run(lambda s: list(s.exec(select(HomeworkReport))))
    assert not report.done


# ---------------------------------------------------------------- data, leaving, erasing


def test_data_gives_everything_as_a_text_and_as_json():
    school = started()
    school.press("mira", "10 cm")
    school.say("mira", "data")
    text, whole = school.work()
    assert "Everything stored about you" in text.text
    stored = school.run(_attachments)
    assert [name.rsplit(".")[-1] for name in stored] == ["txt", "json"]
    data = json.loads(next(data for name, data in stored.items() if name.endswith("json")))
    assert "Mira" in json.dumps(data)
    assert "Topic 0" in json.dumps(data)
    assert whole.message.text.plain == ""


def _attachments(session) -> dict[str, bytes]:
    from storage.tables import Blob, OutboxItem

    found = session.exec(
        select(OutboxItem).where(col(OutboxItem.blob).is_not(None)).order_by(col(OutboxItem.id))
    )
    return {row.blob_name: session.get_one(Blob, row.blob).data for row in found}


def test_erase_asks_first_and_then_leaves_nothing():
    school = started()
    school.press("mira", "10 cm")
    person = people_of(school, "mira")
    verify_dialogue(school, "mira", [("erase", "cannot be undone"), ("[Keep it]", "nothing changes")])
    verify_dialogue(school, "mira", [("erase", "cannot be undone"), ("[Erase everything]", "Erased.")])
    assert people_of(school, "mira") is None
    assert person not in [row.id for row in rows(school, Person)]
    assert not rows(school, Answer)
    assert not rows(school, Enrolment)
    verify_dialogue(school, "mira", [("next", "type join and the code")])


def people_of(school: Stage, user: str) -> int | None:
    contact = school.run(lambda s: people.find_contact(s, "terminal", user))
    return None if contact is None else contact.person_id


def test_an_old_erase_button_asks_again_instead_of_erasing():
    school = joined()
    school.say("mira", "erase")
    action = school.button("mira", "Erase everything").action
    school.say("mira", "help")
    (said,) = school.press_action("mira", action)
    assert "cannot be undone" in said.text
    assert rows(school, Contact)


def test_leaving_asks_first_and_stops_the_questions():
    school = joined()
    verify_dialogue(
        school,
        "mira",
        [
            ("leave", "Leave 10B Physics?"),
            ("[Stay]", "nothing changes"),
            ("leave", "Leave 10B Physics?"),
            ("[Leave 10B Physics]", "You have left 10B Physics"),
        ],
    )
    menu = school.of("mira")[-1].message.menu
    assert menu is not None
    assert {entry.command for entry in menu} == {"join", "language", "data", "move", "erase"}
    assert own(school).state is EnrolmentState.LEFT
    assert not school.go_to(at(MONDAY + 2 * DAY, 20))


def test_a_student_of_two_classes_is_asked_which_one_to_leave():
    school = joined()
    other = add_class(school, "9A Biology")
    join(school, other, "mira")
    (said,) = school.say("mira", "leave")
    assert said.labels == ["Leave 10B Physics", "Leave 9A Biology", "Stay"]
    school.press("mira", "Leave 9A Biology")
    school.press("mira", "Leave 9A Biology")
    assert [row.state for row in rows(school, Enrolment)] == [EnrolmentState.ACTIVE, EnrolmentState.LEFT]


def test_unknown_words_get_the_one_line_help():
    school = joined()
    verify_dialogue(school, "mira", [("what is up", "Type next for questions, help for the rest.")])


def test_a_file_from_a_student_is_answered():
    school = joined()
    (said,) = school.send_file("mira")
    assert "cannot use files" in said.text


def test_help_lists_every_command_of_a_student_and_none_of_a_teacher():
    from bot.talk.commands import COMMANDS

    school = joined()
    (said,) = school.say("mira", "help")
    listed = {line.split("  ")[0] for line in said.text.splitlines()[1:]}
    student = {c.word for c in COMMANDS if c.conversation in ("student", "account")} - {"help"}
    assert listed == student


def test_after_being_asked_whether_they_are_there_a_student_can_go_on():
    school = joined()
    school.run(lambda s: nudges.note_silence(s, enrolments.get(s, 1), school.now))
    verify_dialogue(school, "mira", [("resume", "Good, I go on."), ("resume", "You are not paused.")])


# ---------------------------------------------------------------- what is answered once


def last_lines(school: Stage, most: int) -> list[tuple[str, list[str]]]:
    """Return the last line of each of the last messages on mira's screen, with what can be pressed there."""
    return [(one.text.rsplit("\n", 1)[-1], one.labels) for one in school.screen("mira")[-most:]]


@pytest.mark.parametrize(
    ("word", "answer", "choice", "done"),
    [
        ("time", "[19:30]", "→ 19:30", "Done: your questions come at 19:30."),
        ("time", "17:15", "→ 17:15", "Done: your questions come at 17:15."),
        ("pause", "[A week]", "→ A week", "Paused until Mon 7 Dec"),
        ("pause", "10 days", "→ Thu 10 Dec", "Paused until Thu 10 Dec"),
        ("language", "[English]", "→ English", "Done: I write in English"),
        ("language", "english", "→ English", "Done: I write in English"),
        ("leave", "[Stay]", "→ Stay", "All right, nothing changes."),
        ("leave", "yes", "→ Leave 10B Physics", "You have left 10B Physics."),
    ],
)
def test_a_setting_that_was_chosen_shows_the_choice_and_can_be_pressed_no_more(word, answer, choice, done):
    school = with_nudge()
    school.say("mira", word)
    assert school.screen("mira")[-1].labels
    verify_dialogue(school, "mira", [(answer, done)])
    (asked, said) = last_lines(school, 2)
    assert (asked[1], said[1]) == ([], [])
    assert asked[0].startswith(choice)


def test_a_zone_of_several_is_chosen_once():
    school = with_nudge()
    school.say("mira", "zone west")  # of Brazil, of Australia
    (asked,) = [one for one in school.screen("mira") if one.labels and "Which one?" in one.text]
    school.press("mira", asked.labels[-1])
    assert last_lines(school, 2)[0] == (f"→ {asked.labels[-1]}", [])


def test_a_setting_that_cannot_be_can_still_be_pressed():
    school = with_nudge()
    school.say("mira", "time")
    verify_dialogue(
        school, "mira", [("half past", "I could not read a time"), ("22:00", "That did not work")]
    )
    school.press("mira", "19:30")
    assert "→ 19:30" in [line for line, _ in last_lines(school, 4)]


def test_asking_for_the_same_setting_again_leaves_one_place_to_press():
    school = with_nudge()
    school.say("mira", "time")
    school.say("mira", "time")
    first, second = last_lines(school, 2)
    assert (first[1], bool(second[1])) == ([], True)
    assert "→" not in first[0]


def test_keeping_everything_takes_the_place_of_the_question_whether_to_erase():
    school = with_nudge()
    school.say("mira", "erase")
    (said,) = school.press("mira", "Keep it")
    assert school.screen("mira")[-1] is said
    assert "This erases" not in "".join(one.text for one in school.screen("mira"))


def test_a_unit_that_was_asked_for_is_asked_once():
    school = started(NUMBER)
    school.say("mira", "2.7")
    school.press("mira", "g/cm³")
    again = next(one for one in school.screen("mira") if one.text.startswith("Which unit?"))
    assert (again.text.rsplit("\n", 1)[-1], again.labels) == ("→ g/cm³", [])


def test_a_question_that_was_asked_again_and_answered_leaves_nothing_to_press():
    school = started(NUMBER)
    school.say("mira", "about two and a bit")
    school.say("mira", "2.7 g/cm3")
    assert [one.labels for one in school.screen("mira") if one.text.startswith("I could not read")] == [[]]


def test_going_on_after_a_silence_takes_the_buttons_of_the_question_away():
    school = with_nudge()
    asked = school.go_to(at(MONDAY + 8 * DAY, 18))[-1]
    assert asked.labels == ["Keep going", "Pause until …", "Leave"], asked.text
    school.press("mira", "Keep going")
    assert ("→ Keep going", []) in last_lines(school, 3)


# ---------------------------------------------------------------- what would read badly


def test_a_question_that_is_put_off_says_so_where_it_stands_and_homework_can_still_be_told():
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    for number in range(2):
        teach(school, group, f"Topic {number}", at(MONDAY - (5 + number) * DAY, 10))
    teach(school, group, "Moments", at(MONDAY, 9), [], homework="p. 12")
    join(school, group, "mira")
    school.go_to(at(MONDAY, 18))
    school.press("mira", "Start")
    school.press("mira", "A")
    school.press("mira", "Later")
    begun, _, question = school.screen("mira")[-3:]
    assert begun.labels == ["Homework done", "Not yet"]
    assert question.text.endswith("put off. I will ask at 19:00.")
    assert question.labels == []


def test_a_question_that_cannot_be_put_off_today_stays_open_or_is_left():
    school = started(topics=2)
    school.now = at(MONDAY, 19, 30)
    (said,) = school.press("mira", "Later")
    assert (said.text, said.labels) == (
        "In an hour it would be too late for today. Now, or not today?",
        ["Not today"],
    )
    assert school.screen("mira")[-2].labels, "the question can still be answered"
    school.press("mira", "Not today")
    question, asked = school.screen("mira")[-2:]
    assert question.text.endswith("left for another day.")
    assert (question.labels, asked.labels) == ([], [])
    assert rows(school, Nudge)[0].state is NudgeState.DECLINED


@pytest.mark.parametrize(
    ("days_ago", "says"),
    [
        ((14, 7, 15), "They are from 2 weeks ago and from a week ago."),
        ((7, 7), "They are from a week ago."),
        ((7, 8, 20), "The first is from a week ago, the last from 3 weeks ago."),
    ],
)
def test_a_nudge_says_from_when_its_questions_are_without_saying_the_same_twice(days_ago, says):
    nudge: Any = SimpleNamespace(zone="UTC", lesson_days=[MONDAY - days * DAY for days in days_ago])
    facts: Any = SimpleNamespace(now=at(MONDAY, 18, zone="UTC"), words=words("en"))
    assert nudging._why_these(nudge, NudgeDue(1, facts.now), facts).plain == says


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("time 19:30", "Done: your questions come at 19:30."),
        ("quiet 19-7", "Done: nothing from 19:00 to 07:00"),
        ("quiet off", "Done: the quiet hours"),
        ("pause 10 days", "Paused until"),
        ("zone Lisbon", "Done: I go by the clock of Lisbon."),
        ("language german", "Fertig: Ab jetzt schreibe ich Deutsch."),
    ],
)
def test_a_setting_typed_with_its_value_is_no_wrong_answer(typed: str, says: str):
    school = started(TEXT)
    verify_dialogue(school, "mira", [(typed, says)])
    assert not rows(school, Answer)


@pytest.mark.parametrize(
    "typed", ["time flies", "quiet people", "pause it", "zone of silence", "language of bees"]
)
def test_words_that_begin_like_a_setting_are_an_attempt_at_an_open_text(typed: str):
    school = started(TEXT)
    verify_dialogue(school, "mira", [(typed, "Not this time: you wrote")])


def test_a_setting_may_be_the_right_answer():
    school = started(TextKey(("time 19:30",)))
    verify_dialogue(school, "mira", [("time 19:30", "✓ Right")])


def test_nothing_that_is_foreseen_is_said_to_be_certain():
    assert words("en").about(0.999) == "95\u00a0%"
    assert words("de").about(0.001) == "5\u00a0%"


@pytest.mark.parametrize(("typed", "place"), [("buenos aires", "Buenos Aires"), ("louisville", "Louisville")])
def test_one_place_with_two_names_in_the_zone_database_is_not_asked_about(typed: str, place: str):
    school = with_nudge()
    verify_dialogue(school, "mira", [(f"zone {typed}", f"I go by the clock of {place}.")])


def test_a_press_on_a_question_that_is_over_takes_its_buttons_away():
    school = started()
    question = school.of("mira")[-1].message
    school.go_to(at(MONDAY + DAY, 18, 20))  # the next nudge ended this one, more than minutes ago
    (said,) = school.press_action("mira", question.all_buttons[0].action)
    assert said.text == "Topic 0 — closed. Its topic comes back another day."
    assert not [one for one in school.screen("mira") if one.message.key == question.key and one.labels]


# ---------------------------------------------------------------- a command's word where a text is asked for


@pytest.mark.parametrize("typed", ["leave", "pause", "progress", "Move", "quiet", "erase.", "data", "Leave!"])
def test_f13_the_word_of_a_command_is_asked_about_and_never_graded(typed: str):
    school = started(TEXT)
    word = typed.strip(".!").lower()
    (said,) = school.say("mira", typed)
    assert said.text == f"Did you mean “{word}” as your answer, or the command? (Nothing counted yet.)"
    assert said.labels == ["My answer", f"The command {word}"]
    assert not rows(school, Answer)
    verify_dialogue(school, "mira", [("[My answer]", f"Not this time: you wrote {word};")])
    assert len(rows(school, Answer)) == 1


@pytest.mark.parametrize(
    ("word", "says"),
    [("leave", "Leave 10B Physics?"), ("pause", "For how long?"), ("move", "code"), ("erase", "rase")],
)
def test_f13_the_command_is_carried_out_when_it_was_meant(word: str, says: str):
    school = started(TEXT)
    verify_dialogue(school, "mira", [(word, "Did you mean"), (f"[The command {word}]", says)])
    assert not rows(school, Answer)


@pytest.mark.parametrize(
    ("typed", "commands"),
    [
        ("stop", ["pause", "leave"]),
        ("Stopp!", ["pause", "leave"]),
        ("löschen", ["erase"]),
        ("Fortschritt", ["progress"]),
    ],
)
def test_f13_words_that_are_typed_for_commands_are_asked_about_too(typed: str, commands: list[str]):
    school = started(TEXT)
    (said,) = school.say("mira", typed)
    assert said.labels == ["My answer", *(f"The command {word}" for word in commands)]
    assert not rows(school, Answer)


def test_f13_the_right_answer_is_graded_also_where_it_is_a_command():
    school = started(TextKey(("pause",)))
    verify_dialogue(school, "mira", [("pause", "✓ Right")])


def test_f13_a_formula_is_asked_about_too_and_another_answer_counts():
    school = started(FormulaKey(("F = m a",)))
    verify_dialogue(school, "mira", [("leave", "Did you mean “leave”"), ("m a", "✓ Right")])


def test_f13_a_press_that_comes_late_changes_nothing():
    school = started(TEXT, CHOICE)
    (said,) = school.say("mira", "leave")
    mine = next(one.action for one in said.message.all_buttons if one.label == "My answer")
    school.press_action("mira", mine)
    before = len(rows(school, Answer))
    school.press_action("mira", mine)
    assert len(rows(school, Answer)) == before
    school.press_action("mira", "student:command:1:nonsense")
    assert len(rows(school, Answer)) == before


def test_f15_an_answer_to_another_question_of_the_topic_is_wrong():
    # No list of words has either; the topic has both.
    school = started(TextKey(("quarkonium",)), TextKey(("quarkonim",)))
    key = rows(school, Review)[0].question_id
    other = "quarkonim" if key == 1 else "quarkonium"
    verify_dialogue(school, "mira", [(other, "Not this time")])
