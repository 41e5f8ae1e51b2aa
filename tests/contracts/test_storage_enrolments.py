"""Students joining, leaving, pausing; the roster."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from storage.base.database import Database
from storage.base.errors import InvalidValue, NotAllowed, NotFound
from storage.school import classes, enrolments
from storage.tables import EnrolmentState
from storage.values import ConsentRule
from tests.contracts.storage_school import NOW, later, person, school_class, student


def test_joining_twice_is_joining_once(db: Database):
    with db.begin() as session:
        group = school_class(session)
        first, again = student(session, group, "Mira"), student(session, group, "Mira")
        assert first is again
        assert first.state is EnrolmentState.ACTIVE
        assert first.consented_at == NOW
        assert enrolments.count(session, group.id or 0) == 1


def test_where_the_school_has_to_permit_it_a_student_waits(db: Database):
    with db.begin() as session:
        group = school_class(session)
        classes.change_rules(session, group.id or 0, consent=ConsentRule.SCHOOL)
        mira = student(session, group, "Mira")
        assert mira.state is EnrolmentState.WAITING
        assert enrolments.asked(session, group.id or 0) == []
        enrolments.permit(session, mira.id or 0)
        assert enrolments.asked(session, group.id or 0) == [mira]


def test_who_left_can_come_back_to_the_old_history(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira = student(session, group, "Mira")
        enrolments.leave(session, mira.id or 0, later(days=3))
        assert enrolments.roster(session, group.id or 0) == []
        assert enrolments.roster(session, group.id or 0, left=True) == [mira]
        assert enrolments.of_person(session, mira.person_id or 0) == []
        assert enrolments.of_person(session, mira.person_id or 0, left=True) == [mira]
        back = enrolments.join(session, group.id or 0, mira.person_id or 0, "Mira K", later(days=9))
        assert (back.id, back.name, back.state, back.left_at) == (
            mira.id,
            "Mira K",
            EnrolmentState.ACTIVE,
            None,
        )


def test_nobody_joins_a_class_that_has_ended(db: Database):
    with db.begin() as session:
        group = school_class(session)
        classes.close(session, group.id or 0, NOW)
        with pytest.raises(NotFound, match="class_ended"):
            student(session, group, "Mira")


def test_a_pause_lasts_until_its_day_or_the_student_ends_it(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira, tom = student(session, group, "Mira"), student(session, group, "Tom")
        enrolments.pause(session, mira.id or 0, date(2026, 9, 10))
        enrolments.pause(session, tom.id or 0)
        assert enrolments.asked(session, group.id or 0) == []
        assert enrolments.pauses_ending(session, date(2026, 9, 9)) == []
        assert enrolments.pauses_ending(session, date(2026, 9, 10)) == [mira]
        enrolments.resume(session, mira.id or 0)
        assert (mira.state, mira.paused_until) == (EnrolmentState.ACTIVE, None)
        assert enrolments.asked(session, group.id or 0) == [mira]


def test_who_waits_or_left_cannot_pause(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira = student(session, group, "Mira")
        enrolments.leave(session, mira.id or 0, NOW)
        with pytest.raises(InvalidValue, match="not_asked"):
            enrolments.pause(session, mira.id or 0)
        assert enrolments.resume(session, mira.id or 0).state is EnrolmentState.LEFT


def test_an_enrolment_is_shown_only_to_its_student(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira, tom = student(session, group, "Mira"), student(session, group, "Tom")
        assert enrolments.for_person(session, mira.person_id or 0, mira.id or 0) is mira
        with pytest.raises(NotAllowed) as strange:
            enrolments.for_person(session, tom.person_id or 0, mira.id or 0)
        with pytest.raises(NotAllowed) as absent:
            enrolments.for_person(session, tom.person_id or 0, 999)
        assert str(strange.value) == str(absent.value)
        with pytest.raises(NotFound):
            enrolments.get(session, 999)


def test_the_roster_is_sorted_by_name_and_takes_each_name_once(db: Database):
    with db.begin() as session:
        group = school_class(session)
        new = enrolments.add_to_roster(
            session, group.id or 0, ["Zoë Ray", "élif Kaya", "ZOE  RAY", "Tom"], NOW
        )
        assert [row.name for row in new] == ["Zoë Ray", "élif Kaya", "Tom"]
        assert enrolments.add_to_roster(session, group.id or 0, ["tom"], NOW) == []
        assert [row.name for row in enrolments.roster(session, group.id or 0)] == [
            "élif Kaya",
            "Tom",
            "Zoë Ray",
        ]
        assert enrolments.asked(session, group.id or 0) == []
        assert enrolments.count(session, group.id or 0) == 0


def test_a_joining_student_is_found_on_the_roster(db: Database):
    with db.begin() as session:
        group = school_class(session)
        rows = enrolments.add_to_roster(session, group.id or 0, ["Kaya, Elif", "Elif Demir", "Tom Lind"], NOW)
        match = [row.name for row in enrolments.match_roster(session, group.id or 0, "elif")]
        assert match == ["Elif Demir", "Kaya, Elif"]
        assert enrolments.match_roster(session, group.id or 0, "tom  LIND") == [rows[2]]
        assert enrolments.match_roster(session, group.id or 0, "Mira") == []
        assert enrolments.match_roster(session, group.id or 0, "") == []


def test_a_name_on_the_roster_is_taken_once(db: Database):
    with db.begin() as session:
        group = school_class(session)
        [row] = enrolments.add_to_roster(session, group.id or 0, ["Elif"], NOW)
        elif_ = enrolments.join(session, group.id or 0, person(session, "a"), "Elif", NOW, roster_id=row.id)
        assert (elif_.id, elif_.state) == (row.id, EnrolmentState.ACTIVE)
        with pytest.raises(InvalidValue, match="name_taken"):
            enrolments.join(session, group.id or 0, person(session, "b"), "Elif", NOW, roster_id=row.id)
        assert enrolments.match_roster(session, group.id or 0, "Elif") == []


def test_a_name_on_another_roster_is_refused(db: Database):
    with db.begin() as session:
        group, other = school_class(session), school_class(session, "10C")
        [row] = enrolments.add_to_roster(session, other.id or 0, ["Elif"], NOW)
        with pytest.raises(InvalidValue, match="name_taken"):
            enrolments.join(session, group.id or 0, person(session, "a"), "Elif", NOW, roster_id=row.id)


@pytest.mark.parametrize("name", ["", " \t", "​", "x" * 81])
def test_a_name_that_shows_nothing_or_too_much_is_refused(memory_db: Database, name: str):
    with memory_db.begin() as session:
        group = school_class(session)
        mira = student(session, group, "Mira")
        with pytest.raises(InvalidValue, match="person_name"):
            enrolments.rename(session, mira.id or 0, name)
        assert mira.name == "Mira"


def test_a_name_loses_its_control_characters_and_direction_overrides():
    assert enrolments.tidy_name(" Mi\u202era\n\tK\x00 ") == "Mira K"


def test_own_times_are_kept_and_taken_back(db: Database):
    with db.begin() as session:
        mira = student(session, school_class(session), "Mira")
        enrolments.set_times(
            session, mira.id or 0, zone="Asia/Tokyo", nudge_minute=990, quiet_from=1140, quiet_until=480
        )
    with db.begin() as session:
        row = enrolments.get(session, mira.id or 0)
        assert (row.zone, row.nudge_minute, row.quiet_from, row.quiet_until) == ("Asia/Tokyo", 990, 1140, 480)
        enrolments.set_times(session, mira.id or 0, quiet_from=None, quiet_until=None)
        assert (row.quiet_from, row.nudge_minute) == (None, 990)


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"nudge_minute": 20 * 60}, "own_quiet_hours"),
    ({"quiet_from": 17 * 60, "quiet_until": 19 * 60}, "own_quiet_hours"),
    ({"quiet_from": 17 * 60}, "quiet_needs_both"),
    ({"zone": "Nowhere"}, "zone, found=Nowhere"),
    ({"nudge_minute": -1}, "23:59"),
    ({"name": "x"}, "no time"),
]


@pytest.mark.parametrize(("changes", "said"), REFUSED)
def test_a_time_that_is_refused_changes_nothing(memory_db: Database, changes: dict[str, Any], said: str):
    with memory_db.begin() as session:
        mira = student(session, school_class(session), "Mira")
        before = mira.model_dump()
        with pytest.raises(InvalidValue, match=said):
            enrolments.set_times(session, mira.id or 0, **changes)
        assert mira.model_dump() == before
