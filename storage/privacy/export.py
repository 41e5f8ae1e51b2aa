"""Everything stored about one student, or in one class, as plain data and as text to read.

Goes by the list in `storage.privacy.belongings`, so that it shows all that an erasure would take. Hashes of codes are
left out: they are of no use to anybody.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlmodel import Session, select

from storage.base import key_values
from storage.base.errors import NotFound
from storage.privacy import belongings
from storage.privacy.belongings import OwnedRows
from storage.tables import (
    Answer,
    Enrolment,
    Lesson,
    Person,
    Question,
    Quiz,
    Review,
    SchoolClass,
    Topic,
    Upload,
)

RECORDS_KEY = "records_key"
"""Name under which this database keeps the key of the pseudonyms in learning-record exports."""

_SECRET = {"digest"}
KINDS = (
    "person",
    "contact",
    "dialogue",
    "enrolment",
    "answer",
    "review",
    "nudge",
    "homework_report",
    "absence",
    "score",
    "teaching",
    "staff",
    "code",
    "codetry",
    "upload",
    "due",
    "inbox",
    "outbox",
)
"""Names of the tables that can hold something about a person; their headings are wording of the bot."""


def of_person(session: Session, person_id: int, now: datetime) -> dict[str, Any]:
    """Return everything stored about a person.

    Returns
    -------
    dict
        JSON-able: ``made_at``, then a list of rows for every table that has some, with names in place of
        numbers where a person would not know the number.

    Raises
    ------
    NotFound
        No such person.
    """
    if session.get(Person, person_id) is None:
        raise NotFound(f"There is no person {person_id}.")
    parts = belongings.of_person(belongings.owner(session, person_id))
    return {"made_at": now.isoformat(), **_rows(session, parts)}


def of_class(session: Session, class_id: int, now: datetime) -> dict[str, Any]:
    """Return everything stored in a class, in the form of `of_person`. For its teachers only."""
    if session.get(SchoolClass, class_id) is None:
        raise NotFound(f"There is no class {class_id}.")
    return {"made_at": now.isoformat(), **_rows(session, belongings.of_class(session, class_id))}


def records_key(session: Session, now: datetime) -> bytes:
    """Return the secret that pseudonyms in learning-record exports are made with: made once, then always the same.

    It stays in the database, beside the names that it hides, so that every worker and every later export has it.
    """
    kept = key_values.get(session, RECORDS_KEY)
    return bytes.fromhex(kept or key_values.get_or_put(session, RECORDS_KEY, secrets.token_hex(32), now))


def readable(data: Mapping[str, Any], headings: Mapping[str, str] | None = None) -> str:
    """Return exported data as text that says the same: one line per value, a heading per kind.

    `headings` gives kinds their names for people; without one a kind is called as its table.
    """
    return "\n".join(_lines(data, headings or {})) + "\n"


def _rows(session: Session, parts: Sequence[OwnedRows]) -> dict[str, list[dict[str, Any]]]:
    names = _Names(session)
    found = {}
    for part in reversed(parts):  # people and classes first, details last
        rows = session.exec(select(part.table).where(part.condition)).all()
        if rows:
            found[part.name] = [names.plain(row) for row in rows]
    return found


class _Names:
    """Turns rows into plain data, with names beside numbers. Looks every name up once."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._known: dict[tuple[str, Any], dict[str, Any]] = {}

    def plain(self, row: Any) -> dict[str, Any]:
        """Return a row as JSON-able data."""
        hidden = _SECRET | ({"content", "before"} if isinstance(row, Upload) else set())
        data: dict[str, Any] = row.model_dump(mode="json", exclude=hidden)
        for field in ("class_id", "topic_id", "question_id", "quiz_id", "lesson_id", "enrolment_id"):
            if data.get(field) is not None:
                data |= self._name(field, data[field])
        return data | self._as_asked(row)

    def _as_asked(self, row: Any) -> dict[str, Any]:
        """Show a question with drawn values as the student saw it."""
        if isinstance(row, Answer):
            row = self._session.get(Review, row.review_id)
        drawn = row.drawn if isinstance(row, Review) else None
        return {} if drawn is None else {"question": drawn["prompt"]}

    def _name(self, field: str, number: int) -> dict[str, Any]:
        if (field, number) not in self._known:
            self._known[field, number] = self._look_up(field, number)
        return self._known[field, number]

    def _look_up(self, field: str, number: int) -> dict[str, Any]:
        table, column, label = _NAMED[field]
        row = self._session.get(table, number)
        return {label: row.model_dump(mode="json")[column]} if row is not None else {}


_NAMED: Mapping[str, tuple[type[Any], str, str]] = {
    "class_id": (SchoolClass, "name", "class"),
    "topic_id": (Topic, "name", "topic"),
    "question_id": (Question, "prompt", "question"),
    "quiz_id": (Quiz, "at", "quiz"),
    "lesson_id": (Lesson, "starts_at", "lesson"),
    "enrolment_id": (Enrolment, "name", "student"),
}


def _lines(data: Mapping[str, Any], headings: Mapping[str, str]) -> Iterator[str]:
    for name, value in data.items():
        if not isinstance(value, list):
            yield f"{name}: {value}"
            continue
        yield f"\n{headings.get(name, name)}"
        for row in value:
            told = ((field, entry) for field, entry in row.items() if entry not in (None, "", [], {}))
            yield "  " + "; ".join(f"{field}: {entry}" for field, entry in told)
