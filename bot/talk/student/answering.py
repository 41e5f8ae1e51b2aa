"""Questions one by one: shown, answered, graded, and what comes next.

An answer is graded here, by pure functions. Readable answers become the effect `TakeAnswer`, whose result
brings the verdict into the question's own message and opens the next question. An unreadable one is asked
again and leaves no trace.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from bot.chat.port import Button, Message
from bot.grading.drawn import BadTemplate, Feedback, feedback_from_dict
from bot.grading.grade import Detail, GradingResult, grade, grade_option
from bot.grading.keys import shown
from bot.grading.kinds import KINDS
from bot.talk.core import Outgoing, State, Step, answered, once
from bot.talk.facts import Facts
from bot.talk.student.common import answering, button, number, rest, say, stay, step
from bot.talk.student.effects import AnswerTaken, NothingLeft, PutOff, QuestionShown, TakeAnswer
from bot.talk.student_facts import AskedQuestion, QuizAhead, ShownOption
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_day

UNREADABLE = {
    Detail.EMPTY: "student.unreadable.empty",
    Detail.TOO_LONG: "student.unreadable.long",
    Detail.NOT_AN_OPTION: "student.unreadable.option",
    Detail.AMBIGUOUS_OPTION: "student.unreadable.options",
    Detail.NOT_A_NUMBER: "student.unreadable.number",
    Detail.UNKNOWN_UNIT: "student.unreadable.unit",
    Detail.UNIT_MISSING: "student.unit_missing",
    Detail.NOT_A_FORMULA: "student.unreadable.formula",
    Detail.OTHER_SUBJECT: "student.unreadable.subject",
}


def key_of(asked: AskedQuestion) -> str:
    """Return our name for the message of a question."""
    return f"review:{asked.review_id}"


def _key_again(asked: AskedQuestion) -> str:
    """Return our name for a message that asks for the answer again."""
    return once("again", asked.review_id)


# ---------------------------------------------------------------- showing


def question(asked: AskedQuestion, facts: Facts) -> Message:
    """Return a question as it is asked."""
    text = facts.words.say("student.question", head=_head(asked, facts), hint=_hint(asked, facts))
    text += Rich.of("\n" + asked.prompt)
    return Message(text, _question_buttons(asked, facts), asked.picture, key=key_of(asked))


def _hint(asked: AskedQuestion, facts: Facts) -> Rich:
    """Return how to answer; buttons need no hint."""
    name = KINDS[asked.kind].hint(asked.key)
    return facts.words.say(f"student.hint.{name}") if name else Rich()


def _head(asked: AskedQuestion, facts: Facts) -> Rich:
    key = "student.head.class" if asked.class_name else "student.head"
    if asked.of == 1:
        return facts.words.say(f"{key}.one", topic=asked.topic, name=asked.class_name)
    return facts.words.say(
        key, position=asked.position, of=asked.of, topic=asked.topic, name=asked.class_name
    )


def _question_buttons(asked: AskedQuestion, facts: Facts) -> tuple[tuple[Button, ...], ...]:
    options = tuple(
        Button(
            option.text, f"student:pick:{asked.review_id}:{place}", (option.letter.lower(),), option.letter
        )
        for place, option in enumerate(asked.options)
    )
    rest_of = (
        button(facts, "student.button.unsure", f"student:unsure:{asked.review_id}", "unsure"),
        button(facts, "student.button.later", f"student:later:{asked.review_id}", "later"),
    )
    return (options, rest_of) if options else (rest_of,)


def on_shown(state: State, event: QuestionShown, facts: Facts) -> Step:
    """Show the question that is open now."""
    asked = facts.learning.open
    if asked is None:
        return step(state, facts, say(facts, "student.closed"))
    return Step(rest(state, facts), (), (Outgoing(question(asked, facts)),))


# ---------------------------------------------------------------- answering


def on_pick(state: State, parts: list[str], facts: Facts) -> Step:
    """Take a tapped option: ``student:pick:REVIEW:PLACE``."""
    asked, place = _open(parts, facts), number(parts[1]) if len(parts) > 1 else None
    if asked is None:
        return not_open(state, facts)
    if place is None or place >= len(asked.options):
        return not_open(state, facts)
    return _take(state, asked, grade_option(asked.key, asked.options[place].number), facts)


def on_unsure(state: State, parts: list[str], facts: Facts) -> Step:
    """Take "not sure": an honest answer, and no guess."""
    asked = _open(parts, facts)
    if asked is None:
        return not_open(state, facts)
    return step(state, facts, effects=[TakeAnswer(asked.review_id, "unsure", "")])


def on_later(state: State, parts: list[str], facts: Facts) -> Step:
    """Put off the question and what is left of its nudge."""
    asked = _open(parts, facts)
    if asked is None:
        return not_open(state, facts)
    return step(state, facts, effects=[PutOff(asked.nudge_id, asked.review_id)])


def on_unit(state: State, parts: list[str], facts: Facts) -> Step:
    """Take the unit that was missing: ``student:unit:REVIEW:PLACE`` in the list that was offered."""
    asked, place = _open(parts, facts), number(parts[1]) if len(parts) > 1 else None
    units = list(state.data.get("units", ()))
    if asked is None or place is None or place >= len(units) or not state.data.get("number"):
        return not_open(state, facts)
    return attempt(state, f"{state.data['number']} {units[place]}", facts)


def attempt(state: State, text: str, facts: Facts) -> Step:
    """Take typed words as an attempt at the open question, or at the one that was closed while they were typed."""
    asked = waiting(facts)
    if asked is None:
        return not_open(state, facts)
    verdict = _graded(asked, text, facts)
    if not verdict.readable and state.data.get("number") and state.data.get("review") == asked.review_id:
        with_unit = _graded(asked, f"{state.data['number']} {text}", facts)
        verdict = with_unit if with_unit.readable else verdict
    if verdict.readable:
        return _take(state, asked, verdict, facts, text)
    return _ask_again(state, asked, verdict, facts)


def is_right(text: str, facts: Facts) -> bool:
    """Whether a text would be the right answer to the open question."""
    asked = waiting(facts)
    return asked is not None and _graded(asked, text, facts).right


def _graded(asked: AskedQuestion, text: str, facts: Facts) -> GradingResult:
    order = tuple(option.number for option in asked.options)
    others = facts.learning.others(asked) if KINDS[asked.kind].needs_others else ()
    return grade(asked.key, text, order=order, question=asked.prompt, others=others)


# ---------------------------------------------------------------- a word that may be a command

COMMAND = "command"
"""The button "the command": the router takes it for the command typed with its slash."""


def ask_whether_meant(state: State, text: str, commands: tuple[str, ...], facts: Facts) -> Step:
    """Ask whether the word of a command is an answer; it is never graded unasked."""
    asked = facts.learning.open
    if asked is None:
        return not_open(state, facts)
    word = text.strip(" .!?").casefold()
    mine = button(facts, "student.button.my_answer", f"student:answer:{asked.review_id}:{word}", "my_answer")
    theirs = tuple(
        button(facts, "student.button.command", f"student:{COMMAND}:{asked.review_id}:{one}", word=one)
        for one in commands
    )
    said = facts.words.say("student.meant", text=word)
    kept = {name: state.data[name] for name in ("class",) if name in state.data}
    return stay(answering(kept, asked), Message(said, ((mine,), theirs), key=_key_again(asked)))


def on_answer(state: State, parts: list[str], facts: Facts) -> Step:
    """Grade the word of a command that was meant as an answer: ``student:answer:REVIEW:WORD``."""
    asked = _open(parts, facts)
    if asked is None or len(parts) != 2:
        return not_open(state, facts)
    return attempt(state, parts[1], facts)


def _open(parts: list[str], facts: Facts) -> AskedQuestion | None:
    """Return the question that a button names if it is open, or was until minutes ago."""
    asked, named = facts.learning.open, facts.learning.named
    if named is not None and named.still_counts:
        asked = named
    return asked if asked is not None and parts and number(parts[0]) == asked.review_id else None


def waiting(facts: Facts) -> AskedQuestion | None:
    """Return the question that words are meant for: the open one, else the last one if it was open minutes ago."""
    asked = facts.learning.open
    if asked is not None:
        return asked
    last = facts.learning.last
    return last if last is not None and last.still_counts else None


def not_open(state: State, facts: Facts) -> Step:
    """Answer a press that names no open question of the speaker; nothing happens."""
    named = facts.learning.named
    if named is None:
        return step(state, facts, say(facts, "not_yours"))
    if named.state in ("answered", "planned", "open"):
        return over(state, named, facts)
    closed = without_answer(named, "student.question.closed", facts)  # its buttons were still there
    return answered(step(state, facts, closed), "again:")


def over(state: State, named: AskedQuestion, facts: Facts) -> Step:
    """Say that a question does not wait for an answer; nothing happens."""
    key = {"answered": "stale", "planned": "student.put_off_before"}.get(named.state, "student.closed")
    return answered(step(state, facts, say(facts, key)), "again:")


def _take(state: State, asked: AskedQuestion, verdict: GradingResult, facts: Facts, typed: str = "") -> Step:
    given = verdict.read_as or typed
    word: Literal["right", "wrong"] = "right" if verdict.right else "wrong"
    return step(state, facts, effects=[TakeAnswer(asked.review_id, word, given, verdict.option)])


def _ask_again(state: State, asked: AskedQuestion, verdict: GradingResult, facts: Facts) -> Step:
    assert verdict.detail is not None  # noqa: S101 - every unreadable verdict says why
    kept = {name: state.data[name] for name in ("class",) if name in state.data}
    text = facts.words.say(
        UNREADABLE[verdict.detail],
        read_as=verdict.read_as,
        last=asked.options[-1].letter if asked.options else "",
    )
    if verdict.detail is not Detail.UNIT_MISSING:
        rest_of = _question_buttons(asked, facts)[-1:]
        return stay(answering(kept, asked), Message(text, rest_of, key=_key_again(asked)))
    units = tuple(
        Button(unit, f"student:unit:{asked.review_id}:{place}") for place, unit in enumerate(verdict.units)
    )
    buttons = ((units,) if units else ()) + _question_buttons(asked, facts)[-1:]
    waiting = answering(kept, asked, number=verdict.number, units=list(verdict.units))
    return stay(waiting, Message(text, buttons, key=_key_again(asked)))


def without_answer(asked: AskedQuestion, key: str, facts: Facts, **values: object) -> Message:
    """Return what takes the place of a question that is left for later or for another day."""
    name = key_of(asked)
    text = facts.words.say(key, head=_head(asked, facts), **values)
    return Message(text, key=name, replaces=name)


# ---------------------------------------------------------------- the verdict


def on_taken(state: State, event: AnswerTaken, facts: Facts) -> Step:
    """Put the verdict into the question's message; then the next question, or the end of the nudge."""
    asked = facts.learning.named
    if asked is None or not event.counted:
        return step(state, facts, say(facts, "stale"))
    coming = facts.learning.open
    last = question(coming, facts) if coming is not None else _end(asked, event, facts)
    return answered(step(state, facts, _verdict(asked, event, facts), last), "again:")


