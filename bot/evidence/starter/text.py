"""The starter as text: questions first, answers in a message of their own."""

from __future__ import annotations

from bot.chat.formulas import shown
from bot.evidence.shared.phrases import stacked, title_of
from bot.evidence.starter.numbers import LETTERS, Starter, StarterQuestion
from bot.words import Words
from bot.words.rich import Rich


def starter_text(starter: Starter, words: Words) -> Rich:
    """Write the questions, each with what it is worth."""
    title = words.say(
        "starter.title", title=title_of(starter.school_class), day=words.day(starter.lesson_day)
    )
    if not starter.questions:
        return stacked(title, words.say("starter.none"), _missing(starter, words))
    lines: list[Rich | None] = [title, words.say("starter.lead", target=target(starter, words))]
    for number, question in enumerate(starter.questions, start=1):
        lines.append(_asked(number, question, words))
        lines += [Rich.of(line) for line in options_of(question, words)]
        lines.append(Rich.of(_worth(question, words)))
        if question.has_picture:
            lines.append(words.say("starter.picture_missing"))
    lines += [_missing(starter, words), words.say("starter.enter", example=example(starter, words))]
    return stacked(*lines)


def answers_text(starter: Starter, words: Words) -> Rich:
    """Write the answers with their explanations."""
    lines = [words.say("starter.answers", title=title_of(starter.school_class))]
    for number, question in enumerate(starter.questions, start=1):
        why = shown(question.explanation).text
        lines.append(
            words.say("starter.answer", number=number, answer=answer_of(question, words), explanation=why)
        )
    return stacked(*lines)


def target(starter: Starter, words: Words) -> str:
    """Write what the starter works towards: ``the quiz on Fri 11 Dec``."""
    kind = "date" if starter.quiz is None else starter.quiz.kind
    return words.text(f"starter.{kind}", day=words.day(starter.target_day))


def options_of(question: StarterQuestion, words: Words) -> list[str]:
    """Write the options of a choice, lettered."""
    return [
        words.text("starter.option", letter=letter, option=shown(option).text)
        for letter, option in zip(LETTERS, question.options, strict=False)
    ]


def answer_of(question: StarterQuestion, words: Words) -> str:
    """Write the right answer, after its letter where it has one."""
    answer = shown(words.figure(question.answer) if question.is_number else question.answer).text
    return f"{question.letter}  {answer}" if question.letter else answer


def example(starter: Starter, words: Words) -> str:
    """Write what a teacher would type afterwards."""
    present = max(1, starter.students)
    counts = (round(present * share) for share in (0.7, 0.6, 0.5, 0.4, 0.3))
    asked = " ".join(str(count) for count, _ in zip(counts, starter.questions, strict=False))
    return words.text("starter.counts", counts=asked, present=present)


def _asked(number: int, question: StarterQuestion, words: Words) -> Rich:
    prompt = shown(question.prompt).text
    return words.say("starter.question", number=number, topic=question.topic, prompt=prompt)


def _worth(question: StarterQuestion, words: Words) -> str:
    return words.text("starter.gain", now=words.about(question.now), gain=max(1, round(100 * question.gain)))


def _missing(starter: Starter, words: Words) -> Rich | None:
    if not starter.without_questions:
        return None
    return words.say("starter.missing", topics=words.listed(list(starter.without_questions)))
