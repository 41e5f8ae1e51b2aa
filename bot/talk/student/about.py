"""What a student can find out: why, progress; leaving; help."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from bot.chat.port import Message
from bot.talk.core import Outgoing, State, Step, answered, reply
from bot.talk.facts import Facts
from bot.talk.help import help_text, menu, own_words
from bot.talk.student.common import button, menu_of, number, rest, say, stay, step
from bot.talk.student.effects import Leave, NotYours, Progress, ShowProgress, Working
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_day

LEAVING = "student.leaving"


# ---------------------------------------------------------------- why


def on_why(state: State, text: str, facts: Facts) -> Step:
    """Explain the question asked last from the planner's own numbers."""
    del text
    asked = facts.learning.replied or facts.learning.open or facts.learning.last
    if asked is None:
        return step(state, facts, say(facts, "student.why.nothing"))
    reason = asked.reason
    if "gain" not in reason:
        return step(state, facts, say(facts, "student.why.unknown", topic=asked.topic))
    lines = [_history(asked.topic, reason, facts), _now(reason, facts), _effect(reason, asked.zone, facts)]
    if reason.get("rank") == 0:
        lines.append(facts.words.say("student.why.best"))
    text_of = Rich()
    for line in lines:
        text_of = text_of + (Rich.of(" ") if text_of.spans else Rich()) + line
    return step(state, facts, Message(text_of))


def _history(topic: str, reason: Any, facts: Facts) -> Rich:
    days, right, asked = round(reason["days_since"]), reason["times_right"], reason["times_asked"]
    met = facts.words.text("student.why.days", n=days) if days > 1 else facts.words.text("student.why.recent")
    if asked == 0:
        return facts.words.say("student.why.new", topic=topic, met=met)
    return facts.words.say("student.why.met", topic=topic, met=met, right=right, n=asked)


def _now(reason: Any, facts: Facts) -> Rich:
    low, high = (facts.words.about(reason[name]).removesuffix("\u00a0%") for name in ("now_low", "now_high"))
    return facts.words.say("student.why.now", now=facts.words.about(reason["now"]), low=low, high=high)


def _effect(reason: Any, zone: str, facts: Facts) -> Rich:
    without, lifted = facts.words.about(reason["without"]), facts.words.about(reason["with_review"])
    if reason.get("target"):
        day = facts.words.day(local_day(datetime.fromisoformat(reason["target"]), zone))
        return facts.words.say("student.why.quiz", day=day, without=without, lifted=lifted)
    return facts.words.say("student.why.long", without=without, lifted=lifted)


# ---------------------------------------------------------------- progress


def on_progress(state: State, text: str, facts: Facts) -> Step:
    """Show the speaker's own predicted retention."""
    del text
    return step(state, facts, effects=[ShowProgress()])


def on_progress_ready(state: State, event: Progress, facts: Facts) -> Step:
    """Say it; the picture says the same."""
    if event.text is None:
        return step(state, facts, say(facts, "student.progress.nothing", name=event.class_name))
    return step(state, facts, Message(event.text, attachment=event.picture))


# ---------------------------------------------------------------- leave


def on_leave(state: State, text: str, facts: Facts) -> Step:
    """Ask which class, or whether really."""
    del text
    if len(facts.students) == 1:
        return leaving_button(state, [str(facts.students[0].id)], facts)
    row = tuple(
        button(facts, "student.button.leave_class", f"student:leaving:{one.id}", name=one.school_class.name)
        for one in facts.students
    )
    keep = (button(facts, "student.button.stay", "student:keep", "no"),)
    return stay(State(LEAVING), menu_of(facts, "leave", "student.leave.which", (row, keep)))


def leaving_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Ask before leaving a class: ``student:leaving:ENROLMENT``."""
    student = _own(parts, facts)
    if student is None:
        return step(state, facts, say(facts, "not_yours"))
    name = student.school_class.name
    row = (
        button(facts, "student.button.leave_class", f"student:leave:{student.id}", "yes", name=name),
        button(facts, "student.button.stay", "student:keep", "no"),
    )
    return stay(State(LEAVING), menu_of(facts, "leave", "student.leave", (row,), name=name))


def leave_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Leave a class: ``student:leave:ENROLMENT``."""
    student = _own(parts, facts)
    if student is None or state.name != LEAVING:
        return answered(step(state, facts, say(facts, "not_yours")), "leave")
    message = say(facts, "student.left", name=student.school_class.name)
    afterwards = replace(facts, students=tuple(one for one in facts.students if one.id != student.id))
    return Step(State(), (Leave(student.id),), reply(replace(message, menu=menu(afterwards))))


def _own(parts: list[str], facts: Facts) -> Any:
    wanted = number(parts[0]) if parts else None
    return next((one for one in facts.students if one.id == wanted), None)


def on_keep(state: State, parts: list[str], facts: Facts) -> Step:
    """Change nothing."""
    del parts
    return step(state, facts, say(facts, "account.kept"))


# ---------------------------------------------------------------- help and the rest


def on_help(state: State, text: str, facts: Facts) -> Step:
    """List the commands of the speaker's role."""
    del text
    return step(state, facts, Message(help_text(facts, "student") + own_words(facts), menu=menu(facts)))


def on_working(state: State, event: Working, facts: Facts) -> Step:
    """Say nothing: the answer follows within seconds, and one message is better than two."""
    del event
    return Step(rest(state, facts))


def on_not_yours(state: State, event: NotYours, facts: Facts) -> Step:
    """Answer a button of somebody else."""
    del event
    return Step(rest(state, facts), (), (Outgoing(say(facts, "not_yours")),))
