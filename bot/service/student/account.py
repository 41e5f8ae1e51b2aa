"""What belongs to a person in any role, carried out: language, data, moving, erasing."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.service.engine.due_work import DueItem, WorkContext, does, finish
from bot.service.engine.effects import Speaker, Work, carries
from bot.service.engine.facts import words_of
from bot.service.engine.loop import resume
from bot.talk.account import (
    AskErasure,
    Erase,
    Erased,
    ErasureAsked,
    Export,
    Exported,
    IssueMoveCode,
    LanguageKept,
    MoveCode,
    NothingStored,
    Preparing,
    SetLanguage,
)
from bot.talk.core import Result
from storage.base.database import Session
from storage.base.rows import id_of
from storage.queue import due
from storage.school import classes, codes, people
from storage.tables import CodeKind

MOVE_CODE_MIN = 15
OWN_DATA = "own_data"


@carries(SetLanguage)
def set_language(work: Work, effect: SetLanguage) -> Sequence[Result]:
    """Keep the language that the speaker chose."""
    if work.person_id is None:
        return [NothingStored()]
    people.set_language(work.session, work.person_id, effect.language)
    return [LanguageKept()]


# ---------------------------------------------------------------- data


@carries(Export)
def export(work: Work, effect: Export) -> Sequence[Result]:
    """Have everything stored about the speaker put into files; asking twice before it is done asks once."""
    del effect
    person = work.person_id
    if person is None:
        return [NothingStored()]
    if not due.is_open(work.session, OWN_DATA, person):
        key = f"{OWN_DATA}:{person}:{secrets.token_hex(8)}"
        payload = {"speaker": work.speaker.as_data()}
        due.ensure(work.session, key, OWN_DATA, work.now, subject=person, payload=payload)
    return [Preparing()]


@does(OWN_DATA)
async def own_data(work_context: WorkContext, item: DueItem) -> None:
    """Put everything stored about a person into files."""
    await work_context.db.run(_hand_over, work_context, item, work_context.clock.now())


def _hand_over(session: Session, work_context: WorkContext, item: DueItem, now: datetime) -> None:
    from bot.service.student.person_files import files_of

    finish(session, item, now)
    speaker: Speaker = item.speaker
    language = words_of(session, work_context.app_context, speaker).language
    files = files_of(session, item.subject or 0, now, language)
    resume(session, work_context.app_context, speaker, Exported(files), now)


# ---------------------------------------------------------------- moving


@carries(IssueMoveCode)
def issue_move_code(work: Work, effect: IssueMoveCode) -> Sequence[Result]:
    """Make a code with which the speaker goes on elsewhere."""
    del effect
    if work.person_id is None:
        return [NothingStored()]
    issued = codes.issue(
        work.session,
        CodeKind.MOVE,
        now=work.now,
        person_id=work.person_id,
        uses=1,
        lasts=timedelta(minutes=MOVE_CODE_MIN),
    )
    return [MoveCode(issued.text, MOVE_CODE_MIN)]


# ---------------------------------------------------------------- erasing


@carries(AskErasure)
def ask_erasure(work: Work, effect: AskErasure) -> Sequence[Result]:
    """See what erasing the speaker would mean; nothing is changed."""
    del effect
    return [NothingStored() if work.person_id is None else _meaning(work, work.person_id)]


def _meaning(work: Work, person_id: int) -> ErasureAsked:
    alone: list[str] = []
    shared: list[str] = []
    for school_class in classes.of_teacher(work.session, person_id):
        others = len(classes.teachers(work.session, id_of(school_class))) > 1
        (shared if others else alone).append(school_class.name)
    staff = people.staff(work.session, person_id) is not None
    return ErasureAsked(tuple(alone), tuple(shared), staff)


@carries(Erase)
def erase(work: Work, effect: Erase) -> Sequence[Result]:
    """Erase everything stored about the speaker, unless an open class would be left without a teacher."""
    from storage.privacy import erasure

    if work.person_id is None:
        return [NothingStored()]
    meaning = _meaning(work, work.person_id)
    if meaning.alone:  # a colleague has left since it was asked
        return [meaning]
    erasure.erase_person(work.session, work.person_id, work.now)
    return [Erased(effect.language)]
