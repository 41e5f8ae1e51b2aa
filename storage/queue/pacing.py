"""When the next messages of a platform may leave, counted for all processes together.

A platform limits the bot, not the process. Whoever claims messages reserves a moment for each in the same transaction;
the row of the platform is what they share. A reply does not wait behind the nudges that others have reserved: a few of
them a second go at once, and what is reserved next comes later by as much, so that the rate holds on average.

Moments are seconds since 1970 in the clock of the caller, whose machines agree on the time (NTP).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session

from storage.base.prepared import PreparedStatement
from storage.base.statements import insert_new, is_postgresql
from storage.queue.notifications import notify_hold
from storage.tables import SendingPace, UtcDateTime

REPLIES_BEFORE_TURN = 5.0
"""Replies that may go ahead of their reserved moments. [1/s] Telegram tells of about 30 messages a second; we
keep to 25."""
AHEAD_S = 60.0
"""Nothing is reserved further ahead: what stands there beyond this is from a clock that was set back."""
HELD_MOST_S = 3600.0
"""A platform's wish to wait that stands further ahead is from such a clock too."""


def _reserve(larger: str, smaller: str) -> PreparedStatement:
    text = sa.text(
        f"UPDATE sending_pace SET free_s = {larger}(:now, {smaller}(free_s, :ahead)) + :all_s,"  # noqa: S608
        f" reply_s = {larger}(:now, {smaller}(reply_s, :ahead)) + :replies_s"
        " WHERE platform = :platform RETURNING free_s, reply_s, held_s"
    )
    return PreparedStatement(text.columns(free_s=sa.Float, reply_s=sa.Float, held_s=sa.Float))


_ON_POSTGRESQL, _ON_SQLITE = _reserve("greatest", "least"), _reserve("max", "min")

_SAID_TO = PreparedStatement(
    sa.text(
        "SELECT asked.address, said.sent_at FROM unnest(CAST(:addresses AS text[])) AS asked(address),"
        " LATERAL (SELECT sent_at FROM outbox WHERE platform = :platform AND outbox.address = asked.address"
        " AND state = 'sent' ORDER BY id DESC LIMIT :most) AS said ORDER BY said.sent_at"
    ).columns(address=sa.Text, sent_at=UtcDateTime)
)


def reserve(
    session: Session,
    platform: str,
    urgent: Sequence[bool],
    now_s: float,
    *,
    per_second: float,
    speed: float = 1.0,
) -> list[float]:
    """Reserve a moment for each of some messages.

    Parameters
    ----------
    session : Session
        The transaction that claims them.
    platform : str
        Whose limit it is.
    urgent : sequence of bool
        For each message, in the order in which they will go, whether somebody waits for it.
    now_s : float
        The present moment [s since 1970].
    per_second : float
        What the platform allows [messages per real second].
    speed : float
        Seconds of the caller's clock in a real second.

    Returns
    -------
    list of float
        For each message the moment before which it may not leave [s since 1970].
    """
    gap_s = speed / per_second
    reply_gap_s = max(gap_s, speed / REPLIES_BEFORE_TURN)
    ends = {
        "now": now_s,
        "ahead": now_s + AHEAD_S * speed,
        "all_s": len(urgent) * gap_s,
        "replies_s": sum(urgent) * reply_gap_s,
        "platform": platform,
    }
    statement = _ON_POSTGRESQL if is_postgresql(session) else _ON_SQLITE
    row = statement.first(session, ends)
    if row is None:
        insert_new(session, SendingPace, {"platform": platform})
        [row] = statement.rows(session, ends)
    held_s = row.held_s if row.held_s <= now_s + HELD_MOST_S * speed else 0.0
    turn_s, reply_s = row.free_s - ends["all_s"], row.reply_s - ends["replies_s"]
    slots = []
    for one in urgent:
        slots.append(max(held_s, min(turn_s, reply_s) if one else turn_s))
        turn_s += gap_s
        reply_s += reply_gap_s if one else 0.0
    return slots


def hold(session: Session, platform: str, until_s: float) -> None:
    """Let nothing leave for a platform before a moment [s since 1970], whichever process sends it.

    What is claimed later heeds the row; for what was claimed already, all processes hear of it at the commit.
    """
    insert_new(session, SendingPace, {"platform": platform})
    larger = sa.case((SendingPace.held_s > until_s, SendingPace.held_s), else_=until_s)  # type: ignore[arg-type]
    session.exec(sa.update(SendingPace).where(SendingPace.platform == platform).values(held_s=larger))  # type: ignore[arg-type]
    notify_hold(session, platform, until_s)


def said_to(
    session: Session, platform: str, addresses: Collection[str], *, most: int
) -> list[tuple[str, datetime]]:
    """Return when chats got their latest messages, at most `most` each, oldest first.

    On SQLite nothing: there one process sends, and knows.
    """
    if not addresses or not is_postgresql(session):
        return []
    asked = {"platform": platform, "addresses": list(addresses), "most": most}
    return [(row.address, row.sent_at) for row in _SAID_TO.rows(session, asked)]
