"""The nudge: one message with what waits, and the few things that can be said to it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from bot.chat.port import Button, Message
from bot.talk.core import Outgoing, State, Step, reply
from bot.talk.facts import Facts
from bot.talk.student.answering import without_answer
from bot.talk.student.common import Rows, active, button, menu_of, number, rest, say, step
from bot.talk.student.effects import (
    AskMore,
    Decline,
    NudgeDue,
    PutOff,
    PutOffUntil,
    ReportHomework,
    SilenceNoticed,
    Start,
)
from bot.talk.student_facts import AskedQuestion, HomeworkFacts, NudgeFacts
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_day

SECONDS_A_QUESTION = 40
"""For "about 2 min": a short question is read, answered and its explanation read. Chosen."""


def on_due(state: State, event: NudgeDue, facts: Facts) -> Step:
    """Send the nudge."""
    nudge = facts.learning.nudge
    if nudge is None:
        return Step(rest(state, facts))
    message = _message(nudge, event, facts)
    return Step(rest(state, facts), (), (Outgoing(message, not_after=event.not_after, nudge_id=nudge.id),))


def key_of(nudge_id: int) -> str:
    """Return our name for the message of a nudge."""
    return f"nudge:{nudge_id}"


def _message(nudge: NudgeFacts, due: NudgeDue, facts: Facts) -> Message:
    buttons = [row for row in (_start_row(nudge, facts), *_homework_rows(nudge, facts)) if row]
    return Message(_text(nudge, due, facts), tuple(buttons), key=key_of(nudge.id), urgent=False)


def _text(nudge: NudgeFacts, due: NudgeDue, facts: Facts) -> Rich:
    parts = []
    if len(facts.students) > 1:
        parts.append(facts.words.say("student.nudge.class", name=nudge.class_name))
    if nudge.left:
        minutes = max(round(nudge.left * SECONDS_A_QUESTION / 60), 1)
        parts.append(facts.words.say("student.nudge", n=nudge.left, minutes=minutes))
        parts.append(_why_these(nudge, due, facts))
    parts += [facts.words.say("student.homework", topic=one.topic) for one in nudge.homework]
    text = Rich()
    for part in parts:
        text = text + (Rich.of(" ") if text.spans and part.spans else Rich()) + part
    return text


def _why_these(nudge: NudgeFacts, due: NudgeDue, facts: Facts) -> Rich:
    if due.quiz is not None:
        key = "student.nudge.eve.of" if due.quiz_class else "student.nudge.eve"
        quiz = due.quiz.name or facts.words.text(f"student.the_{due.quiz.kind}")
        return facts.words.say(key, quiz=quiz, name=due.quiz_class)
    today = local_day(facts.now, nudge.zone)
    days = [_age(day, today, facts) for day in nudge.lesson_days]
    if not days:
        return Rich()
    if len(days) == 1:
        return facts.words.say("student.nudge.one_age", first=days[0])
    different = tuple(dict.fromkeys(days))
    if len(different) == 1:
        return facts.words.say("student.nudge.same_age", first=days[0])
    if days[0] == days[-1]:  # "from the first to the last" would say nothing
        return facts.words.say("student.nudge.two_ages", first=different[0], last=different[-1])
    return facts.words.say("student.nudge.ages", first=days[0], last=days[-1])


def _age(day: date, today: date, facts: Facts) -> str:
    ago = (today - day).days
    if ago <= 1:
        return facts.words.text("student.age.today" if ago <= 0 else "student.age.yesterday")
    if ago < 7:
        return facts.words.text("student.age.weekday", weekday=facts.words.weekday(day))
    return facts.words.text("student.age.weeks", n=round(ago / 7))


def _start_row(nudge: NudgeFacts, facts: Facts) -> tuple[Button, ...]:
    if not nudge.left:
        return ()
    return (
        button(facts, "student.button.start", f"student:start:{nudge.id}", "go"),
        button(facts, "student.button.hour", f"student:hour:{nudge.id}", "later"),
        button(facts, "student.button.not_today", f"student:decline:{nudge.id}"),
    )


def _homework_rows(nudge: NudgeFacts, facts: Facts) -> list[tuple[Button, ...]]:
    several = len(nudge.homework) > 1
    return [_homework_row(nudge.id, one, facts, several) for one in nudge.homework]


def _homework_row(nudge_id: int, one: HomeworkFacts, facts: Facts, several: bool) -> tuple[Button, ...]:
    suffix, action = ".of" if several else "", f"student:homework:{one.lesson_id}"
    return tuple(
        button(facts, f"student.button.{word}{suffix}", f"{action}:{flag}:{nudge_id}", topic=one.topic)
        for word, flag in (("homework_done", 1), ("homework_open", 0))
    )


# ---------------------------------------------------------------- what is said to it


def on_start(state: State, parts: list[str], facts: Facts) -> Step:
    """Show the first question, and take the nudge's buttons away: they have done their work."""
    nudge_id = _named(parts, facts)
    if nudge_id is None:
        return step(state, facts, say(facts, "not_yours"))
    nudge = facts.learning.nudge
    begins = nudge is not None and nudge.state == "sent" and nudge.left > 0
    said = [_begun(nudge, facts)] if nudge is not None and begins else []
    return step(state, facts, *said, effects=[Start(nudge_id)])


