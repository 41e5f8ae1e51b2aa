"""Memory laws as one class stands now: what every look into the future is taken from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from scheduler.model.history import History, Ints, Sequences, sequences, unroll
from scheduler.model.inference import Posterior
from scheduler.model.laws import SHORTEST_DAYS, Curve, Law
from scheduler.values import Floats, LawParameters

NODES = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)])  # Gauss-Hermite, three points: exact to degree five
NODE_WEIGHTS = np.array([1.0, 4.0, 1.0]) / 6.0
HORIZON_DAYS = 36_525.0  # a hundred years: what holds longer is held for good
HALVINGS = 1  # steps of bisection before false position, which crawls from far away
ROOT_STEPS = 12
ROOT_ERROR = 1e-4  # [logits]
FEWER = 0.7  # pairs are picked out anew when no more than this share of them is left to solve
BLOCK = 4096  # pairs at a time: what fits into a processor's cache


@dataclass(frozen=True, eq=False)
class LawView:
    """One law as the class stands now: everything that a look into the future needs.

    Attributes
    ----------
    weight : float
        Share of the law in the mixture.
    theta : ndarray, shape (n_parameters, 1, 1)
    trait : ndarray, shape (n_nodes, n_pairs)
        Trait of each pair at the nodes of its posterior.
    state : ndarray, shape (law.size, n_nodes, n_pairs)
        State since the last exposure; of a pair not yet taught, the state that teaching will give.
    """

    law: Law
    weight: float
    theta: Floats
    trait: Floats
    state: Floats

    def recall(self, elapsed: Floats) -> Floats:
        """Return recall `elapsed` days after the last exposure, shape (n_nodes, ..., n_pairs)."""
        return self.curve()(np.maximum(elapsed, SHORTEST_DAYS))

    def curve(self) -> Curve:
        """Return the curve of recall from here, for many looks along it."""
        return self.law.curve(self.theta, self.trait, self.state)


def law_view(
    law: Law, parameters: LawParameters, learned: Posterior, history: History, n_topics: int
) -> LawView:
    """Run a law along everything that happened, at the nodes of every pair's trait.

    Parameters
    ----------
    law : Law
        The memory law.
    parameters : LawParameters
        Parameters and weight of the law.
    learned : Posterior
        Posterior of one law: modes and covariance of its parameters and effects.
    history : History
        Everything that happened to the pairs of the class.
    n_topics : int
        Topics of the class; pair ``k`` is student ``k // n_topics``, topic ``k % n_topics``.
    """
    everyone = np.arange(len(history.count))
    theta = np.array(parameters.theta)[:, None, None]
    nodes, state = nodes_and_states(law, theta, learned, sequences(history), n_topics, everyone)
    return LawView(law, parameters.weight, theta, nodes, state)


def view_along(view: LawView, events: Sequences) -> LawView:
    """Return a law with the same parameters and traits, run along other events.

    Parameters
    ----------
    view : LawView
        The law as learned.
    events : Sequences
        Events of pairs, longest first; a pair without any starts anew.
    """
    state = view.law.start(view.theta[..., 0][:, None], view.trait)
    _, state[..., events.pairs] = unroll(view.law, view.theta, view.trait[:, events.pairs], events)
    return replace(view, state=state)


def nodes_and_states(
    law: Law, theta: Floats, learned: Posterior, events: Sequences, n_topics: int, pairs: Ints
) -> tuple[Floats, Floats]:
    """Return trait nodes (n_nodes, n) and states (law.size, n_nodes, n) of some pairs, given all their events.

    Parameters
    ----------
    law : Law
        The memory law.
    theta : ndarray, shape (n_parameters, 1, 1)
        Parameters of the law, on the scale on which they are estimated.
    learned : Posterior
        Posterior of one law: modes and covariance of its parameters and effects.
    events : Sequences
        Events of pairs, longest first.
    n_topics : int
        Topics of the class; pair ``k`` is student ``k // n_topics``, topic ``k % n_topics``.
    pairs : ndarray of int, shape (n,)
        Numbers of the pairs, ascending.
    """
    nodes = _trait_nodes(learned, len(theta), n_topics, pairs)
    state = law.start(theta[..., 0][:, None], nodes)
    place = np.searchsorted(pairs, events.pairs)
    _, state[..., place] = unroll(law, theta, nodes[:, place], events)
    return nodes, state


def _trait_nodes(learned: Posterior, size: int, n_topics: int, pairs: Ints) -> Floats:
    student, topic = np.divmod(pairs, n_topics)
    rows, columns = size + student, size + len(learned.student) + topic
    variance = np.diag(learned.covariance)
    shared = variance[rows] + variance[columns] + 2.0 * learned.covariance[rows, columns]
    own, own_variance = learned.own(pairs)
    return np.asarray(learned.trait(student, topic) + own + NODES[:, None] * np.sqrt(shared + own_variance))


def days_until(views: Sequence[LawView], level: float, horizon: float = HORIZON_DAYS) -> Floats:
    """Return the days until the mixture of `views` falls to `level`, for all pairs at once.

    Pairs are taken in blocks that stay in the processor's cache, in single precision; the answer is good to
    a thousandth of itself.

    Parameters
    ----------
    views : sequence of LawView
        The laws with weights, traits and states; at least one.
    level : float
        Retention to fall to. (0..1)
    horizon : float
        The longest time that is looked at. [days]

    Raises
    ------
    ValueError
        When `level` is not between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"Retention falls to a level between 0 and 1; {level} is not.")
    n_pairs = views[0].trait.shape[1]
    blocks = [_part(views, slice(start, start + BLOCK)) for start in range(0, n_pairs, BLOCK)]
    return np.concatenate([_crossing(block, level, horizon) for block in blocks]).astype(float)


