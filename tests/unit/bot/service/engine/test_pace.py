import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.chat.port import Limits
from bot.service.engine.pace import CHAT_BURST, Pace

LIMITS = Limits(per_second=25, per_chat_second=1, per_group_minute=15)


def _send_all(pace: Pace, addresses: list[str], *, group: bool = False) -> list[float]:
    """Send one after another, each as early as allowed; return the moments."""
    now, moments = 1000.0, []
    for address in addresses:
        now += pace.wait_s(address, group=group, now_s=now)
        pace.take(address, group=group, now_s=now)
        moments.append(now)
    return moments


def test_one_chat_gets_a_short_burst_and_then_one_a_second():
    moments = _send_all(Pace(LIMITS), ["a"] * 10)
    assert moments[2] - moments[0] < 0.1
    assert moments[-1] - moments[0] == pytest.approx(10 - CHAT_BURST, abs=0.1)


def test_a_group_gets_fifteen_a_minute():
    moments = _send_all(Pace(LIMITS), ["g"] * 18, group=True)
    assert moments[-1] - moments[0] == pytest.approx(60, abs=0.1)


def test_hold_stops_everybody_until_its_moment():
    pace = Pace(LIMITS)
    pace.hold(1003.0)
    assert pace.wait_s("a", group=False, now_s=1000.0) == pytest.approx(3.0)


def test_what_another_process_sent_to_a_chat_counts_here_too():
    pace = Pace(LIMITS)
    pace.hear("a", group=False, at_s=[999.7, 999.8, 999.9])
    assert pace.wait_s("a", group=False, now_s=1000.0) == pytest.approx(0.7)
    assert pace.wait_s("b", group=False, now_s=1000.0) == 0


def test_what_was_sent_here_and_is_heard_again_counts_once():
    pace = Pace(LIMITS)
    for _ in range(2):
        pace.take("a", group=False, now_s=1000.0)
    pace.hear("a", group=False, at_s=[1000.0, 1000.0])
    assert pace.wait_s("a", group=False, now_s=1000.0) == 0
    pace.take("a", group=False, now_s=1000.0)
    assert pace.wait_s("a", group=False, now_s=1000.0) == pytest.approx(1.0)


@given(st.lists(st.sampled_from("abcde"), max_size=60))
def test_no_chat_ever_gets_more_than_its_limit(addresses):
    moments = _send_all(Pace(LIMITS), addresses)
    for name in set(addresses):
        own = [moment for moment, address in zip(moments, addresses, strict=True) if address == name]
        for start in own:
            assert sum(start <= moment < start + 1 - 1e-6 for moment in own) <= CHAT_BURST + 1
