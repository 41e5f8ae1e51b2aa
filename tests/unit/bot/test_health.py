import asyncio
import contextlib
import logging
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import aiohttp
import pytest
from prometheus_client.parser import text_string_to_metric_families

from bot.app import NoChatLeft, build
from bot.chat.packing import pack
from bot.chat.port import (
    Capabilities,
    ChatStopped,
    Incoming,
    Limits,
    Message,
    Reception,
    SendFailed,
    TextSaid,
)
from bot.clock import RehearsalClock
from bot.health import Health, serving
from bot.service.engine import due_work
from bot.service.engine.context import AppContext
from bot.settings import SettingsError
from bot.words.rich import Rich
from storage.base.database import connect
from storage.queue import due, outbox, queue_statistics

NOW = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)
OLD = NOW - timedelta(hours=2)


@dataclass
class FakeChat:
    name: str = "fake"
    limits: Limits = field(default_factory=Limits)
    heard_at: datetime | None = NOW
    problem: str = ""
    quiet_is_normal: bool = False
    refused: str = ""
    sent: list[str] = field(default_factory=list)
    events: list[Incoming] = field(default_factory=list)

    async def run(self, on_event, stop):
        if self.refused:
            raise ChatStopped(self.refused)
        for event in self.events:
            await on_event(event)
        await stop.wait()

    async def send(self, address, message, *, token, edits=""):
        if self.refused:
            raise SendFailed("refused")
        self.sent.append(message.text.plain)
        return "1"

    async def fetch(self, handle):
        raise SendFailed("no files here")

    @property
    def capabilities(self) -> Capabilities:
        return Capabilities(reception=lambda: Reception(self.heard_at, self.problem, self.quiet_is_normal))


@pytest.fixture
def db():
    database = connect("sqlite://")
    yield database
    database.close()


class StoodClock(RehearsalClock):
    """A clock of real speed that stands still: what is told does not depend on how long looking took."""

    def now(self):
        return NOW


def _app(db, *chats):
    return build(db, StoodClock(NOW, 1.0), chats or [FakeChat()], AppContext(), tick_s=0.3)


async def _until(true):
    async with asyncio.timeout(60):
        while not true():  # noqa: ASYNC110 - a state of several parts, not one event
            await asyncio.sleep(0.005)


@contextlib.asynccontextmanager
async def _running(app):
    stop = asyncio.Event()
    running = asyncio.create_task(app.run(stop))
    try:
        await _until(lambda: app.beat_at > 0 and app.idle)
        yield
    finally:
        stop.set()
        await running


async def _sentences(health):
    return {check.name: (check.good, check.sentence) for check in await health.ready()}


async def _figures(health):
    families = text_string_to_metric_families((await health.metrics()).decode())
    return {(s.name, *s.labels.values()): s.value for family in families for s in family.samples}


# ---------------------------------------------------------------- ready


async def test_a_running_bot_is_alive_and_ready(db, tmp_path):
    app = _app(db)
    health = Health(app, tmp_path)
    async with _running(app):
        assert health.alive().good
        checks = await health.ready()
    assert [check.name for check in checks] == ["worker", "database", "chat fake", "inbox", "outbox", "due"]
    assert [check.sentence for check in checks if not check.good] == []


async def test_a_worker_that_stands_still_is_no_longer_alive(db, tmp_path):
    health = Health(_app(db), tmp_path)
    health.app.beat_at = health._began = asyncio.get_running_loop().time() - 301
    assert not health.alive().good
    assert health.alive().sentence.startswith("The worker has stood still for 301 s.")


async def test_a_database_that_takes_no_change_is_named(db, tmp_path):
    def full(statement):
        if statement.startswith("INSERT"):
            raise OSError(28, "No space left on device")

    db.before_statement = full
    good, sentence = (await _sentences(Health(_app(db), tmp_path)))["database"]
    assert not good
    assert sentence == "The database takes no changes (OSError). See: holdfast doctor"


