"""What has to hold for the sake of the children's data, read from the source, and played with every role."""

from __future__ import annotations

import asyncio
import logging
import re
from datetime import timedelta
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session, select

import bot.service.rounds  # noqa: F401 - registers everything that commands lead to
from bot.chat.packing import pack
from bot.chat.port import Capabilities, Incoming, Limits, Message, TextSaid
from bot.clock import HandClock
from bot.service.engine.inbox_worker import Inbox
from bot.service.engine.sender import OutboxSender
from bot.talk.commands import COMMANDS, parse
from bot.words.rich import Rich
from storage.base.database import connect
from storage.queue import outbox
from storage.school import classes
from tests.dialogues import MONDAY, NUMBER, Frozen, Stage, add_class, at, join, stage, teach
from tests.properties.test_roles import OF_TEACHERS, _of_teachers
from tests.teaching import School
from tests.unit.test_layers import FILES, ROOT, imports_of

# ---------------------------------------------------------------- roles × commands


WORDS = sorted({command.word for command in COMMANDS})
RESTS = ("", "Springs", "Odalys", "20 Dec")


@cache
def _school() -> Frozen:
    made = stage(at(MONDAY, 16))
    group = add_class(made)
    teach(made, group, "Springs", at(MONDAY, 9))
    join(made, group, "odalys")
    other = add_class(made, "9C Chemistry", "Mr Lindqvist")
    teach(made, other, "Acids", at(MONDAY, 10))
    return made.freeze()


ROLE_OF = {
    "nobody": "stranger",
    "odalys": "student",
    "teacher-10B Physics": "teacher",
    "teacher-9C Chemistry": "teacher",
}


@pytest.mark.parametrize("word", WORDS)
def test_every_command_is_read_only_from_those_whose_it_is(word: str) -> None:
    of = frozenset[str]().union(*(command.roles for command in COMMANDS if command.word == word))
    for role in ("stranger", "student", "teacher"):
        found = parse(f"/{word}", frozenset({role}))
        assert (found is not None) == (role in of), (word, role)


@pytest.mark.parametrize("user", ["nobody", "odalys"])
def test_no_command_of_whoever_does_not_teach_changes_what_is_the_teachers(user: str) -> None:
    """Every command with several rests, by a stranger and by a student; each is answered."""
    for word in WORDS:
        playing = _school().thaw()
        before = playing.run(_of_teachers)
        for rest in RESTS:
            assert playing.say(user, f"/{word} {rest}".strip()) or playing.work(), (word, rest)
        assert playing.run(_of_teachers) == before, word


def test_no_command_of_a_teacher_changes_or_shows_anything_of_another_teachers_class() -> None:
    for word in WORDS:
        playing = _school().thaw()
        before = playing.run(_of_class)
        for rest in ("", "Springs", "Odalys"):
            heard = playing.say("teacher-9C Chemistry", f"/{word} {rest}".strip())
            shown = "\n".join(said.text for said in heard)
            assert not [name for name in ("Springs", "Odalys") if name in shown and name != rest], (
                word,
                shown,
            )
        assert playing.run(_of_class) == before, word


def _of_class(session: Session) -> list[Any]:
    group = classes.by_slug(session, classes.slug_of("10B Physics"))
    assert group is not None
    rows = [row.model_dump() for table in OF_TEACHERS for row in session.exec(select(table))]
    return [row for row in rows if row.get("class_id") == group.id or row.get("slug") == group.slug]


# ---------------------------------------------------------------- the network


NETWORK = {
    "aiohttp",
    "httpx",
    "requests",
    "urllib3",
    "http",
    "ftplib",
    "smtplib",
    "socket",
    "ssl",
    "telegram",
    "nio",
}
MAY_TALK = {
    "bot/health.py",  # serves the health page
    "bot/watchdog.py",  # the service manager's socket
    "bot/cli/running.py",  # names the adapters
    "bot/doctor/platforms.py",  # asks the servers that the settings name, once, and follows no redirect
}


def test_only_the_adapters_talk_to_the_network_and_none_to_an_address_that_somebody_typed() -> None:
    """No SSRF: what is fetched is named by a platform's own handle, never by an address."""
    talking = {
        name
        for path in FILES
        if (name := str(path.relative_to(ROOT)))
        for module in imports_of(path.read_text())
        if module.split(".")[0] in NETWORK or module.startswith("urllib.request")
    }
    assert {name for name in talking if not name.startswith("bot/chat/")} <= MAY_TALK
    assert any(name.startswith("bot/chat/") for name in talking), (
        "the adapters were not found: it proved nothing"
    )


def test_nothing_is_run_by_a_shell_or_read_by_eval() -> None:
    dangerous = re.compile(r"(?<![\w.])(eval|exec)\(|shell=True|os\.system\(|pickle\.load|yaml\.load\(")
    found = [
        (path.name, line)
        for path in FILES
        for line in path.read_text().splitlines()
        if dangerous.search(line)
    ]
    assert found == []


# ---------------------------------------------------------------- files


