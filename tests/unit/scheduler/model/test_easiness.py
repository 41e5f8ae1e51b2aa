"""How easy each question is beside its topic is learned, and makes predictions better."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from scheduler.model.fitting import fit
from scheduler.model.inference import answer_probability
from scheduler.model.memory import ClassMemory
from scheduler.simulation.learners import SimulatedClass
from scheduler.values import Floats, Parameters

START = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)
STUDENTS = [f"s{number}" for number in range(24)]
TOPICS = [f"t{number}" for number in range(6)]
CHANCE, SLIP = 0.25, 0.03


def told_class(easiness: dict[str, float], *, name_them: bool, seed: int = 5) -> ClassMemory:
    """Let a simulated class answer every topic eight times, each time one of the topic's two questions."""
    rng = np.random.default_rng(seed)
    learners = SimulatedClass("power", STUDENTS, TOPICS, seed).learners()
    memory = ClassMemory(STUDENTS, TOPICS)
    for topic in TOPICS:
        memory.taught(topic, START)
        for learner in learners.values():
            learner.attend(topic, START)
    for round_ in range(8):
        at = START + (1 + 3 * round_) * DAY
        for student, learner in learners.items():
            for topic in TOPICS:
                question = f"{topic}-{rng.integers(2)}"
                recall = np.array(learner.recall(topic, at))
                right = answer_probability(recall, np.array(CHANCE), SLIP, np.array(easiness[question]))
                learner.answer(topic, at, CHANCE)
                correct = bool(rng.random() < right)
                memory.answered(student, topic, at, correct, CHANCE, question if name_them else None)
    return memory


@pytest.fixture(scope="module")
def true_easiness() -> dict[str, float]:
    rng = np.random.default_rng(1)
    found: dict[str, float] = {}
    for topic in TOPICS:
        half = abs(rng.normal(0.0, 1.0)) + 0.5
        found |= {f"{topic}-0": half, f"{topic}-1": -half}
    return found


@pytest.fixture(scope="module")
def learned(true_easiness: dict[str, float]) -> Parameters:
    return fit(told_class(true_easiness, name_them=True))


def test_the_easier_question_of_each_topic_is_found(learned: Parameters, true_easiness: dict[str, float]):
    found = learned.questions
    assert set(found) == set(true_easiness)
    assert all(found[f"{topic}-0"] > found[f"{topic}-1"] for topic in TOPICS)
    names = sorted(found)
    together = np.corrcoef([found[name] for name in names], [true_easiness[name] for name in names])
    assert together[0, 1] > 0.9


def test_easiness_is_drawn_towards_the_topic(learned: Parameters, true_easiness: dict[str, float]):
    def spread(values: Floats) -> float:
        return float(np.std(values))

    assert spread(np.array(list(learned.questions.values()))) < spread(np.array(list(true_easiness.values())))


def test_answers_are_told_better_with_it(true_easiness: dict[str, float]):
    """The prequential kind of check: the same parameters with and without it, on answers of another class."""
    memory = told_class(true_easiness, name_them=True, seed=8)
    learned = fit(told_class(true_easiness, name_them=True))

    def loss(parameters: Parameters) -> float:
        law = max(parameters.laws, key=lambda name: parameters.laws[name].weight)
        problem = memory.problem(law, parameters)
        observed = problem.events.observed
        recall = np.full(len(observed), 0.6)
        right = answer_probability(recall, problem.events.chance, problem.slip, problem.question_logit)
        return float(-np.mean(observed * np.log(right) + (1 - observed) * np.log(1 - right)))

    without = Parameters(**{**vars(learned), "questions": {}})
    assert loss(learned) < loss(without) - 0.01


def test_questions_that_nobody_names_have_no_easiness(true_easiness: dict[str, float]):
    assert fit(told_class(true_easiness, name_them=False)).questions == {}


def test_it_is_kept_with_the_parameters(learned: Parameters):
    assert Parameters.from_dict(learned.to_dict()) == learned
