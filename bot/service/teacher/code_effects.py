"""Codes that make a teacher, let one into a class, or bind a channel: shown once, proved on both sides."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import timedelta

from bot.chat.port import Attachment
from bot.service.engine.effects import Work, carries
from bot.service.teacher.work import class_for, guarded
from bot.talk.channel import BindHere, Bound, NotBound, PlaceChanged, PlaceNoted, PlaceOffered
from bot.talk.core import Result
from bot.talk.joining_effects import NoDoor
from bot.talk.teacher.effects import (
    AskChannelCode,
    ChannelCode,
    CodeShown,
    Done,
    Invite,
    Refused,
    ShowCode,
    TeacherInvited,
    Unbind,
    Welcomed,
)
from storage.base import key_values
from storage.base.rows import id_of
from storage.queue import conversations
from storage.school import channels, classes, codes, people
from storage.tables import Channel, Code, CodeKind, SchoolClass

TERM = timedelta(days=200)
"""How long a class code is good: a term and its holidays."""

WEEK = timedelta(days=7)
DAY = timedelta(days=1)


def accept(work: Work, code: Code, name: str) -> Sequence[Result]:
    """Do what a teacher's or a channel's code is good for, once it was typed in private and used up.

    A teacher's code makes its bearer staff, and a teacher of its class if it names one. A channel's code that
    names no class was posted by us in a place: its bearer binds that place to the class at hand.
    """
    if code.kind is CodeKind.CHANNEL:
        return _bind_from_private(work, code)
    person = work.person_id
    if person is None:
        speaker = work.speaker
        person = people.meet(
            work.session, speaker.platform, speaker.user, speaker.address, work.now, language=speaker.language
        ).person_id
    people.make_staff(work.session, person, name, work.now)
    if code.class_id is None:
        return [Welcomed()]
    classes.add_teacher(work.session, code.class_id, person, name, work.now)
    return [Welcomed(code.class_id, classes.get(work.session, code.class_id).name)]


# ---------------------------------------------------------------- joining


@carries(ShowCode)
@guarded
def show_code(work: Work, effect: ShowCode) -> Sequence[Result]:
    """Make a code to join a class, with link and picture."""
    school_class = class_for(work, effect.class_id)
    if effect.only:
        codes.revoke_all(work.session, effect.class_id, CodeKind.CLASS, work.now)
    issued = codes.issue(work.session, CodeKind.CLASS, now=work.now, class_id=effect.class_id, lasts=TERM)
    link = work.app_context.join_link(work.speaker.platform, issued.text) or ""
    picture = qr_picture(link or issued.text)
    return [CodeShown(effect.class_id, school_class.name, issued.text, link, picture, effect.only)]


def qr_picture(content: str) -> Attachment:
    """Return a QR picture that can be read from the back row: error correction M, 12 pixels a module.

    Whoever cannot see it is told what it holds, which is the same in every language.
    """
    import segno

    drawn = io.BytesIO()
    segno.make(content, error="m", micro=False).save(drawn, kind="png", scale=12, border=4)
    return Attachment("join.png", "image/png", drawn.getvalue(), content)


@carries(Invite)
@guarded
def invite(work: Work, effect: Invite) -> Sequence[Result]:
    """Make a single-use code for another teacher."""
    school_class = class_for(work, effect.class_id)
    issued = codes.issue(
        work.session, CodeKind.TEACHER, now=work.now, class_id=effect.class_id, uses=1, lasts=WEEK
    )
    return [TeacherInvited(school_class.name, issued.text)]


# ---------------------------------------------------------------- channels


@carries(AskChannelCode)
@guarded
def ask_channel_code(work: Work, effect: AskChannelCode) -> Sequence[Result]:
    """Make a code that a teacher posts in the place to bind: only a teacher of the class has it."""
    school_class = class_for(work, effect.class_id)
    issued = codes.issue(
        work.session,
        CodeKind.CHANNEL,
        now=work.now,
        class_id=effect.class_id,
        person_id=work.person_id,
        uses=1,
        lasts=DAY,
    )
    return [ChannelCode(school_class.name, issued.text)]


@carries(BindHere)
def bind_here(work: Work, effect: BindHere) -> Sequence[Result]:
    """Bind a place to the class whose code was posted there.

    The code proves the teacher's side, posting it the place's. A wrong one counts as a try of its place.
    """
    if not codes.looks_like_code(effect.code):
        return [NotBound(silent=True)]
    user = work.speaker.user or effect.address
    kinds = (CodeKind.CHANNEL,)
    code = codes.look(
        work.session, effect.code, platform=effect.platform, user=user, now=work.now, kinds=kinds
    ).code
    if code is not None and code.class_id is None:
        return [NotBound(private=True)]  # ours, posted here by us: still good where it belongs
    if code is None or code.class_id is None or not codes.use(work.session, id_of(code), work.now):
        # In a bound place people talk; only in a new one somebody waits for an answer.
        return [NotBound(silent=channels.find(work.session, effect.platform, effect.address) is not None)]
    bound = channels.bind(
        work.session, code.class_id, effect.platform, effect.address, work.now, title=effect.title
    )
    return [Bound(classes.get(work.session, bound.class_id).name, _title(bound), code.person_id)]


def offer_place(work: Work, effect: PlaceChanged) -> Sequence[Result]:
    """Make a code for a place we were added to; who sends it to us in private, as a teacher, binds the place."""
    issued = codes.issue(work.session, CodeKind.CHANNEL, now=work.now, uses=1, lasts=DAY)
    where = f"{effect.platform} {effect.address} {effect.title}"
    key_values.put(work.session, _offer_name(id_of(issued.code)), where, work.now)
    return [PlaceOffered(issued.text)]


def _offer_name(code_id: int) -> str:
    return f"{codes.OFFERED_PLACE}{code_id}"


def misplaced(work: Work, code: Code) -> Result | None:
    """Say why a place's code that was sent in private binds nothing; None if it does. The code stays good."""
    taught = _taught(work)
    if not taught and (work.person_id is None or people.staff(work.session, work.person_id) is None):
        return NoDoor("place")
    if not key_values.get(work.session, _offer_name(id_of(code))):
        return Refused(work.words.text("refusal.channel_code_there"))
    return None if taught else Refused(work.words.text("refusal.channel_code"))


