"""Topics: started by a post, corrected, listed; their homework tonight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from bot.chat.port import Button, Message
from bot.talk.core import Outgoing, State, Step, once
from bot.talk.facts import Facts
from bot.talk.teacher import asking
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
    no_school,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.drafts import read_draft
from bot.talk.teacher.effects import (
    KeepPost,
    MoveQuiz,
    NoteTopic,
    PostKept,
    PostSettled,
    RenameTopic,
    SetHomeworkText,
    SettlePost,
    TakeBack,
    TopicNoted,
)
from bot.talk.teacher.posts import TopicPost, read_post
from bot.talk.teacher_facts import TeachingFacts
from bot.words import typed as typed_forms
from bot.words.rich import Rich


def effect_of(post: TopicPost, class_id: int, *, from_place: bool) -> NoteTopic:
    """Return what a topic post asks for."""
    drafts = [(line, read_draft(line)) for line in post.questions]
    one_day = len(post.quiz_days) == 1
    return NoteTopic(
        class_id,
        post.topic,
        homework=post.homework,
        quiz_day=post.quiz_days[0] if one_day else None,
        questions=tuple(draft for _, draft in drafts if draft is not None),
        notes=post.unclear + tuple(line for line, draft in drafts if draft is None),
        choices=() if one_day else post.quiz_days,
        from_place=from_place,
    )


def posted(text: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step | None:
    """Take a topic post that was sent privately; None when the text is none."""
    post = read_post(text, teaching.today)
    if post is None:
        return None
    if not post.topic:
        return answer(facts, at(facts, state, "teacher.topic"), "ask_topic")
    return do(facts, state, effect_of(post, teaching.class_id, from_place=False))


def start(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Start a topic by the word."""
    if not rest:
        return answer(facts, at(facts, state, "teacher.topic"), "ask_topic")
    return named(rest, state, facts)


def named(text: str, state: State, facts: Facts) -> Step:
    """Take the name of a topic, with further lines if there are any."""
    teaching = facts.teaching
    post = read_post(f"/topic {text.strip()}", teaching.today) if teaching is not None else None
    if teaching is None or post is None or not post.topic:
        return answer(facts, state, "ask_topic")
    return do(facts, state, effect_of(post, teaching.class_id, from_place=False))


# ---------------------------------------------------------------- what was understood


def noted(result: TopicNoted, state: State, facts: Facts) -> Step:
    """Tell the teacher what a topic post was understood as."""
    facts = facts.to(result.teacher_id)
    said = _understood(result, facts) + _questions(result, facts)
    if result.notes:
        said += Rich.of("\n") + facts.words.say("teacher.topic.unclear") + Rich.of("\n")
        said += lines(facts, result.notes)
    here = (result.class_id, result.upload_id)
    rows = [
        [press(facts, "looks_right", "right", *here, result.topic_id)],
        [
            press(facts, "change", "change", *here, result.topic_id),
            press(facts, "not_a_topic", "nottopic", *here),
        ],
    ]
    if result.choices:
        said += Rich.of("\n") + facts.words.say("teacher.topic.which_day")
        days = [
            labelled(facts.words.day(day), "topicquiz", *here, result.topic_id, day.toordinal())
            for day in result.choices
        ]
        rows.insert(0, days)
    out = Message(
        said,
        tuple(tuple(row) for row in rows),
        key=once("topic", result.upload_id),
    )
    return Step(state, (), (Outgoing(out, person_id=result.teacher_id),))


def _understood(result: TopicNoted, facts: Facts) -> Rich:
    words = facts.words
    said = words.say(
        "teacher.topic.noted",
        name=result.class_name,
        topic=Rich.of(result.topic, strong=True),
        day=words.day(result.day),
    )
    if result.quiz_day is not None:
        said += words.say("teacher.topic.in_quiz", day=words.day(result.quiz_day))
    said += Rich.of("" if said.plain.endswith(".") else ".")  # a German day ends in one
    said += no_school(facts, result.days_off)
    if result.homework:
        said += Rich.of(" ") + words.say("teacher.topic.homework", text=result.homework)
    return said


