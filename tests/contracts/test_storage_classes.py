"""Classes, their rules and their teachers."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from storage.base.database import Database
from storage.base.errors import InvalidValue, NotAllowed, NotFound
from storage.school import classes, people, speakers, teachers
from storage.tables import SchoolClass
from storage.values import ConsentRule
from tests.contracts.storage_school import NOW, later, person, school_class, student


def test_a_class_has_its_teacher_and_a_short_name_of_its_own(db: Database):
    with db.begin() as session:
        first, second = school_class(session), school_class(session)
        assert (first.slug, second.slug) == ("10b-physics", "10b-physics-2")
        assert school_class(session, "10B Physics 2").slug == "10b-physics-2-2"
        assert classes.by_slug(session, "10B-Physics").id == first.id
        assert [teacher.name for teacher in classes.teachers(session, first.id or 0)] == ["Ms Okafor"]


@pytest.mark.parametrize(
    ("name", "slug"), [("Ÿ 9c – Grün", "y-9c-grun"), ("物理", "class"), ("A" * 80, "a" * 70), ("  x  ", "x")]
)
def test_short_names_are_plain(name: str, slug: str):
    assert classes.slug_of(name) == slug


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_class_needs_a_name(db: Database, name: str):
    with pytest.raises(InvalidValue, match="class_name"), db.begin() as session:
        school_class(session, name)


def test_only_its_teachers_get_a_class(db: Database):
    with db.begin() as session:
        group = school_class(session)
        teacher, stranger = person(session, "okafor"), person(session, "stranger")
        assert classes.for_teacher(session, teacher, group.id or 0) is group
        with pytest.raises(NotAllowed) as strange:
            classes.for_teacher(session, stranger, group.id or 0)
        with pytest.raises(NotAllowed) as absent:
            classes.for_teacher(session, stranger, 999)
        assert str(strange.value) == str(absent.value)


def test_a_second_teacher_sees_the_class_and_the_last_one_cannot_go(db: Database):
    with db.begin() as session:
        group = school_class(session)
        first, second = person(session, "okafor"), person(session, "lind")
        classes.add_teacher(session, group.id or 0, second, "Mr Lind", later(days=1))
        classes.add_teacher(session, group.id or 0, second, "Mr Lind", later(days=2))
        assert [teacher.person_id for teacher in classes.teachers(session, group.id or 0)] == [first, second]
        assert classes.of_teacher(session, second) == [group]
        classes.remove_teacher(session, group.id or 0, first)
        with pytest.raises(InvalidValue, match="last_teacher"):
            classes.remove_teacher(session, group.id or 0, second)
        assert not classes.teaches(session, first, group.id or 0)


def test_removing_who_does_not_teach_is_refused(db: Database):
    with db.begin() as session:
        group = school_class(session)
        classes.add_teacher(session, group.id or 0, person(session, "lind"), "Mr Lind", NOW)
        with pytest.raises(NotFound):
            classes.remove_teacher(session, group.id or 0, person(session, "stranger"))


def test_a_withdrawn_teacher_is_out_of_all_classes_and_creates_none(db: Database):
    with db.begin() as session:
        group, other = school_class(session), school_class(session, "10C")
        lind = person(session, "lind")
        people.make_staff(session, lind, "Mr Lind", NOW)
        classes.add_teacher(session, group.id or 0, lind, "Mr Lind", later(days=1))
        classes.add_teacher(session, other.id or 0, lind, "Mr J. Lind", later(days=2))
        assert teachers.all_teachers(session)[0] == teachers.TeacherInfo(
            lind, "Mr J. Lind", ("10b-physics", "10c"), True
        )
        assert teachers.withdraw(session, lind) == 2
        assert [one.name for one in teachers.all_teachers(session)] == ["Ms Okafor"]
        assert people.staff(session, lind) is None
        with pytest.raises(InvalidValue, match="last_teacher"):
            teachers.withdraw(session, person(session, "okafor"))


def test_a_class_may_wait_for_its_first_teacher(db: Database):
    with db.begin() as session:
        made = classes.create(session, name="11A", zone="Europe/London", teacher_id=None, now=NOW)
        assert classes.teachers(session, made.id or 0) == []
        assert made in classes.all_classes(session)


def test_a_closed_class_is_no_longer_open(db: Database):
    with db.begin() as session:
        group, other = school_class(session), school_class(session, "10C")
        classes.close(session, group.id or 0, NOW)
        assert classes.close(session, group.id or 0, later(days=1)).closed_at == NOW
        assert classes.open_classes(session) == [other]
        teacher = person(session, "okafor")
        assert classes.of_teacher(session, teacher) == [other]
        assert classes.of_teacher(session, teacher, closed=True) == [group, other]


def test_an_unknown_short_name_lists_the_known_ones(db: Database):
    with db.begin() as session:
        with pytest.raises(NotFound, match="no class yet"):
            classes.by_slug(session, "x")
        school_class(session)
        with pytest.raises(NotFound, match="10b-physics"):
            classes.by_slug(session, "x")
        with pytest.raises(NotFound):
            classes.get(session, 999)


def test_rules_are_kept(db: Database):
    with db.begin() as session:
        group = school_class(session)
        changed: dict[str, Any] = {
            "nudges_per_day": 2,
            "questions_per_nudge": 5,
            "quiet_from": 21 * 60,
            "lesson_hours": [[0, 480, 525]],
            "school_weekdays": [0, 1, 2, 3, 4, 5],
            "consent": ConsentRule.SCHOOL,
            "retain_until": date(2027, 7, 31),
            "term_allowance": None,
            "target": 75,
            "zone": "Asia/Kathmandu",
        }
        classes.change_rules(session, group.id or 0, **changed)
    with db.begin() as session:
        found = classes.get(session, group.id or 0)
        assert {field: getattr(found, field) for field in changed} == changed


def test_a_speaker_finds_the_same_class_as_its_row(db: Database):
    with db.begin() as session:
        group = school_class(session)
        student(session, group, "Mira")
        classes.change_rules(
            session, group.id or 0, consent=ConsentRule.SCHOOL, lesson_hours=[[0, 480, 525]], target=75
        )
        known = speakers.find(session, "terminal", "mira")
        assert known is not None
        ((_, found),) = known.memberships
        assert {found} == {classes.info(classes.get(session, group.id or 0))}
    assert (found.rules.consent, found.rules.needs_permission, found.rules.target) == ("school", True, 75)
    assert found.rules.lesson_hours == ((0, 480, 525),)


def test_a_class_can_have_another_name(db: Database):
    with db.begin() as session:
        group = school_class(session)
        assert classes.rename(session, group.id or 0, " 11B  Physics ").name == "11B Physics"
        assert group.slug == "10b-physics"


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"nudges_per_day": 2, "questions_per_nudge": 6}, "cap, nudges=2"),
    ({"questions_per_nudge": 11}, "rule_questions_per_nudge, low=1, most=10"),
    ({"questions_per_nudge": 0}, "rule_questions_per_nudge, low=1, most=10"),
    ({"nudges_per_day": 3}, "rule_nudges_per_day, low=1, most=2"),
    ({"nudges_per_day": True}, "1 to 2"),
    ({"zone": "Mars/Olympus"}, "zone, found="),
    ({"zone": "../../etc/passwd"}, "zone, found="),
    ({"zone": None}, "zone, found="),
    ({"nudge_minute": 1440}, "23:59"),
    ({"nudge_minute": 22 * 60}, "class_quiet_hours"),
    ({"quiet_from": 17 * 60}, "class_quiet_hours"),
    ({"school_weekdays": []}, "at least one"),
    ({"school_weekdays": [1, 0]}, "in order"),
    ({"school_weekdays": [7]}, "in order"),
    ({"lesson_hours": [[0, 500, 400]]}, "lesson_hours"),
    ({"lesson_hours": [[0, 500]]}, "weekday, start and end"),
    ({"lesson_hours": "monday"}, "list"),
    ({"report_weekday": 7}, "weekday"),
    ({"consent": "parents"}, "student or school"),
    ({"on_holidays": "yes"}, "yes or no"),
    ({"retain_until": "2027"}, "day"),
    ({"subject": "x" * 81}, "80"),
    ({"slug": "x"}, "no rule"),
    ({"term_allowance": -1}, "rule_term_allowance"),
    ({"target": 49}, "rule_target"),
    ({"target": 96}, "rule_target"),
    ({"target": "75"}, "50 to 95 percent"),
]


@pytest.mark.parametrize(("changes", "said"), REFUSED)
def test_a_rule_that_is_refused_says_what_is_allowed_and_changes_nothing(
    memory_db: Database, changes: dict[str, Any], said: str
):
    with memory_db.begin() as session:
        group = school_class(session)
        before = group.model_dump()
        with pytest.raises(InvalidValue, match=said) as caught:
            classes.change_rules(session, group.id or 0, **{"subject": "Physics", **changes})
        assert caught.value.field in SchoolClass.model_fields
        assert classes.get(session, group.id or 0).model_dump() == before
