"""Doses compared on simulated classes: what a number of questions an evening, or a target, makes of a term.

``python -m scheduler.simulation.doses`` prints the tables of scheduler/RESULTS.md, "Doses".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.plan.outcomes import Prospects
from scheduler.plan.planner import topics_today
from scheduler.simulation.learners import FAMILIES, SimulatedClass
from scheduler.simulation.policies import Choice, LearningPolicy
from scheduler.simulation.term import EVENING, Term
from scheduler.simulation.term_run import TermRun, run_term
from scheduler.values import Dates

WEEKS = 12
EXAM_WEEKS = 16  # from the first Monday; questions go on until then, as those of the program do
LESSON_DAYS = (0, 2, 4)
ALL_SCHOOL_DAYS = (0, 1, 2, 3, 4)
FIRST_MONDAY = date(2026, 9, 7)
MOST = 10
N_STUDENTS = 24
TARGET = 0.75
REPORT_DAY = 4


@dataclass(frozen=True)
class DosePlan:
    """A rule for the number of questions.

    Attributes
    ----------
    questions : int
        Of each student, an evening, at most. With a target it is the most that may ever be allowed: the class begins
        with what the target takes, and each week its teacher allows what it takes by then, if that is more.
    days : tuple of int
        Weekdays on which students are asked, Monday 0.
    target : float or None
        Share to be known on the dates that count. [0..1]
    """

    name: str
    questions: int
    days: tuple[int, ...] = ALL_SCHOOL_DAYS
    target: float | None = None


PLANS = (
    DosePlan("none", 0),
    DosePlan("2 on three days", 2, LESSON_DAYS),
    DosePlan("3 on five days", 3),
    DosePlan("5 on five days", 5),
    DosePlan("target 75", MOST, target=TARGET),
)


@dataclass(frozen=True)
class DoseRow:
    """One class under one dose.

    Attributes
    ----------
    quizzes, exam : float
        True recall at the quizzes, in the mean, and at the exam. [0..1]
    promised : float
        Share known on the dates that count as it was forecast before the first lesson. [0..1]
    promised_later : float
        The same for the dates after the third week, as it was forecast then.
    kept, kept_later : float
        True recall on the same dates, each date alike.
    asked : float
        Questions of a student, an evening.
    answers : float
        Answers to a topic, a mean over students.
    """

    family: str
    seed: int
    plan: str
    quizzes: float
    exam: float
    promised: float
    kept: float
    promised_later: float
    kept_later: float
    asked: float
    answers: float


def school_term(days: Sequence[int] = ALL_SCHOOL_DAYS) -> Term:
    """Return twelve weeks of lessons on three days, a quiz every four weeks, and an exam four weeks after the last.

    Students are asked until the exam, which stands among the quizzes: after those a `Term` asks nobody.

    Parameters
    ----------
    days : sequence of int
        Weekdays on which students are asked, Monday 0.
    """
    every = [FIRST_MONDAY + timedelta(days=number) for number in range(EXAM_WEEKS * 7 - 2)]  # to a Friday
    quizzes = [FIRST_MONDAY + timedelta(days=7 * week + 3) for week in (3, 7, 11)]
    # On the day before a quiz nothing new is taught.
    taught = [
        day
        for day in every[: WEEKS * 7]
        if day.weekday() in LESSON_DAYS and not any((quiz - day).days == 1 for quiz in quizzes)
    ][:-1]
    topics = [f"topic {number + 1}" for number in range(len(taught))]
    lessons = list(zip(taught, topics, strict=True))
    tests: list[tuple[date, list[str]]] = []
    begin = FIRST_MONDAY
    for quiz in quizzes:
        tests.append((quiz, [topic for day, topic in lessons if begin <= day < quiz]))
        begin = quiz
    tests.append((every[-1], topics))
    off = [day for day in every if day.weekday() not in days]
    return Term(lessons, tests, holidays=off)


class Dosed(LearningPolicy):
    """Our planner with a target, or without one; what it forecasts is kept as the promise."""

    def __init__(self, term: Term, students: Sequence[str], plan: DosePlan, seed: int) -> None:
        super().__init__(term, students, plan.questions, plan.questions * len(term.days()), seed)
        self.plan = plan

    def begin(self, now: datetime) -> None:
        """Allow the questions that a target takes, if there is one."""
        if self.plan.target is not None:
            self.cap = self._takes(now, self.plan.target)

    def _takes(self, now: datetime, target: float) -> int:
        return Prospects(self.memory, self._dates(now), now).reaching(target, self.plan.questions).questions

    def _follow(self, now: datetime) -> None:
        """Allow more once a week, as the weekly report advises, where a target takes it."""
        friday = self.term.day(now).weekday() == REPORT_DAY
        if self.plan.target is not None and friday:
            self.cap = max(self.cap, self._takes(now, self.plan.target))

    def forecast(self, now: datetime) -> float:
        """Return the share known on the coming dates that count, as forecast now [0..1]."""
        return Prospects(self.memory, self._dates(now), now).of(self.cap, target=self.plan.target).known

    def _dates(self, now: datetime) -> Dates:
        return replace(self.term.dates, evenings=self.term.evenings(now))

    def _wanted(self, now: datetime) -> Choice:
        if not self.cap:
            return {}
        self._learn()
        self._follow(now)
        return topics_today(
            self.memory, self._dates(now), now, per_student_cap=self.cap, target=self.plan.target
        )


def run_dose(family: str, seed: int, plan: DosePlan, n_students: int = N_STUDENTS) -> DoseRow:
    """Run one class through a term under one dose.

    Parameters
    ----------
    family : str
        Memory law of the simulated students.
    seed : int
        Seed of everything that is drawn: the same seed gives the same run.
    plan : DosePlan
        Weekdays, questions an evening and target.
    n_students : int
        Students of the class.
    """
    term = school_term(plan.days)
    students = [f"student {number + 1}" for number in range(n_students)]
    room = SimulatedClass(family, students, term.topics, seed)
    policy = Dosed(term, students, plan, seed)
    zone = ZoneInfo(term.timezone)
    start = datetime.combine(FIRST_MONDAY - timedelta(days=3), EVENING, zone)
    middle = datetime.combine(FIRST_MONDAY + timedelta(days=20), time(12), zone)
    policy.begin(start)
    promised, later = policy.forecast(start), _Later(policy, middle)
    run = run_term(term, room.learners(), later, prompts_per_day=plan.questions, seed=seed, predict=False)
    recall = [float(truth.mean()) for _, _, truth in run.tests]
    evenings = len(term.evenings(start))
    return DoseRow(
        family,
        seed,
        plan.name,
        quizzes=float(np.mean(recall[:-1])),
        exam=recall[-1],
        promised=promised,
        kept=float(np.mean(recall)),
        promised_later=later.promised,
        kept_later=float(
            np.mean([one for one, (at, _, _) in zip(recall, run.tests, strict=True) if at > middle])
        ),
        asked=len(run.asked) / n_students / evenings,
        answers=_answered(run) / n_students / len(term.topics),
    )


class _Later:
    """A policy that forecasts once more on the first evening after a moment."""

    def __init__(self, policy: Dosed, at: datetime) -> None:
        self.policy, self.at, self.promised = policy, at, float("nan")
        self.lesson, self.observe, self.predict = policy.lesson, policy.observe, policy.predict

    def choose(self, now: datetime) -> Choice:
        """Return what the policy chooses."""
        if now >= self.at and np.isnan(self.promised):
            self.promised = self.policy.forecast(now)
        return self.policy.choose(now)


def _answered(run: TermRun) -> int:
    return sum(one.correct is not None for one in run.asked)


def compare(
    plans: Sequence[DosePlan] = PLANS,
    *,
    families: Sequence[str] = tuple(FAMILIES),
    seeds: Sequence[int] = (1, 2, 3),
    n_students: int = N_STUDENTS,
    progress: Callable[[DoseRow], None] = lambda row: None,
) -> list[DoseRow]:
    """Run every plan on every class, the same classes under each.

    Parameters
    ----------
    plans : sequence of DosePlan
        Doses to compare.
    families : sequence of str
        Memory laws of the simulated students.
    seeds : sequence of int
        One class for each, the same under every plan.
    n_students : int
        Students of a class.
    progress : callable (DoseRow) -> None
        Told after every run.
    """
    rows = []
    for family in families:
        for seed in seeds:
            for plan in plans:
                rows.append(run_dose(family, seed, plan, n_students))
                progress(rows[-1])
    return rows


def table(rows: Sequence[DoseRow]) -> str:
    """Return the comparison as text, one line for each plan."""
    head = "dose               asked  answers  quizzes   exam  promised: start, kept   week 3, kept   within 5 points"
    lines = [head]
    for plan in dict.fromkeys(row.plan for row in rows):
        lines.append(_line([row for row in rows if row.plan == plan]))
    return "\n".join(lines)


def _line(rows: Sequence[DoseRow]) -> str:
    def mean(name: str) -> float:
        return float(np.nanmean([getattr(row, name) for row in rows]))

    start = np.mean([abs(row.promised - row.kept) <= 0.05 for row in rows])
    later = np.mean([abs(row.promised_later - row.kept_later) <= 0.05 for row in rows])
    return (
        f"{rows[0].plan:18s} {mean('asked'):5.1f} {mean('answers'):8.1f} {100 * mean('quizzes'):7.1f}% "
        f"{100 * mean('exam'):5.1f}% {100 * mean('promised'):11.1f}% {100 * mean('kept'):7.1f}% "
        f"{100 * mean('promised_later'):8.1f}% {100 * mean('kept_later'):6.1f}% {100 * start:9.0f}% {100 * later:4.0f}%"
    )


if __name__ == "__main__":
    print(table(compare(seeds=(1, 2, 3), progress=lambda row: print(row, flush=True))))  # noqa: T201 - a command
