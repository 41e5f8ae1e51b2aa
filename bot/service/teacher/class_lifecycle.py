"""A class begins and ends, in the same way from the chat and from the command line."""

from __future__ import annotations

from datetime import datetime

from bot.service.teacher.calendar import ensure_class_work
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import classes, codes
from storage.tables import CodeKind, SchoolClass


def begin(
    session: Session,
    *,
    name: str,
    subject: str,
    zone: str,
    language: str,
    teacher_id: int | None,
    teacher_name: str,
    now: datetime,
) -> SchoolClass:
    """Make a class and plan what comes to its teachers by itself.

    Parameters
    ----------
    session : Session
        An open transaction.
    name, subject, zone, language : str
        As people call it; what is taught; the school's IANA zone; the language of its messages.
    teacher_id : int or None
        Its first teacher; None where that person comes later, with a code.
    teacher_name : str
        How students are told who teaches it.
    now : datetime
        The present moment.

    Raises
    ------
    InvalidValue
        A name or a zone that is refused.
    """
    made = classes.create(
        session,
        name=name,
        zone=zone,
        teacher_id=teacher_id,
        teacher_name=teacher_name,
        now=now,
        subject=subject,
        language=language,
    )
    ensure_class_work(session, id_of(made), now)
    return made


def end(session: Session, class_id: int, now: datetime) -> SchoolClass:
    """End a class: its codes open nothing any more, nobody is asked, its data go at the end of their period."""
    codes.revoke_all(session, class_id, CodeKind.CLASS, now)
    return classes.close(session, class_id, now)