def _taught(work: Work) -> list[SchoolClass]:
    return [] if work.person_id is None else classes.of_teacher(work.session, work.person_id)


def _bind_from_private(work: Work, code: Code) -> Sequence[Result]:
    """Bind the place in which we posted a code to the class of the teacher who sends it (see `misplaced`)."""
    offered = key_values.get(work.session, _offer_name(id_of(code)))
    taught = _taught(work)
    platform, _, place = offered.partition(" ")
    address, _, title = place.partition(" ")
    _, kept = conversations.load(work.session, work.speaker.platform, work.speaker.dialogue)
    at_hand = kept.get("data", {}).get("class")
    school_class = next((one for one in taught if one.id == at_hand), taught[0])
    key_values.forget(work.session, _offer_name(id_of(code)))
    bound = channels.bind(work.session, id_of(school_class), platform, address, work.now, title=title)
    return [Done("channel_bound", {"title": _title(bound), "name": school_class.name})]


@carries(Unbind)
@guarded
def unbind(work: Work, effect: Unbind) -> Sequence[Result]:
    """Let a place go."""
    class_for(work, effect.class_id)
    here = [one for one in channels.of_class(work.session, effect.class_id) if one.id == effect.channel_id]
    if not here or not channels.unbind(work.session, effect.class_id, effect.channel_id):
        return [Done("gone")]
    return [Done("channel_gone", {"title": _title(here[0])})]


@carries(PlaceChanged)
def place_changed(work: Work, effect: PlaceChanged) -> Sequence[Result]:
    """Keep what became of a bound place, and say whom to tell."""
    session, where = work.session, (effect.platform, effect.address)
    match effect.change:
        case "removed":
            row = channels.lost(session, *where, work.now)
        case "limited":
            row = channels.allow(session, *where, can_write=False)
        case "added" | "unblocked":
            row = channels.back(session, *where)
        case "moved" if effect.new_address:
            row = channels.move(session, *where, effect.new_address)
        case _:
            row = channels.find(session, *where)
    if row is None:
        return offer_place(work, effect) if effect.change == "added" else []
    channels.call(row, effect.title)
    teachers = tuple(one.person_id for one in classes.teachers(session, row.class_id))
    return [PlaceNoted(effect.change, _title(row), classes.get(session, row.class_id).name, teachers)]


def _title(row: Channel) -> str:
    return row.title or row.platform