@pytest.mark.parametrize(
    ("chat", "good", "sentence"),
    [
        (FakeChat(), True, "fake answered 0 s ago."),
        (FakeChat(heard_at=None), False, "fake has not answered since the start."),
        (FakeChat(heard_at=OLD), False, "fake has not answered for 7200 s."),
        (FakeChat(heard_at=OLD, quiet_is_normal=True), True, "fake answered 7200 s ago."),
        (FakeChat(problem="no updates (TimedOut)"), False, "fake: no updates (TimedOut)."),
    ],
)
async def test_a_chat_is_well_when_its_platform_is_heard(db, tmp_path, chat, good, sentence):
    assert (await _sentences(Health(_app(db, chat), tmp_path)))["chat fake"] == (good, sentence)


async def test_what_waits_too_long_is_named(db, tmp_path):
    message = pack(Message(Rich.of("Three questions")))
    with db.begin() as session:
        outbox.put(session, "elsewhere", "room", message, now=OLD)
        due.ensure(session, "x:1", "no such kind", OLD)
    found = await _sentences(Health(_app(db), tmp_path))
    assert found["outbox"] == (False, "1 messages to send, the oldest for 7200 s.")
    assert found["due"] == (False, "1 pieces of work to do, the oldest for 7200 s.")
    assert found["inbox"] == (True, "0 events to handle.")


async def test_a_restored_copy_that_holds_its_messages_is_well_and_says_so(db, tmp_path):
    with db.begin() as session:
        outbox.put(session, "fake", "room", pack(Message(Rich.of("Three questions"))), now=OLD)
        outbox.hold(session, NOW)
    good, sentence = (await _sentences(Health(_app(db), tmp_path)))["outbox"]
    assert good
    assert sentence.startswith("Sending is held: 1 messages wait.")


# ---------------------------------------------------------------- a chat that stops for good


async def test_a_refused_chat_stops_alone_and_its_messages_wait(db, tmp_path, caplog):
    refused, other = FakeChat("refused", refused="The token is wrong. Make a new one."), FakeChat("other")
    app = _app(db, refused, other)
    async with _running(app):
        with db.begin() as session:
            for platform in ("refused", "other"):
                outbox.put(session, platform, "room", pack(Message(Rich.of("Hello"))), now=NOW)
        app.wake()
        await _until(lambda: other.sent)
        found = await _sentences(Health(app, tmp_path))
        figures = await _figures(Health(app, tmp_path))
    assert "The token is wrong. Make a new one." in caplog.text
    assert found["chat refused"] == (False, "The token is wrong. Make a new one.")
    assert found["chat other"][0]
    assert figures["holdfast_chat_up", "refused"] == 0
    assert figures["holdfast_outbox_waiting",] == 1
    assert app.senders["refused"].failed == 0


async def test_a_program_without_any_chat_left_ends_with_the_reasons(db):
    app = _app(db, FakeChat("a", refused="First is wrong."), FakeChat("b", refused="Second is wrong."))
    with pytest.raises(NoChatLeft, match=r"First is wrong\.\nSecond is wrong\."):
        await app.run(asyncio.Event())


# ---------------------------------------------------------------- figures


async def test_figures_count_what_was_done(db, tmp_path):
    said = Incoming("fake", "1", "mira", "mira", "private", NOW, TextSaid("hello"))
    chat = FakeChat(events=[said, said])
    app = _app(db, chat)
    health = Health(app, tmp_path, "1.2.3")
    async with _running(app):
        await _until(lambda: chat.sent)
        await _until(lambda: app.idle)
        figures = await _figures(health)
    assert figures["holdfast_events_handled_total",] == 1  # the second is a repeat
    assert figures["holdfast_messages_sent_total", "fake"] == 1
    assert figures["holdfast_messages_failed_total", "fake"] == 0
    assert figures["holdfast_inbox_waiting",] == 0
    assert figures["holdfast_round_seconds_count",] >= 1
    assert figures["holdfast_database_writable",] == 1
    assert figures["holdfast_chat_up", "fake"] == 1
    assert figures["holdfast_info", "1.2.3"] == 1
    assert figures["holdfast_data_free_bytes",] > 0