def _verdict(asked: AskedQuestion, event: AnswerTaken, facts: Facts) -> Message:
    lines = [_outcome(asked, event, facts), *(Rich.of(line) for line in _reasons(asked, event))]
    steps = feedback_of(asked).steps if event.verdict != "right" else ()
    if steps:
        title = facts.words.text("drawn.steps")
        lines.append(Rich.of("\n".join([title, *steps]), aside=True))
    if event.back_on is not None:
        lines.append(back_line(event.back_on, asked, facts))
    text = lines[0]
    for line in lines[1:]:
        text = text + Rich.of("\n") + line
    return Message(text, key=key_of(asked), replaces=key_of(asked))


def _reasons(asked: AskedQuestion, event: AnswerTaken) -> list[str]:
    """Say what the error was, if it is a typical one, and what the teacher wrote of the question."""
    because = feedback_of(asked).because(event.given, event.option) if event.verdict == "wrong" else ""
    return [line for line in (because, asked.explanation) if line]


def feedback_of(asked: AskedQuestion) -> Feedback:
    """Return what a wrong answer is told; nothing where that is damaged, for the verdict must come."""
    try:
        return feedback_from_dict(asked.feedback)
    except BadTemplate:
        return Feedback()


def _outcome(asked: AskedQuestion, event: AnswerTaken, facts: Facts) -> Rich:
    head, kind = _head(asked, facts), "chose" if asked.options else "wrote"
    right = _with_letter(asked, 0) if asked.options else shown(asked.key)
    given = _with_letter(asked, event.option) if event.option is not None else event.given
    if KINDS[asked.kind].is_figure:
        right, given = facts.words.figure(right), facts.words.figure(given)
    key = f"student.wrong.{kind}" if event.verdict == "wrong" else f"student.{event.verdict}"
    return facts.words.say(key, head=head, given=given, right=right)