def _part(views: Sequence[LawView], pairs: slice | Ints) -> list[LawView]:
    """Return some pairs of the laws that weigh anything, in single precision, pairs side by side in memory."""
    return [
        LawView(view.law, view.weight, *(_single(a) for a in _arrays(view, pairs)))
        for view in views
        if view.weight > 1e-4
    ]


def _arrays(view: LawView, pairs: slice | Ints) -> tuple[Floats, Floats, Floats]:
    if isinstance(pairs, slice):
        return view.theta, view.trait[:, pairs], view.state[..., pairs]
    return view.theta, view.trait.take(pairs, axis=-1), view.state.take(pairs, axis=-1)


def _single(values: Floats) -> Floats:
    return cast(Floats, np.ascontiguousarray(values, dtype=np.float32))


def _crossing(views: Sequence[LawView], level: float, horizon: float) -> Floats:
    """Find the crossing by false position on logits over log time, where forgetting is nearly a line."""
    target = np.float32(np.log(level / (1.0 - level)))
    n_pairs = views[0].trait.shape[1]
    low, high = (np.full(n_pairs, np.log(bound), np.float32) for bound in (SHORTEST_DAYS, horizon))
    recall = mixture(views)
    above, below = (log_odds(recall(np.exp(bound))) - target for bound in (low, high))
    answer = np.where(above <= 0.0, 0.0, np.where(below > 0.0, np.inf, np.nan))
    todo = np.flatnonzero(np.isnan(answer))
    ends, part = np.stack([low, high, above, below, np.zeros_like(low)])[:, todo], _part(views, todo)
    recall = mixture(part)
    for step in range(ROOT_STEPS):
        low, high, above, below, _ = ends
        line = high - below * (high - low) / np.minimum(below - above, np.float32(-1e-9))
        at = np.float32(0.5) * (low + high) if step < HALVINGS else line
        value = log_odds(recall(np.exp(at))) - target
        answer[todo] = np.exp(at)
        ends = _closer(ends, at, value)
        rest = np.flatnonzero(np.abs(value) >= ROOT_ERROR)
        if len(rest) <= FEWER * len(todo):  # go on with the slow ones only
            todo, ends, part = todo[rest], ends[:, rest], _part(part, rest)
            recall = mixture(part)
        if not len(todo):
            break
    return answer


def _closer(ends: Floats, at: Floats, value: Floats) -> Floats:
    """Return the brackets that a look at `at` leaves: low, high, their values, and which end has moved.

    When an end moves twice running, the other end's value is drawn nearer to nought by the share that the
    moving one has lost, so that no end stays for long (Anderson & Bjorck 1973).
    """
    low, high, above, below, moved = ends
    left = value > 0.0
    side = np.where(left, np.float32(1.0), np.float32(-1.0))
    moving = np.where(left, above, below)
    lost = np.float32(1.0) - value / np.where(moving == 0.0, np.float32(1.0), moving)
    share = np.where(side != moved, np.float32(1.0), np.where(lost > 0.0, lost, np.float32(0.5)))
    return np.stack(
        [
            np.where(left, at, low),
            np.where(left, high, at),
            np.where(left, value, share * above),
            np.where(left, share * below, value),
            side,
        ]
    )


def log_odds(recall: Floats) -> Floats:
    """Return the log-odds of a probability, kept finite at 0 and 1."""
    kept = np.clip(recall, 1e-6, 1.0 - 1e-6)
    return np.asarray(np.log(kept / (1.0 - kept)))


def mixture(views: Sequence[LawView]) -> Curve:
    """Return recall by all laws together, each by its weight and averaged over its nodes."""
    curves = [(view.weight * NODE_WEIGHTS.astype(view.trait.dtype), view.curve()) for view in views]
    return lambda elapsed: np.asarray(sum(weights @ curve(elapsed) for weights, curve in curves))
