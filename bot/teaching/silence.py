"""The decision that a student is silent: several nudges and a week without a word.

A silent student is asked once whether they are still there, and is then left alone until they are heard of. A
student who answered nothing in the week of a report is something else (`bot.evidence.week.notes`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from storage.asked import nudges
from storage.base.database import Session
from storage.base.rows import id_of
from storage.tables import Enrolment

SILENT_AFTER = timedelta(days=7)
SILENT_NUDGES = 3


def is_silent(session: Session, student: Enrolment, heard_at: datetime, now: datetime) -> bool:
    """Whether a week of nudges went by without a word, not counting holidays and days off.

    Parameters
    ----------
    session : Session
    student : Enrolment
    heard_at : datetime
        When the person last wrote in any of their chats.
    now : datetime
    """
    since = nudges.heard_of(student, heard_at)
    unanswered = nudges.unanswered_run(session, id_of(student), since)
    return len(unanswered) >= SILENT_NUDGES and unanswered[0] <= now - SILENT_AFTER


def is_left_alone(student: Enrolment, heard_of: Mapping[int, datetime]) -> bool:
    """Whether we have said "still there?" and heard nothing since: then nothing more is sent.

    Parameters
    ----------
    student : Enrolment
    heard_of : mapping of int to datetime
        When each student of the class was last heard of (`storage.asked.nudges.active_at`).
    """
    noted = student.silence_noted_at
    return noted is not None and noted >= heard_of.get(id_of(student), noted)
