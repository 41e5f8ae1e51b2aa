"""From the class's model to what reviewing did: today as it is, and today without any review."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from bot.evidence.effect.numbers import OF_A_CLASS, ReviewEffect, effect_of
from bot.evidence.forecast.gains import snapshot
from bot.evidence.shared.figures import ENOUGH
from scheduler.model.memory import ClassMemory


def class_effect(memory: ClassMemory, students: Collection[int], at: datetime) -> ReviewEffect | None:
    """Return what reviewing did for a class; None when none of these students has met a topic.

    Parameters
    ----------
    memory : ClassMemory
        The class's model; its students are named by their numbers.
    students : collection of int
        Who counts.
    at : datetime
        Now.
    """
    return _effect(memory, students, at, OF_A_CLASS)


def student_effect(memory: ClassMemory, student: int, at: datetime) -> ReviewEffect | None:
    """Return what reviewing did for one student; None when the student has met no topic.

    Parameters
    ----------
    memory : ClassMemory
        The class's model; its students are named by their numbers.
    student : int
        Number of the student.
    at : datetime
        Now.
    """
    return _effect(memory, (student,), at, ENOUGH)


def _effect(memory: ClassMemory, students: Collection[int], at: datetime, enough: int) -> ReviewEffect | None:
    if not memory.students or not memory.topics:
        return None
    present = snapshot(memory, at)
    bare = snapshot(memory, at, memory.without_reviews().retention(at))
    return effect_of(present, bare, students, enough)
