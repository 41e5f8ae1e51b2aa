import asyncio
import math
from datetime import UTC, datetime, timedelta, timezone

import pytest

from bot.clock import HandClock, RehearsalClock, WallClock

START = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)


def test_wall_clock_tells_aware_utc():
    assert WallClock().now().utcoffset() == timedelta(0)


def test_rehearsal_clock_starts_where_told_and_runs_faster(monkeypatch):
    seconds = iter([100.0, 100.0, 101.0])
    monkeypatch.setattr("bot.clock.time.monotonic", lambda: next(seconds))
    clock = RehearsalClock(START, 1440)
    assert clock.now() == START
    assert clock.now() == START + timedelta(minutes=24)


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan])
def test_rehearsal_clock_refuses_a_speed_that_is_not_positive(speed):
    with pytest.raises(ValueError, match="positive speed"):
        RehearsalClock(START, speed)


@pytest.mark.parametrize("make", [lambda at: RehearsalClock(at, 1), HandClock])
def test_clocks_refuse_a_naive_start(make):
    with pytest.raises(ValueError, match="aware"):
        make(datetime(2026, 9, 7))  # noqa: DTZ001 - the naive moment is the point


def test_hand_clock_keeps_utc():
    clock = HandClock(START.astimezone(timezone(timedelta(hours=2))))
    assert clock.now() == START
    assert clock.now().utcoffset() == timedelta(0)


async def test_hand_clock_wakes_sleepers_only_when_their_moment_comes():
    clock = HandClock(START)
    sleeper = asyncio.create_task(clock.sleep(60))
    await asyncio.sleep(0)
    await clock.advance(59)
    await asyncio.sleep(0)
    assert not sleeper.done()
    await clock.advance(1)
    await asyncio.wait_for(sleeper, 5)
    assert clock.now() == START + timedelta(minutes=1)
