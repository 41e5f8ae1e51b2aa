"""A quiz against its predictions, as tables."""

from __future__ import annotations

from collections.abc import Sequence

from bot.chat.port import Attachment
from bot.evidence.quiz.numbers import Compared, QuizComparison
from bot.evidence.quiz.text import quiz_name, quiz_text
from bot.evidence.shared.phrases import title_of
from bot.evidence.shared.tables import Column, Table, estimate_cells, estimate_columns
from bot.evidence.shared.workbook import MEDIA_TYPE, workbook
from bot.words import Words


def quiz_tables(comparison: QuizComparison, words: Words) -> tuple[Table, ...]:
    """Return students and, where the scores are by topic, topics."""
    students = _table("quiz_students", "student", comparison.students, words)
    if not comparison.topics:
        return (students,)
    return students, _table("quiz_topics", "topic", comparison.topics, words)


def quiz_workbook(comparison: QuizComparison, words: Words) -> Attachment:
    """Return the comparison as an XLSX document."""
    title = f"{title_of(comparison.school_class)} · {quiz_name(comparison, words)}"
    data = workbook(
        quiz_tables(comparison, words),
        words,
        title=title,
        explained=[
            words.text("readme.quiz"),
            words.text("readme.quiz_scores"),
            words.text("readme.order"),
            words.text("evidence.how_to_read"),
            words.text("readme.private"),
        ],
        created=comparison.generated_at,
    )
    name = f"{comparison.school_class.slug}-quiz-{comparison.quiz.day.isoformat()}.xlsx"
    return Attachment(name, MEDIA_TYPE, data, quiz_text(comparison, words).plain)


def _table(key: str, first: str, rows: Sequence[Compared], words: Words) -> Table:
    columns = (
        Column(first, width=26),
        *estimate_columns("predicted"),
        *estimate_columns("actual"),
        Column("difference", "share", 11),
        Column("fit", width=22),
        Column("moved", "share", 9),
        Column("scores", "count", 8),
    )
    found = tuple(
        (
            row.name,
            *estimate_cells(row.predicted),
            *estimate_cells(row.actual),
            row.difference,
            words.text(f"fit.{row.fit.name.lower()}"),
            row.moved,
            row.of,
        )
        for row in rows
    )
    return Table(key, columns, found)
