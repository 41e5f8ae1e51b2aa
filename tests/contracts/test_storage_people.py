"""People and the chats in which they are reached."""

from __future__ import annotations

import pytest
from sqlmodel import select

from storage.base.database import Database
from storage.base.errors import InvalidValue, NotFound
from storage.school import classes, enrolments, people
from storage.tables import Contact, ContactState, Person, Staff
from tests.contracts.storage_school import NOW, later, person, school_class, student


def test_somebody_new_becomes_a_person_with_one_chat(db: Database):
    with db.begin() as session:
        contact = people.meet(session, "telegram", "77", "77", NOW, language="pt-BR")
        assert people.get(session, contact.person_id).language == "pt-BR"
        assert people.contact_at(session, "telegram", "77") == contact


def test_meeting_again_makes_nobody_new_and_keeps_the_latest_address(db: Database):
    with db.begin() as session:
        first = people.meet(session, "matrix", "@m", "!old", NOW)
        again = people.meet(session, "matrix", "@m", "!new", later(hours=1))
        assert again.id == first.id
        assert (again.address, again.last_heard_at) == ("!new", later(hours=1))
        assert len(session.exec(select(Person)).all()) == 1


def test_the_same_user_name_on_another_platform_is_another_person(db: Database):
    with db.begin() as session:
        assert person(session, "mira", "telegram") != person(session, "mira", "terminal")


def test_a_person_is_written_to_in_the_chat_heard_of_last_unless_it_is_blocked(db: Database):
    with db.begin() as session:
        old = people.meet(session, "telegram", "1", "1", NOW)
        new = people.meet(session, "matrix", "@1", "!1", later(days=1))
        people.move_contact(session, new.id or 0, old.person_id)
        assert people.reachable(session, old.person_id) == new
        people.block(session, "matrix", "!1")
        assert people.reachable(session, old.person_id) == old
        people.block(session, "telegram", "1")
        assert people.reachable(session, old.person_id) is None
        people.unblock(session, "matrix", "!1")
        assert people.reachable(session, old.person_id) == new


def test_whoever_writes_again_is_no_longer_blocked(db: Database):
    with db.begin() as session:
        people.meet(session, "telegram", "1", "1", NOW)
        people.block(session, "telegram", "1")
        assert people.meet(session, "telegram", "1", "1", NOW).state is ContactState.ACTIVE


def test_blocking_an_unknown_address_is_nothing(db: Database):
    with db.begin() as session:
        assert people.block(session, "telegram", "nobody") is None


def test_moving_to_another_platform_keeps_classes_and_history(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira = student(session, group, "Mira")
        new = people.meet(session, "matrix", "@mira", "!m", later(days=1))
        other = new.person_id
        people.move_contact(session, new.id or 0, mira.person_id or 0)
        assert session.get(Person, other) is None
        assert [row.id for row in enrolments.of_person(session, new.person_id)] == [mira.id]
        assert {contact.platform for contact in people.contacts(session, new.person_id)} == {
            "terminal",
            "matrix",
        }


def test_moving_hands_over_what_the_new_chat_had_of_its_own(db: Database):
    with db.begin() as session:
        physics, maths = school_class(session), school_class(session, "10B Maths", "lind")
        mira = student(session, physics, "Mira")
        new = people.meet(session, "matrix", "@mira", "!m", later(days=1))
        enrolments.join(session, maths.id or 0, new.person_id, "Mira", NOW)
        people.make_staff(session, new.person_id, "Mira", NOW)
        classes.add_teacher(session, physics.id or 0, new.person_id, "Mira", NOW)
        people.move_contact(session, new.id or 0, mira.person_id or 0)
        joined = {row.class_id for row in enrolments.of_person(session, mira.person_id or 0)}
        assert joined == {physics.id, maths.id}
        assert people.staff(session, mira.person_id or 0) is not None
        assert classes.teaches(session, mira.person_id or 0, physics.id or 0)
        assert len(session.exec(select(Staff)).all()) == 1


def test_two_histories_in_one_class_are_not_mixed(db: Database):
    with db.begin() as session:
        group = school_class(session)
        mira = student(session, group, "Mira")
        new = people.meet(session, "matrix", "@mira", "!m", NOW)
        enrolments.join(session, group.id or 0, new.person_id, "Mira", NOW)
    with pytest.raises(InvalidValue, match="both_in_class"), db.begin() as session:
        people.move_contact(session, new.id or 0, mira.person_id or 0)
    with db.begin() as session:
        assert session.get_one(Contact, new.id).person_id == new.person_id


def test_moving_a_chat_to_its_own_person_changes_nothing(db: Database):
    with db.begin() as session:
        contact = people.meet(session, "matrix", "@mira", "!m", NOW)
        people.move_contact(session, contact.id or 0, contact.person_id)
        assert people.get(session, contact.person_id)


def test_moving_to_nobody_is_refused(db: Database):
    with db.begin() as session:
        contact = people.meet(session, "matrix", "@mira", "!m", NOW)
        with pytest.raises(NotFound):
            people.move_contact(session, contact.id or 0, 999)
        with pytest.raises(NotFound):
            people.move_contact(session, 999, contact.person_id)


def test_staff_are_made_once(db: Database):
    with db.begin() as session:
        someone = person(session, "okafor")
        assert people.staff(session, someone) is None
        people.make_staff(session, someone, "Ms Okafor", NOW)
        assert people.make_staff(session, someone, "Other", later(days=1)).name == "Ms Okafor"


def test_the_language_is_kept(db: Database):
    with db.begin() as session:
        someone = person(session, "mira")
        people.set_language(session, someone, "de")
    with db.begin() as session:
        assert people.get(session, someone).language == "de"