def _with_letter(asked: AskedQuestion, option_number: int) -> str:
    option: ShownOption | None = next((one for one in asked.options if one.number == option_number), None)
    return "" if option is None else f"{option.letter}, {option.text}"


def back_line(back_on: date, asked: AskedQuestion, facts: Facts) -> Rich:
    """Say when a topic comes back, as exactly as it is worth."""
    days = (back_on - local_day(facts.now, asked.zone)).days
    if days <= 1:
        return facts.words.say("student.back.tomorrow")
    if days <= 6:
        return facts.words.say("student.back.weekday", weekday=facts.words.weekday(back_on))
    ahead = facts.learning.quiz(asked.class_id)
    if ahead is not None and back_on <= ahead.quiz.day:
        return facts.words.say(f"student.back.{ahead.quiz.kind}", day=facts.words.day(ahead.quiz.day))
    return facts.words.say("student.back.weeks", n=max(round(days / 7), 1))


def _end(asked: AskedQuestion, event: AnswerTaken, facts: Facts) -> Message:
    ahead = facts.learning.quiz(asked.class_id)
    left = Rich() if ahead is None else _evenings_left(ahead, facts)
    return say(facts, "student.end", right=event.right, n=event.questions, ahead=left)


def _evenings_left(ahead: QuizAhead, facts: Facts) -> Rich:
    if ahead.evenings == 0:
        return Rich()
    day = facts.words.day(ahead.quiz.day)
    return facts.words.say(f"student.ahead.{ahead.quiz.kind}", day=day, n=ahead.evenings)


def on_nothing(state: State, event: NothingLeft, facts: Facts) -> Step:
    """Say why there is nothing to ask."""
    return step(state, facts, say(facts, f"student.nothing.{event.why}"))
