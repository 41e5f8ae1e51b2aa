"""Codes: for joining a class, becoming a teacher, moving to another chat, binding a channel, permission.

A code has ten characters of an alphabet of 31 without look-alikes: log2(31^10) is about 49.5 bits. Only
its HMAC is stored. Wrong tries are counted per account and in all; a wrong code, one that has expired,
was used up or was taken back all get the same answer.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlmodel import Session, col, func, select, update

from storage.base import key_values
from storage.base.rows import id_of
from storage.tables import Code, CodeKind, CodeTry

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
LENGTH = 10
KEY = "code key"
OFFERED_PLACE = "place of code "
"""Begins the names of the values that say where we posted a code, with its number behind it."""
TRIES_AN_HOUR = 5
TRIES_AN_HOUR_IN_ALL = 1000
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Issued:
    """A new code: the only time that its text is known."""

    text: str
    code: Code


@dataclass(frozen=True, slots=True)
class CodeLookup:
    """What became of a code that somebody typed: the code if it is good, else whether to wait an hour."""

    code: Code | None
    too_many: bool = False


def issue(
    session: Session,
    kind: CodeKind,
    *,
    now: datetime,
    class_id: int | None = None,
    person_id: int | None = None,
    enrolment_id: int | None = None,
    uses: int | None = None,
    lasts: timedelta | None = None,
) -> Issued:
    """Make a code.

    Parameters
    ----------
    session : Session
        An open transaction.
    kind : CodeKind
        What it is good for.
    now : datetime
        The present moment.
    class_id, person_id, enrolment_id : int, optional
        What it is about.
    uses : int, optional
        How often it can be used; as often as wanted if not given.
    lasts : timedelta, optional
        How long it is good; until it is taken back if not given.
    """
    text = _drawn()
    code = Code(
        kind=kind,
        digest=_digest(session, text, now),
        class_id=class_id,
        person_id=person_id,
        enrolment_id=enrolment_id,
        uses_left=uses,
        created_at=now,
        expires_at=None if lasts is None else now + lasts,
    )
    session.add(code)
    session.flush()
    return Issued(text, code)


def _drawn() -> str:
    """Draw letters and figures, both present: a code posted in a class place is told from a word by that.

    None is figures with only letters after them: below an open question such a text is a number with its unit.
    """
    while True:
        text = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
        if not text.isalpha() and not text.isdigit() and not text.lstrip("0123456789").isalpha():
            return text


def tidy(text: str) -> str:
    """Return what somebody typed as a code is written: capitals, no blanks or hyphens."""
    return "".join(text.split()).replace("-", "").upper()


def looks_like_code(text: str) -> bool:
    """Whether a text has the form of a code."""
    typed = tidy(text)
    return len(typed) == LENGTH and all(letter in ALPHABET for letter in typed)


def look(
    session: Session,
    text: str,
    *,
    platform: str,
    user: str,
    now: datetime,
    kinds: Collection[CodeKind] = tuple(CodeKind),
) -> CodeLookup:
    """Judge a code that an account typed, without using it up. A wrong one counts as a try.

    Commit the transaction also when the code is wrong: the try is part of it.
    """
    if _tries(session, now, platform, user) >= TRIES_AN_HOUR or _tries(session, now) >= TRIES_AN_HOUR_IN_ALL:
        return CodeLookup(None, too_many=True)
    code = _good(session, text, now, kinds)
    if code is None:
        session.add(CodeTry(platform=platform, user=user, at=now))
        session.flush()
    return CodeLookup(code)


def use(session: Session, code_id: int, now: datetime) -> bool:
    """Use a code up by one; say whether it was still good. Two at once cannot share the last use."""
    changed = session.exec(
        update(Code)
        .where(col(Code.id) == code_id, *_still_good(now))
        .values(uses_left=sa.case((col(Code.uses_left).is_(None), None), else_=col(Code.uses_left) - 1))
    )
    return changed.rowcount > 0


def redeem(
    session: Session,
    text: str,
    *,
    platform: str,
    user: str,
    now: datetime,
    kinds: Collection[CodeKind] = tuple(CodeKind),
) -> CodeLookup:
    """Judge a code and, if it is good, use it up by one."""
    looked = look(session, text, platform=platform, user=user, now=now, kinds=kinds)
    if looked.code is not None and not use(session, id_of(looked.code), now):
        return CodeLookup(None)
    return looked


def live(session: Session, class_id: int, now: datetime, *, kind: CodeKind | None = None) -> list[Code]:
    """Return the codes of a class that are still good, newest first."""
    stmt = select(Code).where(Code.class_id == class_id, *_still_good(now))
    if kind is not None:
        stmt = stmt.where(Code.kind == kind)
    return list(session.exec(stmt.order_by(col(Code.id).desc())))


def revoke(session: Session, code_id: int, now: datetime) -> None:
    """Take a code back."""
    session.exec(
        update(Code).where(col(Code.id) == code_id, col(Code.revoked_at).is_(None)).values(revoked_at=now)
    )


def revoke_all(session: Session, class_id: int, kind: CodeKind, now: datetime) -> int:
    """Take back all codes of a class of one kind; return how many."""
    changed = session.exec(
        update(Code)
        .where(col(Code.class_id) == class_id, col(Code.kind) == kind, *_still_good(now))
        .values(revoked_at=now)
    )
    return changed.rowcount


def _good(session: Session, text: str, now: datetime, kinds: Collection[CodeKind]) -> Code | None:
    """Look a code up by its digest; the digest of a guess tells nothing about the stored ones."""
    if not looks_like_code(text):
        return None
    digest = _digest(session, tidy(text), now)
    stmt = select(Code).where(Code.digest == digest, col(Code.kind).in_(list(kinds)), *_still_good(now))
    code = session.exec(stmt).first()
    return code if code is not None and hmac.compare_digest(code.digest, digest) else None


def _still_good(now: datetime) -> tuple[sa.ColumnElement[bool], ...]:
    return (
        col(Code.revoked_at).is_(None),
        sa.or_(col(Code.expires_at).is_(None), col(Code.expires_at) > now),
        sa.or_(col(Code.uses_left).is_(None), col(Code.uses_left) > 0),
    )


def _tries(session: Session, now: datetime, platform: str | None = None, user: str | None = None) -> int:
    stmt = select(func.count()).where(CodeTry.at > now - HOUR)
    if platform is not None:
        stmt = stmt.where(CodeTry.platform == platform, CodeTry.user == user)
    return session.exec(stmt).one()


def _digest(session: Session, text: str, now: datetime) -> str:
    key = key_values.get(session, KEY) or key_values.get_or_put(session, KEY, secrets.token_hex(32), now)
    return hmac.new(bytes.fromhex(key), text.encode(), hashlib.sha256).hexdigest()
