"""Carrying out what teachers ask about topics and questions."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from bot.chat.port import SendFailed, SendRefused
from bot.service.asking import planning
from bot.service.engine.due_work import DueItem, WorkContext, does
from bot.service.engine.effects import Work, carries
from bot.service.engine.loop import resume
from bot.service.teacher.calendar import ensure_class_work, next_school_day
from bot.service.teacher.typed_questions import draft_of, line_of, shown_answer, shown_draft
from bot.service.teacher.work import (
    class_for,
    class_in_place,
    guarded,
    keep,
    kept_as,
    label_of,
    replan,
    teacher_of,
    upload_for,
    words_to,
)
from bot.talk.core import Result
from bot.talk.teacher.effects import (
    AddPicture,
    AddQuestion,
    AddQuestions,
    Done,
    FindQuestion,
    KeepPost,
    ListQuestions,
    NoteTopic,
    PostKept,
    PostSettled,
    QuestionAdded,
    QuestionFound,
    QuestionLine,
    QuestionsAdded,
    QuestionsListed,
    Refused,
    RenameTopic,
    RetireQuestion,
    SettlePost,
    TopicNoted,
)
from bot.talk.teacher.posts import read_post
from bot.teaching.school_days import class_rules, without_school
from bot.words import Words, words
from bot.words.problems import why
from scheduler.calendar.allowed_moments import NoAllowedMoment, next_evening
from scheduler.calendar.zones import local_day, local_moment, time_of
from storage.base import blobs
from storage.base.database import Session
from storage.base.errors import InvalidValue, StorageError, refused
from storage.base.rows import id_of
from storage.queue import due
from storage.school import classes, questions, timetable, uploads
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft
from storage.tables import SchoolClass, UploadKind

PICTURE = "fetch_picture"
LARGEST_PICTURE = 10 * 1024 * 1024

# ---------------------------------------------------------------- topics


@carries(NoteTopic)
@guarded
def note_topic(work: Work, effect: NoteTopic) -> Sequence[Result]:
    """Start a topic; what it changes can be taken back as one."""
    school_class = (
        class_in_place(work, effect.class_id) if effect.from_place else class_for(work, effect.class_id)
    )
    journal = Journal(work.session)
    taught = timetable.teach(
        journal, school_class, effect.topic, work.now, homework=effect.homework, quiz_day=effect.quiz_day
    )
    teacher = teacher_of(work, effect.class_id)
    texts = words_to(work, teacher)
    unusable = _add_all(journal, school_class, taught.topic.name, effect.questions, work.now, texts)
    notes = [*effect.notes, *unusable]
    upload = keep(work, journal, effect.class_id, "topic", taught.topic.name)
    ensure_class_work(work.session, effect.class_id, work.now)
    replan(work, effect.class_id)
    number = questions.counts(work.session, effect.class_id).get(id_of(taught.topic), 0)
    day = local_day(taught.lesson.starts_at, school_class.zone)
    given = [] if taught.was_planned else [day]
    given += [] if effect.quiz_day is None else [effect.quiz_day]
    return [
        TopicNoted(
            upload_id=upload,
            class_id=effect.class_id,
            class_name=school_class.name,
            topic_id=id_of(taught.topic),
            topic=taught.topic.name,
            day=day,
            quiz_day=None if taught.quiz is None else local_day(taught.quiz.at, school_class.zone),
            questions=number,
            homework=taught.lesson.homework or "",
            was_planned=taught.was_planned,
            asked_from=_first_evening(work.session, school_class, work.now) if number else None,
            remind_day=None if number else next_school_day(work.session, school_class, work.now),
            notes=tuple(notes),
            choices=effect.choices,
            days_off=without_school(work.session, school_class, *given),
            teacher_id=teacher,
        )
    ]


def _add_all(
    journal: Journal,
    school_class: SchoolClass,
    topic: str,
    typed: Sequence[Mapping[str, Any]],
    now: datetime,
    texts: Words,
) -> list[str]:
    """Add the questions of a post; return why some could not be added."""
    refused = []
    drafts = []
    for one in typed:
        try:
            drafts.append(draft_of(topic, one, texts, class_language=school_class.language or ""))
        except InvalidValue as problem:
            refused.append(_unusable(one, problem))
    questions.apply(journal, id_of(school_class), drafts, now)
    return refused


def _first_evening(session: Session, school_class: SchoolClass, now: datetime) -> date | None:
    """Return the first evening after today on which questions can go out."""
    tomorrow = local_moment(local_day(now, school_class.zone) + timedelta(days=1), 0, school_class.zone)
    hour = time_of(school_class.nudge_minute)
    try:
        return local_day(next_evening(tomorrow, class_rules(session, school_class), hour), school_class.zone)
    except NoAllowedMoment:
        return None


@carries(KeepPost)
@guarded
def keep_post(work: Work, effect: KeepPost) -> Sequence[Result]:
    """Keep a message that may be a topic post until its teacher has said so."""
    school_class = class_in_place(work, effect.class_id)
    post = read_post(effect.text, local_day(work.now, school_class.zone))
    upload = uploads.store(
        work.session,
        effect.class_id,
        UploadKind.TIMETABLE,
        "topic post",
        {"text": effect.text},
        work.now,
        person_id=work.person_id,
    )
    teacher = teacher_of(work, effect.class_id)
    return [
        PostKept(
            id_of(upload),
            effect.class_id,
            school_class.name,
            effect.text,
            "" if post is None else post.topic,
            teacher,
        )
    ]


@carries(SettlePost)
@guarded
def settle_post(work: Work, effect: SettlePost) -> Sequence[Result]:
    """Hand a kept message back, to be taken as the topic post that it is."""
    upload = upload_for(work, effect.upload_id)
    text = upload.content.get("text")
    if text is None:
        raise refused(InvalidValue, "post_done", field="post")
    uploads.cancel(work.session, upload)
    return [PostSettled(upload.class_id, text)]


@carries(RenameTopic)
@guarded
def rename_topic(work: Work, effect: RenameTopic) -> Sequence[Result]:
    """Give a topic another name; questions and answers stay with it."""
    class_for(work, effect.class_id)
    journal = Journal(work.session)
    before = timetable.topic_of(work.session, effect.class_id, effect.topic_id).name
    topic = timetable.rename_topic(journal, effect.class_id, effect.topic_id, effect.name)
    keep(work, journal, effect.class_id, "name", before)
    return [Done("topic.renamed", {"topic": topic.name})]


# ---------------------------------------------------------------- questions


@carries(AddQuestion)
@guarded
def add_question(work: Work, effect: AddQuestion) -> Sequence[Result]:
    """Add a question to a topic, or put a new version in the place of one."""
    school_class = class_for(work, effect.class_id)
    return _added(
        work.session,
        school_class,
        effect.topic_id,
        effect.draft,
        work.now,
        work.words,
        person_id=work.person_id,
        replaces=effect.replaces,
    )


def _added(
    session: Session,
    school_class: SchoolClass,
    topic_id: int,
    typed: Mapping[str, Any],
    now: datetime,
    texts: Words,
    *,
    person_id: int | None,
    picture: str | None = None,
    replaces: int | None = None,
) -> Sequence[Result]:
    class_id = id_of(school_class)
    topic = timetable.topic_of(session, class_id, topic_id)
    draft = draft_of(topic.name, typed, texts, picture=picture, class_language=school_class.language or "")
    journal = Journal(session)
    before = questions.counts(session, class_id).get(topic_id, 0)
    stored = _store(journal, class_id, draft, now, replaces)
    kept = kept_as("question", draft.prompt)
    label = label_of(texts, kept)
    uploads.record(journal, class_id, UploadKind.QUESTIONS, label, now, kept=kept, person_id=person_id)
    planning.look_soon(session, class_id, now)
    number = questions.counts(session, class_id).get(topic_id, 0)
    return [
        QuestionAdded(
            class_id, topic_id, topic.name, stored, shown_draft(draft, texts), number, number > before
        )
    ]


@carries(AddQuestions)
@guarded
def add_questions(work: Work, effect: AddQuestions) -> Sequence[Result]:
    """Add the questions of one message to a topic; ``undo`` takes them back together."""
    school_class = class_for(work, effect.class_id)
    topic = timetable.topic_of(work.session, effect.class_id, effect.topic_id)
    journal = Journal(work.session)
    used: list[QuestionDraft] = []
    unusable: list[str] = []
    for typed in effect.drafts:
        try:
            used.append(draft_of(topic.name, typed, work.words, class_language=school_class.language or ""))
        except InvalidValue as problem:
            unusable.append(_unusable(typed, problem))
    for draft in used:
        _store(journal, effect.class_id, draft, work.now, None)
    if not used:
        return [Refused("\n".join(unusable))]
    keep(work, journal, effect.class_id, "questions", used[0].prompt, UploadKind.QUESTIONS)
    planning.look_soon(work.session, id_of(school_class), work.now)
    number = questions.counts(work.session, effect.class_id).get(effect.topic_id, 0)
    shown = tuple(shown_draft(draft, work.words) for draft in used)
    return [QuestionsAdded(effect.class_id, effect.topic_id, topic.name, shown, tuple(unusable), number)]


def _unusable(typed: Mapping[str, Any], problem: InvalidValue) -> str:
    return f"{typed['prompt'][:80]}: {problem}"


def _store(journal: Journal, class_id: int, draft: QuestionDraft, now: datetime, replaces: int | None) -> int:
    if replaces is None:
        same = [
            one
            for one in questions.of_class(journal.session, class_id)
            if questions.folded(one.prompt) == questions.folded(draft.prompt)
            and questions.folded(one.topic) == questions.folded(draft.topic)
            and one.picture == draft.picture
        ]
        if same:  # sent twice, or sent again with a better answer
            return id_of(questions.replace(journal, questions.row(journal.session, same[0].id), draft, now))
        return id_of(questions.add(journal, class_id, draft, now))
    old = questions.get(journal.session, class_id, replaces)
    if old.picture is not None and draft.picture is None:
        row = questions.row(journal.session, old.id)
        draft = QuestionDraft(**{**draft.__dict__, "picture": row.picture, "picture_alt": row.picture_alt})
    return id_of(questions.replace(journal, questions.row(journal.session, old.id), draft, now))


@carries(ListQuestions)
@guarded
def list_questions(work: Work, effect: ListQuestions) -> Sequence[Result]:
    """Look up the questions of a topic."""
    class_for(work, effect.class_id)
    topic = timetable.topic_of(work.session, effect.class_id, effect.topic_id)
    lines = tuple(
        QuestionLine(one.id, one.prompt, shown_answer(one), one.kind, one.picture is not None, one.answers)
        for one in questions.of_class(work.session, effect.class_id, effect.topic_id)
    )
    return [QuestionsListed(effect.class_id, effect.topic_id, topic.name, lines)]


@carries(FindQuestion)
@guarded
def find_question(work: Work, effect: FindQuestion) -> Sequence[Result]:
    """Look up a question to edit it."""
    class_for(work, effect.class_id)
    found = questions.get(work.session, effect.class_id, effect.question_id)
    return [QuestionFound(effect.class_id, found.topic_id, found.topic, found.id, line_of(found))]


@carries(RetireQuestion)
@guarded
def retire_question(work: Work, effect: RetireQuestion) -> Sequence[Result]:
    """Stop asking a question; what was answered stays."""
    class_for(work, effect.class_id)
    journal = Journal(work.session)
    gone = questions.retire(journal, effect.class_id, effect.question_id, work.now)
    keep(work, journal, effect.class_id, "retired", gone.prompt, UploadKind.QUESTIONS)
    replan(work, effect.class_id)
    return [Done("question_retired", {"prompt": gone.prompt[:80]})]


# ---------------------------------------------------------------- pictures


@carries(AddPicture)
@guarded
def add_picture(work: Work, effect: AddPicture) -> Sequence[Result]:
    """Plan to fetch a picture; a question whose answer cannot be graded is refused at once."""
    class_for(work, effect.class_id)
    topic = timetable.topic_of(work.session, effect.class_id, effect.topic_id)
    draft_of(topic.name, effect.draft, work.words)
    payload = {
        "speaker": work.speaker.as_data(),
        "language": work.words.language,
        "class": effect.class_id,
        "topic": effect.topic_id,
        "person": work.person_id,
        "draft": dict(effect.draft),
        "handle": effect.handle,
    }
    sent = hashlib.sha256(effect.handle.encode()).hexdigest()[:16]
    key = f"{PICTURE}:{effect.class_id}:{work.person_id}:{sent}:{work.now.isoformat()}"
    due.ensure(work.session, key, PICTURE, work.now, payload=payload)
    return []


@does(PICTURE)
async def fetch_picture(work_context: WorkContext, item: DueItem) -> None:
    """Fetch a picture, keep it, and add its question."""
    data: bytes | None = None
    try:
        data = await work_context.chats[item.speaker.platform].fetch(item.payload["handle"])
    except SendRefused:
        data = None
    except SendFailed:
        if item.attempts < due.GIVE_UP_AFTER:
            raise
    await work_context.db.run(_keep_picture, work_context, item, data, work_context.clock.now())


def _keep_picture(
    session: Session, work_context: WorkContext, item: DueItem, data: bytes | None, now: datetime
) -> None:
    if due.done(session, item.id, now, lease_token=item.lease_token):
        for result in _with_picture(session, item, data, now):
            resume(session, work_context.app_context, item.speaker, result, now)


def _with_picture(session: Session, item: DueItem, data: bytes | None, now: datetime) -> Sequence[Result]:
    said = words(item.payload["language"])
    if data is None:
        return [Refused(said.text("refusal.picture_gone"))]
    kind = picture_type(data)
    if kind is None or len(data) > LARGEST_PICTURE:
        return [Refused(said.text("refusal.picture_kind", mb=LARGEST_PICTURE // 1_000_000))]
    payload = item.payload
    try:
        digest = blobs.keep(session, data, kind, now)
        return _added(
            session,
            classes.get(session, payload["class"]),
            payload["topic"],
            payload["draft"],
            now,
            said,
            person_id=payload["person"],
            picture=digest,
        )
    except StorageError as problem:
        return [Refused(why(problem, said))]


def picture_type(data: bytes) -> str | None:
    """Return the media type of a picture by its content, never by its name; None for anything else."""
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    return "image/jpeg" if data.startswith(b"\xff\xd8\xff") else None