@pytest.mark.parametrize(
    "name", ["../../up.csv", "/etc/cron.d/up.csv", "..\\\\up.csv", "a\x00b.csv", "CON.csv", "x" * 300]
)
def test_the_name_of_an_upload_is_never_a_place_to_write_to(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files stay in memory and in the database; a name is only words about them."""
    monkeypatch.chdir(tmp_path)
    school = School(connect("sqlite://"))
    teacher = school.teacher()
    said = teacher.sends(name, b"date,topic\n2026-10-05,Springs\n2026-10-07,Levers\n")
    assert said
    assert list(tmp_path.iterdir()) == []
    school.db.close()


def test_codes_are_compared_in_constant_time() -> None:
    """And looked up by a keyed digest, so that the time of a look-up tells nothing about a stored code."""
    assert (
        "hmac.compare_digest(code.digest, digest)" in (ROOT / "storage" / "school" / "codes.py").read_text()
    )


# ---------------------------------------------------------------- dependencies


PINNED = re.compile(r"^[A-Za-z0-9._-]+(\[[a-z0-9,._-]+\])?==[^\s;]+( ; [^\\]+)?(?: \\)?$")


@pytest.mark.parametrize(
    "path", sorted((ROOT / "deploy").glob("requirements*.txt")), ids=lambda path: path.name
)
def test_every_dependency_is_pinned_by_hash_and_none_by_an_address(path: Path) -> None:
    text = path.read_text()
    lines = [line for line in text.splitlines() if line and not line.lstrip().startswith("#")]
    assert not re.search(r"https?:|git\+|file:|--index-url|--find-links|--trusted-host", text)
    for number, line in enumerate(lines):
        if line.startswith(" "):
            assert re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}( \\)?", line), line
        else:
            assert PINNED.match(line), line
            assert lines[number + 1].startswith("    --hash="), line


@pytest.mark.parametrize("name", ["Dockerfile", "environment.sh", "servers.sh"])
def test_everything_is_installed_with_its_hashes_checked(name: str) -> None:
    text = (ROOT / "deploy" / name).read_text().replace("\\\n", " ")
    installs = [
        line for line in text.splitlines() if re.search(r"\bpip install\b|uv pip (install|sync)", line)
    ]
    assert installs
    for line in installs:
        assert "--require-hashes" in line or ("--no-index" in line and "--no-deps" in line), line


# ---------------------------------------------------------------- logs


PRIVATE = ("Zebedee", "Quill", "zq", "2.7 g", "10B", "Physics", "hello teacher")


class Refuses:
    """A chat whose errors quote what it was given, as libraries do."""

    name = "terminal"
    limits = Limits()
    capabilities = Capabilities()

    async def send(self, address: str, message: Message, *, token: str, edits: str = "") -> str:
        raise RuntimeError(f"cannot send {message.text.plain} to {address}")

    async def run(self, on_event: Any, stop: asyncio.Event) -> None: ...

    async def fetch(self, handle: str) -> bytes:
        raise RuntimeError(handle)


def _evening() -> Stage:
    made = stage(at(MONDAY, 8))
    group = add_class(made, questions_per_nudge=1)
    teach(made, group, "Density", at(MONDAY - timedelta(days=3), 10), [NUMBER])
    join(made, group, "zq")
    made.go_to(at(MONDAY, 18, 1))
    made.press("zq", "Start")
    made.say("zq", "2.7 g/cm³")
    return made


async def test_a_log_at_its_loudest_names_nobody_and_quotes_nothing(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole evening, then a step and a chat whose errors quote names and answers."""
    caplog.set_level(logging.DEBUG)
    playing = await asyncio.to_thread(_evening)
    clock = HandClock(playing.now)
    inbox = Inbox(playing.db, playing.app_context, clock)
    monkeypatch.setattr("bot.service.engine.loop.handle", _quotes)
    said = TextSaid("hello teacher, Zebedee Quill here: 2.7 g/cm³")
    await inbox.receive(
        Incoming("terminal", "k", "chat-zq", "zq", "private", playing.now, said, "Zebedee Quill")
    )
    put = partial(
        outbox.put, platform="terminal", address="chat-zq", message=pack(Message(Rich.of("Zebedee Quill")))
    )
    with playing.db.begin() as session:
        put(session, now=playing.now)
    sender = OutboxSender(playing.db, Refuses(), clock)
    await sender.drain()
    await sender._note()
    assert len(caplog.records) >= 2, "the faults were not logged: it proved nothing"
    ours = [
        record for record in caplog.records if not record.name.startswith(("asyncio", "PIL", "matplotlib"))
    ]
    for word in PRIVATE:
        assert not [record for record in ours if word in record.getMessage()], word


def _quotes(_session: Session, _app_context: Any, incoming: Incoming, _now: Any) -> None:
    raise ValueError(f"cannot handle {incoming.content} of {incoming.name}")


# ---------------------------------------------------------------- the table


def _table() -> list[tuple[str, list[str]]]:
    text = (ROOT / "deploy" / "SECURITY.md").read_text()
    section = text.split("## What is required, and the test that holds it", 1)[1].split("\n## ", 1)[0]
    rows = re.findall(r"^\| (.+?) \| (.+) \|$", section, re.MULTILINE)
    return [(what, re.findall(r"`([^`]+)`", tests)) for what, tests in rows if "`" in tests]


def test_every_requirement_names_a_test_that_exists() -> None:
    rows = _table()
    assert len(rows) >= 25
    for what, tests in rows:
        assert tests, what
        for named in tests:
            path, _, test = named.partition("::")
            file = ROOT / path
            assert file.exists(), (what, named)
            assert not test or re.search(rf"^(async )?def {test}\b", file.read_text(), re.MULTILINE), (
                what,
                named,
            )
