"""Evidence on a teacher's word, and every week by itself; a summary for the class's channel."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from bot.chat.packing import pack
from bot.chat.port import Message
from bot.evidence.load import ClassEvidence, NothingThere
from bot.evidence.load import read as read_evidence
from bot.evidence.starter.numbers import BadCounts, read_counts
from bot.evidence.week.text import TooFewStudents
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import DueItem, WorkContext, does
from bot.service.engine.effects import Work, carries
from bot.service.engine.facts import words_for
from bot.service.engine.loop import post, resume, speaker_of
from bot.service.teacher.calendar import REPORT, ensure_class_work
from bot.service.teacher.pulling import MAKERS, Made
from bot.service.teacher.work import class_for, guarded
from bot.settings import Settings
from bot.talk.core import Outgoing, Result
from bot.talk.teacher.effects import CountStarter, Done, Pull, Pulled, Refused, ShareSummary
from bot.words import Words, words
from storage.base import key_values
from storage.base.database import Session
from storage.base.errors import InvalidValue, refused
from storage.privacy import export
from storage.queue import due, outbox
from storage.school import channels, classes, questions, scores

PULL = "pull"
SHARE = "share_summary"

LATEST = timedelta(days=2)
"""A weekly report that could not be made for so long is not sent any more: the next one is near."""


@carries(Pull)
@guarded
def pull(work: Work, effect: Pull) -> Sequence[Result]:
    """Plan to make something to look at."""
    school_class = class_for(work, effect.class_id)
    if effect.what not in MAKERS:
        raise InvalidValue("what", f"There is no {effect.what} to pull.")
    payload = {
        "speaker": work.speaker.as_data(),
        "language": work.words.language,
        "name": school_class.name,
        "what": effect.what,
        "options": dict(effect.options),
        "key": effect.key,
    }
    key = f"{PULL}:{effect.what}:{effect.class_id}:{work.person_id}:{work.now.isoformat()}"
    due.ensure(work.session, key[:120], PULL, work.now, subject=effect.class_id, payload=payload)
    return []


@does(PULL)
async def do_pull(work_context: WorkContext, item: DueItem) -> None:
    """Make what a teacher asked for and show it."""
    now, payload = work_context.clock.now(), item.payload
    read = await work_context.db.read(read_evidence, item.subject or 0, now)
    texts, options = words(payload["language"]), dict(payload["options"])
    if payload["what"] == "export":
        options["stored"] = await work_context.db.read(export.of_class, item.subject or 0, now)
    if payload["what"] == "records":
        options["key"] = await work_context.db.run(export.records_key, now)
        options["home"] = _address(work_context.app_context)
    made = await asyncio.to_thread(make, work_context.app_context, read, payload["what"], texts, options)
    asked = _Asked(payload["what"], options.get("week", ""), payload.get("key", ""))
    result = _pulled(item.subject or 0, payload["name"], asked, made)
    await work_context.db.run(_finish, work_context, item, result, now)


def _address(app_context: AppContext) -> str:
    """Return the school's web address; a desk without settings has the default."""
    settings = app_context.settings or Settings.model_construct()
    return str(settings.school_address)


def make(
    app_context: AppContext, read: ClassEvidence, what: str, texts: Words, options: dict[str, Any]
) -> Made | str:
    """Make one thing with the class's model; a text instead says why there is nothing to show. Slow."""
    with app_context.memories.of(read.story, read.others) as memory:
        try:
            return MAKERS[what](read, memory, texts, options)
        except NothingThere as nothing:
            return nothing.say(texts)
        except TooFewStudents as few:
            return str(few)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What was asked for: which paper, of which week, in the place of which message."""

    what: str
    week: str = ""
    key: str = ""


def _pulled(class_id: int, name: str, asked: _Asked, made: Made | str) -> Pulled:
    if isinstance(made, str):
        return Pulled(class_id, name, asked.what, note=made, key=asked.key)
    return Pulled(
        class_id,
        name,
        asked.what,
        made.pieces,
        asked=made.asked,
        week=asked.week,
        key=asked.key,
        offers=made.offers,
    )


def _finish(
    session: Session, work_context: WorkContext, item: DueItem, result: Result, now: datetime
) -> None:
    if not due.done(session, item.id, now, lease_token=item.lease_token):
        return
    if isinstance(result, Pulled) and result.asked:
        # The counts may come tomorrow, after other words: the questions have to be found again then.
        key_values.put(session, _starter_name(result.class_id), json.dumps(result.asked), now)
    resume(session, work_context.app_context, item.speaker, result, now)


# ---------------------------------------------------------------- every week


@does(REPORT)
async def week_report(work_context: WorkContext, item: DueItem) -> None:
    """Send a class's weekly report to each of its teachers, in their language; plan the next."""
    now = work_context.clock.now()
    class_id = item.subject or 0
    made: dict[str, Made | str] = {}
    if now - item.due_at <= LATEST:
        read = await work_context.db.read(read_evidence, class_id, now)
        for language in await work_context.db.read(_languages, work_context.app_context, class_id):
            options = {"week": item.payload["week"]}
            made[language] = await asyncio.to_thread(
                make, work_context.app_context, read, "report", words(language), options
            )
    await work_context.db.run(_send_reports, work_context, item, made, now)


