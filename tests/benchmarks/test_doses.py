"""What doses make of true recall, and whether a target keeps its promise, over all families of learners.

Figures are printed: pytest -s. ``HOLDFAST_SEEDS=3`` runs three classes of each family; one takes some minutes.
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from scheduler.simulation.doses import compare, table

SEEDS = range(1, 1 + int(os.environ.get("HOLDFAST_SEEDS", "1")))

GAIN_AT_EXAM = 0.45
"""Least mean gain of the default dose over no questions."""

KEPT = 0.75
"""Least share of classes whose target comes within five points of what was promised."""


@pytest.mark.slow
def test_the_default_dose_and_a_target_keep_what_they_promise() -> None:
    rows = compare(seeds=tuple(SEEDS))
    print(f"\n{table(rows)}")
    exam = {(row.family, row.seed, row.plan): row.exam for row in rows}
    gains = [
        recall - exam[family, seed, "none"]
        for (family, seed, plan), recall in exam.items()
        if plan == "3 on five days"
    ]
    assert np.mean(gains) >= GAIN_AT_EXAM
    targets = [row for row in rows if row.plan == "target 75"]
    assert np.mean([abs(row.kept - row.promised) <= 0.05 for row in targets]) >= KEPT
