"""The seam for simulated students and policies: bring your own learners or your own policy, and compare.

>>> from datetime import date
>>> term = Term(lessons=[(date(2026, 9, 7), "density")], quizzes=[(date(2026, 9, 18), ["density"])])
>>> room = SimulatedClass("power", ["ada", "ben"], term.topics, seed=1)
>>> run = run_term(term, room.learners(), "homework", prompts_per_day=1, seed=1)
>>> [(asked.student, asked.topic) for asked in run.asked][:2]
[('ada', 'density'), ('ben', 'density')]
"""

from scheduler.simulation.evaluation import Row, evaluate, example_term, format_table
from scheduler.simulation.learners import FAMILIES, SimulatedClass
from scheduler.simulation.policies import POLICIES, Policy, make_policy
from scheduler.simulation.term import Term
from scheduler.simulation.term_run import Learner, PromptRecord, TermRun, run_term

__all__ = [
    "FAMILIES",
    "POLICIES",
    "Learner",
    "Policy",
    "PromptRecord",
    "Row",
    "SimulatedClass",
    "Term",
    "TermRun",
    "evaluate",
    "example_term",
    "format_table",
    "make_policy",
    "run_term",
]
