"""The dose of a class: how many questions its rules make of its timetable, and how many it needs."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from bot.teaching.dates_that_count import dates_of
from bot.teaching.offers import DoseOffer, TimetableDose
from bot.teaching.school_days import at_school, class_rules, open_on
from scheduler.model.memory import days
from scheduler.model.prior import PRIOR
from scheduler.plan.dose import Dose, Timetable
from scheduler.values import Dates, Parameters
from storage.base.database import Session
from storage.base.rows import id_of
from storage.history import class_history
from storage.history.class_history import ClassStory, Reviewed
from storage.school.rules import rules_of
from storage.tables import SchoolClass
from storage.values import QUESTIONS_A_DAY_AT_MOST, Rules


@dataclass(frozen=True)
class DoseRules:
    """The rules of a class as far as they make its dose.

    Attributes
    ----------
    rules : Rules
    evenings : tuple of datetime
        Moments ahead on which students could be asked if they were on all days on which schools are open.
    """

    rules: Rules
    evenings: tuple[datetime, ...] = ()

    @property
    def questions(self) -> int:
        """Questions at a time."""
        return self.rules.questions_per_nudge

    @property
    def nudges(self) -> int:
        """Times a day."""
        return self.rules.nudges_per_day

    @property
    def a_day(self) -> int:
        """Questions a day."""
        return self.rules.questions_a_day

    @property
    def most(self) -> int:
        """Questions at a time that are allowed."""
        return QUESTIONS_A_DAY_AT_MOST // self.nudges

    @property
    def most_a_day(self) -> int:
        """Questions a day that are allowed, each time as many."""
        return self.most * self.nudges

    @property
    def days(self) -> tuple[int, ...]:
        """Weekdays on which students are asked."""
        return self.rules.school_weekdays

    @property
    def all_days(self) -> tuple[int, ...]:
        """These together with all days on which schools are open."""
        return tuple(sorted(open_on(self.days)))

    @property
    def target(self) -> int | None:
        """Share to be known on the dates that count. [%]."""
        return self.rules.target

    @property
    def some_days(self) -> bool:
        """Whether there are school days on which students are not asked."""
        return self.days != self.all_days

    def with_evenings(self, dates: Dates) -> Dates:
        """Return dates with the evenings of all school days."""
        return replace(dates, evenings=self.evenings)

    def at_a_time(self, a_day: int) -> int:
        """Return the questions at a time that make at least so many a day, as far as is allowed."""
        return min(-(-a_day // self.nudges), self.most)


@dataclass(frozen=True)
class Needed:
    """The dose that a class needs.

    Attributes
    ----------
    dose : Dose
        The smallest that makes about four answers a topic on the days on which the class is asked; the largest that
        is allowed where none does.
    set_to : Dose
        What the rules make now.
    every_day : Dose or None
        The smallest on all school days, for a class that is asked on some of them.
    so_far : float
        Answers to a topic so far, a mean over students and topics taught.
    """

    dose: Dose
    set_to: Dose
    every_day: Dose | None
    so_far: float
    rules: DoseRules

    def offers(self) -> tuple[DoseOffer, ...]:
        """Return what the teacher may take: what the class needs on its days, then on all school days."""
        found = []
        if self.rules.at_a_time(self.dose.questions) != self.rules.questions:
            found.append(DoseOffer(self.rules.at_a_time(self.dose.questions)))
        if self.every_day is not None:
            found.append(DoseOffer(self.rules.at_a_time(self.every_day.questions), self.rules.all_days))
        return tuple(found)

    def of_timetable(self) -> TimetableDose:
        """Return it as plain values, for the sentence after a timetable is stored."""
        return TimetableDose(
            self.dose.topics,
            self.dose.evenings,
            self.dose.questions,
            self.dose.answers,
            self.dose.enough,
            self.set_to.questions,
            self.offers(),
        )


def dose_rules(session: Session, school_class: SchoolClass, told: ClassStory, now: datetime) -> DoseRules:
    """Return the rules of a class that make its dose."""
    everyday = at_school(class_rules(session, school_class))
    return DoseRules(
        rules_of(school_class), dates_of(told, everyday, school_class.nudge_minute, now).evenings
    )


def needed_by_timetable(session: Session, school_class: SchoolClass, now: datetime) -> Needed | None:
    """Return what a class's timetable needs, from what is usually answered; None where nothing is to be asked."""
    told = class_history.of_class(session, id_of(school_class), now)
    dates = dates_of(told, class_rules(session, school_class), school_class.nudge_minute, now)
    share = (
        PRIOR.response_mean
        if told.parameters is None
        else Parameters.from_dict(told.parameters).response_mean
    )
    return needed(told, dates, dose_rules(session, school_class, told, now), share, told.students, now)


def needed(
    told: ClassStory, dates: Dates, rules: DoseRules, share: float, asked: Collection[int], now: datetime
) -> Needed | None:
    """Return what a class needs from now on; None where no topic can be asked about before it is tested.

    Parameters
    ----------
    share : float
        Share of questions that is answered. (0..1]
    asked : collection of int
        Students whose answers count.
    """
    topics = _topics(told)
    if not topics:
        return None
    had = _answers(told, asked)
    order = tuple(topics)
    taught, tested = (np.array([topics[topic][place] for topic in order]) for place in (0, 1))
    so_far = np.array([had.get(topic, 0.0) for topic in order])
    moment, met = days(now), taught <= days(now)

    def timetable(evenings: tuple[datetime, ...]) -> Timetable:
        ahead = np.array([days(at) for at in evenings if days(at) < tested.max()])
        return Timetable(np.maximum(taught, moment), tested, ahead, share, so_far)

    usual = timetable(dates.evenings)
    if not usual.topics:
        return None
    return Needed(
        usual.needed(rules.most_a_day),
        usual.dose(rules.a_day),
        timetable(rules.evenings).needed(rules.most_a_day) if rules.some_days else None,
        float(so_far[met].mean()) if met.any() else 0.0,
        rules,
    )


def _topics(told: ClassStory) -> dict[int, tuple[float, float]]:
    """Return the first lesson and the last test of each topic [days]; the end of its evenings where none tests it."""
    found: dict[int, tuple[float, float]] = {}
    for at, topic in sorted(told.lessons):
        found.setdefault(topic, (days(at), np.inf))
    for at, covered in sorted((*told.quizzes, *told.exams)):
        for topic in set(covered) & set(found):
            found[topic] = (found[topic][0], days(at))
    return found


def _answers(told: ClassStory, asked: Collection[int]) -> dict[int, float]:
    """Return the answers to each topic, a mean over students."""
    found: dict[int, float] = {}
    for one in told.happenings:
        if isinstance(one, Reviewed) and one.verdict and one.enrolment_id in asked:
            found[one.topic_id] = found.get(one.topic_id, 0.0) + 1.0 / len(asked)
    return found
