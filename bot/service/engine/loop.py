"""One event, one transaction: load, step, carry out, store, queue what is to be said.

``handle`` takes what came in, ``resume`` what due work came to; both run the same loop in the transaction they
are given. Everything follows from the database: the state of the conversation and the facts are loaded, the
pure step is taken, its effects are carried out, and what they come to is taken as the next event of the same
conversation until nothing is left. Messages leave through the outbox only, so a transaction that is undone has
said nothing.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from bot.chat.packing import pack
from bot.chat.port import Incoming, Message, PresenceChanged
from bot.service.engine.context import AppContext
from bot.service.engine.effects import Speaker, Work, carry_out
from bot.service.engine.facts import Identity, load_facts, load_identity
from bot.talk import router
from bot.talk.core import IDLE, Event, Outgoing, Result, State
from bot.talk.facts import Facts
from storage.base.database import Session
from storage.queue import conversations, outbox
from storage.queue.outbox_messages import MessageDraft
from storage.school import people, speakers
from storage.tables import Contact

MOST_STEPS = 20
"""Results that one event may lead to; more is a defect that would hold the transaction for ever."""
REPLY_LIFE = timedelta(hours=16)
"""An answer to what somebody said: from the afternoon it still comes the next morning, once quiet hours are over, but
not a day later, when nobody knows what it answers."""
PAPER_LIFE = timedelta(days=3)
"""What was worked out: a report, a forecast, a file. Until the next one is near."""


def handle(session: Session, app_context: AppContext, incoming: Incoming, now: datetime) -> None:
    """Take one thing that came in. The caller marks the inbox row done in the same transaction."""
    speaker = Speaker(
        incoming.platform, incoming.user, incoming.address, incoming.place, incoming.language, incoming.name
    )
    if incoming.place == "private":
        _note_presence(session, incoming, now)
        if isinstance(incoming.content, PresenceChanged):
            return
    _converse(session, app_context, speaker, incoming, now, REPLY_LIFE)


def resume(
    session: Session, app_context: AppContext, speaker: Speaker, result: Result, now: datetime
) -> None:
    """Go on with a conversation once due work has come to a result."""
    _converse(session, app_context, speaker, result, now, PAPER_LIFE)


def apologise(session: Session, app_context: AppContext, incoming: Incoming, ref: str, now: datetime) -> None:
    """Say that something went wrong, once it was tried often enough. Class places hear nothing."""
    if incoming.place != "private":
        return
    speaker = Speaker(incoming.platform, incoming.user, incoming.address, incoming.place, incoming.language)
    facts = load_facts(session, app_context, speaker, State(), None, now)
    post(session, speaker, [Outgoing(Message(facts.words.say("fault", ref=ref)))], now, life=REPLY_LIFE)


def speaker_of(session: Session, person_id: int) -> Speaker | None:
    """Return whom to talk to for a person: the private chat heard last; None when there is none."""
    return speaker_in(people.contacts(session, person_id))


def speaker_in(chats: Sequence[Contact]) -> Speaker | None:
    """Return whom to talk to, given all private chats of a person."""
    contact = people.reachable_in(chats)
    return None if contact is None else Speaker(contact.platform, contact.user, contact.address)


def _converse(
    session: Session, app_context: AppContext, speaker: Speaker, first: Event, now: datetime, life: timedelta
) -> None:
    state = before = load_state(session, speaker)
    events: deque[Event] = deque([first])
    said: list[Outgoing] = []
    identity: Identity | None = None
    said_at = first.at if isinstance(first, Incoming) else None
    for _ in range(MOST_STEPS):
        if not events:
            break
        event = events.popleft()
        identity = identity or load_identity(session, speaker)
        facts = load_facts(session, app_context, speaker, state, event, now, identity)
        taken = router.step(state, event, facts)
        state = taken.state
        said += (_in_language(out, facts) for out in taken.messages)
        events += _carry_out_all(session, app_context, speaker, facts, taken.effects, said_at)
        if any(effect.changes_speaker for effect in taken.effects):
            identity = None
    else:
        raise RuntimeError(
            f"The conversation did not come to rest in {MOST_STEPS} steps (state {state.name})."
        )
    if not state == before == IDLE:
        save_state(session, speaker, state, now)
    post(session, speaker, said, now, life=life)


def _carry_out_all(
    session: Session,
    app_context: AppContext,
    speaker: Speaker,
    facts: Facts,
    effects: Iterable[Any],
    said_at: datetime | None,
) -> list[Result]:
    results: list[Result] = []
    for effect in effects:
        work = Work(session, facts.now, speaker, facts.person_id, app_context, facts.words, said_at)
        results += carry_out(work, effect)
    return results


def _in_language(out: Outgoing, facts: Facts) -> Outgoing:
    """Note in which language a message was written, unless it says so itself."""
    if out.message.language:
        return out
    return replace(out, message=replace(out.message, language=facts.to(out.person_id).words.language))


# ---------------------------------------------------------------- state


def load_state(session: Session, speaker: Speaker) -> State:
    """Return where the conversation with a speaker stands."""
    name, kept = conversations.load(session, speaker.platform, speaker.dialogue)
    offers = tuple((form, action) for form, action in kept.get("offers", ()))
    return State(name, kept.get("data", {}), offers, router.unpack_menus(kept.get("menus", ())))


def save_state(session: Session, speaker: Speaker, state: State, now: datetime) -> None:
    """Keep where the conversation with a speaker stands; a conversation at rest leaves no row behind."""
    if state == IDLE:
        conversations.forget(session, speaker.platform, speaker.dialogue)
        return
    kept: dict[str, Any] = {"data": dict(state.data), "offers": [list(offer) for offer in state.offers]}
    if state.menus:
        kept["menus"] = router.pack_menus(state.menus)
    conversations.save(session, speaker.platform, speaker.dialogue, state.name, kept, now)


# ---------------------------------------------------------------- messages


def post(
    session: Session,
    speaker: Speaker,
    said: Iterable[Outgoing],
    now: datetime,
    *,
    life: timedelta = PAPER_LIFE,
) -> None:
    """Write messages to the outbox, each to the chat it is for.

    Each is dropped when it could not be sent by its own time; where it has none, when it is older than `life`.
    """
    drafts = []
    for out in said:
        place = _place_of(session, speaker, out)
        if place is None:
            continue
        platform, address, _user = place
        packed = pack(out.message)
        until = out.not_after or now + _life(out.message, life)
        drafts.append(MessageDraft(platform, address, packed, nudge_id=out.nudge_id, not_after=until))
        _offer(session, speaker, place, out, now)
    outbox.put_all(session, drafts, now=now)


def _life(message: Message, life: timedelta) -> timedelta:
    """Return for how long a message is of use. A file that was asked for is worth waiting for."""
    return life if message.attachment is None else max(life, PAPER_LIFE)


def _place_of(session: Session, speaker: Speaker, out: Outgoing) -> tuple[str, str, str] | None:
    """Return platform, address and user of where a message goes; None when the person cannot be reached."""
    if out.address:
        return out.platform or speaker.platform, out.address, ""
    if out.person_id is None:
        return speaker.platform, speaker.address, ""
    contact = people.reachable(session, out.person_id)
    return None if contact is None else (contact.platform, contact.address, contact.user)


def _offer(
    session: Session, speaker: Speaker, place: tuple[str, str, str], out: Outgoing, now: datetime
) -> None:
    """Let a person type what they are offered to press, wherever that was caused: keep it in their conversation."""
    platform, address, user = place
    if not user or not out.message.buttons:
        return
    hearer = Speaker(platform, user, address)
    state = load_state(session, hearer)
    save_state(session, hearer, router.offering(state, out.message), now)


# ---------------------------------------------------------------- presence


def _note_presence(session: Session, incoming: Incoming, now: datetime) -> None:
    """Keep where a known person can be reached, and whether. Strangers leave no trace."""
    match incoming.content:
        case PresenceChanged(change="blocked"):
            people.block(session, incoming.platform, incoming.address)
            outbox.drop_waiting(session, incoming.platform, incoming.address, "blocked by the person")
        case PresenceChanged(change="moved", new_address=address) if address:
            outbox.moved(session, incoming.platform, incoming.address, address)
        case _:
            speakers.heard(session, incoming.platform, incoming.user, incoming.address, now)
