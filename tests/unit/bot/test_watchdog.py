import os
import socket

import pytest

from bot.watchdog import Watchdog


@pytest.fixture(params=["path", "abstract"])
def manager(request, tmp_path):
    """A service manager's socket: a file, or a name of Linux's own kind."""
    address = str(tmp_path / "notify") if request.param == "path" else f"@holdfast-test-{os.getpid()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.bind("\0" + address[1:] if address.startswith("@") else address)
        line.settimeout(2)
        yield address, line


def test_the_first_beat_tells_ready_and_the_next_ones_feed_the_watchdog(manager):
    address, line = manager
    watchdog = Watchdog(address)
    watchdog.beat()
    watchdog.beat()
    assert line.recv(200) == b"READY=1\nSTATUS=Running"
    assert line.recv(200) == b"WATCHDOG=1"


def test_stopping_is_told_once_and_no_beat_follows(manager):
    address, line = manager
    watchdog = Watchdog(address)
    watchdog.stopping()
    watchdog.stopping()
    watchdog.beat()
    assert line.recv(200).startswith(b"STOPPING=1\n")
    line.setblocking(False)
    with pytest.raises(BlockingIOError):
        line.recv(200)


def test_without_a_service_manager_nothing_is_sent():
    watchdog = Watchdog.from_environment({})
    watchdog.beat()
    assert watchdog.address == ""
    assert watchdog.every_s is None


def test_a_manager_that_is_gone_is_logged_and_does_no_harm(tmp_path, caplog):
    Watchdog(str(tmp_path / "nobody")).beat()
    assert "cannot be told READY=1" in caplog.text


# sd_watchdog_enabled(3): WATCHDOG_USEC is in microseconds and meant for the process WATCHDOG_PID.
@pytest.mark.parametrize(
    ("environment", "seconds"),
    [
        ({"WATCHDOG_USEC": "180000000"}, 180.0),
        ({"WATCHDOG_USEC": "180000000", "WATCHDOG_PID": str(os.getpid())}, 180.0),
        ({"WATCHDOG_USEC": "180000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
    ],
)
def test_the_period_of_the_watch_is_read(environment, seconds):
    assert Watchdog.from_environment(environment).every_s == seconds


def test_a_watch_tighter_than_the_work_is_named(caplog):
    Watchdog("", 30.0).check(tick_s=15.0)
    assert "Set WatchdogSec to at least 45 s" in caplog.text
    caplog.clear()
    Watchdog("", 180.0).check(tick_s=15.0)
    assert caplog.text == ""
