"""The weekly completion report as tables: students, topics, the class; from them workbook and CSV."""

from __future__ import annotations

from bot.chat.port import Attachment
from bot.evidence.effect.text import effect_line
from bot.evidence.shared.figures import Proportion
from bot.evidence.shared.phrases import moment, span, sureness, title_of
from bot.evidence.shared.tables import (
    Column,
    Table,
    Value,
    csv_rows,
    estimate_cells,
    estimate_columns,
    share_cells,
    share_columns,
)
from bot.evidence.shared.workbook import MEDIA_TYPE, workbook
from bot.evidence.week.text import note_reason
from bot.evidence.week.values import StudentWeek, TopicWeek, WeekReport
from bot.words import Words
from scheduler.calendar.school_days import local_time
from storage.files.csv_out import write_csv

_COUNTS = tuple(
    Column(key, "count", 11)
    for key in ("asked", "answered", "on_time", "late", "waiting", "unanswered", "extra")
)
_RIGHT = (Column("right", "count", 7), Column("answers", "count", 8), *share_columns("right_share"))


def week_tables(report: WeekReport, words: Words) -> tuple[Table, ...]:
    """Return students, topics and class totals of a weekly report."""
    return _students(report, words), _topics(report, words), _class(report)


def week_workbook(report: WeekReport, words: Words) -> Attachment:
    """Return the report as an XLSX document."""
    title = words.text("week.title_plain", title=title_of(report.school_class), week=report.week)
    days = span(words, report.first_day, report.last_day)
    at = moment(words, report.generated_at, report.school_class.zone)
    data = workbook(
        week_tables(report, words),
        words,
        title=title,
        explained=[
            words.text("readme.week", span=days, moment=at, zone=report.school_class.zone),
            *_effect_lines(report, words),
            words.text("readme.order"),
            words.text("evidence.how_to_read"),
            words.text("readme.private"),
        ],
        created=report.generated_at,
    )
    return Attachment(f"{_stem(report)}.xlsx", MEDIA_TYPE, data, title)


def _effect_lines(report: WeekReport, words: Words) -> list[str]:
    line = effect_line(report.effect, words)
    return [line.plain] if line is not None else []


def week_csv(report: WeekReport, words: Words) -> tuple[Attachment, Attachment]:
    """Return students and topics as two CSV files (RFC 4180, cells escaped as OWASP says)."""
    students, topics, _ = week_tables(report, words)
    return _csv(report, students, words), _csv(report, topics, words)


def _csv(report: WeekReport, table: Table, words: Words) -> Attachment:
    data = write_csv(csv_rows(table, words))
    return Attachment(f"{_stem(report)}-{table.key}.csv", "text/csv", data, table.title(words))


def _stem(report: WeekReport) -> str:
    return f"{report.school_class.slug}-{report.year}-W{report.week:02d}"


def _students(report: WeekReport, words: Words) -> Table:
    columns = (
        Column("student", width=20),
        Column("talk_to", width=36),
        Column("good_word", width=28),
        Column("state", width=10),
        *_COUNTS,
        *_RIGHT,
        Column("due", "count", 7),
        *estimate_columns("retention_now"),
        *estimate_columns("retention_quiz"),
        Column("answers_ever", "count", 9),
        Column("delay", "hours", 9),
        Column("usual_delay", "hours", 9),
        Column("last_answer", "moment", 16),
    )
    zone = report.school_class.zone
    talk_to = {note.student_id: note_reason(note, words, zone) for note in report.talk_to}
    good = {note.student_id: note_reason(note, words, zone) for note in report.congratulate}
    rows = tuple(
        (
            row.name,
            talk_to.get(row.id),
            good.get(row.id),
            words.text(f"state.{row.state}"),
            *_counts(row),
            *_right(row.right),
            row.due,
            *estimate_cells(row.now),
            *estimate_cells(row.quiz),
            row.answers_ever,
            row.delay_h,
            row.usual_delay_h,
            local_time(row.last_answer_at, zone) if row.last_answer_at else None,
        )
        for row in report.students
    )
    return Table("students", columns, rows)


def _topics(report: WeekReport, words: Words) -> Table:
    columns = (
        Column("topic", width=30),
        Column("taught_on", "date", 12),
        Column("in_quiz", width=8),
        *_COUNTS,
        *_RIGHT,
        *estimate_columns("retention_now"),
        *estimate_columns("retention_quiz"),
        Column("answers_ever", "count", 9),
        Column("standing", width=24),
    )
    yes, no = words.text("evidence.yes"), words.text("evidence.no")
    rows = tuple(
        (
            row.name,
            row.taught_on,
            yes if row.in_quiz else no,
            *_counts(row),
            *_right(row.right),
            *estimate_cells(row.now),
            *estimate_cells(row.quiz),
            row.answers_ever,
            sureness(words, row.standing) if row.in_quiz else None,
        )
        for row in report.topics
    )
    return Table("topics", columns, rows)


def _class(report: WeekReport) -> Table:
    totals = report.totals
    effect = report.effect if report.effect is not None and not report.effect.too_early else None
    change = estimate_cells(totals.change)
    columns = (
        Column("students", "count", 10),
        Column("active", "count", 10),
        Column("answered_once", "count", 10),
        *_COUNTS,
        *_RIGHT,
        *share_columns("completion"),
        *share_columns("completion_before"),
        Column("change", "share", 9),
        Column("change_low", "share", 8, bound="low"),
        Column("change_high", "share", 8, bound="high"),
        *estimate_columns("known_now"),
        *estimate_columns("without_reviews"),
    )
    row = (
        totals.students,
        totals.active,
        totals.answered_once,
        *_counts(totals),
        *_right(totals.right),
        *share_cells(totals.completion),
        *share_cells(totals.completion_before),
        *change,
        *estimate_cells(effect.known if effect else None),
        *estimate_cells(effect.without if effect else None),
    )
    return Table("class", columns, (row,), frozen_columns=0)


def _counts(row: StudentWeek | TopicWeek | object) -> tuple[Value, ...]:
    return tuple(getattr(row, column.key) for column in _COUNTS)


def _right(right: Proportion) -> tuple[Value, ...]:
    return (right.count, right.of, *share_cells(right))
