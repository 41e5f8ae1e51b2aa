"""The forecast as tables: students, topics, and every student by every topic."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from bot.chat.port import Attachment
from bot.evidence.doses.text import dose_name
from bot.evidence.effect.text import effect_line
from bot.evidence.forecast.numbers import Forecast
from bot.evidence.forecast.text import forecast_text, occasion, why
from bot.evidence.shared.phrases import moment, sureness, title_of
from bot.evidence.shared.tables import Column, Table, Value, estimate_cells, estimate_columns
from bot.evidence.shared.workbook import MEDIA_TYPE, workbook
from bot.words import Words


def forecast_tables(forecast: Forecast, words: Words) -> tuple[Table, ...]:
    """Return students, topics, students by topics, each of those pairs with its intervals, and doses if compared."""
    tables = _students(forecast, words), _topics(forecast, words), _pairs(forecast), _each(forecast)
    return (*tables, _doses(forecast, words)) if forecast.doses else tables


def forecast_workbook(forecast: Forecast, words: Words) -> Attachment:
    """Return the forecast as an XLSX document."""
    at = moment(words, forecast.generated_at, forecast.school_class.zone)
    title = f"{title_of(forecast.school_class)} · {occasion(forecast, words)}"
    data = workbook(
        forecast_tables(forecast, words),
        words,
        title=title,
        explained=[
            words.text("readme.forecast", day=words.long_day(forecast.day), moment=at),
            *_effect_lines(forecast, words),
            words.text("readme.order"),
            words.text("evidence.how_to_read"),
            words.text("readme.private"),
        ],
        created=forecast.generated_at,
    )
    name = f"{forecast.school_class.slug}-forecast-{forecast.day.isoformat()}.xlsx"
    return Attachment(name, MEDIA_TYPE, data, forecast_text(forecast, words).plain)


def _effect_lines(forecast: Forecast, words: Words) -> list[str]:
    line = effect_line(forecast.effect, words)
    return [line.plain] if line is not None else []


def _students(forecast: Forecast, words: Words) -> Table:
    columns = (
        Column("student", width=20),
        *estimate_columns("planned"),
        *estimate_columns("stands"),
        Column("answers_ever", "count", 9),
        Column("standing", width=24),
        Column("weak_topics", width=60),
    )
    rows = tuple(
        (
            row.name,
            *estimate_cells(row.planned),
            *estimate_cells(row.as_it_stands),
            row.answers,
            sureness(words, row.standing),
            ", ".join(row.weak_topics),
        )
        for row in forecast.students
    )
    return Table("forecast_students", columns, rows)


def _topics(forecast: Forecast, words: Words) -> Table:
    columns = (
        Column("topic", width=30),
        Column("taught_on", "date", 12),
        *estimate_columns("planned"),
        *estimate_columns("stands"),
        Column("gain", "share", 11),
        Column("below", "count", 9),
        Column("taught_to", "count", 9),
        Column("answers_ever", "count", 9),
        Column("standing", width=24),
        Column("why", width=28),
    )
    rows = tuple(
        (
            row.name,
            row.taught_on,
            *estimate_cells(row.planned),
            *estimate_cells(row.as_it_stands),
            row.gain,
            row.below,
            row.of,
            row.answers,
            sureness(words, row.standing),
            why(row, words) if row.gain is not None else None,
        )
        for row in forecast.topics
    )
    return Table("forecast_topics", columns, rows)


def _pairs(forecast: Forecast) -> Table:
    columns = (
        Column("student", width=20),
        *(Column("pair", "share", 12, low_below=0.5, name=row.name) for row in forecast.topics),
    )
    rows = tuple(
        (student.name, *_known(forecast.mean[number])) for number, student in enumerate(forecast.students)
    )
    return Table("forecast_pairs", columns, rows)


def _each(forecast: Forecast) -> Table:
    columns = (
        Column("student", width=20),
        Column("topic", width=30),
        *estimate_columns("planned"),
        *estimate_columns("stands"),
    )
    layers = (
        forecast.mean,
        forecast.low,
        forecast.high,
        forecast.mean_as_it_stands,
        forecast.low_as_it_stands,
        forecast.high_as_it_stands,
    )
    rows = tuple(
        (student.name, topic.name, *_known(layer[number, place] for layer in layers))
        for number, student in enumerate(forecast.students)
        for place, topic in enumerate(forecast.topics)
    )
    return Table("forecast_each", columns, rows, frozen_columns=2)


def _doses(forecast: Forecast, words: Words) -> Table:
    columns = (
        Column("dose", width=40),
        Column("dose_questions", "count", 11),
        Column("dose_days", "count", 9),
        *estimate_columns("known"),
    )
    rows = tuple(
        (dose_name(line, words), line.questions, line.days, *estimate_cells(line.known))
        for line in forecast.doses
    )
    return Table("forecast_doses", columns, rows)


def _known(values: Iterable[float]) -> tuple[Value, ...]:
    return tuple(None if np.isnan(value) else float(value) for value in values)
