"""The papers of a week and of a forecast, as files: text, picture, workbook, tables."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from bot.chat.port import Attachment
from bot.evidence.load import ClassEvidence, forecast_data, week_data
from bot.evidence.week.values import WeekReport
from bot.words import Words
from scheduler.model.memory import ClassMemory


def week_papers(
    read: ClassEvidence, memory: ClassMemory, year: int, week: int, words: Words
) -> tuple[Attachment, ...]:
    """Return the completion report of an ISO week: text, picture, workbook, and the tables as CSV."""
    from bot.evidence.week.numbers import week_report

    return report_papers(week_report(week_data(read, memory, year, week)), words)


def report_papers(report: WeekReport, words: Words) -> tuple[Attachment, ...]:
    """Return the completion report of a week as files: text, picture, workbook, and the tables as CSV."""
    from bot.evidence.week.picture import week_picture
    from bot.evidence.week.tables import week_csv, week_workbook
    from bot.evidence.week.text import week_text

    picture = week_picture(report, words)
    text = week_text(report, words).plain
    return (_text(picture, text), picture, week_workbook(report, words), *week_csv(report, words))


def forecast_papers(
    read: ClassEvidence, memory: ClassMemory, words: Words, day: date | None = None
) -> tuple[Attachment, ...]:
    """Return the forecast for a day, or for the next quiz: text, picture, workbook.

    Raises
    ------
    bot.evidence.load.NothingThere
        There is no quiz ahead, or nothing was taught.
    """
    from bot.evidence.forecast.numbers import forecast
    from bot.evidence.forecast.picture import forecast_picture
    from bot.evidence.forecast.tables import forecast_workbook
    from bot.evidence.forecast.text import forecast_text

    made = forecast(forecast_data(read, memory, day))
    picture = forecast_picture(made, words)
    text = forecast_text(made, words).plain
    return _text(picture, text), picture, forecast_workbook(made, words)


def save(papers: Iterable[Attachment], folder: Path) -> list[Path]:
    """Write papers into a folder, each whole or not at all, readable by their owner only; return the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    return [_save(paper, folder / Path(paper.name).name) for paper in papers]


def _save(paper: Attachment, path: Path) -> Path:
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=".writing-")
    try:
        with os.fdopen(descriptor, "wb") as out:
            out.write(paper.data)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path


def _text(picture: Attachment, text: str) -> Attachment:
    return Attachment(f"{Path(picture.name).stem}.txt", "text/plain", f"{text}\n".encode())