async def test_due_work_is_counted_by_kind(db, tmp_path, monkeypatch, caplog):
    caplog.set_level(logging.CRITICAL)

    async def well(work_context, item):
        await work_context.db.run(due.done, item.id, NOW)

    async def badly(_work_context, _item):
        raise RuntimeError("Mira wrote 27")

    monkeypatch.setattr(due_work, "_HANDLERS", {"well": well, "badly": badly})
    with db.begin() as session:
        due.ensure(session, "w", "well", OLD)
        due.ensure(session, "b", "badly", OLD)
    app = _app(db)
    beats = []
    app.on_beat = lambda: beats.append(1)
    assert await due_work.do_due(app.work_context) == 2
    figures = await _figures(Health(app, tmp_path))
    assert figures["holdfast_due_work_done_total", "well"] == 1
    assert figures["holdfast_due_work_failed_total", "badly"] == 1
    assert figures["holdfast_due_work_given_up_total", "badly"] == 0
    assert len(beats) == 2  # one after each piece: a long round feeds the watchdog too


async def test_every_kind_of_work_is_counted_from_the_start(db, tmp_path):
    """Prometheus sees no increase in a figure that appears with its first count: no alert would fire."""
    figures = await _figures(Health(_app(db), tmp_path))
    kinds = due_work.kinds()
    assert "plan_class" in kinds
    for figure in ("done", "failed", "given_up"):
        assert {key[1] for key in figures if key[0] == f"holdfast_due_work_{figure}_total"} == kinds


async def test_a_database_that_hangs_is_looked_at_from_two_sides_at_once(db, tmp_path, monkeypatch):
    """Else a page takes as long as Prometheus waits, and the alarm says that the bot is down."""
    both = asyncio.Barrier(2)

    async def hangs(*_what):
        await both.wait()

    monkeypatch.setattr(db, "read", hangs)
    monkeypatch.setattr(db, "run", hangs)
    app_health = Health(_app(db), tmp_path)
    assert (await app_health.ready())[1].good
    assert (await _figures(app_health))["holdfast_database_writable",] == 1


async def test_labels_are_platforms_kinds_and_versions_only(db, tmp_path):
    families = text_string_to_metric_families((await Health(_app(db), tmp_path, "1").metrics()).decode())
    labels = {label for family in families for sample in family.samples for label in sample.labels}
    assert labels <= {"platform", "kind", "version", "le"}


async def test_figures_come_without_a_database_too(db, tmp_path):
    def broken(_statement):
        raise OSError("gone")

    db.before_statement = broken
    figures = await _figures(Health(_app(db), tmp_path))
    assert figures["holdfast_database_writable",] == 0
    assert ("holdfast_outbox_waiting",) not in figures


async def test_the_age_of_the_last_backup_is_told(db, tmp_path):
    health = Health(_app(db), tmp_path)
    assert ("holdfast_backup_age_seconds",) not in await _figures(health)
    with db.begin() as session:
        queue_statistics.note_backup(session, OLD)
    assert (await _figures(health))["holdfast_backup_age_seconds",] == 7200


# ---------------------------------------------------------------- pages


async def test_pages_answer_200_when_well_and_503_when_not(db, tmp_path):
    app = _app(db)
    async with (
        _running(app),
        serving("127.0.0.1:0", Health(app, tmp_path)) as address,
        aiohttp.ClientSession(address) as client,
    ):
        for page in ("/healthz", "/readyz", "/metrics"):
            async with client.get(page) as answer:
                assert answer.status == 200, await answer.text()
        app.stopped["fake"] = "The token is wrong."
        async with client.get("/readyz") as answer:
            assert answer.status == 503
            assert (await answer.json())["checks"]["chat fake"] == {
                "good": False,
                "says": "The token is wrong.",
            }
        async with client.get("/healthz") as answer:
            assert answer.status == 200  # a restart would not help
        app.stopped.clear()


async def test_a_port_that_is_taken_is_named_with_what_to_do(db, tmp_path):
    health = Health(_app(db), tmp_path)
    async with serving("127.0.0.1:0", health) as address:
        listen = address.removeprefix("http://")
        with pytest.raises(SettingsError, match=f"HOLDFAST_HEALTH_LISTEN: {listen} cannot be listened on"):
            async with serving(listen, health):
                pass
