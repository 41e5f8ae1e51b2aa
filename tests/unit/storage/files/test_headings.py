"""Headings in any order, case, language and spelling."""

from __future__ import annotations

import pytest

from storage.files.headings import closest, did_you_mean, plain_heading, understand
from storage.files.problem import Phrase
from storage.files.reading.sheet import FileRefused, Sheet
from storage.files.timetables.timetable_fields import FIELDS
from tests.wording import sentence as english


def sheet(*rows: tuple[str | None, ...]) -> Sheet:
    return Sheet("csv", tuple(rows))


def refusal(*rows: tuple[str | None, ...]) -> str:
    with pytest.raises(FileRefused) as refused:
        understand(sheet(*rows), FIELDS, "plan.csv")
    return english(refused.value.problem)


@pytest.mark.parametrize(
    "headings",
    [
        ("topic", "date", "homework"),
        ("TOPIC", " Date ", "Homework*"),
        ("Thema", "Datum", "Hausaufgaben"),
        ("Sujet", "Date", "Devoirs"),
        ("Tema", "Fecha", "Deberes"),
        ("Titel", "Tag", "HA"),
        ("Lesson topic", "Date (dd/mm/yyyy)", "home-work"),
    ],
)
def test_headings_in_several_languages_and_spellings(headings: tuple[str, ...]) -> None:
    found = understand(sheet(headings, ("Forces", "2026-12-01", None)), FIELDS, "plan.csv")
    assert found.columns == {"topic": (0,), "date": (1,), "homework": (2,)}
    assert found.row == 1


def test_headings_in_any_order() -> None:
    found = understand(sheet(("start", "date", None, "topic")), FIELDS, "plan.csv")
    assert found.columns == {"start": (0,), "date": (1,), "topic": (3,)}


def test_headings_may_stand_below_a_title() -> None:
    found = understand(
        sheet(("Physics 10B",), (), ("topic", "date"), ("date of birth", "x")), FIELDS, "plan.csv"
    )
    assert found.row == 3


def test_heading_that_says_the_order_of_dates_is_heard() -> None:
    assert understand(sheet(("topic", "date (mm/dd/yyyy)")), FIELDS, "plan.csv").orders == {1: False}


def test_missing_required_heading_is_named_with_the_one_that_comes_close() -> None:
    assert refusal(("topic", "dtae"), ("Forces", "2026-12-01")) == (
        'Row 1: there is no column "date" ("dtae" (B) comes close). '
        'Add a heading "date" (also understood: day, lesson date, on, when).'
    )


def test_sheet_without_any_known_heading_says_which_are_wanted() -> None:
    assert refusal(("Forces", "2026-12-01")) == (
        "plan.csv has no heading row that I know. Put a first row with headings above the table: topic, date."
    )


def test_two_headings_for_one_field_are_refused() -> None:
    assert refusal(("topic", "date", "Datum")) == (
        'Row 1: two columns mean "date": "date" (B) and "Datum" (C). Delete one of them or give it another heading.'
    )


def test_columns_that_are_not_read_are_named_with_what_may_have_been_meant() -> None:
    found = understand(sheet(("topic", "date", "Room", "homewrok")), FIELDS, "plan.csv")
    assert [english(one) for one in found.problems] == [
        'Not read and not kept: "Room" (C), "homewrok" (D) (did you mean "homework" with "homewrok"?). '
        "Nothing needs to be done if you meant that."
    ]


@pytest.mark.parametrize(
    ("text", "known", "found"),
    [
        ("dtae", ("date", "day"), "date"),
        ("lessson", ("lesson", "quiz"), "lesson"),
        ("ab", ("abc",), None),
        ("", ("date",), None),
        ("room", ("date", "topic"), None),
        ("x" * 10_000, ("date",), None),
    ],
)
def test_closest_word(text: str, known: tuple[str, ...], found: str | None) -> None:
    assert closest(text, known) == found


def test_did_you_mean_gives_the_known_spelling() -> None:
    assert did_you_mean("Hookes law", ["Hooke’s law"]) == Phrase("hint.meant", (("word", "Hooke’s law"),))
    assert did_you_mean("Optics", ["Hooke’s law"]) == ""


def test_no_word_means_two_fields() -> None:
    words = [word for field in FIELDS for word in field.words]
    assert len(words) == len(set(words))
    assert all(plain_heading(word) == word for word in words)
