"""What teachers pull, made from the class's evidence: numbers first, then text, picture, workbook.

Every function here is slow and touches no database; drawing libraries are imported where they are used. What
cannot be made from what there is raises `NothingThere`, whose text is for the teacher.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from bot.chat.port import Rich
from bot.evidence.load import (
    ClassEvidence,
    class_illustration,
    class_questions,
    forecast_data,
    starter_data,
    week_data,
)
from bot.talk.teacher.effects import Piece
from bot.talk.words import Words
from scheduler.memory import ClassMemory
from scheduler.zones import iso_week

Options = Mapping[str, Any]


@dataclass(frozen=True)
class Made:
    """Messages to show, and the questions that a starter asks."""

    pieces: tuple[Piece, ...]
    asked: tuple[int, ...] = ()


Maker = Callable[[ClassEvidence, ClassMemory, Words, Options], Made]


def report(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the weekly completion report: text and picture."""
    from bot.evidence.week import week_report
    from bot.evidence.week_picture import week_picture
    from bot.evidence.week_text import week_text

    made = week_report(week_data(read, memory, *_week(options)))
    return Made((Piece(week_text(made, words)), Piece(_short(words, "week"), week_picture(made, words))))


def workbook(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the workbook of the week."""
    from bot.evidence.week import week_report
    from bot.evidence.week_tables import week_workbook

    made = week_report(week_data(read, memory, *_week(options)))
    return Made((Piece(_short(words, "workbook"), week_workbook(made, words)),))


def forecast(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the forecast for the next quiz, or for a day: text, picture, workbook."""
    from bot.evidence.forecast import forecast as work_out
    from bot.evidence.forecast_picture import forecast_picture
    from bot.evidence.forecast_tables import forecast_workbook
    from bot.evidence.forecast_text import forecast_text

    day = date.fromisoformat(options["day"]) if options.get("day") else None
    made = work_out(forecast_data(read, memory, day))
    return Made(
        (
            Piece(forecast_text(made, words)),
            Piece(_short(words, "forecast"), forecast_picture(made, words)),
            Piece(_short(words, "workbook"), forecast_workbook(made, words)),
        )
    )


def starter(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make a starter for the next lesson: questions, pictures to project, answers apart."""
    from bot.evidence.starter import starter as choose
    from bot.evidence.starter_picture import starter_pictures
    from bot.evidence.starter_text import answers_text, starter_text

    made = choose(starter_data(read, memory))
    if not made.questions:
        return Made((Piece(starter_text(made, words)),))
    pictures = (Piece(_short(words, "starter"), one) for one in starter_pictures(made, words))
    return Made(
        (Piece(starter_text(made, words)), *pictures, Piece(answers_text(made, words))),
        asked=tuple(one.question_id for one in made.questions),
    )


def quality(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the list of questions that do not work: text and workbook."""
    from bot.evidence.questions_tables import questions_workbook
    from bot.evidence.questions_text import questions_text

    table = class_questions(read)
    return Made(
        (
            Piece(questions_text(table, words)),
            Piece(_short(words, "workbook"), questions_workbook(table, words)),
        )
    )


def illustration(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the illustration of what review does, from the class's own timetable: text and picture."""
    from bot.evidence.illustration_picture import illustration_picture, illustration_text

    made = class_illustration(read)
    return Made(
        (
            Piece(illustration_text(made, words)),
            Piece(_short(words, "illustration"), illustration_picture(made, words)),
        )
    )


def summary(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make what a class may see of its own week. Raises `TooFewStudents`."""
    from bot.evidence.week import week_report
    from bot.evidence.week_text import class_channel_summary

    made = week_report(week_data(read, memory, *_week(options)))
    return Made((Piece(class_channel_summary(made, words)),))


MAKERS: Mapping[str, Maker] = {
    "report": report,
    "workbook": workbook,
    "forecast": forecast,
    "starter": starter,
    "quality": quality,
    "illustration": illustration,
    "summary": summary,
}


def _week(options: Options) -> tuple[int | None, int | None]:
    if not options.get("week"):
        return None, None
    return iso_week(date.fromisoformat(options["week"]))


def _short(words: Words, what: str) -> Rich:
    """Return the line beside a picture or a document; its alternative text says it all."""
    return words.say(f"teacher.made.{what}")
