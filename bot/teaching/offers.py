"""Changes of a class's dose that a teacher may take with one button: plain values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DoseOffer:
    """Rules that a teacher may take with one button; None leaves a rule as it is.

    Attributes
    ----------
    questions : int
        At a time.
    days : tuple of int, optional
        Weekdays on which students are asked, Monday 0.
    target : int, optional
        Share to be known on the dates that count. [%]
    """

    questions: int
    days: tuple[int, ...] | None = None
    target: int | None = None


@dataclass(frozen=True, slots=True)
class TimetableDose:
    """What a stored timetable needs, for the sentence about it.

    Attributes
    ----------
    topics, evenings : int
        Topics that can be asked about before they are tested, and the evenings for it.
    questions : int
        An evening: the smallest number that makes about four answers a topic, or the largest allowed.
    answers : float
        Answers to a topic that they make.
    enough : bool
        Whether that is about four.
    set_to : int
        Questions an evening as the rules are.
    offers : tuple of DoseOffer
    """

    topics: int
    evenings: int
    questions: int
    answers: float
    enough: bool
    set_to: int
    offers: tuple[DoseOffer, ...] = ()