def _questions(result: TopicNoted, facts: Facts) -> Rich:
    words = facts.words
    if result.questions:
        said = Rich.of(" ") + words.say("teacher.topic.questions", n=result.questions)
        if result.asked_from is not None:
            said += Rich.of(" ") + words.say("teacher.topic.from", day=words.weekday(result.asked_from))
        return said
    said = Rich.of("\n") + words.say("teacher.topic.no_questions")
    if result.remind_day is not None:
        said += Rich.of(" ") + words.say("teacher.topic.remind", day=words.weekday(result.remind_day))
    return said


def right(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """All is well; where questions are missing, wait for them."""
    topic = teaching.topic(number(args[1]) or 0) if len(args) > 1 else None
    if topic is None:
        return gone(facts, state)
    if topic.questions:
        return answer(facts, at_home(facts, state), "topic.right", topic=topic.name)
    return asking.wait_for(topic, state, facts, "ask_questions")


def change(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask what about a topic is to be changed."""
    topic = teaching.topic(number(args[1]) or 0) if len(args) > 1 else None
    if topic is None:
        return gone(facts, state)
    here = (teaching.class_id, topic.id)
    buttons = [
        press(facts, "rename", "retopic", *here),
        press(facts, "homework", "rehomework", *here),
        press(facts, "questions", "questions", *here),
        press(facts, "quiz_date", "requiz", *here),
        press(facts, "not_a_topic", "nottopic", teaching.class_id, args[0]),
    ]
    return answer(facts, at_home(facts, state), "topic.change", rows_of(buttons), topic=topic.name)


def not_a_topic(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take a topic post back, or forget one that was asked about."""
    upload = number(args[0]) if args else None
    return foreign(facts, state) if upload is None else do(facts, state, TakeBack(upload))


# ---------------------------------------------------------------- a post that may be none


def keep_effect(text: str, class_id: int) -> KeepPost:
    """Return what asks the teacher whether a message is a topic post."""
    return KeepPost(class_id, text[:2000])


def kept(result: PostKept, state: State, facts: Facts) -> Step:
    """Ask the teacher privately whether a message starts a topic."""
    facts = facts.to(result.teacher_id)
    here = (result.class_id, result.upload_id)
    key = "topic.doubtful" if result.topic else "topic.nameless"
    buttons: tuple[Button, ...] = (press(facts, "not_a_topic", "nottopic", *here),)
    if result.topic:
        buttons = (press(facts, "is_a_topic", "istopic", *here), *buttons)
    said = facts.words.say(f"teacher.{key}", name=result.class_name, topic=result.topic)
    out = Message(said, (buttons,), key=once("post", result.upload_id))
    return Step(state, (), (Outgoing(out, person_id=result.teacher_id),))


def is_a_topic(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take a kept message as a topic post."""
    upload = number(args[0]) if args else None
    return foreign(facts, state) if upload is None else do(facts, state, SettlePost(upload))


def settled(result: PostSettled, state: State, facts: Facts) -> Step:
    """Note the topic of a message that was asked about."""
    teaching = facts.teaching
    post = read_post(result.text, teaching.today) if teaching is not None else None
    if post is None or not post.topic:
        return answer(facts, at(facts, state, "teacher.topic"), "ask_topic")
    return do(facts, state, replace(effect_of(post, result.class_id, from_place=False), from_place=False))


# ---------------------------------------------------------------- corrections


def _topic_button(after: str, ask: str) -> Pressed:
    """Return the button that asks for something about a topic in a state of its own."""

    def pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
        topic = teaching.topic(number(args[0]) or 0) if args else None
        if topic is None:
            return gone(facts, state)
        return answer(facts, at(facts, state, after, topic=topic.id), ask, topic=topic.name)

    return of_class(pressed)


def renamed(text: str, state: State, facts: Facts) -> Step:
    """Take a topic's new name."""
    name = " ".join(text.split())
    if facts.teaching is None or not 0 < len(name) <= 200:
        return answer(facts, state, "ask_topic")
    return do(facts, state, RenameTopic(facts.teaching.class_id, state.data["topic"], name))


def homework_text(text: str, state: State, facts: Facts) -> Step:
    """Take the homework of a topic's last lesson; ``none`` clears it."""
    teaching = facts.teaching
    if teaching is None:
        return gone(facts, state)
    taught = [
        one for one in teaching.lessons if one.topic_id == state.data["topic"] and one.day <= teaching.today
    ]
    if not taught:
        return gone(facts, state)
    cleared = text.strip().casefold() in (
        *typed_forms("none"),
        *typed_forms("no"),
        *typed_forms("no_homework"),
    )
    said = "" if cleared else " ".join(text.split())[:500]
    return do(facts, state, SetHomeworkText(teaching.class_id, taught[-1].id, said))


def requiz(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask for the new day of the quiz that a topic is in."""
    quiz = teaching.next_quiz
    if quiz is None:
        return answer(facts, at_home(facts, state), "no_quiz")
    after = at(facts, state, "teacher.quizday", quiz=quiz.id)
    return answer(facts, after, "ask_quiz_day", name=quiz.name or facts.words.text(f"teacher.{quiz.kind}"))


def topic_quiz(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Settle a quiz date of a topic post that could be read in two ways."""
    day = number(args[2]) if len(args) > 2 else None
    topic = teaching.topic(number(args[1]) or 0) if len(args) > 1 else None
    if day is None or topic is None or not 700_000 < day < 800_000:
        return gone(facts, state)
    chosen = date.fromordinal(day)
    if teaching.next_quiz is not None and teaching.next_quiz.day != chosen and topic.quiz == chosen:
        return do(facts, state, MoveQuiz(teaching.class_id, teaching.next_quiz.id, chosen))
    return do(facts, state, NoteTopic(teaching.class_id, topic.name, quiz_day=chosen))


# ---------------------------------------------------------------- the list


def listed(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """List what was taught lately, with how many questions there are."""
    if not teaching.topics:
        return answer(facts, at_home(facts, state), "no_topics")
    taught = [one for one in teaching.topics if one.taught is not None and one.taught <= teaching.today]
    shown = [
        facts.words.text(
            "teacher.topic_line",
            topic=one.name,
            day=facts.words.day(one.taught) if one.taught else "",
            n=one.questions,
        )
        for one in reversed(taught)
    ]
    empty = [one for one in taught if not one.questions][-6:]
    buttons = [labelled(one.name, "questions", teaching.class_id, one.id) for one in reversed(empty)]
    return answer(
        facts,
        at_home(facts, state),
        "topics",
        rows_of(buttons),
        list=lines(facts, shown, most=12),
        taught=len(taught),
        n=len(teaching.topics),
    )


COMMANDS: Mapping[str, Typed] = {"topic": with_class(start), "topics": with_class(listed)}
STATES: Mapping[str, Typed] = {
    "teacher.topic": named,
    "teacher.retopic": renamed,
    "teacher.rehomework": homework_text,
}
BUTTONS: Mapping[str, Pressed] = {
    "right": of_class(right),
    "change": of_class(change),
    "nottopic": of_class(not_a_topic),
    "istopic": of_class(is_a_topic),
    "retopic": _topic_button("teacher.retopic", "ask_rename"),
    "rehomework": _topic_button("teacher.rehomework", "ask_homework"),
    "requiz": of_class(requiz),
    "topicquiz": of_class(topic_quiz),
}

__all__ = ["BUTTONS", "COMMANDS", "STATES", "effect_of", "keep_effect", "kept", "noted", "posted", "settled"]
