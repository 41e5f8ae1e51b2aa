"""What teachers pull, made from the class's evidence: numbers first, then text, picture, workbook.

Every function here is slow and touches no database; drawing libraries are imported where they are used. What
cannot be made from what there is raises `NothingThere`, whose text is for the teacher.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from bot.chat.port import Attachment
from bot.evidence.load import (
    ClassEvidence,
    NothingThere,
    class_illustration,
    class_questions,
    forecast_data,
    quiz_data,
    starter_data,
    target_of,
    week_data,
)
from bot.evidence.load_student import letter_data, student_data
from bot.evidence.starter.numbers import USUAL
from bot.talk.teacher.effects import EvidenceMessage
from bot.teaching.offers import DoseOffer
from bot.words import Words
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_day
from scheduler.calendar.zones import iso_week
from scheduler.model.memory import ClassMemory
from storage.school.enrolments import fold

Options = Mapping[str, Any]


@dataclass(frozen=True)
class Made:
    """Messages to show, the questions that a starter asks, and changes of the dose that are offered."""

    pieces: tuple[EvidenceMessage, ...]
    asked: tuple[int, ...] = ()
    offers: tuple[DoseOffer, ...] = ()


Maker = Callable[[ClassEvidence, ClassMemory, Words, Options], Made]


def report(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the weekly completion report: text and picture."""
    from bot.evidence.week.numbers import week_report
    from bot.evidence.week.picture import week_picture
    from bot.evidence.week.text import week_text

    made = week_report(week_data(read, memory, *_week(options)))
    return Made(
        (
            EvidenceMessage(week_text(made, words)),
            EvidenceMessage(_short(words, "week"), week_picture(made, words)),
        ),
        offers=made.offers,
    )