def _languages(session: Session, app_context: AppContext, class_id: int) -> list[str]:
    found = {
        words_for(session, app_context, one.person_id).language for one in classes.teachers(session, class_id)
    }
    return sorted(found)


def _send_reports(
    session: Session, work_context: WorkContext, item: DueItem, made: dict[str, Made | str], now: datetime
) -> None:
    class_id = item.subject or 0
    school_class = classes.get(session, class_id)
    if (
        not due.done(session, item.id, now, lease_token=item.lease_token)
        or school_class.closed_at is not None
    ):
        return
    ensure_class_work(session, class_id, now)
    for teacher in classes.teachers(session, class_id):
        speaker = speaker_of(session, teacher.person_id)
        report = made.get(words_for(session, work_context.app_context, teacher.person_id).language)
        if speaker is not None and report is not None:
            shown = _pulled(class_id, school_class.name, _Asked("report", item.payload["week"]), report)
            resume(session, work_context.app_context, speaker, shown, now)


# ---------------------------------------------------------------- the channel


@carries(ShareSummary)
@guarded
def share(work: Work, effect: ShareSummary) -> Sequence[Result]:
    """Plan to post an aggregated summary to a channel of the class."""
    class_for(work, effect.class_id)
    mine = [one for one in channels.of_class(work.session, effect.class_id) if one.id == effect.channel_id]
    if not mine or not mine[0].can_write:
        raise refused(InvalidValue, "no_writing", field="channel")
    payload = {
        "speaker": work.speaker.as_data(),
        "channel": effect.channel_id,
        "language": work.words.language,
    }
    key = f"{SHARE}:{effect.channel_id}:{work.now.isoformat()}"
    due.ensure(work.session, key, SHARE, work.now, subject=effect.class_id, payload=payload)
    return []


@does(SHARE)
async def do_share(work_context: WorkContext, item: DueItem) -> None:
    """Make the summary in the class's language and post it; too few students: tell the teacher instead."""
    now = work_context.clock.now()
    read = await work_context.db.read(read_evidence, item.subject or 0, now)
    texts = words(read.rows.school_class.language)
    made = await asyncio.to_thread(make, work_context.app_context, read, "summary", texts, {})
    if isinstance(made, str):  # the teacher hears why
        made = await asyncio.to_thread(
            make,
            work_context.app_context,
            read,
            "summary",
            words(item.payload["language"], texts.language),
            {},
        )
    await work_context.db.run(_share, work_context, item, made, now)


def _share(
    session: Session, work_context: WorkContext, item: DueItem, made: Made | str, now: datetime
) -> None:
    if not due.done(session, item.id, now, lease_token=item.lease_token):
        return
    here = [one for one in channels.of_class(session, item.subject or 0) if one.id == item.payload["channel"]]
    if isinstance(made, str):
        result: Result = Refused(made)
    elif not here:
        result = Done("gone")
    else:
        texts = words(classes.get(session, item.subject or 0).language)
        said = Message(made.pieces[0].text, urgent=False, language=texts.language)
        title = {"title": here[0].title or here[0].platform}
        last = outbox.last_to(session, here[0].platform, here[0].address)
        if last is not None and last.body.get("text") == pack(said).body["text"]:
            result = Done("shared_before", title)  # pressed twice
        else:
            out = Outgoing(said, platform=here[0].platform, address=here[0].address)
            post(session, item.speaker, [out], now)
            result = Done("shared", title)
    resume(session, work_context.app_context, item.speaker, result, now)


# ---------------------------------------------------------------- after a starter


def _starter_name(class_id: int) -> str:
    return f"starter:{class_id}"


def _last_starter(session: Session, class_id: int) -> tuple[int, ...]:
    """Return the questions of the last starter of a class whose counts were not told; empty without one."""
    return tuple(json.loads(key_values.get(session, _starter_name(class_id), "[]")))


@carries(CountStarter)
@guarded
def count_starter(work: Work, effect: CountStarter) -> Sequence[Result]:
    """Keep how many had each question of a starter right."""
    class_for(work, effect.class_id)
    texts = work.words
    asked = effect.questions or _last_starter(work.session, effect.class_id)
    if not asked:
        return [Refused(texts.text("starter.none_to_count"))]
    try:
        counts = read_counts(effect.text, len(asked))
    except BadCounts as bad:
        return [Refused(bad.say(texts))]
    for question_id in asked:
        questions.get(work.session, effect.class_id, question_id)
    scores.add_starter(work.session, effect.class_id, asked, counts.right, counts.present, work.now)
    key_values.forget(work.session, _starter_name(effect.class_id))
    return [Done("starter_counted")]
