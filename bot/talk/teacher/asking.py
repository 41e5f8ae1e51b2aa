"""Self-check questions in the chat: added by text or picture, listed, edited, retired."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bot.chat.port import FileSent, Message
from bot.grading.kinds import KINDS
from bot.talk.core import State, Step, answered, once, reply
from bot.talk.facts import Facts
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    do,
    foreign,
    gone,
    labelled,
    lines,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.drafts import read_drafts
from bot.talk.teacher.effects import (
    AddPicture,
    AddQuestion,
    AddQuestions,
    FindQuestion,
    ListQuestions,
    QuestionAdded,
    QuestionFound,
    QuestionLine,
    QuestionsAdded,
    QuestionsListed,
    RetireQuestion,
)
from bot.talk.teacher_facts import TeachingFacts, TopicFacts
from bot.words.rich import Rich

ASKING = "teacher.asking"
"""Every message is a question for the topic at hand, until another word is said."""

PER_PAGE = 8


def wait_for(topic: TopicFacts, state: State, facts: Facts, text: str) -> Step:
    """Take the next messages as questions of a topic."""
    buttons = [[press(facts, "enough", "enough", facts.teaching.class_id if facts.teaching else 0)]]
    return answer(facts, at(facts, state, ASKING, topic=topic.id), text, buttons, topic=topic.name)


# ---------------------------------------------------------------- adding


def add(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Begin to add questions: to the topic that is named, else to one that is chosen."""
    topic = teaching.topic_named(rest) if rest else None
    if topic is not None:
        return wait_for(topic, state, facts, "ask_questions")
    first, _, below = rest.partition("\n")
    named = teaching.topic_named(first) if below else None
    if named is not None and (drafts := read_drafts(below)):
        return _add(drafts, named, state, facts, teaching)
    if rest and (drafts := read_drafts(rest)):
        return _which_topic(drafts, None, state, facts, teaching)
    return _topics_to_choose("add_to", "which_topic", state, facts, teaching)


