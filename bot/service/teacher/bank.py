"""Questions of our own bank for the topics of a class: offered, looked at, taken."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bot.bank import BankQuestion, FixedQuestion, catalogue, topics_for
from bot.grading.drawn import Language, draw, render, template_to_dict
from bot.service.asking import planning
from bot.service.engine.effects import Work, carries
from bot.service.teacher.question_rows import draft_of_row, draft_of_template, example, language_of
from bot.service.teacher.work import class_for, guarded, keep
from bot.talk.core import Result
from bot.talk.teacher.effects import BankOffered, BankTaken, LookInBank, OfferedTopic, TakeFromBank
from storage.base.database import Session
from storage.base.rows import id_of
from storage.school import questions, timetable
from storage.school.change_journal import Journal
from storage.tables import SchoolClass, UploadKind

BankEntry = BankQuestion | FixedQuestion
EXAMPLES = 6
"""Questions of a topic that are shown before they are taken; the others are counted."""


@dataclass(frozen=True)
class TopicOffer:
    """What the bank has for a topic of a class and the class has not.

    Attributes
    ----------
    entries : tuple of BankQuestion or FixedQuestion
        Never empty.
    """

    topic_id: int
    topic: str
    entries: tuple[BankEntry, ...]


def offers(
    session: Session, school_class: SchoolClass, language: Language, now: datetime
) -> list[TopicOffer]:
    """Return what the bank has for the topics of a class, in the order in which they are taught.

    Parameters
    ----------
    language : {"en", "de"}
        In which the questions would be asked: what the class has is left out.
    """
    class_id = id_of(school_class)
    own = {(one.topic_id, questions.folded(one.prompt)) for one in questions.of_class(session, class_id)}
    found = []
    for topic in timetable.topics(session, class_id, now):
        entries = tuple(
            entry
            for entry in _entries(topic.name)
            if (topic.id, questions.folded(entry.prompt(language))) not in own
        )
        if entries:
            found.append(TopicOffer(topic.id, topic.name, entries))
    return found


def _entries(title: str) -> Iterator[BankEntry]:
    for topic in topics_for(title):
        yield from catalogue().of_topic(topic.id)


def take(
    journal: Journal, class_id: int, found: Collection[TopicOffer], language: Language, now: datetime
) -> int:
    """Make what was offered questions of the class; return how many."""
    drafts = [draft_of(entry, offer.topic, language) for offer in found for entry in offer.entries]
    return questions.apply(journal, class_id, drafts, now).added


def draft_of(entry: BankEntry, topic: str, language: Language) -> questions.QuestionDraft:
    """Make a question of the bank one of a class's topic."""
    if isinstance(entry, BankQuestion):
        template = entry.templates[language]
        return draft_of_template(topic, template, template_to_dict(template))
    return draft_of_row(replace(entry.rows[language], topic=topic))


def shown(entry: BankEntry, language: Language) -> str:
    """Write a question of the bank as a student may get it, in one line."""
    if isinstance(entry, BankQuestion):
        template = entry.templates[language]
        return example(render(template, draw(template, "shown")))
    row = entry.rows[language]
    return f"{' '.join(row.prompt.split())} → {' · '.join((row.answer, *row.wrong_options))}"


# ---------------------------------------------------------------- what a teacher asks for


@carries(LookInBank)
@guarded
def look(work: Work, effect: LookInBank) -> Sequence[Result]:
    """Look up what the bank has for the class, or for one topic of it with examples."""
    school_class = class_for(work, effect.class_id)
    language = _language(work, school_class)
    found = offers(work.session, school_class, language, work.now)
    return [_offered(effect.class_id, found, language, effect.topic_id)]


@carries(TakeFromBank)
@guarded
def take_offered(work: Work, effect: TakeFromBank) -> Sequence[Result]:
    """Take the bank's questions for one topic, or for all; ``undo`` takes them back together."""
    school_class = class_for(work, effect.class_id)
    language = _language(work, school_class)
    found = offers(work.session, school_class, language, work.now)
    wanted = [one for one in found if effect.topic_id in (None, one.topic_id)]
    journal = Journal(work.session)
    added = take(journal, effect.class_id, wanted, language, work.now)
    if added:
        keep(work, journal, effect.class_id, "bank", wanted[0].topic, UploadKind.QUESTIONS)
        planning.look_soon(work.session, effect.class_id, work.now)
    left = [one for one in found if one not in wanted]
    names = tuple(one.topic for one in wanted)
    coming = _offered(effect.class_id, left, language, left[0].topic_id if left else None)
    return [BankTaken(added, names, coming)]


def _language(work: Work, school_class: SchoolClass) -> Language:
    return language_of(school_class.language or "", work.words.language)


def _offered(
    class_id: int, found: Sequence[TopicOffer], language: Language, topic_id: int | None
) -> BankOffered:
    chosen = next((one for one in found if one.topic_id == topic_id), None)
    entries = () if chosen is None else chosen.entries
    return BankOffered(
        class_id,
        tuple(OfferedTopic(one.topic_id, one.topic, len(one.entries)) for one in found),
        None if chosen is None else chosen.topic_id,
        tuple(shown(entry, language) for entry in entries[:EXAMPLES]),
    )
