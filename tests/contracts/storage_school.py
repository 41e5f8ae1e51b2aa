"""A small invented school to ask the storage about."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlmodel import Session

from storage.queue.outbox_messages import Enclosed
from storage.school import classes, enrolments, people
from storage.tables import Enrolment, SchoolClass

NOW = datetime(2026, 9, 1, 12, 0, tzinfo=UTC)


def later(**kwargs: float) -> datetime:
    """Return a moment after `NOW`."""
    return NOW + timedelta(**kwargs)


@dataclass(frozen=True)
class Said:
    """A packed message, as the port would hand it over."""

    body: dict[str, Any] = field(default_factory=dict)
    attachment: Enclosed | None = None


def said(text: str = "hello", *, key: str = "", replaces: str = "", urgent: bool = True) -> Said:
    """Pack a text."""
    return Said({"text": [[text, False]], "buttons": [], "key": key, "replaces": replaces, "urgent": urgent})


def person(session: Session, user: str, platform: str = "terminal") -> int:
    """Return the id of a person whom we have met in a chat."""
    return people.meet(session, platform, user, f"chat-{user}", NOW).person_id


def school_class(session: Session, name: str = "10B Physics", teacher: str = "okafor") -> SchoolClass:
    """Make a class with a teacher."""
    return classes.create(
        session,
        name=name,
        zone="Europe/London",
        teacher_id=person(session, teacher),
        teacher_name="Ms Okafor",
        now=NOW,
    )


def student(session: Session, group: SchoolClass, name: str) -> Enrolment:
    """Let a student join a class."""
    assert group.id is not None
    return enrolments.join(session, group.id, person(session, name.lower()), name, NOW)
