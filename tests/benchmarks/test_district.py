"""A district's evening is planned: rows a second, memory, and how the cost grows. Prints a straight-line fit.

Classes of 30 students and 60 topics with 40 answers behind each student, planned by the service's own due work on a
database of its own. Times are the processor's, so that what else runs on the machine does not count; waiting for the
disk is left out with it. HOLDFAST_BENCHMARK_CLASSES sets how many classes (default 5; a district of 100,000 students
has 3,334, ``deploy/drills/district.sh``).
"""

from __future__ import annotations

import asyncio
import os
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlmodel import func, select

from bot.clock import HandClock
from bot.service.asking import planning
from bot.service.engine.context import AppContext
from bot.service.engine.due_work import WorkContext, do_due
from bot.service.rounds import keep_calendar
from storage.base.database import Database, connect
from storage.tables import Due, Nudge, NudgeState, Review, ReviewState
from tests.benchmarks.district import Size, batched, build
from tests.dialogues import MONDAY, at

pytestmark = pytest.mark.slow

CLASSES = int(os.environ.get("HOLDFAST_BENCHMARK_CLASSES", "5"))
SIZE = Size()
WARM = 1
"""Classes planned before the clock is read: the first ones pay for imports and compiling."""
PLANS_AT = at(MONDAY, 17, 46)


@pytest.fixture
def district(shared_url: str) -> Iterator[Database]:
    db = connect(shared_url)
    try:
        for numbers in batched(range(CLASSES + WARM), 20):
            build(db, numbers, SIZE, MONDAY, at(MONDAY, 8))
        with db.begin() as session:
            assert planning.look_at_all(session, at(MONDAY, 8)) == CLASSES + WARM
        yield db
    finally:
        db.close()


@dataclass(frozen=True)
class Fit:
    """A straight line through what the first classes cost [s]."""

    per_class_s: float
    share_explained: float


def fit_line(classes: np.ndarray, seconds: np.ndarray) -> Fit:
    slope, start = np.polyfit(classes, seconds, 1)
    left = seconds - (slope * classes + start)
    return Fit(float(slope), float(1 - left.var() / seconds.var()))


def resident_mb() -> float:
    """Return the resident size of this process [MB]."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


async def plan_all(work_context: WorkContext) -> list[float]:
    """Plan class by class; return when each was through [processor s]."""
    await do_due(work_context, limit=WARM)
    began, through = time.process_time(), []
    while await do_due(work_context, limit=1):
        through.append(time.process_time() - began)
    return through


def test_a_districts_evening_is_planned_in_time_that_grows_by_its_classes(
    district: Database, capsys: pytest.CaptureFixture[str]
):
    before = resident_mb()
    work_context = WorkContext(district, AppContext(), HandClock(PLANS_AT))
    through = asyncio.run(plan_all(work_context))
    line = fit_line(np.arange(1, len(through) + 1), np.array(through))
    with district.begin() as session:
        nudges = session.exec(select(func.count()).where(Nudge.state == NudgeState.PLANNED)).one()
        asked = session.exec(select(func.count()).where(Review.state == ReviewState.PLANNED)).one()
        failed = session.exec(select(func.count()).where(Due.failed != "")).one()
    took_s, kind = through[-1], district.engine.dialect.name
    pairs, rows = CLASSES * SIZE.pairs, (nudges + asked) * CLASSES / (CLASSES + WARM)
    hours = line.per_class_s * 100_000 / SIZE.students / 3600
    with capsys.disabled():
        sys.stdout.write(
            f"\n{kind}: {CLASSES} classes, {pairs:,} pairs of student and topic planned in {took_s:.1f} processor s: "
            f"{pairs / took_s:,.0f} pairs/s, {rows / took_s:,.0f} rows/s written; {line.per_class_s:.2f} s a class, "
            f"a straight line explains {100 * line.share_explained:.2f} %; 100,000 students: {hours:.2f} processor "
            f"hours; memory {before:.0f} MB before, {resident_mb():.0f} MB after\n"
        )
    assert len(through) == CLASSES
    assert nudges == (CLASSES + WARM) * SIZE.students
    assert failed == 0
    assert line.share_explained > 0.97


def rows_due(district: Database) -> int:
    with district.begin() as session:
        return session.exec(select(func.count()).select_from(Due)).one()


def test_seeing_that_every_class_has_its_next_plan_costs_little(
    district: Database, capsys: pytest.CaptureFixture[str]
):
    asyncio.run(keep_calendar(WorkContext(district, AppContext(), HandClock(PLANS_AT))))
    planned = rows_due(district)
    began = time.perf_counter()
    asyncio.run(keep_calendar(WorkContext(district, AppContext(), HandClock(PLANS_AT + timedelta(hours=1)))))
    each_ms = (time.perf_counter() - began) / (CLASSES + WARM) * 1e3
    again = rows_due(district)
    with capsys.disabled():
        sys.stdout.write(
            f"\n{district.engine.dialect.name}: the hourly look at the calendar costs {each_ms:.1f} ms a class\n"
        )
    assert again == planned