def workbook(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the workbook of the week."""
    from bot.evidence.week.numbers import week_report
    from bot.evidence.week.tables import week_workbook

    made = week_report(week_data(read, memory, *_week(options)))
    return Made((EvidenceMessage(_short(words, "workbook"), week_workbook(made, words)),))


def forecast(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the forecast for the next quiz, or for a day: text, picture, workbook."""
    from bot.evidence.forecast.numbers import forecast as work_out
    from bot.evidence.forecast.picture import forecast_picture
    from bot.evidence.forecast.tables import forecast_workbook
    from bot.evidence.forecast.text import forecast_text

    day = date.fromisoformat(options["day"]) if options.get("day") else None
    made = work_out(forecast_data(read, memory, day))
    return Made(
        (
            EvidenceMessage(forecast_text(made, words)),
            EvidenceMessage(_short(words, "forecast"), forecast_picture(made, words)),
            EvidenceMessage(_short(words, "workbook"), forecast_workbook(made, words)),
        ),
        offers=() if made.offer is None else (made.offer,),
    )


def target(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Say what a target takes, for ``options["percent"]``; offer to take it."""
    from bot.evidence.doses.text import target_text

    takes = target_of(read, memory, int(options["percent"]))
    return Made((EvidenceMessage(target_text(takes, words)),), offers=(takes.offer,))


def starter(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make a starter for the next lesson: questions, pictures to project, answers apart."""
    from bot.evidence.starter.numbers import starter as choose
    from bot.evidence.starter.picture import starter_pictures
    from bot.evidence.starter.text import answers_text, starter_text

    made = choose(starter_data(read, memory, options.get("count") or USUAL))
    if not made.questions:
        return Made((EvidenceMessage(starter_text(made, words)),))
    pictures = (EvidenceMessage(_short(words, "starter"), one) for one in starter_pictures(made, words))
    return Made(
        (EvidenceMessage(starter_text(made, words)), *pictures, EvidenceMessage(answers_text(made, words))),
        asked=tuple(one.question_id for one in made.questions),
    )


def quality(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the list of questions that do not work: text and workbook."""
    from bot.evidence.questions.tables import questions_workbook
    from bot.evidence.questions.text import questions_text

    table = class_questions(read)
    return Made(
        (
            EvidenceMessage(questions_text(table, words)),
            EvidenceMessage(_short(words, "workbook"), questions_workbook(table, words)),
        )
    )


def illustration(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the illustration of what review does, from the class's own timetable: text and picture."""
    from bot.evidence.illustration.picture import illustration_picture, illustration_text

    made = class_illustration(read)
    return Made(
        (
            EvidenceMessage(illustration_text(made, words)),
            EvidenceMessage(_short(words, "illustration"), illustration_picture(made, words)),
        )
    )


def summary(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make what a class may see of its own week. Raises `TooFewStudents`."""
    from bot.evidence.week.numbers import week_report
    from bot.evidence.week.text import class_channel_summary

    made = week_report(week_data(read, memory, *_week(options)))
    return Made((EvidenceMessage(class_channel_summary(made, words)),))


def letters(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the letters for a parents' evening: a page per student who has joined, or for ``options["student"]``.

    One document: a PDF where that can be made, unless ``options["html"]``.
    """
    from bot.evidence.student.letter import letter
    from bot.evidence.student.letter_html import letters_html
    from bot.evidence.student.letter_pdf import printable

    meant = _student(read, options["student"]) if options.get("student") else None
    joined = [row for row in read.rows.students if row.joined and meant in (None, row.id)]
    if not joined:
        raise NothingThere("teacher.no_students")
    page = letters_html([letter(letter_data(read, row.id, memory)) for row in joined], words)
    document = page if options.get("html") else printable(page)
    shown = _short(words, "letters" if document is page else "letters_pdf")
    return Made((EvidenceMessage(shown, document),))


def progress(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make one student's own picture, for ``options["student"]``: the same that the student sees."""
    from bot.evidence.student.drawing import student_picture_png, student_text
    from bot.evidence.student.numbers import student_picture

    shown = student_picture(student_data(read, _student(read, options["student"]), memory))
    return Made((EvidenceMessage(student_text(shown, words), student_picture_png(shown, words)),))


def _student(read: ClassEvidence, name: str) -> int:
    """Return the student of that name or number (``#12``). Raises `NothingThere` for none, or for more than one."""
    by_number = [row for row in read.rows.students if name == f"#{row.id}"]
    found = by_number or [row for row in read.rows.students if fold(row.name) == fold(name)]
    if len(found) != 1:
        key = "evidence.no_student" if not found else "evidence.two_students"
        raise NothingThere(key, name=name, school_class=read.rows.school_class.name)
    return found[0].id


def comparison(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Make the comparison of the latest quiz with what was predicted: text, picture, workbook."""
    from bot.evidence.quiz.numbers import NoScores, quiz_comparison
    from bot.evidence.quiz.picture import quiz_picture
    from bot.evidence.quiz.tables import quiz_workbook
    from bot.evidence.quiz.text import quiz_text

    try:
        made = quiz_comparison(quiz_data(read, _quiz(read, options)))
    except NoScores:
        raise NothingThere("quiz.nothing_to_compare") from None
    return Made(
        (
            EvidenceMessage(quiz_text(made, words)),
            EvidenceMessage(_short(words, "comparison"), quiz_picture(made, words)),
            EvidenceMessage(_short(words, "workbook"), quiz_workbook(made, words)),
        )
    )


def export(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Pack everything stored in the class, with the answers as a table, into one archive.

    ``options["stored"]`` is what `storage.privacy.export.of_class` gave.
    """
    from bot.evidence.records.qti_package import qti_package
    from bot.evidence.records.question_sheet import question_sheet
    from bot.evidence.records.xapi import RecordRules, answers_csv, dictionary_csv, questions_csv

    # With names there are no pseudonyms to make, and a table holds no addresses: both are only formally needed.
    rules = RecordRules("https://school.example", b"no pseudonyms here", names=True, typed=True)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("class.json", json.dumps(options["stored"], ensure_ascii=False, indent=1))
        archive.writestr("answers.csv", answers_csv(read.rows, read.questions, read.asked, rules))
        archive.writestr("questions.csv", questions_csv(read.rows, read.questions))
        archive.writestr("question-sheet.csv", question_sheet(read.rows, read.questions))
        archive.writestr("questions-qti.zip", qti_package(read.rows, read.questions).data)
        archive.writestr("data-dictionary.csv", dictionary_csv(words))
    name = f"{read.rows.school_class.slug}-export.zip"
    shown = _short(words, "export")
    return Made(
        (EvidenceMessage(shown, Attachment(name, "application/zip", packed.getvalue(), shown.plain)),)
    )


def records(read: ClassEvidence, memory: ClassMemory, words: Words, options: Options) -> Made:
    """Pack the open learning records into one archive, under pseudonyms unless ``options["names"]``.

    ``options["key"]`` is the key of the pseudonyms, ``options["home"]`` the school's address.
    """
    from bot.evidence.records.xapi import RecordRules, record_files

    rules = RecordRules(options["home"], options["key"], names=bool(options.get("names")))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for paper in record_files(read.rows, read.questions, read.asked, rules, words):
            archive.writestr(paper.name, paper.data)
    name = f"{read.rows.school_class.slug}-records.zip"
    shown = _short(words, "records_named" if rules.names else "records")
    return Made(
        (EvidenceMessage(shown, Attachment(name, "application/zip", packed.getvalue(), shown.plain)),)
    )


MAKERS: Mapping[str, Maker] = {
    "report": report,
    "workbook": workbook,
    "forecast": forecast,
    "starter": starter,
    "quality": quality,
    "illustration": illustration,
    "letters": letters,
    "comparison": comparison,
    "export": export,
    "records": records,
    "summary": summary,
    "target": target,
}


def _quiz(read: ClassEvidence, options: Options) -> int | None:
    """Return the quiz that was asked for by its day, or None for the latest with scores."""
    if not options.get("day"):
        return None
    day, zone = date.fromisoformat(options["day"]), read.rows.school_class.zone
    found = [row.id for row in read.rows.quizzes if local_day(row.at, zone) == day]
    # With two on one day, the one that was marked.
    marked = [one for one in found if one in read.scores]
    if not found:
        raise NothingThere("quiz.none_then", day=day.isoformat())
    return (marked or found)[0]


def _week(options: Options) -> tuple[int | None, int | None]:
    """Return the ISO week of a day of it, or nothing for the present one."""
    if not options.get("week"):
        return None, None
    return iso_week(date.fromisoformat(options["week"]))


def _short(words: Words, what: str) -> Rich:
    """Return the line beside a picture or a document; its alternative text says it all."""
    return words.say(f"teacher.made.{what}")
