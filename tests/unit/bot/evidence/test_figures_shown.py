"""Figures that a teacher or a class reads: counted a second way, silent where there is nothing to tell."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from bot.evidence.forecast.numbers import ForecastData, forecast
from bot.evidence.forecast.picture import forecast_picture
from bot.evidence.forecast.text import forecast_text
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.evidence.week.text import TooFewStudents, class_channel_summary, week_text
from bot.evidence.week.values import WeekData
from bot.words import LANGUAGES, words
from scheduler.calendar.school_days import week_bounds
from storage.history.evidence_rows import AskedRecord
from tests.unit.bot.evidence.test_layout import Written, check, written

__all__ = ["written"]  # the fixture that notes what is drawn

ENGLISH = words("en")


def _all_on_time(data: WeekData) -> int:
    """Count in the plainest way: students asked this week whose every question has an answer that was on time."""
    start, end = week_bounds(data.year, data.week, data.rows.school_class.zone)
    found = 0
    for student in data.rows.students:
        own = [
            row
            for row in data.asked
            if row.student_id == student.id and start <= row.asked_at < end and not row.asked_for
        ]
        found += bool(own) and all(row.verdict is not None and row.on_time for row in own)
    return found


def _prompt(data: WeekData, share: float) -> WeekData:
    """Let the first part of the class answer everything in time, some of them more than they used to."""
    start, _ = week_bounds(data.year, data.week, data.rows.school_class.zone)
    last = share * len(data.rows.students)

    def promptly(row: AskedRecord) -> AskedRecord:
        if row.asked_at < start or row.student_id > last:
            return row
        at = row.asked_at + timedelta(hours=1)
        return replace(row, verdict="right", on_time=True, answered_at=at, open=False, predicted=0.3)

    return replace(data, asked=tuple(promptly(row) for row in data.asked))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.6, 1.0])
def test_f24_everybody_who_answered_everything_on_time_is_counted(
    make_week: Callable[..., WeekData], share: float
) -> None:
    data = _prompt(make_week(), share)
    report = week_report(data)
    count = _all_on_time(data)
    assert count >= int(share * len(data.rows.students))
    said = re.search(r"(\d+) students? answered everything on time", week_text(report, ENGLISH).plain)
    assert (int(said[1]) if said else 0) == count


def test_f24_the_picture_says_the_same_number(
    make_week: Callable[..., WeekData], written: list[Written]
) -> None:
    data = _prompt(make_week(), 0.6)
    week_picture(week_report(data), ENGLISH)
    check(written)
    (said,) = [one.text for one in written if "everything on time" in one.text]
    assert said == f"{_all_on_time(data)} students: everything on time"


# ---------------------------------------------------------------- no answers yet


def _unanswered(data: WeekData) -> WeekData:
    """Ask everything as before, with nobody answering."""
    assert data.now is not None
    assert data.at_quiz is not None
    high = replace(data.at_quiz.retention, mean=np.full_like(data.at_quiz.retention.mean, 0.8))
    none = np.zeros_like(data.now.answers)
    return replace(
        data,
        asked=tuple(replace(row, verdict=None, answered_at=None, on_time=False) for row in data.asked),
        now=replace(data.now, answers=none),
        at_quiz=replace(data.at_quiz, answers=none, retention=high),
    )


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("with_quiz", [True, False])
def test_f25_without_answers_it_is_too_early_to_tell_and_what_helps_is_said(
    made_week: WeekData, written: list[Written], language: str, with_quiz: bool
) -> None:
    data, spoken = _unanswered(made_week), words(language)
    if not with_quiz:
        data = replace(data, quiz=None, at_quiz=None)
    report = week_report(data)
    text = week_text(report, spoken).plain
    week_picture(report, spoken)
    check(written)
    said = text + " ".join(one.text for one in written)
    assert not re.search(r"[Nn]o topic (stands )?below|[Kk]ein Thema (steht )?unter", said)
    assert not any(re.fullmatch(r"\d+\s%\s\(.*", one.text) for one in written)  # no figure from nothing
    if with_quiz:
        assert ("Too early to tell" if language == "en" else "Zu früh") in text
        assert ("Remind the class" if language == "en" else "Erinnern Sie die Klasse") in text
        drawn = " ".join(one.text for one in written)
        assert ("Too early to tell" if language == "en" else "Noch nichts Sicheres") in drawn
        assert not re.search("stands? higher|höher", drawn)


def test_f25_topics_that_cannot_be_told_are_not_said_to_stand_above_half(made_week: WeekData) -> None:
    assert made_week.at_quiz is not None
    high = replace(made_week.at_quiz.retention, mean=np.full_like(made_week.at_quiz.retention.mean, 0.8))
    report = week_report(replace(made_week, at_quiz=replace(made_week.at_quiz, retention=high)))
    text = week_text(report, ENGLISH).plain  # Buoyancy has no answer
    assert "No topic with enough answers stands below half" in text
    assert "too early to tell for Buoyancy" in text


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f25_a_forecast_without_answers_calls_nothing_and_nobody_fine(
    made_forecast: ForecastData, written: list[Written], language: str
) -> None:
    none = np.zeros_like(made_forecast.planned.answers)
    assert made_forecast.taught_again is not None
    data = replace(
        made_forecast,
        planned=replace(made_forecast.planned, answers=none),
        as_it_stands=replace(made_forecast.as_it_stands, answers=none),
        taught_again=replace(made_forecast.taught_again, answers=none),
    )
    spoken, made = words(language), forecast(data)
    forecast_picture(made, spoken)
    check(written)
    for said in (forecast_text(made, spoken).plain, " ".join(one.text for one in written)):
        assert not re.search(r"gain much|viel gewinnen|Nobody stands|Niemand steht", said)
        assert re.search(r"Too early to tell.*Remind the class|Zu früh.*Erinnern Sie die Klasse", said)


# ---------------------------------------------------------------- the class channel


def _answering(data: WeekData, students: int, *, all_of_it: bool = True) -> WeekData:
    """Let the first students answer everything of the week (or half of it), the others nothing."""

    def answered(row: AskedRecord) -> AskedRecord:
        if row.student_id > students or (not all_of_it and row.review_id % 2):
            return replace(row, verdict=None, on_time=False, answered_at=None)
        return replace(row, verdict="right", on_time=True, answered_at=row.asked_at + timedelta(minutes=5))

    return replace(data, asked=tuple(answered(row) for row in data.asked))


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("students", range(1, 27))
@pytest.mark.parametrize("all_of_it", [True, False])
def test_f27_no_figure_for_a_class_leaves_over_one_to_four_of_it(
    made_week: WeekData, language: str, students: int, all_of_it: bool
) -> None:
    """At least five behind a figure and behind what it leaves over: a usual rule for published tables of persons
    (common practice, no source)."""
    report = week_report(_answering(made_week, students, all_of_it=all_of_it))
    try:
        text = class_channel_summary(report, words(language)).plain.split(": ", 1)[1]
    except TooFewStudents:
        assert students < 5
        return
    assert students >= 5
    counted = re.match(r"(\d+) (?:of|von) (\d+)", text)
    if 26 - students < 5:
        assert counted is None
        assert re.match(r"all or nearly all of 26|alle oder fast alle 26", text)
    else:
        assert counted is not None
        assert (int(counted[1]), int(counted[2])) == (students, 26)
    assert not re.search(r"\d+ (of|von) \d+ (checks|questions|Fragen)", text)
    share = re.search(r"(\d+)\s%", text)
    if all_of_it and 26 - students < 5:
        assert share is None  # the questions left over are those of under five students
    if share:
        assert int(share[1]) % 5 == 0
