"""Prepared statements do what SQLAlchemy's Core does with the same statement."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session

from storage.base.database import Database
from storage.base.prepared import PreparedStatement
from storage.tables import Dialogue, InboxItem, UtcDateTime
from tests.contracts.storage_school import NOW

INBOX: sa.Table = InboxItem.__table__  # type: ignore[attr-defined]
DIALOGUE: sa.Table = Dialogue.__table__  # type: ignore[attr-defined]
GIVEN = ["platform", "key", "user", "event", "received_at"]
PUT = PreparedStatement(sa.insert(INBOX).returning(INBOX.c.id), GIVEN)


def item(number: int, **more: object) -> dict[str, Any]:
    event = {"text": "ä ✓ %s ?", "list": [number, None]}
    return {"platform": "t", "key": f"k{number}", "user": "u", "event": event, "received_at": NOW} | more


def test_what_is_not_given_gets_its_default_value(db: Database):
    with db.begin() as session:
        [(item_id,)] = PUT.rows(session, item(1))
        row = session.get_one(InboxItem, item_id)
        assert (row.attempts, row.failed, row.done_at) == (0, "", None)
        assert (row.event, row.received_at) == (item(1)["event"], NOW)


def test_rows_are_those_of_the_core(db: Database):
    asked = (
        sa.select(INBOX, (INBOX.c.attempts + sa.bindparam("more", type_=sa.Integer)).label("sum"))
        .where(
            INBOX.c.id.in_(sa.bindparam("ids", expanding=True)),
            INBOX.c.received_at <= sa.bindparam("now", type_=UtcDateTime()),
            INBOX.c.platform.in_(["t", "m"]),
        )
        .order_by(INBOX.c.id)
    )
    prepared = PreparedStatement(asked)
    with db.begin() as session:
        ids = [PUT.rows(session, item(number))[0].id for number in range(3)]
        for chosen in ([], ids[:1], ids, ids[1:]):
            values = {"ids": chosen, "now": NOW + timedelta(hours=1), "more": 7}
            expected = session.connection().execute(asked, values).all()
            found = prepared.rows(session, values)
            assert [tuple(row) for row in found] == [tuple(row) for row in expected]
            assert [row.sum for row in found] == [7] * len(chosen)
        assert prepared.rows(session, {"ids": ids, "now": NOW - timedelta(hours=1), "more": 0}) == []
        first = prepared.first(session, {"ids": ids[2:], "now": NOW, "more": 0})
        assert first is not None
        assert first.key == "k2"
        assert prepared.first(session, {"ids": [], "now": NOW, "more": 0}) is None


def test_lists_of_equal_lengths_in_another_order_are_not_mixed_up(db: Database):
    names: Any = sa.bindparam("names", expanding=True)
    prepared = PreparedStatement(
        sa.select(INBOX.c.key).where(
            INBOX.c.key.in_(names), INBOX.c.user.in_(sa.bindparam("users", expanding=True))
        )
    )
    with db.begin() as session:
        for number in range(3):
            PUT.rows(session, item(number))
        assert len(prepared.rows(session, {"names": ["k0", "k1", "k2"], "users": ["u"]})) == 3
        assert len(prepared.rows(session, {"users": ["a", "b", "u"], "names": ["k1"]})) == 1
        with pytest.raises(TypeError, match="names"):
            prepared.rows(session, {"names": ("k0",), "users": ["u"]})


def test_many_sets_of_values_are_written_at_once(db: Database):
    put = PreparedStatement(sa.insert(INBOX).inline(), GIVEN)
    with db.begin() as session:
        put.run_all(session, [item(number) for number in range(4)])
        asked = sa.select(INBOX.c.key).order_by(INBOX.c.id)
        assert session.connection().execute(asked).scalars().all() == ["k0", "k1", "k2", "k3"]


def test_it_is_told_how_many_rows_were_changed_and_what_the_session_holds_is_written_first(db: Database):
    forget = PreparedStatement(sa.delete(DIALOGUE).where(DIALOGUE.c.platform == sa.bindparam("platform")))
    with db.begin() as session:
        for user in ("mira", "noah"):
            session.add(Dialogue(platform="t", user=user, state="naming", data={}, updated_at=NOW))
        assert forget.run(session, {"platform": "t"}) == 2
        assert forget.run(session, {"platform": "t"}) == 0


def test_an_error_of_the_driver_comes_as_everywhere_names_no_values_and_undoes_the_transaction(db: Database):
    def put_twice(session: Session) -> None:
        for _ in range(2):
            PUT.rows(session, item(1))

    with pytest.raises(IntegrityError) as found, db.begin() as session:
        put_twice(session)
    assert isinstance(found.value, DBAPIError)
    assert "k1" not in str(found.value).partition("DETAIL")[0]
    with db.begin() as session:
        assert PUT.rows(session, item(1))


def test_a_value_that_is_missing_or_not_aware_is_refused(db: Database):
    with db.begin() as session:
        with pytest.raises(KeyError, match="user"):
            PUT.rows(session, {name: value for name, value in item(1).items() if name != "user"})
        with pytest.raises(ValueError, match="no time zone"):
            PUT.rows(session, item(1, received_at=NOW.replace(tzinfo=None)))


def test_who_listens_to_statements_hears_of_it_with_its_values(db: Database):
    heard: list[tuple[str, Any]] = []

    def listen(_connection: Any, _cursor: Any, text: str, values: Any, *_rest: Any) -> None:
        heard.append((text, values))

    with db.begin() as session:
        sa.event.listen(session.connection(), "before_cursor_execute", listen)
        PUT.rows(session, item(1))
    [(text, values)] = heard
    assert text.startswith("INSERT INTO inbox")
    assert "k1" in (values.values() if isinstance(values, dict) else values)


def test_a_statement_can_be_stopped_before_it_runs(db: Database):
    def stop(text: str) -> None:
        raise RuntimeError(text)

    def put(session: Session) -> None:
        session.connection()
        db.before_statement = stop
        PUT.rows(session, item(1))

    with pytest.raises(RuntimeError, match="INSERT INTO inbox"), db.begin() as session:
        put(session)
    db.before_statement = None
