import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.chat.port import Limits
from bot.service.pace import CHAT_BURST, Pace

LIMITS = Limits(per_second=25, per_chat_second=1, per_group_minute=15)


def _send_all(pace: Pace, addresses: list[str], *, group: bool = False) -> list[float]:
    """Send one after another, each as early as allowed; return the moments."""
    now, moments = 1000.0, []
    for address in addresses:
        now += pace.wait_s(address, group=group, now_s=now)
        pace.take(address, group=group, now_s=now)
        moments.append(now)
    return moments


def test_many_chats_go_out_at_the_overall_rate():
    moments = _send_all(Pace(LIMITS), [str(n) for n in range(101)])
    assert moments[-1] - moments[0] == pytest.approx(4.0)


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


def test_a_share_divides_the_overall_rate():
    moments = _send_all(Pace(LIMITS, share=0.5), [str(n) for n in range(26)])
    assert moments[-1] - moments[0] == pytest.approx(2.0)


@given(st.lists(st.sampled_from("abcde"), max_size=60))
def test_no_second_ever_sees_more_than_the_limit(addresses):
    moments = _send_all(Pace(LIMITS), addresses)
    for start in moments:
        assert sum(start <= moment < start + 1 - 1e-6 for moment in moments) <= LIMITS.per_second + 1
    for name in set(addresses):
        own = [moment for moment, address in zip(moments, addresses, strict=True) if address == name]
        for start in own:
            assert sum(start <= moment < start + 1 - 1e-6 for moment in own) <= CHAT_BURST + 1
