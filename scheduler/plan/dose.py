"""The dose that a timetable needs: how many questions an evening make about four answers a topic before its test.

Nothing is known of memory here, only of time: topics, the evenings between a topic's lesson and its last test, and
the share of questions that is usually answered. What a number of questions leads to, in retention, is in
`scheduler.plan.outcomes`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from scheduler.values import Floats

ANSWERS_A_TOPIC = 4.0
"""Answers to a topic that keep it until a test a month away.

Source: simulated classes of all families of learners, ``python -m scheduler.simulation.doses`` (figures in
scheduler/RESULTS.md, "Doses"): each further answer up to about four adds much, each after it little.
"""

ABOUT = 0.5
"""Answers fewer that still count as "about four". Chosen: half of one, as in rounding."""

MOST_ANSWERS = 30.0
"""More answers to a topic than any term asks for. [answers]"""

STEPS = 30
"""Halvings of the range of answers: far more exact than anybody needs."""


@dataclass(frozen=True)
class Dose:
    """Questions an evening, and what they make of a timetable.

    Attributes
    ----------
    questions : int
        Of each student, an evening.
    answers : float
        Answers to a topic before its last test, expected of the tightest stretch of the timetable.
    topics : int
        Topics that can be asked about before they are tested.
    evenings : int
        Evenings on which students can be asked.
    enough : bool
        Whether they are about as many answers as keep a topic until its test. A topic taught too shortly before its
        test for so many does not count against it.
    """

    questions: int
    answers: float
    topics: int
    evenings: int
    enough: bool


class Timetable:
    """Topics between their lessons and their tests, and the evenings on which students are asked.

    Parameters
    ----------
    taught : array_like, shape (n_topics,)
        When each topic is taught first. [days]
    tested : array_like, shape (n_topics,)
        When each topic counts for the last time, inf where no test has it: then all evenings are its time. [days]
    evenings : array_like, shape (n_evenings,)
        When students can be asked. [days]
    share : float
        Share of questions that is answered. (0..1]
    had : array_like, shape (n_topics,), optional
        Answers to each topic so far, in the mean of the students.

    Raises
    ------
    ValueError
        Shapes that do not fit, or a share that is none.
    """

    def __init__(
        self,
        taught: ArrayLike,
        tested: ArrayLike,
        evenings: ArrayLike,
        share: float,
        had: ArrayLike | None = None,
    ) -> None:
        lessons, tests = np.asarray(taught, dtype=float), np.asarray(tested, dtype=float)
        answers = np.zeros(lessons.shape) if had is None else np.asarray(had, dtype=float)
        if not lessons.shape == tests.shape == answers.shape or lessons.ndim != 1:
            raise ValueError(
                f"Each topic has one lesson, one last test and its answers so far; "
                f"got {lessons.shape}, {tests.shape} and {answers.shape}."
            )
        if not 0.0 < share <= 1.0:
            raise ValueError(f"The share of questions answered is above 0 and at most 1; {share} is not.")
        self.share, self.evenings = share, np.sort(np.asarray(evenings, dtype=float))
        between = self._count(lessons, tests)
        kept = between > 0
        lessons, tests, self._had, self._between = lessons[kept], tests[kept], answers[kept], between[kept]
        starts, ends = np.unique(lessons)[:, None], np.unique(tests)[None, :]
        self._room = share * self._count(starts, ends)
        inside = self._count(np.maximum(starts[..., None], lessons), np.minimum(ends[..., None], tests))
        self._elsewhere = share * (self._between - inside)

    @property
    def topics(self) -> int:
        """Topics that can be asked about before their last test."""
        return len(self._had)

    def questions_for(self, answers: float) -> float:
        """Return the questions an evening that so many answers to each topic take.

        The tightest stretch decides: between any lesson and any test, the answers that its topics want and cannot get
        outside of it, shared among its evenings. A topic is asked once an evening at most, so one that is taught
        shortly before its test wants no more answers than it can get.

        Parameters
        ----------
        answers : float
            To each topic, those it had included.

        Returns
        -------
        float
            0 where nothing is wanted, or nothing can be asked.
        """
        if not self.topics:
            return 0.0
        wanted = np.clip(answers - self._had, 0.0, self.share * self._between)
        of = np.maximum(wanted - self._elsewhere, 0.0).sum(axis=2)
        return float(np.divide(of, self._room, out=np.zeros(of.shape), where=self._room > 0.0).max())

    def answers_with(self, questions: float) -> float:
        """Return the answers to a topic that a number of questions an evening makes before its last test.

        Returns
        -------
        float
            At most `MOST_ANSWERS`: where a topic has fewer evenings than that, each of them.
        """
        low, high = 0.0, MOST_ANSWERS
        if self.questions_for(high) <= questions:
            low = high
        for _ in range(STEPS if low < high else 0):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.questions_for(middle) <= questions else (low, middle)
        if not self.topics:
            return 0.0
        return float(np.minimum(np.maximum(low, self._had), self._had + self.share * self._between).mean())

    def dose(self, questions: int) -> Dose:
        """Return what a number of questions an evening makes."""
        enough = bool(self.topics) and self._least <= questions
        return Dose(questions, self.answers_with(questions), self.topics, len(self.evenings), enough)

    def needed(self, most: int) -> Dose:
        """Return the smallest dose that makes about `ANSWERS_A_TOPIC` answers, or the largest that is allowed.

        Parameters
        ----------
        most : int
            Questions an evening that are allowed, at least 1.
        """
        if most < 1:
            raise ValueError(f"At least one question an evening has to be allowed, not {most}.")
        return self.dose(min(max(int(np.ceil(self._least)), 1), most))

    @property
    def _least(self) -> float:
        """Questions an evening that just make about enough answers, rounding errors left aside."""
        return self.questions_for(ANSWERS_A_TOPIC - ABOUT) - 1e-9

    def _count(self, start: Floats, end: Floats) -> Floats:
        """Return the evenings after `start` and before `end`."""
        before = np.searchsorted(self.evenings, end) - np.searchsorted(self.evenings, start, side="right")
        return np.asarray(np.maximum(before, 0), dtype=float)
