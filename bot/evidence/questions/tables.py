"""The statistics of questions as tables: questions, and the options of choices."""

from __future__ import annotations

from bot.chat.formulas import shown
from bot.chat.port import Attachment
from bot.evidence.questions.numbers import QuestionStat, QuestionTable
from bot.evidence.questions.text import questions_text, verdict
from bot.evidence.shared.phrases import moment, title_of
from bot.evidence.shared.tables import Column, Table, Value, estimate_cells, share_cells, share_columns
from bot.evidence.shared.workbook import MEDIA_TYPE, workbook
from bot.words import Words


def questions_tables(table: QuestionTable, words: Words) -> tuple[Table, ...]:
    """Return questions and options."""
    return _questions(table, words), _options(table, words)


def questions_workbook(table: QuestionTable, words: Words) -> Attachment:
    """Return the statistics as an XLSX document."""
    at = moment(words, table.generated_at, table.school_class.zone)
    title = words.text("questions.title", title=title_of(table.school_class))
    data = workbook(
        questions_tables(table, words),
        words,
        title=title,
        explained=[
            words.text("readme.questions", moment=at),
            words.text("readme.bands"),
            words.text("evidence.how_to_read"),
            words.text("questions.note"),
        ],
        created=table.generated_at,
    )
    return Attachment(
        f"{table.school_class.slug}-questions.xlsx", MEDIA_TYPE, data, questions_text(table, words).plain
    )


def _questions(table: QuestionTable, words: Words) -> Table:
    columns = (
        Column("topic", width=22),
        Column("question", width=44),
        Column("kind", width=9),
        Column("in_use", width=7),
        Column("verdict", width=60),
        Column("students_answered", "count", 9),
        Column("all_answers", "count", 9),
        *share_columns("facility"),
        Column("corrected", "share", 9),
        Column("expected", "share", 9),
        Column("discrimination", "number", 13),
        Column("discrimination_low", "number", 7, bound="low"),
        Column("discrimination_high", "number", 7, bound="high"),
        Column("band", width=24),
        *share_columns("unsure"),
        Column("seconds", "count", 9),
        Column("seconds_low", "count", 9),
        Column("seconds_high", "count", 9),
    )
    return Table("questions", columns, tuple(_row(row, words) for row in table.questions), frozen_columns=2)


def _row(row: QuestionStat, words: Words) -> tuple[Value, ...]:
    return (
        row.topic,
        shown(row.prompt).text,
        words.text(f"kind.{row.kind}"),
        words.text("evidence.no" if row.retired else "evidence.yes"),
        verdict(row, words),
        row.students,
        row.answers,
        *share_cells(row.facility),
        row.corrected if row.known else None,
        row.expected,
        *estimate_cells(row.discrimination),
        words.text(f"band.{row.band.name.lower()}"),
        *share_cells(row.unsure),
        row.seconds,
        row.seconds_low,
        row.seconds_high,
    )


def _options(table: QuestionTable, words: Words) -> Table:
    columns = (
        Column("topic", width=22),
        Column("question", width=44),
        Column("option", width=40),
        Column("is_right", width=7),
        Column("taken", "count", 8),
        *share_columns("taken_share"),
        Column("option_discrimination", "number", 13),
    )
    rows = tuple(
        (
            row.topic,
            shown(row.prompt).text,
            shown(use.text).text,
            words.text("evidence.yes" if use.is_right else "evidence.no"),
            use.taken.count,
            *share_cells(use.taken),
            use.discrimination,
        )
        for row in table.questions
        for use in row.options
    )
    return Table("options", columns, rows, frozen_columns=2)
