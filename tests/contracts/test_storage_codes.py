"""Codes: entropy, wrong tries, expiry, uses, taking back."""

from __future__ import annotations

import math
import secrets
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session, select

from storage.base.database import Database
from storage.school import codes
from storage.school.codes import CodeLookup
from storage.tables import Code, CodeKind, CodeTry, KeyValue
from tests.contracts.storage_school import NOW, later, person, school_class


def typed(session: Session, text: str, user: str = "u", *, minutes: float = 0, **more: object) -> CodeLookup:
    return codes.redeem(session, text, platform="terminal", user=user, now=later(minutes=minutes), **more)  # type: ignore[arg-type]


def test_a_code_is_good_as_typed_by_people(db: Database):
    with db.begin() as session:
        group = school_class(session)
        issued = codes.issue(session, CodeKind.CLASS, now=NOW, class_id=group.id)
        text = issued.text
        for form in (text, text.lower(), f" {text[:5]}-{text[5:]} ", f"{text[:5]} {text[5:]}\n"):
            found = typed(session, form).code
            assert found is not None
            assert (found.id, found.class_id) == (issued.code.id, group.id)


def test_no_code_reads_as_a_number_with_its_unit(db: Database, monkeypatch: pytest.MonkeyPatch):
    drawn = iter("5SXBFPBJMHABCDEFGHJK23456789235SXBFPBJM7")
    monkeypatch.setattr(secrets, "choice", lambda _: next(drawn))
    with db.begin() as session:
        assert codes.issue(session, CodeKind.TEACHER, now=NOW).text == "5SXBFPBJM7"


def test_codes_have_49_bits_of_letters_that_nobody_mixes_up():
    assert len(set(codes.ALPHABET)) == 31
    assert not set(codes.ALPHABET) & set("01ILO")
    assert codes.LENGTH * math.log2(len(codes.ALPHABET)) > 49


def test_the_text_of_a_code_is_stored_nowhere(db: Database):
    with db.begin() as session:
        issued = codes.issue(session, CodeKind.TEACHER, now=NOW, uses=1)
        stored = str(session.exec(select(Code)).one().model_dump()) + str(
            session.exec(select(KeyValue)).all()
        )
        assert issued.text not in stored
        assert len(issued.code.digest) == 64


def test_the_last_use_is_the_last(db: Database):
    with db.begin() as session:
        issued = codes.issue(session, CodeKind.TEACHER, now=NOW, uses=2)
        assert typed(session, issued.text).code
        assert typed(session, issued.text, "v").code
        assert typed(session, issued.text, "w") == CodeLookup(None)


def test_looking_uses_nothing_up(db: Database):
    with db.begin() as session:
        issued = codes.issue(session, CodeKind.TEACHER, now=NOW, uses=1)
        for _ in range(3):
            assert codes.look(session, issued.text, platform="t", user="u", now=NOW).code
        assert codes.use(session, issued.code.id or 0, NOW)
        assert not codes.use(session, issued.code.id or 0, NOW)


def test_wrong_expired_used_up_revoked_and_misplaced_codes_get_the_same_answer(db: Database):
    with db.begin() as session:
        expired = codes.issue(session, CodeKind.CLASS, now=NOW, lasts=timedelta(minutes=1))
        used = codes.issue(session, CodeKind.CLASS, now=NOW, uses=1)
        assert typed(session, used.text).code
        revoked = codes.issue(session, CodeKind.CLASS, now=NOW)
        codes.revoke(session, revoked.code.id or 0, NOW)
        teacher = codes.issue(session, CodeKind.TEACHER, now=NOW)
        answers = [
            typed(session, text, minutes=2, kinds=[CodeKind.CLASS])
            for text in ("2345678923", expired.text, used.text, revoked.text, teacher.text)
        ]
        assert answers == [CodeLookup(None)] * 5
        assert len(session.exec(select(CodeTry)).all()) == 5


def test_a_code_is_good_until_its_moment(db: Database):
    with db.begin() as session:
        issued = codes.issue(session, CodeKind.CLASS, now=NOW, lasts=timedelta(minutes=10))
        assert typed(session, issued.text, minutes=9.99).code
        assert not typed(session, issued.text, minutes=10).code


def test_five_wrong_tries_an_hour_and_then_even_the_right_code_waits(db: Database):
    with db.begin() as session:
        issued = codes.issue(session, CodeKind.CLASS, now=NOW)
        for minute in range(5):
            assert typed(session, "WRONG", minutes=minute) == CodeLookup(None)
        assert typed(session, issued.text, minutes=5) == CodeLookup(None, too_many=True)
        assert typed(session, issued.text, "another", minutes=5).code
        assert typed(session, issued.text, minutes=59.9).too_many
        assert typed(session, issued.text, minutes=60.1).code


def test_many_accounts_together_have_a_limit_too(memory_db: Database):
    with memory_db.begin() as session:
        issued = codes.issue(session, CodeKind.CLASS, now=NOW)
        session.add_all(CodeTry(platform="t", user=str(n), at=NOW) for n in range(codes.TRIES_AN_HOUR_IN_ALL))
        session.flush()
        assert typed(session, issued.text, "fresh") == CodeLookup(None, too_many=True)


def test_all_codes_of_a_kind_are_taken_back_together(db: Database):
    with db.begin() as session:
        group = school_class(session)
        first = codes.issue(session, CodeKind.CLASS, now=NOW, class_id=group.id)
        second = codes.issue(session, CodeKind.CLASS, now=NOW, class_id=group.id)
        invitation = codes.issue(
            session, CodeKind.TEACHER, now=NOW, class_id=group.id, person_id=person(session, "okafor")
        )
        live = codes.live(session, group.id or 0, NOW, kind=CodeKind.CLASS)
        assert [code.id for code in live] == [second.code.id, first.code.id]
        assert codes.revoke_all(session, group.id or 0, CodeKind.CLASS, NOW) == 2
        assert [code.id for code in codes.live(session, group.id or 0, NOW)] == [invitation.code.id]
        assert not typed(session, first.text).code
        assert typed(session, invitation.text).code


def test_codes_of_another_database_are_strangers(db: Database, memory_db: Database):
    with memory_db.begin() as elsewhere:
        text = codes.issue(elsewhere, CodeKind.CLASS, now=NOW).text
    with db.begin() as session:
        codes.issue(session, CodeKind.CLASS, now=NOW)
        assert not typed(session, text).code


@pytest.mark.parametrize("text", ["abcde-fghjk", "2345 6789 AB", "  ZZZZZZZZZZ"])
def test_the_form_of_a_code_is_recognised(text: str):
    assert codes.looks_like_code(text)


@given(st.text(max_size=30))
def test_any_text_can_be_typed_where_a_code_is_wanted(text: str):
    assert codes.looks_like_code(text) == (
        set(codes.tidy(text)) <= set(codes.ALPHABET) and len(codes.tidy(text)) == 10
    )


@pytest.mark.parametrize("text", ["", "\x00", "ß" * 5000, "'; DROP TABLE code; --", "\ud800"])
def test_hostile_texts_are_only_wrong(memory_db: Database, text: str):
    with memory_db.begin() as session:
        assert typed(session, text) == CodeLookup(None)


def test_every_code_has_a_letter_and_a_figure_as_a_class_place_expects_of_a_code(memory_db: Database) -> None:
    with memory_db.begin() as session:
        issued = [codes.issue(session, CodeKind.CHANNEL, now=NOW, class_id=None).text for _ in range(300)]
    assert not [text for text in issued if text.isalpha() or text.isdigit()]
