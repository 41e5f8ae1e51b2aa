"""Estimation against general-purpose optimisers, and single answers against learning everything anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from scipy.optimize import minimize

from scheduler.model.fitting import fit, pool
from scheduler.model.history import History, exposure_amount, recall_before, sequences, unroll
from scheduler.model.inference import answer_probability, estimate, initial
from scheduler.model.laws import LAWS
from scheduler.model.memory import ClassMemory
from scheduler.model.prior import PRIOR

MONDAY = datetime(2026, 9, 7, 9, 0, tzinfo=UTC)
STUDENTS, TOPICS = [f"s{number}" for number in range(6)], [f"t{number}" for number in range(4)]


def a_class(answers: int = 80) -> ClassMemory:
    rng = np.random.default_rng(3)
    memory = ClassMemory(STUDENTS, TOPICS)
    for topic in TOPICS:
        memory.taught(topic, MONDAY)
    for _ in range(answers):
        row, column, after = rng.integers(6), rng.integers(4), float(rng.uniform(0.5, 40.0))
        right = bool(rng.random() < 0.9 - 0.1 * row - 0.005 * after)
        memory.answered(STUDENTS[row], TOPICS[column], MONDAY + timedelta(days=after), right, 0.2)
    return memory


def log_posterior(problem, vector: np.ndarray) -> float:
    """The posterior written down plainly, pair by pair and event by event, with own effects at zero."""
    law, prior = problem.law, problem.prior
    size, n_students = len(prior.theta), problem.n_students
    theta, student, topic = np.split(vector, [size, size + n_students])
    total = -0.5 * (((theta - prior.theta) / prior.theta_sd) ** 2).sum()
    total -= 0.5 * (student**2).sum() / prior.student_sd**2 + 0.5 * (topic**2).sum() / prior.topic_sd**2
    events = problem.events
    for column in range(len(events.pairs)):
        trait = np.array([student[problem.student[column]] + topic[problem.topic[column]]])
        state, last = law.start(theta[:, None], trait), events.time[0, column]
        for step in range(1, int((events.length > column).sum())):
            elapsed = np.array([events.time[step, column] - last])
            recall = law.recall(theta[:, None], trait, state, elapsed)
            share = float(events.if_known[step, column] > 0.5)
            right = answer_probability(recall, np.array(0.2), problem.slip, np.zeros(1))[0]
            total += share * np.log(right) + (1.0 - share) * np.log1p(-right)
            # Bayes' rule: a right answer may be a guess at chance 0.2, a wrong one a slip.
            known = recall * (0.97 if share else 0.03)
            knew = known / (known + (1.0 - recall) * (0.2 if share else 0.8))
            state, last = (
                law.expose(theta[:, None], trait, state, elapsed, knew + (1.0 - knew) * np.exp(theta[-2])),
                events.time[step, column],
            )
    return float(total)


@pytest.mark.parametrize("name", ["odds", "power"])
def test_the_mode_is_that_of_a_general_optimiser(name):
    prior = replace(PRIOR, laws={key: replace(law, pair_sd=1e-6) for key, law in PRIOR.laws.items()})
    problem = a_class().problem(name, prior)
    ours = estimate(problem, initial(problem), steps=25)
    found = np.concatenate([ours.theta, ours.student, ours.topic])
    start = np.concatenate([np.array(prior.laws[name].theta), np.zeros(10)])
    theirs = minimize(lambda x: -log_posterior(problem, x), start, method="L-BFGS-B")
    assert log_posterior(problem, found) == pytest.approx(-theirs.fun, abs=0.02)


def test_a_right_answer_that_may_be_a_guess_teaches_less_than_one_that_cannot():
    kept = {}
    for chance in (0.0, 0.5):
        memory = ClassMemory(["ada"], ["density"])
        memory.taught("density", MONDAY)
        memory.answered("ada", "density", MONDAY + timedelta(days=20), True, chance)
        events = sequences(memory.history)
        recall = np.array([0.3])
        kept[chance] = exposure_amount(np.log([[0.5], [0.6]]), recall, events, 1, 1)[0]
    assert kept[0.0] == pytest.approx(1.0)
    knew = 0.3 * 0.97 / (0.3 * 0.97 + 0.7 * 0.5)
    assert kept[0.5] == pytest.approx(knew + (1.0 - knew) * 0.5)


def test_homework_and_lessons_teach_by_their_own_strength():
    memory = ClassMemory(["ada"], ["density"])
    memory.taught("density", MONDAY)
    memory.homework("ada", "density", MONDAY + timedelta(days=2))
    memory.taught("density", MONDAY + timedelta(days=4))
    events, theta = sequences(memory.history), np.log([[0.5], [0.6]])
    amounts = [exposure_amount(theta, np.array([0.3]), events, step, 1)[0] for step in (1, 2)]
    assert amounts == pytest.approx([0.6, 1.0])


def test_students_who_answer_better_are_expected_to_keep_more():
    memory = a_class(200)
    fit(memory)
    retention = memory.expected(MONDAY + timedelta(days=60)).mean(axis=1)
    assert retention[0] > retention[5] + 0.1


def test_one_answer_taken_in_alone_comes_close_to_learning_everything_anew():
    memory, at = a_class(), MONDAY + timedelta(days=50)
    fit(memory)
    before = memory.expected(at + timedelta(days=1))
    memory.answered("s2", "t1", at, False, 0.2)
    quick = memory.expected(at + timedelta(days=1))
    anew = ClassMemory(STUDENTS, TOPICS, memory.parameters)
    anew.history = memory.history
    whole = anew.expected(at + timedelta(days=1))
    assert quick[2, 1] < before[2, 1] or whole[2, 1] > before[2, 1]
    assert np.abs(quick - whole).max() < 0.06
    others = np.delete(np.arange(6), 2)
    assert (np.delete(quick, 1, axis=1)[others] == np.delete(before, 1, axis=1)[others]).all()


def test_an_answer_told_late_is_learned_at_its_place_in_time():
    memory = a_class()
    memory.views()
    memory.answered("s2", "t1", MONDAY + timedelta(days=0.2), True, 0.2)
    anew = ClassMemory(STUDENTS, TOPICS)
    anew.history = memory.history
    at = MONDAY + timedelta(days=60)
    assert memory.expected(at) == pytest.approx(anew.expected(at), abs=0.01)


def test_quiz_scores_are_evidence_but_no_exposure():
    low, high = (ClassMemory(STUDENTS, TOPICS) for _ in range(2))
    at = MONDAY + timedelta(days=20)
    for memory, share in ((low, 0.1), (high, 0.9)):
        memory.taught("t0", MONDAY)
        memory.scored("s0", "t0", at, share, 10.0)
    later = at + timedelta(days=1)
    assert low.expected(later)[0, 0] < high.expected(later)[0, 0] - 0.1
    assert low.counts()[2][0, 0] == high.counts()[2][0, 0] < at.timestamp() / 86_400.0


def test_a_pooled_prior_lies_between_the_classes_and_the_built_in_one():
    memory = a_class(300)
    fitted = fit(memory)
    pooled = pool([fitted, fitted, fitted])
    for name in LAWS:
        ours, theirs, built_in = (np.array(one.laws[name].theta) for one in (pooled, fitted, PRIOR))
        assert (np.abs(ours - theirs) <= np.abs(built_in - theirs) + 1e-9).all()


@pytest.mark.parametrize("name", LAWS)
def test_recall_before_each_answer_needs_nothing_that_comes_after(name):
    law, memory = LAWS[name], a_class()
    events, theta = sequences(memory.history), np.array(law.mean)[:, None, None]
    trait = np.zeros((1, len(events.pairs)))
    whole, _ = unroll(law, theta, trait, events)
    np.testing.assert_array_equal(recall_before(law, theta, trait, events), whole)


def test_history_grows_and_keeps_events_in_order_of_time():
    history = History(1, capacity=2)
    for number, time in enumerate((3.0, 1.0, 2.0, 5.0, 4.0), start=1):
        history.add(0, 1, time, share=1.0)
        assert len(sequences(history).length) == number
    assert history.time[0, :5].tolist() == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert sequences(history).length.tolist() == [1] * 5
