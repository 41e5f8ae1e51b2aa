"""The demo on a screen of a given size. Sizes are given to the console: nothing depends on this terminal."""

import io
from datetime import UTC, datetime, timedelta

import pytest
from rich.console import Console

from bot.chat.port import Message
from bot.demo.show import FEWEST, Screen
from bot.words.rich import Rich

BEGINS = datetime(2026, 9, 7, 6, 0, tzinfo=UTC)


def _screen(height: int, *, live: bool = True) -> tuple[Screen, io.StringIO]:
    out = io.StringIO()
    console = Console(file=out, width=80, height=height, force_terminal=True, color_system=None)
    return Screen(console, BEGINS, BEGINS + timedelta(weeks=2), "A school", live=live), out


def _drawn(screen: Screen) -> list[str]:
    """Return the lines of one picture."""
    with screen.console.capture() as captured:
        screen.console.print(screen.render())
    return captured.get().splitlines()


@pytest.mark.parametrize("height", [24, 40, 60])
def test_the_whole_height_of_the_terminal_is_used_and_no_row_more(height):
    screen, _ = _screen(height)
    for number in range(100):
        screen.heard("mira", Message(Rich.of(f"message {number}")))
    drawn = _drawn(screen)
    assert len(drawn) == height - 1  # one is left for the line below
    assert "message 99" in drawn[-2]


def test_a_very_low_terminal_still_shows_the_latest_messages():
    screen, _ = _screen(4)
    for number in range(9):
        screen.heard("mira", Message(Rich.of(f"message {number}")))
    assert sum("message" in line for line in _drawn(screen)) == FEWEST


def test_quiet_says_a_line_a_week_on_a_terminal_too():
    screen, out = _screen(24, live=False)
    with screen:
        screen.step(BEGINS)
        screen.step(BEGINS + timedelta(days=8))
    assert out.getvalue().splitlines() == [
        "Week 1: 0 questions asked so far",
        "Week 2: 0 questions asked so far",
    ]


def test_the_picture_stands_before_anything_was_played():
    screen, out = _screen(24)
    with screen:
        assert "A school" in out.getvalue()
