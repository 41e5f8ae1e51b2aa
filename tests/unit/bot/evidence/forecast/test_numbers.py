"""The forecast: numbers, text, picture, workbook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from openpyxl import load_workbook
from PIL import Image

from bot.evidence.forecast.numbers import ForecastData, Why, forecast
from bot.evidence.forecast.picture import forecast_picture
from bot.evidence.forecast.tables import forecast_workbook
from bot.evidence.forecast.text import forecast_text
from bot.evidence.shared.figures import Standing
from bot.words import Words
from scheduler.values import Retention
from storage.history.evidence_rows import ClassRecords


def test_planned_reviews_stand_above_none(made_forecast: ForecastData) -> None:
    made = forecast(made_forecast)
    assert made.overall is not None
    assert made.overall_as_it_stands is not None
    assert made.overall.mean > made.overall_as_it_stands.mean
    assert made.overall.low < made.overall.mean < made.overall.high


def test_topics_to_teach_again_come_by_gain_and_only_where_needed(made_forecast: ForecastData) -> None:
    again = forecast(made_forecast).teach_again
    assert {row.name for row in again} == {"Moments", "Pressure in liquids"}
    gains = [row.gain or 0.0 for row in again]
    assert gains == sorted(gains, reverse=True)


def test_a_topic_without_answers_is_not_recommended(made_forecast: ForecastData) -> None:
    made = forecast(made_forecast)
    (buoyancy,) = [row for row in made.topics if row.name == "Buoyancy"]
    assert buoyancy.standing is Standing.TOO_FEW
    assert buoyancy not in made.teach_again


def test_the_reason_names_what_speaks_most(made_forecast: ForecastData) -> None:
    reasons = {row.name: row.why for row in forecast(made_forecast).topics}
    assert reasons["Pressure in liquids"] is Why.BELOW_HALF
    assert reasons["Moments"] is Why.MANY_BELOW
    assert reasons["Density"] is Why.FADES


def test_students_are_named_when_surely_low_or_unknown_in_alphabetical_order(
    made_forecast: ForecastData,
) -> None:
    made = forecast(made_forecast)
    assert [(row.name, row.standing) for row in made.talk_to] == [
        ("Ben", Standing.BELOW),
        ("Dilan", Standing.TOO_FEW),
    ]
    assert [row.name for row in made.students] == sorted(row.name for row in made.students)


def test_a_student_who_is_not_asked_is_not_named(made_forecast: ForecastData) -> None:
    people = tuple(replace(row, state="paused") for row in made_forecast.rows.students)
    rows = replace(made_forecast.rows, students=people)
    assert not forecast(replace(made_forecast, rows=rows)).talk_to


def test_in_the_first_weeks_nobody_is_named_for_having_few_answers(
    make_forecast: Callable[..., ForecastData], english: Words
) -> None:
    data = make_forecast()
    data.planned.answers[4:, :] = 0
    made = forecast(data)
    assert [row.name for row in made.talk_to] == ["Ben"]
    assert made.unknown == 23
    assert "For 23 students there are too few answers to tell." in forecast_text(made, english).plain
    assert forecast_picture(made, english).is_picture


def test_pairs_follow_the_order_of_the_report(made_forecast: ForecastData) -> None:
    made = forecast(made_forecast)
    row = [student.name for student in made.students].index("Sami")
    column = [topic.name for topic in made.topics].index("Moments")
    source = made_forecast.planned
    number = next(one.id for one in made_forecast.rows.students if one.name == "Sami")
    expected = source.retention.mean[source.students.index(number), source.topics.index(4)]
    assert made.mean[row, column] == expected


def test_a_topic_not_yet_taught_counts_in_no_mean(made_forecast: ForecastData, english: Words) -> None:
    taught = made_forecast.planned.taught.copy()
    taught[:, 4] = False  # Pressure in liquids

    again = made_forecast.taught_again
    assert again is not None
    data = replace(
        made_forecast,
        planned=replace(made_forecast.planned, taught=taught),
        as_it_stands=replace(made_forecast.as_it_stands, taught=taught),
        taught_again=replace(again, taught=taught),
    )
    made = forecast(data)
    (topic,) = [row for row in made.topics if row.name == "Pressure in liquids"]
    assert (topic.planned, topic.gain, topic.of) == (None, None, 0)
    assert np.isnan(made.mean[:, made.topics.index(topic)]).all()
    before = forecast(made_forecast).overall
    assert made.overall is not None
    assert before is not None
    assert made.overall.mean > before.mean
    assert "1 topic is still to be taught" in forecast_text(made, english).plain
    assert forecast_picture(made, english).is_picture
    sheet = load_workbook(BytesIO(forecast_workbook(made, english).data))["Students by topic"]
    headings = [cell.value for cell in sheet[1]]
    assert sheet.cell(2, headings.index("Pressure in liquids") + 1).value is None


def test_predictions_of_different_moments_are_refused(made_forecast: ForecastData) -> None:
    other = replace(made_forecast.as_it_stands, at=made_forecast.generated_at)
    with pytest.raises(ValueError, match="same students, topics and moment"):
        forecast(replace(made_forecast, as_it_stands=other))


def test_arrays_of_another_shape_are_refused(made_forecast: ForecastData) -> None:
    wrong = Retention(np.zeros((1, 1)), np.zeros((1, 1)), np.zeros((1, 1)))
    with pytest.raises(ValueError, match="snapshot of 26 students and 8 topics"):
        replace(made_forecast.planned, retention=wrong)


def test_the_text_says_how_the_class_will_do_what_to_teach_and_whom_to_talk_to(
    made_forecast: ForecastData, english: Words
) -> None:
    text = forecast_text(forecast(made_forecast), english).plain.replace("\u00a0", " ")
    assert text.splitlines() == [
        "10B Physics · Quiz Fri 11 Dec, forecast",
        "About 62 % (58–65) with the reviews still planned, about 52 % (48–55) without them.",
        "Teach again: Moments (about 55 % (50–60); +7 points; 7 of 26 students below half); "
        "Pressure in liquids (about 40 % (35–45); +7 points; below half).",
        "Talk to: Ben (40 %), Dilan (too few answers to tell).",
        "Figures in brackets: in four cases out of five the true value lies between them. A forecast is not a grade.",
    ]


def test_a_forecast_on_few_answers_says_so(
    make_rows: Callable[..., ClassRecords], make_forecast: Callable[..., ForecastData], english: Words
) -> None:
    data = make_forecast(make_rows(["Amira", "Ben"]))
    data.planned.answers[:] = 1
    assert "too little to tell" in forecast_text(forecast(data), english).plain


def test_a_day_without_a_quiz_is_named_by_its_date(made_forecast: ForecastData, english: Words) -> None:
    text = forecast_text(forecast(replace(made_forecast, quiz=None)), english).plain
    assert text.startswith("10B Physics · Fri 11 Dec, forecast")


def test_the_picture_is_twice_a_phone_wide(made_forecast: ForecastData, english: Words) -> None:
    shown = forecast_picture(forecast(made_forecast), english)
    with Image.open(BytesIO(shown.data)) as image:
        assert image.width == 780
        assert image.height / image.width < 2.2
    assert shown.name == "10b-forecast-2026-12-11.png"
    assert shown.alt.startswith("10B Physics · Quiz Fri 11 Dec, forecast")


def test_the_workbook_marks_what_lies_under_half(made_forecast: ForecastData, english: Words) -> None:
    book = load_workbook(BytesIO(forecast_workbook(forecast(made_forecast), english).data))
    assert book.sheetnames == ["Students", "Topics", "Students by topic", "Each with intervals", "Read me"]
    pairs = book["Students by topic"]
    assert pairs.freeze_panes == "B2"
    assert len(list(pairs.conditional_formatting)) == 5
    assert pairs.max_row == 27
    # Topics share one line of explanation.
    notes = [cell.value for cell in book["Read me"]["A"]]
    assert notes.count("Topics") == 2  # the sheet's own title, and the one line


def test_the_workbook_has_every_pair_with_its_interval_with_and_without_the_planned_reviews(
    made_forecast: ForecastData, english: Words
) -> None:
    made = forecast(made_forecast)
    book = load_workbook(BytesIO(forecast_workbook(made, english).data))
    sheet = book["Each with intervals"]
    assert sheet.freeze_panes == "C2"
    assert sheet.max_row == 1 + len(made.students) * len(made.topics)
    student, topic, *figures = [cell.value for cell in sheet[2]]
    assert (student, topic) == (made.students[0].name, made.topics[0].name)
    with_low, without_low = figures[1], figures[4]
    assert with_low <= figures[0] <= figures[2]
    assert without_low <= figures[3] <= figures[5]
    assert figures[0] == pytest.approx(made.mean[0, 0])
    assert figures[3] == pytest.approx(made.mean_as_it_stands[0, 0])