def _begun(nudge: NudgeFacts, facts: Facts) -> Message:
    """Return what a nudge says once it is begun: no Start any more, but what is still asked about homework."""
    return _instead(nudge, facts.words.say("student.begun", n=nudge.left), (), facts)


def _instead(nudge: NudgeFacts, text: Rich, buttons: Rows, facts: Facts) -> Message:
    """Return what takes the place of a nudge; what it asks about homework stays."""
    for one in nudge.homework:
        text = text + Rich.of(" ") + facts.words.say("student.homework", topic=one.topic)
    key = key_of(nudge.id)
    return Message(text, (*buttons, *_homework_rows(nudge, facts)), key=key, replaces=key)


def on_hour(state: State, parts: list[str], facts: Facts) -> Step:
    """Put the nudge off."""
    nudge_id = _named(parts, facts)
    if nudge_id is None:
        return step(state, facts, say(facts, "not_yours"))
    return step(state, facts, effects=[PutOff(nudge_id)])


def on_decline(state: State, parts: list[str], facts: Facts) -> Step:
    """Leave it for today."""
    nudge_id = _named(parts, facts)
    if nudge_id is None:
        return step(state, facts, say(facts, "not_yours"))
    nudge = facts.learning.nudge
    if nudge is None or nudge.state not in ("planned", "sent", "started"):
        return step(state, facts, say(facts, "student.nothing.over"))
    said = [say(facts, "student.declined", replaces=key_of(nudge_id))]
    asked = facts.learning.open
    if asked is not None and asked.nudge_id == nudge_id:
        said.append(without_answer(asked, "student.question.left", facts))
    return Step(rest(state, facts), (Decline(nudge_id),), reply(*said))


def on_put_off(state: State, event: PutOffUntil, facts: Facts) -> Step:
    """Say when it comes again."""
    nudge = facts.learning.nudge
    if nudge is None:
        return step(state, facts, say(facts, "not_yours"))
    asked = facts.learning.named
    if event.at is None:
        return step(state, facts, _no_later(nudge, asked, facts))
    at = facts.words.time(event.at, nudge.zone)
    if asked is not None:  # that is where the speaker looks
        return step(state, facts, without_answer(asked, "student.question.put_off", facts, at=at))
    return step(state, facts, say(facts, "student.put_off", at=at, replaces=key_of(event.nudge_id)))


def _no_later(nudge: NudgeFacts, asked: AskedQuestion | None, facts: Facts) -> Message:
    """Say that an hour later would be too late; an open question stays open."""
    start = button(facts, "student.button.start", f"student:start:{nudge.id}", "go")
    not_today = button(facts, "student.button.not_today", f"student:decline:{nudge.id}")
    if asked is not None:
        return menu_of(facts, f"again:{asked.review_id}", "student.no_later", ((not_today,),))
    return _instead(nudge, facts.words.say("student.no_later"), ((start, not_today),), facts)


def on_homework(state: State, parts: list[str], facts: Facts) -> Step:
    """Take the student's word on homework: ``student:homework:LESSON:1``."""
    lesson_id = number(parts[0]) if parts else None
    if lesson_id is None or len(parts) < 2 or parts[1] not in ("0", "1"):
        return step(state, facts, say(facts, "not_yours"))
    return step(state, facts, effects=[ReportHomework(lesson_id, parts[1] == "1")])


def on_next(state: State, rest_of: str, facts: Facts) -> Step:
    """Ask more now."""
    del rest_of
    return step(state, facts, effects=[AskMore()])


def _named(parts: list[str], facts: Facts) -> int | None:
    """Return the nudge that a button names, if it is the speaker's own."""
    nudge, named = facts.learning.nudge, number(parts[0]) if parts else None
    return named if nudge is not None and nudge.id == named else None


# ---------------------------------------------------------------- silence


def _names(facts: Facts) -> str:
    """Return the names of the classes in which the speaker is asked."""
    return ", ".join(one.school_class.name for one in active(facts) or facts.students)


def on_silence(state: State, event: SilenceNoticed, facts: Facts) -> Step:
    """Ask once whether somebody is still there."""
    student = next((one for one in facts.students if one.id == event.enrolment_id), None)
    if student is None:
        return Step(rest(state, facts))
    buttons = (
        (
            button(facts, "student.button.keep_going", "student:resume"),
            button(facts, "student.button.pause", "student:pausing"),
            button(facts, "student.button.leave", f"student:leaving:{student.id}"),
        ),
    )
    message = menu_of(facts, "silence", "student.still_there", buttons, name=_names(facts))
    quiet = replace(message, urgent=False)
    return Step(rest(state, facts), (), (Outgoing(quiet, not_after=event.not_after),))