def add_to(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Add to the topic that was pressed; a question that waits for its topic is added at once."""
    topic = teaching.topic(number(args[0]) or 0) if args else None
    if topic is None:
        return gone(facts, state)
    drafts, handle = list(state.data.get("drafts", ())), state.data.get("handle")
    if not drafts:
        return wait_for(topic, state, facts, "ask_questions")
    if not handle:
        return answered(_add(drafts, topic, state, facts, teaching), "question_for", topic.name)
    effect = AddPicture(teaching.class_id, topic.id, drafts[0], handle)
    return answered(Step(at(facts, state, ASKING, topic=topic.id), (effect,)), "question_for", topic.name)


def _add(
    drafts: Sequence[Mapping[str, Any]],
    topic: TopicFacts,
    state: State,
    facts: Facts,
    teaching: TeachingFacts,
) -> Step:
    """Add one question or several to a topic and wait for more."""
    after = at(facts, state, ASKING, topic=topic.id)
    if len(drafts) > 1:
        return Step(after, (AddQuestions(teaching.class_id, topic.id, tuple(drafts)),))
    return Step(after, (AddQuestion(teaching.class_id, topic.id, drafts[0]),))


def typed(text: str, state: State, facts: Facts) -> Step:
    """Take a message as a question of the topic at hand."""
    teaching = facts.teaching
    topic = teaching.topic(state.data.get("topic", 0)) if teaching else None
    if teaching is None or topic is None:
        return gone(facts, state)
    drafts, replaces = read_drafts(text), state.data.get("replaces")
    if not drafts:
        return answer(facts, state, "question_form", topic=topic.name)
    if replaces is None:
        return _add(drafts, topic, state, facts, teaching)
    if len(drafts) > 1:
        return answer(facts, state, "edit_one")
    effect = AddQuestion(teaching.class_id, topic.id, drafts[0], replaces=replaces)
    return Step(at(facts, state, ASKING, topic=topic.id), (effect,))


def loose(text: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step | None:
    """Take a question that was sent without a topic; None when the text is none."""
    drafts = read_drafts(text)
    return _which_topic(drafts, None, state, facts, teaching) if drafts else None


def pictured(sent: FileSent, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take a picture with a caption as a question."""
    drafts = read_drafts(sent.caption)
    if len(drafts) != 1:  # a picture belongs to one question
        return answer(facts, state, "picture_form")
    topic = teaching.topic(state.data.get("topic", 0)) if state.name == ASKING else None
    if topic is None:
        return _which_topic(drafts, sent.handle, state, facts, teaching)
    return Step(state, (AddPicture(teaching.class_id, topic.id, drafts[0], sent.handle),))


def _which_topic(
    drafts: Sequence[Mapping[str, Any]],
    handle: str | None,
    state: State,
    facts: Facts,
    teaching: TeachingFacts,
) -> Step:
    data = {"drafts": [dict(draft) for draft in drafts]} | ({"handle": handle} if handle else {})
    return _topics_to_choose("add_to", "question_for", state, facts, teaching, n=len(drafts), **data)


def _topics_to_choose(
    verb: str, text: str, state: State, facts: Facts, teaching: TeachingFacts, n: int = 1, **data: object
) -> Step:
    """Offer the topics taught last; any other can be typed."""
    taught = [one for one in teaching.topics if one.taught is not None and one.taught <= teaching.today]
    offered = list(reversed(taught))[:6] or list(teaching.topics[:6])
    if not offered:
        return answer(facts, at_home(facts, state), "no_topics")
    buttons = [labelled(one.name, verb, teaching.class_id, one.id) for one in offered]
    after = at(facts, state, "teacher.which", verb=verb, **data)
    key = once("question_for") if data else ""  # a list of topics may be gone through, a question goes to one
    return answer(facts, after, text, rows_of(buttons), key=key, n=n)


def chosen_by_name(text: str, state: State, facts: Facts) -> Step:
    """Take the typed name of a topic where buttons were offered."""
    teaching = facts.teaching
    topic = teaching.topic_named(text) if teaching else None
    if teaching is None or topic is None:
        return answer(facts, state, "topic_unknown", text=text[:60])
    args = [str(topic.id)]
    if state.data.get("verb") == "add_to":
        return add_to(args, state, facts, teaching)
    return list_pressed(args, state, facts, teaching)


def added(result: QuestionAdded, state: State, facts: Facts) -> Step:
    """Say how a question was understood."""
    here = (result.class_id, result.question_id)
    buttons = [
        [press(facts, "edit", "edit", *here), press(facts, "retire", "retire", *here)],
        [press(facts, "enough", "enough", result.class_id)],
    ]
    after = at(facts, state, ASKING, topic=result.topic_id)
    text = "question_added" if result.new else "question_changed"
    return answer(facts, after, text, buttons, topic=result.topic, shown=result.shown, n=result.number)


def several_added(result: QuestionsAdded, state: State, facts: Facts) -> Step:
    """List the questions of one message as they were understood, and what could not be used."""
    buttons = [
        [press(facts, "questions", "questions", result.class_id, result.topic_id)],
        [press(facts, "enough", "enough", result.class_id)],
    ]
    said = lines(facts, result.shown)
    if result.refused:
        said += Rich.of("\n") + facts.words.say("teacher.questions_refused") + Rich.of("\n")
        said += lines(facts, result.refused)
    after = at(facts, state, ASKING, topic=result.topic_id)
    return answer(
        facts,
        after,
        "questions_added",
        buttons,
        topic=result.topic,
        n=len(result.shown),
        total=result.number,
        list=said,
    )


def enough(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Stop taking messages as questions."""
    topic = teaching.topic(state.data.get("topic", 0))
    if topic is None:
        return answer(facts, at_home(facts, state), "enough_any")
    return answer(facts, at_home(facts, state), "enough", topic=topic.name, n=topic.questions)


# ---------------------------------------------------------------- listing


def questions(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """List the questions of a topic."""
    if not rest:
        return _topics_to_choose("questions", "which_list", state, facts, teaching)
    topic = teaching.topic_named(rest)
    if topic is None:
        return answer(facts, at_home(facts, state), "topic_unknown", text=rest[:60])
    return do(facts, state, ListQuestions(teaching.class_id, topic.id))


def list_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """List the questions of the topic that was pressed."""
    topic = teaching.topic(number(args[0]) or 0) if args else None
    if topic is None:
        return gone(facts, state)
    return do(facts, state, ListQuestions(teaching.class_id, topic.id))


def questions_listed(result: QuestionsListed, state: State, facts: Facts) -> Step:
    """Show the questions with what can be done about them."""
    more = [press(facts, "add_question", "add_to", result.class_id, result.topic_id)]
    if not result.questions:
        return answer(facts, at_home(facts, state), "no_questions", [more], topic=result.topic)
    shown = result.questions[-PER_PAGE:]
    first = len(result.questions) - len(shown) + 1
    text = facts.words.say("teacher.questions", topic=result.topic, n=len(result.questions))
    rows = []
    for position, one in enumerate(shown, first):
        text += Rich.of("\n") + _line(position, one, facts)
        here = (result.class_id, one.id)
        rows.append(
            (
                press(facts, "edit_number", "edit", *here, position=position),
                press(facts, "retire_number", "retire", *here, position=position),
            )
        )
    if first > 1:
        text += Rich.of("\n") + facts.words.say("teacher.earlier_questions", n=first - 1)
    return Step(at_home(facts, state), (), reply(Message(text, (*rows, tuple(more)))))


def _line(position: int, one: QuestionLine, facts: Facts) -> Rich:
    line = facts.words.say(
        "teacher.question_line_picture" if one.picture else "teacher.question_line",
        position=position,
        prompt=one.prompt,
        answer=facts.words.figure(one.answer) if KINDS[one.kind].is_figure else one.answer,
    )
    return line + facts.words.say("teacher.answered", n=one.answers) if one.answers else line


# ---------------------------------------------------------------- editing


def edit(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Look a question up to edit it."""
    question = number(args[0]) if args else None
    return (
        foreign(facts, state)
        if question is None
        else do(facts, state, FindQuestion(teaching.class_id, question))
    )


def found(result: QuestionFound, state: State, facts: Facts) -> Step:
    """Show a question as the line that would make it, and wait for the new one."""
    after = at(facts, state, ASKING, topic=result.topic_id, replaces=result.question_id)
    return answer(facts, after, "edit_question", line=result.line)


def retire(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Stop asking a question."""
    question = number(args[0]) if args else None
    if question is None:
        return foreign(facts, state)
    return Step(state, (RetireQuestion(teaching.class_id, question),))


COMMANDS: Mapping[str, Typed] = {"add": with_class(add), "questions": with_class(questions)}
STATES: Mapping[str, Typed] = {ASKING: typed, "teacher.which": chosen_by_name}
BUTTONS: Mapping[str, Pressed] = {
    "add_to": of_class(add_to),
    "questions": of_class(list_pressed),
    "enough": of_class(enough),
    "edit": of_class(edit),
    "retire": of_class(retire),
}
