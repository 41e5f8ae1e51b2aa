"""Problems of uploaded files as sentences: what is wrong, where, what to do."""

from __future__ import annotations

from storage.files.problem import Problem, excerpt, problem
from tests.wording import sentence as english


def test_sentence_names_row_column_value_and_remedy() -> None:
    one = Problem(
        "date_unreal", 7, "C", "date", "31.02.2026", (("order", "day.month.year"), ("example", "28.02.2026"))
    )
    assert english(one) == (
        'Row 7, column "date" (C): "31.02.2026" is not a day that exists. '
        "Write day.month.year, for example 28.02.2026."
    )


def test_sentence_of_a_row_has_no_column() -> None:
    assert english(Problem("options_none", 12)).startswith("Row 12: a choice question needs wrong options. ")


def test_sentence_of_an_event_says_event() -> None:
    assert english(Problem("event_untitled", 3, place="event")).startswith(
        "Event 3: this event has no title. "
    )


def test_sentence_of_a_file_begins_with_its_name_unchanged() -> None:
    assert english(problem("file_empty", name="physics.csv")).startswith("physics.csv is empty. ")


def test_value_found_is_cut_and_shown_on_one_line() -> None:
    long = problem("date_unread", found="x\n" * 100 + "\u202eevil", order="d", example="e")
    assert long.found is not None
    assert len(long.found) <= 60
    assert long.found.endswith("…")
    assert "\n" not in long.found


def test_braces_in_a_value_are_no_placeholders() -> None:
    assert '"{name} {0}" is not a time of day' in english(problem("time_unread", found="{name} {0}"))


def test_excerpt_keeps_short_texts() -> None:
    assert excerpt("Hooke’s law") == "Hooke’s law"
