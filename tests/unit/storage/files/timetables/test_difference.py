"""A new upload becomes a difference: moved, renamed, new, dropped, never a duplicate."""

from __future__ import annotations

from datetime import date, time

from storage.files.timetables.difference import Difference, TopicChange, compare
from storage.files.values import HolidayRow, LessonRow, QuizRow, TimetableFile


def september(day: int) -> date:
    return date(2026, 9, day)


def lessons(
    old: list[tuple[str, int]], new: list[tuple[str, int]], **more: set[tuple[str, str]]
) -> Difference:
    known = tuple(LessonRow(key, topic, september(day)) for key, (topic, day) in enumerate(old, start=1))
    rows = tuple(LessonRow(row, topic, september(day)) for row, (topic, day) in enumerate(new, start=2))
    return compare(TimetableFile(known), TimetableFile(rows), not_renamed=more.get("not_renamed", set()))


def kinds(found: Difference) -> list[str]:
    words = []
    for change in found.lessons:
        states = [word for word in ("new", "dropped", "moved", "renamed", "same") if getattr(change, word)]
        name = change.after.topic if change.after else change.before.topic if change.before else "?"
        words.append(f"{name}: {' and '.join(states)}")
    return words


def test_same_file_again_changes_nothing() -> None:
    term = [("Density", 1), ("Springs", 3), ("Moments", 8)]
    found = lessons(term, term)
    assert found.nothing
    assert found.counts()["lessons"]["same"] == 3


def test_moved_renamed_new_and_dropped() -> None:
    found = lessons(
        [("Density", 1), ("Springs", 3), ("Moments", 8), ("Optics", 10)],
        [("Density", 2), ("Springs and forces", 3), ("Moments", 8), ("Pressure", 15)],
    )
    assert kinds(found) == [
        "Density: moved",
        "Springs and forces: renamed",
        "Moments: same",
        "Pressure: new",
        "Optics: dropped",
    ]
    assert found.counts()["lessons"] == {
        "same": 1,
        "moved": 1,
        "renamed": 1,
        "changed": 0,
        "new": 1,
        "dropped": 1,
    }
    assert found.topics == (
        TopicChange("Springs", "Springs and forces", found.topics[0].sure),
        TopicChange(None, "Pressure"),
        TopicChange("Optics", None),
    )


def test_other_name_on_the_same_day_is_a_doubtful_rename() -> None:
    found = lessons([("Springs", 3), ("Density", 5)], [("Hooke's law", 3), ("Density", 5)])
    assert kinds(found) == ["Hooke's law: renamed", "Density: same"]
    assert found.doubtful == (TopicChange("Springs", "Hooke's law", sure=False),)


def test_doubtful_rename_that_the_teacher_refuses_is_a_new_topic() -> None:
    found = lessons([("Springs", 3)], [("Hooke's law", 3)], not_renamed={("Springs", "Hooke's law")})
    assert kinds(found) == ["Hooke's law: new", "Springs: dropped"]
    assert found.doubtful == ()


def test_alike_name_on_another_day_is_moved_and_renamed() -> None:
    found = lessons([("Pressure in liquids", 3)], [("Pressure in a liquid", 10)])
    assert kinds(found) == ["Pressure in a liquid: moved and renamed"]
    assert found.doubtful == ()


def test_lesson_put_in_front_moves_the_others_and_renames_none() -> None:
    found = lessons([("A", 1), ("B", 3), ("C", 8)], [("New", 1), ("A", 3), ("B", 8), ("C", 10)])
    assert kinds(found) == ["New: new", "A: moved", "B: moved", "C: moved"]


def test_topics_that_change_places_are_moved() -> None:
    assert kinds(lessons([("A", 1), ("B", 3)], [("B", 1), ("A", 3)])) == ["B: moved", "A: moved"]


def test_lessons_of_one_topic_keep_their_days_and_only_the_odd_one_moves() -> None:
    found = lessons([("A", 1), ("A", 8), ("A", 15)], [("A", 8), ("A", 15), ("A", 22)])
    assert kinds(found) == ["A: same", "A: same", "A: moved"]
    moved = found.lessons[2]
    assert moved.before is not None
    assert moved.before.day == september(1)


def test_other_quotes_and_case_are_no_rename_but_a_change() -> None:
    found = lessons([("Hooke's law", 1)], [("Hooke’s Law", 1)])
    assert kinds(found) == ["Hooke’s Law: "]
    assert found.counts()["lessons"]["changed"] == 1
    assert found.topics == ()


def test_homework_alone_is_a_change() -> None:
    found = compare(
        TimetableFile((LessonRow(1, "A", september(1)),)),
        TimetableFile((LessonRow(2, "A", september(1), homework="p. 12"),)),
    )
    assert found.counts()["lessons"]["changed"] == 1
    assert not found.nothing


def test_other_time_on_the_same_day_is_moved_only_if_both_times_are_known() -> None:
    known = TimetableFile((LessonRow(1, "A", september(1), time(8, 30)),))
    later = compare(known, TimetableFile((LessonRow(2, "A", september(1), time(10, 0)),)))
    unknown = compare(known, TimetableFile((LessonRow(2, "A", september(1)),)))
    assert later.counts()["lessons"]["moved"] == 1
    assert unknown.counts()["lessons"] == {
        "same": 0,
        "moved": 0,
        "renamed": 0,
        "changed": 1,
        "new": 0,
        "dropped": 0,
    }


def test_quizzes_and_holidays_are_compared_too() -> None:
    known = TimetableFile(
        quizzes=(
            QuizRow(1, "Quiz 1", september(10)),
            QuizRow(2, "Quiz 2", september(20)),
            QuizRow(3, "Old", september(28)),
        ),
        holidays=(
            HolidayRow(1, date(2026, 10, 26), date(2026, 10, 30), "Half-term"),
            HolidayRow(2, date(2026, 12, 21), date(2027, 1, 1), "Winter"),
        ),
    )
    new = TimetableFile(
        quizzes=(QuizRow(2, "Quiz 1", september(11)), QuizRow(3, "Forces quiz", september(20))),
        holidays=(
            HolidayRow(4, date(2026, 10, 26), date(2026, 10, 31), "Half-term"),
            HolidayRow(5, date(2027, 3, 29), date(2027, 4, 9), "Winter"),
        ),
    )
    counts = compare(known, new).counts()
    assert counts["quizzes"] == {"same": 0, "moved": 1, "renamed": 1, "changed": 0, "new": 0, "dropped": 1}
    assert counts["holidays"] == {"same": 0, "moved": 1, "renamed": 0, "changed": 0, "new": 1, "dropped": 1}


def test_every_entry_stands_in_the_difference_exactly_once() -> None:
    found = lessons([("A", 1), ("B", 1), ("A", 1)], [("A", 1), ("A", 2), ("C", 1), ("B", 9)])
    before = [change.before.row for change in found.lessons if change.before]
    after = [change.after.row for change in found.lessons if change.after]
    assert sorted(before) == [1, 2, 3]
    assert sorted(after) == [2, 3, 4, 5]


def test_first_upload_is_all_new() -> None:
    found = lessons([], [("A", 1), ("B", 3)])
    assert kinds(found) == ["A: new", "B: new"]
    assert [change.after for change in found.topics] == ["A", "B"]
