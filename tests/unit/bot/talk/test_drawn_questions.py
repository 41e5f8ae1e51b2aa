"""Questions with drawn values in the student's conversation: asked, graded, explained, and with others next time."""

from __future__ import annotations

from datetime import timedelta
from functools import cache
from typing import Any

import pytest
from sqlmodel import col, select

from bot.bank import catalogue
from bot.grading.drawn import Language, Template, Wrong, ask, key_to_show, template_to_dict
from bot.grading.keys import chance_of, to_dict
from storage.school import timetable
from storage.tables import Answer, Question, Review, Verdict
from tests.dialogues import MONDAY, Frozen, Stage, add_class, at, join, stage, teach

DAY = timedelta(days=1)
SPEED = Template(
    "number", "A cyclist covers {s} m in {t} s. How fast is she?", "s = 60..240 step 60; t in 4, 5, 6", "s/t",
    (Wrong("s·t", "{wrong} is distance times time."),), unit="m/s", steps=("{s} m : {t} s = {answer}",),
)  # fmt: skip
SPEED_CHOICE = Template(
    "choice", "{s} m in {t} s. How fast?", "s = 60..240 step 60; t in 4, 5, 6", "s/t",
    (Wrong("s·t", "{wrong} is distance times time."), Wrong("t/s", "Distance by time, not time by distance.")),
    unit="m/s",
)  # fmt: skip


def rows(school: Stage, table: Any) -> Any:
    return school.run(lambda session: list(session.exec(select(table).order_by(col(table.id)))))


def add_template(school: Stage, topic_id: int, template: Template) -> None:
    def store(session) -> None:
        key = key_to_show(template)
        question = Question(
            topic_id=topic_id, kind=template.kind, prompt=template.text, answer=to_dict(key), chance=chance_of(key),
            template=template_to_dict(template), created_at=school.now,
        )  # fmt: skip
        session.add(question)

    school.run(store)


def started(template: Template, *users: str) -> Stage:
    """Return a stage on which everybody sees a question of the template."""
    return _started(template, users or ("mira",)).thaw()


@cache
def _started(template: Template, users: tuple[str, ...]) -> Frozen:
    school = stage(at(MONDAY, 12))
    group = add_class(school)
    topic = teach(school, group, "Speed", at(MONDAY - 5 * DAY, 10), [])
    add_template(school, topic, template)
    for user in users:
        join(school, group, user)
    school.go_to(at(MONDAY, 17, 50))
    school.go_to(at(MONDAY, 18))
    for user in users:
        school.press(user, "Start")
    return school.freeze()


def values_of(review: Review) -> tuple[float, float]:
    assert review.drawn is not None
    drawn = review.drawn["values"]
    return float(drawn["s"]), float(drawn["t"])


def test_the_question_is_asked_and_graded_with_its_drawn_values():
    school = started(SPEED)
    (review,) = rows(school, Review)
    s, t = values_of(review)
    assert f"A cyclist covers {s:g} m in {t:g} s. How fast is she?" in school.of("mira")[-1].text
    said = school.say("mira", f"{s / t:g} m/s")[0].text
    assert "✓" in said
    assert "Step by step" not in said
    assert rows(school, Answer)[0].verdict is Verdict.RIGHT


def test_a_typical_error_is_named_and_worked_out_with_the_drawn_values():
    school = started(SPEED)
    s, t = values_of(rows(school, Review)[0])
    verdict = school.say("mira", f"{s * t:g}")[0]
    assert f"\n{s * t:g} m/s is distance times time.\n" in verdict.text
    assert f"Step by step:\n{s:g} m : {t:g} s = {s / t:g} m/s" in verdict.text
    (folded,) = [span.text for span in verdict.message.text.spans if span.aside]
    assert folded.startswith("Step by step:")


def test_not_sure_shows_the_worked_solution_and_names_no_error():
    school = started(SPEED)
    said = school.press("mira", "Not sure")[0].text
    assert "Step by step:" in said
    assert "times time" not in said


def test_a_wrong_option_is_explained():
    school = started(SPEED_CHOICE)
    s, t = values_of(rows(school, Review)[0])
    label = next(label for label in school.of("mira")[-1].labels if label.endswith(f"{s * t:g} m/s"))
    assert f"\n{s * t:g} m/s is distance times time." in school.press("mira", label)[0].text
    answer = rows(school, Answer)[0]
    assert (answer.verdict, answer.option) == (Verdict.WRONG, 1)


def test_students_get_values_of_their_own_and_the_same_after_a_restart():
    school = started(SPEED, "mira", "jonas", "elif", "noor")
    first = [values_of(review) for review in rows(school, Review)]
    assert len(set(first)) > 1
    again = started(SPEED, "mira", "jonas", "elif", "noor")
    assert [values_of(review) for review in rows(again, Review)] == first


def test_a_later_asking_and_a_changed_question_leave_what_is_open_as_it_was():
    school = started(SPEED)
    before = school.of("mira")[-1].text
    school.run(lambda session: _reword(session))
    assert school.say("mira", "next")[-1].text == before
    s, t = values_of(rows(school, Review)[0])
    assert "✓" in school.say("mira", f"{s / t:g} m/s")[0].text


def _reword(session) -> None:
    question = session.exec(select(Question)).one()
    question.template = {**question.template, "answer": "s+t", "text": "Another text"}
    session.add(question)


def test_a_miss_is_followed_by_the_same_task_with_other_values():
    school = started(SPEED)
    topic = school.run(lambda session: timetable.topic_of(session, 1, 1)).id
    add_template(school, topic, SPEED_CHOICE)
    school.say("mira", "0 m/s")
    for day in range(1, 15):
        school.go_to(at(MONDAY + day * DAY, 17, 50))
        school.go_to(at(MONDAY + day * DAY, 18))
        if "Start" in school.of("mira")[-1].labels:
            break
    school.press("mira", "Start")
    first, second = rows(school, Review)[:2]
    assert second.question_id == first.question_id
    assert second.drawn["values"] != first.drawn["values"]


def test_a_damaged_template_is_passed_over():
    school = started(SPEED)
    topic = school.run(lambda session: timetable.topic_of(session, 1, 1)).id
    school.run(lambda session: _damage(session))
    school.say("mira", "0 m/s")
    add_template(school, topic, SPEED_CHOICE)
    school.say("mira", "next")
    assert all(review.question_id != 1 or review.drawn for review in rows(school, Review))


def _damage(session) -> None:
    question = session.exec(select(Question)).one()
    question.template = {"kind": "number"}
    session.add(question)


@pytest.mark.parametrize("language", ["en", "de"])
def test_twelve_askings_of_every_question_of_the_bank_are_never_the_same(language: Language):
    for entry in catalogue().entries.values():
        stored = template_to_dict(entry.templates[language])
        before: list[dict[str, Any]] = []
        for time in range(12):
            before.append(ask(stored, f"7:3:{time}", before))
        met = {tuple(sorted(one["values"].items())) for one in before}
        assert len(met) == min(12, stored["variety"]), entry.id
