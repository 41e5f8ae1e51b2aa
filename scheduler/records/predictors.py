"""Methods that predict each answer from what came before it: the class's memory, and plain ones beside it.

Every method gets the events in order and gives the probability of a right answer before it sees the answer
(prequential, Dawid 1984). What a method has to fit it fits anew when the record has grown by a half, on everything
before; for learners that are held out, once on the other learners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from scheduler.model.fitting import fit, pool
from scheduler.model.inference import answer_probability
from scheduler.model.memory import ClassMemory, moment
from scheduler.model.prior import PRIOR
from scheduler.records.log import AnswerLog, Ints
from scheduler.values import Floats, Parameters

GROUP = 30  # learners that share a class: what a group has in common is learned together
FIRST_FIT = 60  # answers before anything is fitted
GROWTH = 1.5
SHORTEST_DAYS = 1.0 / 1440.0
EDGE = 1e-4
FOLDS = 5
MOST_FITTED = 40_000  # newest answers that a plain method is fitted on
Progress = Callable[[int], None]


def _nothing(_events: int) -> None:
    """Tell nobody."""


# ---------------------------------------------------------------- the class's memory


def by_memory(log: AnswerLog, progress: Progress = _nothing, *, held_out: bool = False) -> Floats:
    """Predict with our model, a class of `GROUP` learners at a time.

    Parameters
    ----------
    log : AnswerLog
    progress : callable (events) -> None
        Told how many more events are done.
    held_out : bool
        Whether the laws of the class are learned from other learners only; else from the same ones, before.

    Returns
    -------
    ndarray, shape (n_events,)
        NaN where nothing is predicted.
    """
    predicted = np.full(len(log), np.nan)
    groups = [
        np.arange(start, min(start + GROUP, len(log.learners)))
        for start in range(0, len(log.learners), GROUP)
    ]
    for chosen in groups:
        prior = _learned_elsewhere(log, chosen) if held_out else PRIOR
        _replay(log, chosen, predicted, progress, prior, refit=not held_out)
    return predicted


def _learned_elsewhere(log: AnswerLog, held_out: Ints) -> Parameters:
    others = np.setdiff1d(np.arange(len(log.learners)), held_out)
    if not len(others):
        return PRIOR
    chosen = np.random.default_rng(0).permutation(others)[: 2 * GROUP]
    fitted = []
    for part in np.array_split(chosen, max(1, len(chosen) // GROUP)):
        memory = _class_of(log, part, PRIOR)
        for event in np.flatnonzero(np.isin(log.learner, part)):
            _take(memory, log, int(event), first=_is_first(memory, log, int(event)))
        fitted.append(fit(memory))
    return pool(fitted)


def _class_of(log: AnswerLog, learners: Ints, parameters: Parameters) -> ClassMemory:
    topics = np.unique(log.topic[np.isin(log.learner, learners)])
    return ClassMemory(
        [log.learners[one] for one in learners], [log.topics[one] for one in topics], parameters
    )


def _is_first(memory: ClassMemory, log: AnswerLog, event: int) -> bool:
    pair = memory.students.index(log.learners[log.learner[event]]) * len(memory.topics)
    return bool(memory.history.count[pair + memory.topics.index(log.topics[log.topic[event]])] == 0)


def _replay(
    log: AnswerLog, learners: Ints, predicted: Floats, progress: Progress, prior: Parameters, *, refit: bool
) -> None:
    memory = _class_of(log, learners, prior)
    row = {log.learners[one]: place for place, one in enumerate(learners)}
    column = {name: place for place, name in enumerate(memory.topics)}
    answers, due = 0, FIRST_FIT
    for event in np.flatnonzero(np.isin(log.learner, learners)):
        who, what = row[log.learners[log.learner[event]]], column[log.topics[log.topic[event]]]
        first = memory.history.count[who * len(column) + what] == 0
        if not first and np.isfinite(log.right[event]):
            predicted[event] = _probability(memory, log, int(event), who, what)
            answers += 1
        _take(memory, log, int(event), first=bool(first))
        if refit and answers >= due:
            fit(memory)
            due = int(answers * GROWTH) + 1
        progress(1)


def _probability(memory: ClassMemory, log: AnswerLog, event: int, who: int, what: int) -> float:
    recall = memory.expected(moment(log.at[event]))[who, what]
    number = log.item[event]
    easiness = 0.0 if number < 0 else memory.parameters.questions.get(log.items[number], 0.0)
    found = answer_probability(
        np.array([recall]), np.array([log.chance[event]]), memory.parameters.slip, np.array([easiness])
    )
    return float(found[0])


def _take(memory: ClassMemory, log: AnswerLog, event: int, *, first: bool) -> None:
    """Let the memory see an event. What is met first is an exposure, whatever was answered."""
    learner, topic, at = log.learners[log.learner[event]], log.topics[log.topic[event]], moment(log.at[event])
    if first or not np.isfinite(log.right[event]):
        memory.taught(topic, at, np.array([one == learner for one in memory.students]))
        return
    number = log.item[event]
    item = None if number < 0 else log.items[number]
    memory.answered(learner, topic, at, bool(log.right[event]), float(log.chance[event]), item)


# ---------------------------------------------------------------- plain methods


@dataclass(frozen=True, eq=False)
class Features:
    """What a plain method knows before each event: counts of right and wrong, lags, and rates so far.

    Attributes
    ----------
    right, wrong : ndarray, shape (n_events,)
        Answers of the learner on the topic so far.
    lag, age : ndarray, shape (n_events,)
        Time since the last and since the first event of the pair. [days]
    learner, topic, all : ndarray, shape (n_events,)
        Share right so far, shrunken towards a half: of the learner, of the topic, of everybody. [0..1]
    """

    right: Floats
    wrong: Floats
    lag: Floats
    age: Floats
    learner: Floats
    topic: Floats
    all: Floats


def features(log: AnswerLog) -> Features:
    """Count what was known before each event."""
    n = len(log)
    out = np.zeros((7, n))
    pairs: dict[tuple[int, int], list[float]] = {}
    learners, topics = np.ones((len(log.learners), 2)), np.ones((len(log.topics), 2))
    everybody = np.ones(2)
    for event in range(n):
        key = int(log.learner[event]), int(log.topic[event])
        at, right = log.at[event], log.right[event]
        pair = pairs.setdefault(key, [0.0, 0.0, at, at])
        out[:, event] = (
            pair[0], pair[1], max(at - pair[2], SHORTEST_DAYS), max(at - pair[3], SHORTEST_DAYS),
            *(count[0] / count.sum() for count in (learners[key[0]], topics[key[1]], everybody)),
        )  # fmt: skip
        pair[2] = at
        if np.isfinite(right):
            pair[0 if right else 1] += 1.0
            for count in (learners[key[0]], topics[key[1]], everybody):
                count[0 if right else 1] += 1.0
    return Features(*out)


class Fitted(Protocol):
    """A method that was fitted: probabilities of right answers for some events."""

    def __call__(self, known: Features, events: Ints) -> Floats:
        """Return one probability for each event."""
        ...


class Fitting(Protocol):
    """A method that can be fitted to answered events."""

    def __call__(self, known: Features, right: Floats, events: Ints) -> Fitted:
        """Fit to the given events."""
        ...


def base_rate(known: Features, right: Floats, events: Ints) -> Fitted:
    """Predict the share that was right.

    Parameters
    ----------
    known : Features
        What was known before each event.
    right : ndarray, shape (n_events,)
        Outcomes: 1 or 0.
    events : ndarray of int
        Numbers of the answers to fit to.
    """
    share = (right[events].sum() + 1.0) / (len(events) + 2.0)
    return lambda _known, asked: np.full(len(asked), share)


def half_life(known: Features, right: Floats, events: Ints) -> Fitted:
    """Predict 2^(-lag / half-life), the logarithm of the half-life linear in the roots of the counts.

    Parameters
    ----------
    known : Features
        What was known before each event.
    right : ndarray, shape (n_events,)
        Outcomes: 1 or 0.
    events : ndarray of int
        Numbers of the answers to fit to.

    References
    ----------
    Settles & Meeder 2016: the form of the half-life.
    """

    def parts(asked: Ints) -> tuple[Floats, Floats]:
        x = np.stack([np.ones(len(asked)), np.sqrt(known.right[asked]), np.sqrt(known.wrong[asked])], axis=1)
        return x, known.lag[asked]

    def predict(weights: Floats, asked: Ints) -> Floats:
        x, lag = parts(asked)
        return np.asarray(np.exp2(-lag / np.exp2(np.clip(x @ weights, -8.0, 10.0))))

    x, lag = parts(events)
    weights, scale, speed = np.array([1.0, 0.3, -0.1]), np.zeros(3), np.zeros(3)
    for step in range(1, 201):  # Adam (Kingma & Ba 2015) on the log loss
        life = np.exp2(np.clip(x @ weights, -8.0, 10.0))
        p = np.clip(np.exp2(-lag / life), EDGE, 1.0 - EDGE)
        slope = (p - right[events]) / (p * (1.0 - p)) * p * np.log(2.0) ** 2 * lag / life
        gradient = x.T @ slope / len(events) + 0.001 * weights
        speed = 0.9 * speed + 0.1 * gradient
        scale = 0.999 * scale + 0.001 * gradient**2
        weights -= 0.05 * speed / (1.0 - 0.9**step) / (np.sqrt(scale / (1.0 - 0.999**step)) + 1e-8)
    return lambda _known, asked: predict(weights, asked)


def logistic_counts(known: Features, right: Floats, events: Ints) -> Fitted:
    """Predict by a logistic regression on logarithms of counts and lags, and on rates so far (scikit-learn).

    Parameters
    ----------
    known : Features
        What was known before each event.
    right : ndarray, shape (n_events,)
        Outcomes: 1 or 0.
    events : ndarray of int
        Numbers of the answers to fit to.

    Raises
    ------
    ImportError
        Where scikit-learn is not installed.
    """
    from sklearn.linear_model import LogisticRegression
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    def columns(asked: Ints) -> Floats:
        rates = (known.learner[asked], known.topic[asked])
        odds = [np.log(rate / (1.0 - rate)) for rate in rates]
        counts = [np.log1p(known.right[asked]), np.log1p(known.wrong[asked])]
        return np.stack([*counts, np.log(known.lag[asked]), np.log(known.age[asked]), *odds], axis=1)

    if len(np.unique(right[events])) < 2:
        return base_rate(known, right, events)
    fitted = make_pipeline(StandardScaler(), LogisticRegression(C=1.0)).fit(columns(events), right[events])
    return lambda _known, asked: np.asarray(fitted.predict_proba(columns(asked))[:, 1])


PLAIN: Mapping[str, Fitting] = {
    "base rate": base_rate,
    "exponential half-life": half_life,
    "counts and log-lags": logistic_counts,
}


def by_fitting(log: AnswerLog, known: Features, fitting: Fitting, *, held_out: bool = False) -> Floats:
    """Predict with a plain method.

    Parameters
    ----------
    log : AnswerLog
    known : Features
        What was known before each event of the log.
    fitting : Fitting
        One of `PLAIN`.
    held_out : bool
        Whether it is fitted to other learners; else to everything before.

    Returns
    -------
    ndarray, shape (n_events,)
        NaN where nothing is predicted.
    """
    predicted = np.full(len(log), np.nan)
    for fit_on, asked in _folds(log) if held_out else _growing(log):
        recent = fit_on[-MOST_FITTED:]
        fitted = (fitting if len(recent) else base_rate)(known, log.right, recent)
        guess = fitted(known, asked)
        predicted[asked] = (
            log.chance[asked] + (1.0 - log.chance[asked]) * guess if fitting is half_life else guess
        )
    return predicted


def _growing(log: AnswerLog) -> Iterator[tuple[Ints, Ints]]:
    """Yield what is known and what is asked next, in pieces that grow by a half."""
    events = np.flatnonzero(log.scored)
    done, due = 0, min(FIRST_FIT, len(events))
    while done < len(events):
        yield events[:done], events[done:due]
        done, due = due, min(len(events), int(due * GROWTH) + 1)


def _folds(log: AnswerLog) -> Iterator[tuple[Ints, Ints]]:
    """Yield the answers of other learners and those of held-out ones, for each part of the learners."""
    events = np.flatnonzero(log.scored)
    order = np.random.default_rng(0).permutation(len(log.learners))
    for part in np.array_split(order, min(FOLDS, len(order))):
        mine = np.isin(log.learner[events], part)
        yield events[~mine], events[mine]
