"""The doctor says what is wrong before a class notices: it asks the platforms and looks into the database."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner

from bot.cli.group import holdfast
from bot.doctor.checks import examine
from bot.doctor.platforms import Reply, platforms
from bot.settings import Settings
from storage import migrations
from storage.base.database import connect
from storage.queue import outbox, queue_statistics
from storage.school import people

NOW = datetime(2026, 11, 27, 18, 0, tzinfo=UTC)
TOKEN = "123456:AAF-an_invented_token_of_35_letters"
BOT = {"id": 123456, "is_bot": True, "username": "holdfast_bot", "can_read_all_group_messages": True}


def chosen(folder: Path, **values: Any) -> Settings:
    return Settings(data_dir=folder, **({"telegram_token": TOKEN} | values))


def matrix(folder: Path, **values: Any) -> Settings:
    login = {} if "matrix_token" in values else {"matrix_password": "secret"}
    fixed = {"telegram_token": None, "matrix_homeserver": "https://m.example", "matrix_user": "@h:m.example"}
    return Settings(data_dir=folder, **(fixed | login | values))


@pytest.fixture
def school(tmp_path: Path) -> Path:
    """Make a data folder as `holdfast db upgrade` leaves it."""
    folder = tmp_path / "data"
    folder.mkdir(mode=0o700)
    migrations.upgrade(f"sqlite:///{folder / 'holdfast.db'}", now=NOW)
    return folder


def wrongs(settings: Settings) -> list[str]:
    return [found.sentence for found in examine(settings, NOW, offline=True) if found.wrong]


def notes(settings: Settings) -> str:
    return "\n".join(
        found.sentence for found in examine(settings, NOW, offline=True) if found.level == "note"
    )


# ---------------------------------------------------------------- the platforms


def answering(status: int, content: dict[str, Any], date: datetime | None = NOW):
    return lambda _address, _headers: Reply(status, content, date)


def failing(error: Exception):
    def ask(_address: str, _headers: dict[str, str]) -> Reply:
        raise error

    return ask


def asked(settings: Settings, ask, kept: str = "") -> list[tuple[str, str]]:
    return [(found.level, found.sentence) for found in platforms(settings, NOW, kept, ask)]


# What the Bot API answers (core.telegram.org/bots/api, "Making requests": ok, error_code, description).
UNAUTHORIZED = {"ok": False, "error_code": 401, "description": "Unauthorized"}


@pytest.mark.parametrize("status", [401, 404])
def test_f34_an_invented_telegram_token_is_wrong(tmp_path, status):
    ((level, sentence),) = asked(chosen(tmp_path), answering(status, {**UNAUTHORIZED, "error_code": status}))
    assert level == "wrong"
    assert sentence.startswith("HOLDFAST_TELEGRAM_TOKEN: https://api.telegram.org does not know this token")
    assert TOKEN not in sentence


def test_a_token_that_telegram_knows_is_good_and_names_the_bot(tmp_path):
    ((level, sentence),) = asked(chosen(tmp_path), answering(200, {"ok": True, "result": BOT}))
    assert (level, "@holdfast_bot" in sentence) == ("good", True)


def test_f34_privacy_mode_is_said(tmp_path):
    private = BOT | {"can_read_all_group_messages": False}
    found = asked(chosen(tmp_path), answering(200, {"ok": True, "result": private}))
    assert [level for level, _ in found] == ["good", "note"]
    assert "privacy mode is on" in found[1][1]


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (httpx.ConnectTimeout("timed out"), "no answer within 5 s"),
        (httpx.ConnectError("[Errno -2] Name or service not known"), "Name or service not known"),
        (httpx.InvalidURL("Invalid port"), "no such address"),
    ],
)
def test_f34_a_dead_address_is_wrong_and_shows_no_token(tmp_path, error, reason):
    for settings, name in ((chosen(tmp_path), "TELEGRAM_API_URL"), (matrix(tmp_path), "MATRIX_HOMESERVER")):
        ((level, sentence),) = asked(settings, failing(error))
        assert level == "wrong"
        assert f"HOLDFAST_{name} is " in sentence
        assert reason in sentence
        assert TOKEN not in sentence


@pytest.mark.parametrize("status", [200, 403, 404, 502])
def test_a_page_of_something_else_is_no_platform(tmp_path, status):
    for settings in (chosen(tmp_path), matrix(tmp_path), matrix(tmp_path, matrix_token="t")):
        ((level, sentence),) = asked(settings, answering(status, {}))
        assert level == "wrong"
        assert f"answers {status} and not as" in sentence


# Matrix client-server API 1.11: GET /account/whoami, GET /versions; M_UNKNOWN_TOKEN comes with 401.
@pytest.mark.parametrize(
    ("values", "kept", "status", "content", "level", "text"),
    [
        ({"matrix_token": "t"}, "", 200, {"user_id": "@h:m.example"}, "good", "knows the token as that of @h:m"),
        ({"matrix_token": "t"}, "", 200, {"user_id": "@x:m.example"}, "wrong", 'belongs to "@x:m.example"'),
        ({"matrix_token": "t"}, "", 401, {"errcode": "M_UNKNOWN_TOKEN"}, "wrong", "HOLDFAST_MATRIX_TOKEN: "),
        ({}, "kept", 401, {"errcode": "M_UNKNOWN_TOKEN"}, "wrong", "has ended the session"),
        ({}, "", 200, {"versions": ["v1.11"]}, "good", "answers. The password is tried"),
    ],
)  # fmt: skip
def test_f34_matrix_is_asked_who_the_token_is(tmp_path, values, kept, status, content, level, text):
    ((found, sentence),) = asked(matrix(tmp_path, **values), answering(status, content), kept)
    assert found == level
    assert text in sentence


# Matrix client-server API 1.11: "Rate limiting" (429, M_LIMIT_EXCEEDED), GET /_matrix/client/v1/media/config.
LIMITED = {"errcode": "M_LIMIT_EXCEEDED", "error": "Too Many Requests", "retry_after_ms": 9000}


@pytest.mark.parametrize("limited", ["whoami", "media/config"])
def test_a_homeserver_that_slows_the_bot_down_is_wrong(tmp_path, limited):
    def ask(address: str, _headers: dict[str, str]) -> Reply:
        return (
            Reply(429, LIMITED, NOW)
            if address.endswith(limited)
            else Reply(200, {"user_id": "@h:m.example"}, NOW)
        )

    level, sentence = asked(matrix(tmp_path, matrix_token="t"), ask)[-1]
    assert level == "wrong"
    assert "slows this account down (M_LIMIT_EXCEEDED)" in sentence
    assert "rc_message, rc_joins and rc_invites" in sentence


@pytest.mark.parametrize(
    ("config", "said"),
    [
        ({"m.upload.size": 1_048_576}, ["takes files of up to 1,048,576 bytes only"]),
        ({"m.upload.size": 52_428_800}, []),
        ({}, []),
        ({"m.upload.size": "much"}, []),
    ],
)
def test_a_homeserver_that_takes_small_files_only_is_said(tmp_path, config, said):
    def ask(address: str, headers: dict[str, str]) -> Reply:
        assert headers == {"Authorization": "Bearer t"}
        return Reply(200, config if "media" in address else {"user_id": "@h:m.example"}, NOW)

    (known, *more) = asked(matrix(tmp_path, matrix_token="t"), ask)
    assert known[0] == "good"
    assert [level for level, _ in more] == ["note"] * len(said)
    assert all(part in sentence for part, (_, sentence) in zip(said, more, strict=True))


def test_the_limits_of_a_homeserver_are_named_where_they_cannot_be_asked(tmp_path):
    assert "rc_message, rc_joins and rc_invites in homeserver.yaml" in notes(
        matrix(tmp_path, matrix_token="t")
    )


@pytest.mark.parametrize("off", [timedelta(minutes=5), timedelta(minutes=-5)])
def test_f34_a_clock_that_is_off_is_wrong(tmp_path, off):
    found = asked(chosen(tmp_path), answering(200, {"ok": True, "result": BOT}, NOW - off))
    assert found[-1][0] == "wrong"
    assert f"clock is 300 s {'ahead of' if off > timedelta() else 'behind'} Telegram's" in found[-1][1]


@contextmanager
def bot_api(status: int, content: dict[str, Any]) -> Iterator[str]:
    """Serve one answer for everything, as a Bot API server would."""
    body = json.dumps(content).encode()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None: ...

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.mark.parametrize(
    ("status", "content", "code"), [(200, {"ok": True, "result": BOT}, 0), (401, UNAUTHORIZED, 1)]
)
def test_f34_the_command_asks_the_server_of_the_settings(school, monkeypatch, status, content, code):
    with bot_api(status, content) as address:
        for name, value in {"DATA_DIR": school, "TELEGRAM_TOKEN": TOKEN, "TELEGRAM_API_URL": address}.items():
            monkeypatch.setenv(f"HOLDFAST_{name}", str(value))
        done = CliRunner().invoke(holdfast, ["doctor"])
    assert ("Ready." in done.output) is (code == 0)
    assert bool(done.exception) is bool(code)
    assert TOKEN not in done.output


def test_offline_asks_nobody_and_says_so_and_json_is_for_programs(school, monkeypatch):
    for name, value in {
        "DATA_DIR": school,
        "TELEGRAM_TOKEN": TOKEN,
        "TELEGRAM_API_URL": "http://nowhere.invalid",
    }.items():
        monkeypatch.setenv(f"HOLDFAST_{name}", str(value))
    done = CliRunner().invoke(holdfast, ["doctor", "--offline", "--json"])
    told = json.loads(done.stdout)
    assert told["ready"] is True
    assert {found["level"] for found in told["findings"]} == {"good", "note"}
    assert any("--offline" in found["sentence"] for found in told["findings"])


# ---------------------------------------------------------------- the database


def test_a_fresh_school_is_ready(school):
    assert wrongs(chosen(school)) == []


def test_f34_a_damaged_database_is_wrong(school):
    path = school / "holdfast.db"
    data = bytearray(path.read_bytes())
    page = int.from_bytes(
        data[16:18], "big"
    )  # SQLite file format, 1.3: the page size stands in bytes 16 and 17
    for number in range(4, 40):
        data[number * page : number * page + 200] = b"\xff" * 200
    path.write_bytes(data)
    (sentence,) = wrongs(chosen(school))
    assert "is damaged" in sentence or "cannot be opened" in sentence
    assert "holdfast.db" in sentence


def test_f34_a_held_copy_and_an_old_backup_are_said(school):
    db = connect(f"sqlite:///{school / 'holdfast.db'}")
    with db.begin() as session:
        people.meet(session, "telegram", "1", "1", NOW)
    assert "The database was never saved." in notes(chosen(school))
    with db.begin() as session:
        queue_statistics.note_backup(session, NOW - timedelta(days=8))
        outbox.hold(session, NOW)
    db.close()
    assert "last saved on 2026-11-19, 8 days ago" in notes(chosen(school))
    (sentence,) = wrongs(chosen(school))
    assert sentence.endswith("holdfast db release")


def test_f34_a_database_that_others_can_read_is_said(school):
    (school / "holdfast.db").chmod(0o644)
    assert f"Run: chmod 600 {school / 'holdfast.db'}" in notes(chosen(school))


# ---------------------------------------------------------------- the settings


@pytest.mark.parametrize(
    ("values", "text"),
    [
        (
            {"telegram_webhook_url": "http://school.example", "telegram_webhook_secret": "s"},
            "https addresses only",
        ),
        (
            {"telegram_webhook_url": "https://school.example:9000", "telegram_webhook_secret": "s"},
            "not to 9000",
        ),
        ({"telegram_webhook_url": "https://x:port", "telegram_webhook_secret": "s"}, "https addresses only"),
        ({"telegram_api_url": "api.telegram.org"}, 'HOLDFAST_TELEGRAM_API_URL is "api.telegram.org"'),
        ({"tick_s": 86400.0}, 'HOLDFAST_TICK_S is "86400"'),
        ({"tick_s": 0.001}, 'HOLDFAST_TICK_S is "0.001"'),
        ({"messages_per_second": 5000.0}, 'HOLDFAST_MESSAGES_PER_SECOND is "5000"'),
        ({"messages_per_second": 0.01}, 'HOLDFAST_MESSAGES_PER_SECOND is "0.01"'),
    ],
)
def test_f34_settings_that_cannot_be_meant_are_wrong(school, values, text):
    (sentence,) = wrongs(chosen(school, **values))
    assert text in sentence


@pytest.mark.parametrize("listen", ["0.0.0.0:9100", "[::]:9100"])
def test_f34_a_health_page_on_all_interfaces_is_said(school, listen):
    assert f'HOLDFAST_HEALTH_LISTEN is "{listen}"' in notes(chosen(school, health_listen=listen))
    assert "HEALTH_LISTEN" not in notes(chosen(school, health_listen="127.0.0.1:9100"))


def test_f34_a_missing_font_is_wrong(school, monkeypatch):
    def none(*_: object, **__: object) -> str:
        raise ValueError("no font")

    monkeypatch.setattr("matplotlib.font_manager.findfont", none)
    (sentence,) = wrongs(chosen(school))
    assert "DejaVu Sans" in sentence
