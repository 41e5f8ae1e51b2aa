"""Compare policies on simulated classes: equal prompts, the same students, paired differences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from scheduler.simulation.learners import FAMILIES, SimulatedClass
from scheduler.simulation.policies import FIXED_GAPS, POLICIES, make_policy
from scheduler.simulation.term import Term
from scheduler.simulation.term_run import TermRun, run_term
from scheduler.values import Floats

# Expanding and single lists among which the best is taken in hindsight, class by class.
FIXED_LISTS: tuple[tuple[float, ...], ...] = (
    (1, 7),
    (2, 10),
    (3, 14),
    (7, 21),
    (5, 20),
    (1, 7, 21),
    (3, 10, 30),
    (1, 3, 7, 14, 28),
    (2, 6, 18, 40),
    (7,),
    (14,),
)
WATCH = 3  # evenings between two looks at everybody's true retention
SETTLING_DAYS = (
    14  # predictions count from the third week on, as before there is nearly nothing to learn from
)


@dataclass(frozen=True)
class Row:
    """One class under one policy.

    Attributes
    ----------
    family, seed, policy, prompts_per_day
        What was run; `policy` of a fixed list is "fixed", the best in hindsight.
    gaps : tuple of float
        The fixed list, empty for other policies.
    tests : float
        True recall at quizzes and exams, each date alike. [0..1]
    below_half : float
        Share of student-topic pairs under 0.5 at a quiz; NaN where there is none. [0..1]
    term_average : float
        True recall of what had been taught, averaged over the evenings of the term. [0..1]
    regret, excess_brier, calibration, error : float
        Of the predictions over all taught pairs from the third week on: mean log-loss above that of the
        true probability [nats], mean squared and root mean squared distance to it, and calibration error
        in ten bins. NaN for policies without predictions of their own.
    prompts, answered : int
    """

    family: str
    seed: int
    policy: str
    prompts_per_day: int
    gaps: tuple[float, ...]
    tests: float
    below_half: float
    term_average: float
    regret: float
    excess_brier: float
    calibration: float
    error: float
    prompts: int
    answered: int


def example_term(
    n_topics: int = 30, n_days: int = 84, start: date = date(2026, 9, 7), *, quizzes: bool = True
) -> Term:
    """Return a term of evenly spread lessons, three quizzes if wanted, and an exam on all four weeks after it.

    Parameters
    ----------
    n_topics : int
        Lessons, a topic each.
    n_days : int
        Length of the teaching. [days]
    start : date
        The first day.
    quizzes : bool
        Whether there are three quizzes.
    """
    topics = [f"topic {number + 1}" for number in range(n_topics)]
    taught = np.linspace(0, n_days - 7, n_topics).round().astype(int)
    bounds = (0, n_days // 3, 2 * n_days // 3, n_days - 1)
    dates = [
        (
            start + timedelta(days=end),
            [one for one, day in zip(topics, taught, strict=True) if begin <= day < end],
        )
        for begin, end in pairwise(bounds)
    ]
    lessons = [(start + timedelta(days=int(day)), topic) for day, topic in zip(taught, topics, strict=True)]
    return Term(lessons, dates if quizzes else [], [(start + timedelta(days=n_days + 28), topics)])


def evaluate(
    *,
    families: Sequence[str] = tuple(FAMILIES),
    policies: Sequence[str] = tuple(POLICIES),
    seeds: Sequence[int] = (1, 2, 3),
    prompts_per_day: Sequence[int] = (2,),
    n_students: int = 30,
    term: Term | None = None,
    prompts_per_topic: float = 1.0,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> list[Row]:
    """Run every policy on every class.

    Parameters
    ----------
    families : sequence of str
        Memory laws of the simulated students.
    policies : sequence of str
        Names for `make_policy`.
    seeds : sequence of int
        One class for each, the same under every policy.
    prompts_per_day : sequence of int
        Most prompts for each student and evening; every value is tried.
    n_students : int
        Students of a class.
    term : Term, optional
        The term; `example_term` by default.
    prompts_per_topic : float
        The allowance of the term, per topic and daily prompt: 2 prompts a day over 30 topics give 60.
    progress : callable (done, total) -> None
        Told after every run.

    Raises
    ------
    ValueError
        The term has neither a quiz nor an exam: there is no day to compare on.
    """
    plan = term or example_term()
    if not (plan.dates.quizzes or plan.dates.exams):
        raise ValueError(
            "The term has neither a quiz nor an exam, so there is no day to compare policies on."
        )
    students = [f"student {number + 1}" for number in range(n_students)]
    jobs = [
        (family, seed, n, policy)
        for family in families
        for seed in seeds
        for n in prompts_per_day
        for policy in policies
    ]
    rows = []
    for done, (family, seed, n, policy) in enumerate(jobs, start=1):
        allowance = round(prompts_per_topic * n * len(plan.topics))
        lists: Sequence[tuple[float, ...]] = FIXED_LISTS if policy == "fixed" else ((),)
        found = [_run(plan, students, family, seed, n, allowance, policy, gaps) for gaps in lists]
        rows.append(max(found, key=lambda row: row.tests))
        progress(done, len(jobs))
    return rows


def _run(
    term: Term,
    students: Sequence[str],
    family: str,
    seed: int,
    n: int,
    allowance: int,
    policy: str,
    gaps: tuple[float, ...],
) -> Row:
    room = SimulatedClass(family, students, term.topics, seed)
    chosen = make_policy(
        policy,
        term,
        students=students,
        prompts_per_day=n,
        prompts_per_term=allowance,
        seed=seed,
        gaps=gaps or FIXED_GAPS,
    )
    predicts = policy == "personal"
    run = run_term(term, room.learners(), chosen, prompts_per_day=n, seed=seed, watch=WATCH, predict=predicts)
    regret, brier, calibration = _prediction_errors(run) if predicts else (np.nan, np.nan, np.nan)
    quizzes = [truth.ravel() for _, _, truth in run.tests[: len(term.dates.quizzes)]]
    return Row(
        family,
        seed,
        policy,
        n,
        gaps,
        tests=float(np.mean([truth.mean() for _, _, truth in run.tests])),
        below_half=float((np.concatenate(quizzes) < 0.5).mean()) if quizzes else np.nan,
        term_average=float(np.mean([truth[truth > 0].mean() for _, truth, _ in run.daily if truth.any()])),
        regret=regret,
        excess_brier=brier,
        calibration=calibration,
        error=float(np.sqrt(brier)),
        prompts=len(run.asked),
        answered=sum(one.correct is not None for one in run.asked),
    )


def _prediction_errors(run: TermRun) -> tuple[float, float, float]:
    """Return log-loss regret, excess Brier score and calibration error against the truth."""
    since = run.daily[0][0] + timedelta(days=SETTLING_DAYS)
    looks = [(truth[truth > 0], predicted[truth > 0]) for at, truth, predicted in run.daily if at >= since]
    truth = np.clip(np.concatenate([one for one, _ in looks]), 1e-6, 1.0 - 1e-6)
    predicted = np.clip(np.concatenate([one for _, one in looks]), 1e-4, 1.0 - 1e-4)
    regret = truth * np.log(truth / predicted) + (1.0 - truth) * np.log((1.0 - truth) / (1.0 - predicted))
    return float(regret.mean()), float(((predicted - truth) ** 2).mean()), _calibration(predicted, truth)


def _calibration(predicted: Floats, truth: Floats) -> float:
    bins = np.minimum((predicted * 10).astype(int), 9)
    return float(np.abs(np.bincount(bins, predicted - truth, 10)).sum() / len(predicted))


def format_table(rows: Sequence[Row]) -> str:
    """Return the comparison as text: means over classes, and the gain over the best fixed list of each class.

    Gains stand with their standard error over classes, in points of recall.
    """
    lines = [
        "policy     a day  tests  below half  term average  gain over best fixed list   regret  calibration"
    ]
    fixed = {(row.family, row.seed, row.prompts_per_day): row.tests for row in rows if row.policy == "fixed"}
    for policy in dict.fromkeys(row.policy for row in rows):
        for n in sorted({row.prompts_per_day for row in rows}):
            chosen = [row for row in rows if row.policy == policy and row.prompts_per_day == n]
            if chosen:
                lines.append(_line(policy, n, chosen, fixed))
    return "\n".join(lines)


def _line(policy: str, n: int, rows: Sequence[Row], fixed: dict[tuple[str, int, int], float]) -> str:
    def mean(name: str) -> float:
        return float(np.mean([getattr(row, name) for row in rows]))

    keys = [(row.family, row.seed, row.prompts_per_day) for row in rows]
    gains = np.array([row.tests - fixed[key] for row, key in zip(rows, keys, strict=True) if key in fixed])
    gain = f"{100 * gains.mean():+6.1f} points" if len(gains) else "-"
    if len(gains) > 1:
        gain += f" ± {100 * gains.std(ddof=1) / np.sqrt(len(gains)):.1f}"
    below = "-" if np.isnan(mean("below_half")) else f"{100 * mean('below_half'):.1f}%"
    errors = f"{mean('regret'):8.3f} {mean('calibration'):12.3f}" if policy == "personal" else ""
    return (
        f"{policy:10s} {n:5d} {100 * mean('tests'):5.1f}% {below:>11s} "
        f"{100 * mean('term_average'):12.1f}%  {gain:26s}{errors}"
    ).rstrip()
