"""The dose of any timetable: monotone, within the cap, and never promising what no plan could keep."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_flow

from scheduler.plan.dose import ANSWERS_A_TOPIC, Timetable
from scheduler.values import Floats

EVENINGS = 14


@st.composite
def windows(draw: st.DrawFn) -> tuple[Floats, Floats]:
    """Return lessons and tests of a few topics among `EVENINGS` evenings at .5, 1.5, ..."""
    first = draw(st.lists(st.integers(0, EVENINGS - 1), min_size=1, max_size=8))
    lengths = draw(st.lists(st.integers(1, EVENINGS), min_size=len(first), max_size=len(first)))
    taught = np.array(first, dtype=float)
    return taught, np.minimum(taught + np.array(lengths), float(EVENINGS))


def timetable(both: tuple[Floats, Floats], share: float = 1.0) -> Timetable:
    return Timetable(*both, np.arange(EVENINGS) + 0.5, share)


@given(windows(), st.floats(0.1, 1.0), st.integers(1, 10))
def test_more_questions_never_make_fewer_answers(
    both: tuple[Floats, Floats], share: float, most: int
) -> None:
    known = timetable(both, share)
    answers = [known.answers_with(number) for number in range(most + 1)]
    assert all(later >= earlier - 1e-6 for earlier, later in pairwise(answers))
    needed = known.needed(most)
    assert 1 <= needed.questions <= most
    assert needed.enough or (needed.questions == most and known.questions_for(ANSWERS_A_TOPIC) > most)


@given(windows(), st.floats(0.1, 1.0), st.floats(0.0, 6.0), st.floats(0.0, 6.0))
def test_more_answers_never_take_fewer_questions(
    both: tuple[Floats, Floats], share: float, one: float, other: float
) -> None:
    known, (few, many) = timetable(both, share), sorted((one, other))
    assert known.questions_for(few) <= known.questions_for(many) + 1e-9


@settings(max_examples=200)
@given(windows(), st.integers(1, 4))
def test_the_number_is_the_smallest_with_which_a_plan_exists(
    both: tuple[Floats, Floats], answers: int
) -> None:
    """The reference is SciPy's maximum flow: topics to evenings, each topic once an evening (Ford & Fulkerson)."""
    number = int(np.ceil(timetable(both).questions_for(answers) - 1e-9))
    assert _fits(both, answers, number)
    assert number == 0 or not _fits(both, answers, number - 1)


def _fits(both: tuple[Floats, Floats], answers: int, number: int) -> bool:
    taught, tested = both
    topics, moments = len(taught), np.arange(EVENINGS) + 0.5
    open_on = (moments > taught[:, None]) & (moments < tested[:, None])
    wanted = np.minimum(answers, open_on.sum(axis=1))
    size = topics + EVENINGS + 2
    room = np.zeros((size, size), dtype=np.int32)
    room[0, 1 : topics + 1] = wanted
    room[1 : topics + 1, topics + 1 : -1] = open_on
    room[topics + 1 : -1, -1] = number
    return bool(maximum_flow(csr_matrix(room), 0, size - 1).flow_value == wanted.sum())
