"""Self-check questions of a class: the sheet, single additions, edits, retirement.

Teachers reach a question through `of_class` and `of_topic` or by an id together with their class, so a
forged id of another class finds nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, func, select

from storage.base.errors import NotFound, refused
from storage.files.folding import fold
from storage.school.change_journal import Journal
from storage.tables import Answer, Question, Topic


@dataclass(frozen=True)
class QuestionDraft:
    """A question as it shall be stored.

    Attributes
    ----------
    topic : str
        Name of the topic; unknown ones are added to the class.
    kind : str
        ``choice``, ``number``, ``text`` or ``formula``.
    answer : mapping
        The key as `bot.grading` wrote it.
    chance : float
        Probability of a right answer by guessing. [0..1]
    picture : str or None
        Digest of a stored picture.
    template, feedback : mapping or None
        What it is drawn from, and what wrong answers are told, as `bot.grading` wrote them.
    """

    topic: str
    kind: str
    prompt: str
    answer: Mapping[str, Any]
    chance: float = 0.0
    explanation: str = ""
    picture: str | None = None
    picture_alt: str = ""
    template: Mapping[str, Any] | None = None
    feedback: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class QuestionChange:
    """What applying a sheet came to, in numbers of questions and names of new topics."""

    added: int = 0
    changed: int = 0
    same: int = 0
    new_topics: tuple[str, ...] = ()


@dataclass(frozen=True)
class QuestionInfo:
    """A question as a teacher sees it."""

    id: int
    topic_id: int
    topic: str
    kind: str
    prompt: str
    answer: Mapping[str, Any]
    explanation: str
    picture: str | None
    answers: int
    template: Mapping[str, Any] | None = None
    feedback: Mapping[str, Any] | None = None


def folded(text: str) -> str:
    """Return how names and prompts are compared: as in files, whatever case, quotes and blanks they have."""
    return fold(text)


def of_class(session: Session, class_id: int, topic_id: int | None = None) -> list[QuestionInfo]:
    """Return the questions in use of a class, or of one topic of it, in the order they were added."""
    answers = select(Answer.question_id, func.count().label("n")).group_by(col(Answer.question_id)).subquery()
    stmt = (
        select(Question, Topic, func.coalesce(answers.c.n, 0))
        .join(Topic, col(Topic.id) == col(Question.topic_id))
        .outerjoin(answers, answers.c.question_id == col(Question.id))
        .where(Topic.class_id == class_id, col(Question.retired_at).is_(None))
        .order_by(col(Question.id))
    )
    if topic_id is not None:
        stmt = stmt.where(Question.topic_id == topic_id)
    return [_info(question, topic, int(count)) for question, topic, count in session.exec(stmt)]


def keys_of(session: Session, topic_id: int, kinds: Collection[str]) -> list[Mapping[str, Any]]:
    """Return the answer keys of the questions in use of a topic that are of some kinds."""
    stmt = select(Question.answer).where(
        Question.topic_id == topic_id, col(Question.kind).in_(kinds), col(Question.retired_at).is_(None)
    )
    return list(session.exec(stmt))


def get(session: Session, class_id: int, question_id: int) -> QuestionInfo:
    """Return one question in use of a class. Raises `NotFound` for any other id."""
    for question in of_class(session, class_id):
        if question.id == question_id:
            return question
    raise refused(NotFound, "no_question")


def counts(session: Session, class_id: int) -> dict[int, int]:
    """Return how many questions in use each topic of a class has; topics without any are missing."""
    stmt = (
        select(Question.topic_id, func.count())
        .join(Topic, col(Topic.id) == col(Question.topic_id))
        .where(Topic.class_id == class_id, col(Question.retired_at).is_(None))
        .group_by(col(Question.topic_id))
    )
    return dict(session.exec(stmt).all())


def compare(session: Session, class_id: int, drafts: Sequence[QuestionDraft]) -> QuestionChange:
    """Say what `apply` would do, without doing it."""
    known, topics = _known(session, class_id), _topic_names(session, class_id)
    added = changed = same = 0
    for draft in _last_of_each(drafts):
        question = known.get(_identity(draft.topic, draft.prompt))
        if question is None:
            added += 1
        elif _differs(question, draft):
            changed += 1
        else:
            same += 1
    fresh = {folded(d.topic): d.topic for d in drafts if folded(d.topic) not in topics}
    return QuestionChange(added, changed, same, tuple(fresh.values()))


def apply(journal: Journal, class_id: int, drafts: Sequence[QuestionDraft], now: datetime) -> QuestionChange:
    """Store a sheet as a difference: new questions are added, changed ones replaced, equal ones left.

    A question is the same when topic and prompt are. One that is missing from the sheet stays: sheets are often
    sent per topic, and questions added in the chat are in no sheet. Retiring is a word of its own.

    Returns
    -------
    QuestionChange
        What it came to.
    """
    change = compare(journal.session, class_id, drafts)
    known = _known(journal.session, class_id)
    topics = topics_named(journal, class_id, [draft.topic for draft in drafts])
    new = []
    for draft in _last_of_each(drafts):
        question = known.get(_identity(draft.topic, draft.prompt))
        if question is None:
            new.append(_row(topics[folded(draft.topic)], draft, now))
        elif _differs(question, draft):
            replace(journal, question, draft, now)
    journal.add(*new)
    return change


def add(journal: Journal, class_id: int, draft: QuestionDraft, now: datetime) -> Question:
    """Add one question, with its topic if the class does not have it yet."""
    question = _row(topic_named(journal, class_id, draft.topic), draft, now)
    journal.add(question)
    return question


def _row(topic: Topic, draft: QuestionDraft, now: datetime) -> Question:
    return Question(topic_id=_id(topic.id), created_at=now, **_columns(draft))


def replace(journal: Journal, question: Question, draft: QuestionDraft, now: datetime) -> Question:
    """Put a new version in the place of a question.

    One that was answered is retired and a new one added: its statistics belong to what was asked.
    """
    session = journal.session
    if session.exec(select(Answer.id).where(Answer.question_id == question.id).limit(1)).first() is None:
        journal.change(question, **_columns(draft))
        return question
    journal.change(question, retired_at=now)
    fresh = Question(topic_id=question.topic_id, created_at=now, **_columns(draft))
    journal.add(fresh)
    return fresh


def retire(journal: Journal, class_id: int, question_id: int, now: datetime) -> QuestionInfo:
    """Stop asking a question. Raises `NotFound` if the class has no such question in use."""
    info = get(journal.session, class_id, question_id)
    question = row(journal.session, question_id)
    journal.change(question, retired_at=now)
    return info


def row(session: Session, question_id: int) -> Question:
    """Return the row of a question. Raises `NotFound`."""
    found = session.get(Question, question_id)
    if found is None:
        raise refused(NotFound, "no_question")
    return found


def topic_named(journal: Journal, class_id: int, name: str) -> Topic:
    """Return the topic of that name, whatever its case; add it, or take a dropped one back, if needed."""
    return topics_named(journal, class_id, [name])[folded(name)]


def topics_named(journal: Journal, class_id: int, names: Iterable[str]) -> dict[str, Topic]:
    """Return the topics of some names by their folded names; see `topic_named`. All new ones are stored at once."""
    wanted = {folded(name): " ".join(name.split()) for name in names}
    known = _topic_names(journal.session, class_id, dropped=True)
    new = {key: Topic(class_id=class_id, name=name) for key, name in wanted.items() if key not in known}
    journal.add(*new.values())
    for key, name in wanted.items():
        if key in known and known[key].dropped_at is not None:
            journal.change(known[key], dropped_at=None, name=name)
    return {key: new.get(key) or known[key] for key in wanted}


def _columns(draft: QuestionDraft) -> dict[str, Any]:
    return {
        "kind": draft.kind,
        "prompt": draft.prompt,
        "answer": dict(draft.answer),
        "explanation": draft.explanation,
        "picture": draft.picture,
        "picture_alt": draft.picture_alt,
        "chance": draft.chance,
        "template": None if draft.template is None else dict(draft.template),
        "feedback": None if draft.feedback is None else dict(draft.feedback),
    }


def _differs(question: Question, draft: QuestionDraft) -> bool:
    return any(
        getattr(question, name) != value
        for name, value in _columns(draft).items()
        # A sheet cannot hold a picture: one that was added in the chat stays.
        if not (name in ("picture", "picture_alt") and draft.picture is None) and name != "prompt"
    )


def _identity(topic: str, prompt: str) -> tuple[str, str]:
    return folded(topic), folded(prompt)


def _last_of_each(drafts: Iterable[QuestionDraft]) -> list[QuestionDraft]:
    return list({_identity(draft.topic, draft.prompt): draft for draft in drafts}.values())


def _known(session: Session, class_id: int) -> dict[tuple[str, str], Question]:
    stmt = (
        select(Question, Topic.name)
        .join(Topic, col(Topic.id) == col(Question.topic_id))
        .where(Topic.class_id == class_id, col(Question.retired_at).is_(None))
    )
    return {_identity(name, question.prompt): question for question, name in session.exec(stmt)}


def _topic_names(session: Session, class_id: int, *, dropped: bool = False) -> dict[str, Topic]:
    stmt = select(Topic).where(Topic.class_id == class_id)
    if not dropped:
        stmt = stmt.where(col(Topic.dropped_at).is_(None))
    # Topics in use last, so that they win over a dropped one of nearly the same name.
    rows = sorted(session.exec(stmt), key=lambda topic: topic.dropped_at is None)
    return {folded(topic.name): topic for topic in rows}


def _info(question: Question, topic: Topic, answers: int) -> QuestionInfo:
    return QuestionInfo(
        id=_id(question.id),
        topic_id=_id(topic.id),
        topic=topic.name,
        kind=question.kind,
        prompt=question.prompt,
        answer=question.answer,
        explanation=question.explanation,
        picture=question.picture,
        answers=answers,
        template=question.template,
        feedback=question.feedback,
    )


def _id(value: int | None) -> int:
    if value is None:
        raise ValueError("The row was not stored yet.")
    return value
