"""What holds for any class, any answers and any names."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from io import BytesIO, StringIO

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from bot.evidence.shared.drawing import DrawnPage
from bot.evidence.shared.figures import mean_estimate, paired_change, pooled_share, share
from bot.evidence.starter.numbers import BadCounts, RightCounts, read_counts
from bot.evidence.student.letter import Letter
from bot.evidence.student.letter_html import letters_page
from bot.evidence.week.numbers import week_report
from bot.evidence.week.picture import week_picture
from bot.evidence.week.tables import week_csv, week_workbook
from bot.evidence.week.text import TooFewStudents, class_channel_summary, week_text
from bot.evidence.week.values import WeekData
from bot.words import words
from storage.history.evidence_rows import AskedRecord, ClassRecord, ClassRecords, StudentRecord, TopicRecord

MONDAY = datetime(2026, 11, 30, tzinfo=UTC)
GROUP = ClassRecord(1, "10B", "10b", "", "Europe/London", "en")
ENGLISH = words("en")

counts = st.integers(0, 40).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))
names = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60)


@given(counts)
def test_a_share_lies_in_its_interval(pair: tuple[int, int]) -> None:
    found = share(*pair)
    assert 0.0 <= found.low <= found.high <= 1.0
    assert found.value is None or found.low <= found.value <= found.high


@given(st.lists(counts, min_size=1, max_size=30))
def test_a_pooled_share_lies_in_its_interval_and_is_no_narrower(pairs: list[tuple[int, int]]) -> None:
    found = pooled_share([count for count, _ in pairs], [of for _, of in pairs])
    plain = share(found.count, found.of)
    assert found.value is None or found.low - 1e-12 <= found.value <= found.high + 1e-12
    assert found.high - found.low >= plain.high - plain.low - 1e-12


@given(st.lists(st.tuples(counts, counts), min_size=2, max_size=30))
def test_a_change_turned_round_changes_its_sign(pairs: list[tuple[tuple[int, int], tuple[int, int]]]) -> None:
    before, after = [one for one, _ in pairs], [two for _, two in pairs]
    there, back = paired_change(before, after), paired_change(after, before)
    assert (there is None) == (back is None)
    if there is not None and back is not None:
        assert abs(there.mean + back.mean) < 1e-12
        assert -1.0 <= there.low <= there.mean <= there.high <= 1.0


@given(st.integers(1, 6), st.integers(1, 6), st.integers(0, 10_000))
def test_a_mean_is_at_most_as_unsure_as_its_least_sure_part(students: int, topics: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    mean = rng.uniform(0.3, 0.7, (students, topics))
    half = rng.uniform(0.01, 0.3, (students, topics))
    found = mean_estimate(mean, mean - half, mean + half)
    assert found is not None
    assert found.low <= found.mean <= found.high
    assert found.width <= 2 * half.max() + 1e-12


@st.composite
def weeks(draw: st.DrawFn) -> WeekData:
    """Any class of up to six with any names, and any answers around one week."""
    people = draw(st.lists(names, min_size=1, max_size=6))
    students = tuple(
        StudentRecord(
            n, name, draw(st.sampled_from(["active", "paused", "waiting"])), True, MONDAY - timedelta(days=60)
        )
        for n, name in enumerate(people, start=1)
    )
    topics = tuple(
        TopicRecord(n, name, MONDAY - timedelta(days=n))
        for n, name in enumerate(draw(st.lists(names, min_size=1, max_size=3)), start=1)
    )
    asked = []
    for number in range(draw(st.integers(0, 25))):
        at = MONDAY + timedelta(hours=draw(st.integers(-24 * 30, 24 * 7)))
        verdict = draw(st.sampled_from([None, "right", "wrong", "unsure"]))
        wait = timedelta(minutes=draw(st.integers(0, 5000)))
        row = AskedRecord(
            draw(st.integers(1, len(people))), draw(st.integers(1, len(topics))), 1, at,
            asked_for=draw(st.booleans()), open=verdict is None and draw(st.booleans()), verdict=verdict,
            on_time=verdict is not None and draw(st.booleans()), predicted=draw(st.sampled_from([None, 0.0, 0.5, 1.0])),
            answered_at=None if verdict is None else at + wait, review_id=number,
        )  # fmt: skip
        asked.append(row)
    now = MONDAY + timedelta(hours=draw(st.integers(1, 24 * 10)))
    return WeekData(ClassRecords(GROUP, students, topics), 2026, 49, now, tuple(asked))


@settings(max_examples=60, deadline=None)
@given(weeks())
def test_every_question_of_the_week_is_counted_once(data: WeekData) -> None:
    report = week_report(data)
    start, end = MONDAY, MONDAY + timedelta(days=7)
    nudged = [
        row
        for row in data.asked
        if start <= row.asked_at < min(end, data.generated_at + timedelta(seconds=1))
    ]
    assert report.totals.asked == sum(not row.asked_for for row in nudged)
    assert report.totals.extra == sum(row.asked_for and row.answered for row in nudged)
    for row in report.students:
        assert row.asked == row.on_time + row.late + row.waiting + row.unanswered
    known = {row.name for row in data.rows.students}
    assert {note.name for note in (*report.talk_to, *report.congratulate)} <= known


@settings(max_examples=10, deadline=None)
@given(weeks())
def test_no_name_breaks_text_picture_workbook_or_csv(data: WeekData) -> None:
    report = week_report(data)
    assert week_text(report, ENGLISH).plain
    assert week_picture(report, ENGLISH).data.startswith(b"\x89PNG")
    book = load_workbook(BytesIO(week_workbook(report, ENGLISH).data))
    assert book["Students"].max_row == max(2, 1 + len(report.students))
    assert all(cell.data_type != "f" for row in book["Students"].iter_rows() for cell in row)
    rows = list(csv.reader(StringIO(week_csv(report, ENGLISH)[0].data.decode("utf-8-sig"), newline="")))
    assert len(rows) == 1 + len(report.students)
    assert len({len(row) for row in rows}) == 1


@settings(max_examples=40, deadline=None)
@given(weeks())
def test_a_class_sees_no_name_and_nothing_under_five(data: WeekData) -> None:
    marked = replace(
        data.rows, students=tuple(replace(row, name=f"§{row.id}§") for row in data.rows.students)
    )
    report = week_report(replace(data, rows=marked))
    try:
        text = class_channel_summary(report, ENGLISH).plain
    except TooFewStudents:
        return
    assert "§" not in text
    assert report.totals.answered_once >= 5


def _counts_or_sentence(text: str, questions: int) -> RightCounts | str:
    try:
        return read_counts(text, questions)
    except BadCounts as refused:
        return refused.say(ENGLISH)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80), st.integers(3, 5))
def test_what_a_teacher_types_is_counts_or_a_sentence(text: str, questions: int) -> None:
    found = _counts_or_sentence(text, questions)
    if isinstance(found, str):
        assert found
        return
    assert len(found.right) == questions
    assert all(0 <= right <= found.present for right in found.right)


@given(names)
def test_no_name_gets_out_of_its_place_in_a_letter(name: str) -> None:
    made = Letter(GROUP, name, MONDAY.date(), None, 0, 0, 0, 0, (0, 0), (), (), (), (), (name,))
    page = letters_page((made,), ENGLISH)
    assert page.count("<h1>") == 1
    assert page.count("<script") == 0
    assert page.count("<section") == 1


@settings(max_examples=60, deadline=None)
@given(names, st.floats(30, 400))
def test_a_cut_name_fits(name: str, room: float) -> None:
    sheet = DrawnPage(20)
    assert sheet.text_width(sheet.cut(name, room)) <= room + 1e-6
    assert all(sheet.text_width(line) <= room + 1e-6 for line in sheet.wrap(name, room))
