"""Retention models of the classes, kept between steps.

A cache and nothing more: everything in it follows from the database. A model is brought up to date from the
class's story each time; what is new in the story is added, and where something that the model has seen is no
longer in the story (a transaction was undone, a teacher corrected something), the model is built anew. So a
model can never hold what the database does not.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from scheduler.model.fitting import pool
from scheduler.model.memory import ClassMemory, days
from scheduler.model.prior import PRIOR
from scheduler.values import Parameters
from storage.history.class_history import (
    ClassStory,
    Counted,
    GivenLesson,
    Happening,
    Practised,
    Reviewed,
    Scored,
)

MOST_CLASSES = 200
"""Models kept; the class not used for longest goes first. Chosen: some megabytes each."""

ITEMS_OF_A_SCORE = 4.0
"""Questions that a quiz score is worth per topic. Chosen: a quiz asks a few things about each of its topics."""

ITEMS_OF_A_COUNT = 0.25
"""Questions that a count of the class is worth for each of its students. Chosen: see scheduler/MODEL.md, section 3."""

ENOUGH_PRESENT = 0.5
"""Share of a class that has to be there for a starter to be a review of everybody. Chosen: then most were there."""

FIT_MINUTE = 2 * 60 + 30
"""Local time of the nightly fit: nobody answers, and the day's plan is hours away."""

LEAST_ANSWERS = 30
"""With fewer, a fit says little that the prior does not. Chosen."""


@dataclass
class _Kept:
    """A model and what it has been told."""

    memory: ClassMemory
    told: set[Happening]
    fitted_at: datetime | None
    turn: threading.RLock = field(default_factory=threading.RLock)


class Memories:
    """The models of the classes that were needed last."""

    def __init__(self) -> None:
        self._kept: OrderedDict[int, _Kept] = OrderedDict()
        self._turn = threading.Lock()

    @contextmanager
    def of(self, story: ClassStory, others: Sequence[Parameters] = ()) -> Iterator[ClassMemory]:
        """Lend the model of a class as its story has it, to this thread alone.

        Parameters
        ----------
        story : ClassStory
            From `storage.history.class_history.of_class`.
        others : sequence of Parameters
            Fits of the school's other classes: what to expect of a class that has none yet.
        """
        kept = self._take(story, others)
        with kept.turn:
            _tell(kept, story.happenings)
            yield kept.memory

    def forget(self, class_id: int) -> None:
        """Drop the model of a class: it has been fitted anew."""
        with self._turn:
            self._kept.pop(class_id, None)

    def _take(self, story: ClassStory, others: Sequence[Parameters]) -> _Kept:
        with self._turn:
            kept = self._kept.get(story.class_id)
            if kept is None or not _continues(kept, story):
                kept = _Kept(_blank(story, others), set(), story.fitted_at)
                self._kept[story.class_id] = kept
            self._kept.move_to_end(story.class_id)
            while len(self._kept) > MOST_CLASSES:
                self._kept.popitem(last=False)
            return kept


def build(story: ClassStory, others: Sequence[Parameters] = (), *, own: bool = True) -> ClassMemory:
    """Return a model of its own, told the whole story: for work that changes it, such as a fit."""
    kept = _Kept(_blank(story, others, own=own), set(), story.fitted_at)
    _tell(kept, story.happenings)
    return kept.memory


def prior_of(story: ClassStory, others: Sequence[Parameters], *, own: bool = True) -> Parameters:
    """Return what to expect of a class: its own last fit if `own`, else what other classes were like."""
    if own and story.parameters is not None:
        return Parameters.from_dict(story.parameters)
    return pool(list(others)) if others else PRIOR


def _blank(story: ClassStory, others: Sequence[Parameters], *, own: bool = True) -> ClassMemory:
    names = ([str(number) for number in story.students], [str(number) for number in story.topics])
    return ClassMemory(*names, prior_of(story, others, own=own))


def _continues(kept: _Kept, story: ClassStory) -> bool:
    """Whether a model needs only to be told what is new."""
    same = kept.memory.students == tuple(map(str, story.students)) and kept.memory.topics == tuple(
        map(str, story.topics)
    )
    return same and kept.fitted_at == story.fitted_at and kept.told <= set(story.happenings)


def _tell(kept: _Kept, happenings: Iterable[Happening]) -> None:
    for happening in happenings:
        if happening not in kept.told:
            _tell_one(kept.memory, happening)
            kept.told.add(happening)


def _tell_one(memory: ClassMemory, happening: Happening) -> None:
    match happening:
        case GivenLesson(topic_id, at, absent):
            there = ~np.isin(np.array([int(s) for s in memory.students], dtype=np.int64), np.array(absent))
            memory.taught(str(topic_id), at, there)
        case Reviewed(student, topic, at, verdict, chance, question):
            correct = {"right": True, "wrong": False, "unsure": False, "": None}[verdict]
            # Somebody who says "not sure" has not guessed.
            level = 0.0 if verdict == "unsure" else chance
            memory.answered(
                str(student), str(topic), at, correct, level, None if question is None else str(question)
            )
        case Practised(student, topic, at):
            memory.homework(str(student), str(topic), at)
        case Scored(student, topics, at, share):
            for topic in topics:
                memory.scored(
                    str(student), str(topic), at, share, ITEMS_OF_A_SCORE / max(len(topics), 1) ** 0.5
                )
        case Counted() as counted:
            _tell_count(memory, counted)


def _tell_count(memory: ClassMemory, counted: Counted) -> None:
    """Tell how many had a question right: weak evidence on everybody who has met the topic, and a review of it.

    Who was right is not known, and who was there neither: each student gets the share of the class, corrected for
    guessing, with a weight well below that of an own answer, and an exposure as strong as homework.
    """
    topic = str(counted.topic_id)
    shape = (len(memory.students), len(memory.topics))
    since = memory.history.time[:, 0].reshape(shape)[:, memory.topics.index(topic)]
    met = np.flatnonzero(since <= days(counted.at))
    there = min(counted.present / max(len(met), 1), 1.0)
    guessed = (counted.right / counted.present - counted.chance) / (1.0 - counted.chance)
    for number in met:
        student = memory.students[number]
        memory.scored(student, topic, counted.at, max(guessed, 0.0), ITEMS_OF_A_COUNT * there)
        if there >= ENOUGH_PRESENT:
            memory.homework(student, topic, counted.at)
