"""A class whose evening of nudges is planned, up to shortly before the first one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.service.asking import planning
from storage.base.database import Database, Session
from storage.school import enrolments, people
from tests.dialogues import CHOICE, MONDAY, Group, Stage, add_class, at, teach

DAY = timedelta(days=1)


def planned(db: Database, platform: str, chats: Sequence[tuple[str, str]], questions: int) -> Stage:
    """Plan the evening.

    Parameters
    ----------
    db : Database
        Without a school.
    platform : str
        Where the students are.
    chats : sequence of (str, str)
        Each student's user and address there.
    questions : int
        How many each is asked, of twice as many topics.
    """
    school = Stage(db, at(MONDAY, 8))
    group = add_class(school, questions_per_nudge=questions)
    for number in range(2 * questions):
        teach(school, group, f"Topic {number}", at(MONDAY - (3 + number) * DAY, 10), [CHOICE])
    school.run(_enrol, group, platform, chats, school.now)
    school.run(planning.look_at_all, school.now)
    school.go_to(at(MONDAY, 17, 55))
    return school


def _enrol(
    session: Session, group: Group, platform: str, chats: Sequence[tuple[str, str]], now: datetime
) -> None:
    for number, (user, address) in enumerate(chats):
        contact = people.meet(session, platform, user, address, now)
        enrolments.join(session, group.id, contact.person_id, f"Student {number}", now - 30 * DAY)
