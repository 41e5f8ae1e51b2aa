"""Whether the bot is well, for programs that watch it: ``/healthz``, ``/readyz`` and ``/metrics``.

- ``/healthz``: the event loop turns (or nothing would answer) and the worker goes its rounds. 503: restart it.
- ``/readyz``: it does its job: the database takes changes, every chat is heard, nothing waits too long. 503: look
  at the sentences of the answer; a restart seldom helps.
- ``/metrics``: figures for Prometheus. Their labels are platforms and kinds of work, never a name or an id.

It is meant for the machine itself or for the inside of a network: there is no password.
"""

from __future__ import annotations

import asyncio
import contextlib
import shutil
from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from aiohttp import web
from prometheus_client import CollectorRegistry, Histogram, ProcessCollector, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_LATEST

from bot.app import App
from bot.chat.port import Chat, Reception
from bot.service.engine.due_work import kinds
from bot.settings import SettingsError
from storage.queue import queue_statistics
from storage.queue.queue_statistics import QueueStatistics

WORK_STANDS_S = 300.0
"""The worker goes round at every tick; after so long without a step it stands still [s]."""
UNHEARD_S = 180.0
"""A platform that is asked all the time and has not answered for so long is out of reach [s]."""
WAITS_LONG_S = 600.0
"""Neither an event nor a message should wait longer [s]; retries of messages move their moment on."""
ANSWER_WITHIN_S = 5.0
ROUND_BUCKETS_S = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0)


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at, and a sentence about it."""

    name: str
    good: bool
    sentence: str


@dataclass
class Health:
    """Looks at a running app.

    Attributes
    ----------
    app : App
        Whom to look at.
    data_dir : Path
        Its disk must not run full.
    version : str
        Of the program.
    """

    app: App
    data_dir: Path
    version: str = ""
    registry: CollectorRegistry = field(default_factory=CollectorRegistry)
    _began: float = field(default_factory=lambda: asyncio.get_running_loop().time())

    def __post_init__(self) -> None:
        """Have the app report its rounds."""
        ProcessCollector(registry=self.registry)
        rounds = Histogram(
            "holdfast_round_seconds",
            "Time that the worker took for one look at everything due.",
            buckets=ROUND_BUCKETS_S,
            registry=self.registry,
        )
        self.app.on_round = rounds.observe

    # ------------------------------------------------------------ alive

    def worker_quiet_s(self) -> float:
        """Return for how long the worker has not gone on [s]."""
        return asyncio.get_running_loop().time() - max(self.app.beat_at, self._began)

    def alive(self) -> Check:
        """Look whether the worker goes its rounds."""
        quiet = self.worker_quiet_s()
        good = quiet <= max(WORK_STANDS_S, 10 * self.app.tick_s)
        return Check("worker", good, (_GOES_ON if good else _STANDS).format(quiet))

    # ------------------------------------------------------------ ready

    async def ready(self) -> list[Check]:
        """Look at everything that the job needs."""
        found, database = await self._look()
        checks = [self.alive(), database]
        checks += [self.chat(chat) for chat in self.app.chats.values()]
        if found is not None:
            checks += self.queues(found)
        return checks

    async def _look(self) -> tuple[QueueStatistics | None, Check]:
        """Read and write at the same time: both may take as long as they are let, and Prometheus waits ten seconds."""
        return await asyncio.gather(self.queue_statistics(), self.database())

    async def database(self) -> Check:
        """Write something small."""
        try:
            async with asyncio.timeout(ANSWER_WITHIN_S):
                await self.app.db.run(queue_statistics.write_something, self.app.clock.now())
        except TimeoutError:
            return Check("database", False, f"The database took no change within {ANSWER_WITHIN_S:.0f} s.")
        except (
            Exception
        ) as problem:  # whatever it is: the sentence says it, without the text, which may quote data
            return Check(
                "database",
                False,
                f"The database takes no changes ({type(problem).__name__}). See: holdfast doctor",
            )
        return Check("database", True, "The database takes changes.")

    def chat(self, chat: Chat) -> Check:
        """Look at what one adapter says about itself."""
        name = f"chat {chat.name}"
        if chat.name in self.app.stopped:
            return Check(name, False, self.app.stopped[chat.name])
        if chat.name in self.app.standing_by:
            return Check(name, True, f"{chat.name}: standing by; another process receives.")
        reception = _reception(chat)
        if reception is not None and reception.problem:
            return Check(name, False, f"{chat.name}: {reception.problem}.")
        breaker = self.app.senders[chat.name].breaker
        if breaker.since is not None:
            sentence = (
                f"{chat.name}: nothing could be sent for {self.age_s(breaker.since):.0f} s: {breaker.reason}."
            )
            return Check(name, False, f"{sentence} Messages wait; one at a time is tried.")
        if reception is None:
            return Check(name, True, f"{chat.name} runs.")
        return self._heard(chat, name, reception)

    def _heard(self, chat: Chat, name: str, reception: Reception) -> Check:
        quiet = self.unheard_s(chat)
        if quiet is None:
            return Check(name, False, f"{chat.name} has not answered since the start.")
        if quiet > UNHEARD_S and not reception.quiet_is_normal:
            return Check(name, False, f"{chat.name} has not answered for {quiet:.0f} s.")
        return Check(name, True, f"{chat.name} answered {quiet:.0f} s ago.")

    def unheard_s(self, chat: Chat) -> float | None:
        """Return for how long an adapter has not heard its platform [real s]; None if it never did, or stands by."""
        reception = _reception(chat)
        if chat.name in self.app.standing_by or reception is None or reception.heard_at is None:
            return None
        return self.age_s(reception.heard_at)

    def queues(self, found: QueueStatistics) -> list[Check]:
        """Look at what waits."""
        outgoing = self._waits("outbox", "messages to send", found.outbox, found.outbox_since)
        if found.held:
            sentence = f"Sending is held: {found.outbox} messages wait. Let them go with: holdfast db release"
            outgoing = Check("outbox", True, sentence)
        return [
            self._waits("inbox", "events to handle", found.inbox, found.inbox_since),
            outgoing,
            self._waits("due", "pieces of work to do", found.due, found.due_since),
        ]

    def _waits(self, name: str, what: str, number: int, since: datetime | None) -> Check:
        age = self.age_s(since)
        good = age <= WAITS_LONG_S
        text = f"{number} {what}" + (f", the oldest for {age:.0f} s." if number else ".")
        return Check(name, good, text)

    def age_s(self, since: datetime | None) -> float:
        """Return how long ago a moment was, in real seconds, also in a rehearsal; 0 for none."""
        if since is None:
            return 0.0
        return max(0.0, (self.app.clock.now() - since).total_seconds() / self.app.clock.speed)

    async def queue_statistics(self) -> QueueStatistics | None:
        """Return what waits; None when the database cannot say so now."""
        with contextlib.suppress(Exception):  # `database` tells that something is wrong, and what
            async with asyncio.timeout(ANSWER_WITHIN_S):
                return await self.app.db.read(queue_statistics.take, self.app.clock.now())
        return None

    # ------------------------------------------------------------ figures

    async def metrics(self) -> bytes:
        """Return everything in Prometheus' text format."""
        found, database = await self._look()
        families = [
            *self._process(),
            *self._chats(),
            _gauge("database_writable", "Whether the database takes changes.", database.good),
            *(self._waiting(found) if found is not None else ()),
        ]
        return generate_latest(self.registry) + generate_latest(_Families(families))

    def _process(self) -> Iterator[Metric]:
        counters = self.app.counters
        info = GaugeMetricFamily("holdfast_info", "The program's version.", labels=["version"])
        info.add_metric([self.version], 1)
        yield info
        yield _gauge("worker_quiet_seconds", "Since the worker last went on.", self.worker_quiet_s())
        yield _gauge("data_free_bytes", "Free on the disk of the data folder.", _free(self.data_dir))
        yield _counter("events_handled", "Events from chats that were handled.", counters.handled)
        yield _counter("events_failed", "Attempts at handling an event that failed.", counters.troubled)
        yield _counters("due_work_done", "Due work that was done.", "kind", _by_kind(counters.done))
        yield _counters(
            "due_work_failed", "Attempts at due work that failed.", "kind", _by_kind(counters.failed)
        )
        yield _counters(
            "due_work_given_up", "Due work that is not tried again.", "kind", _by_kind(counters.given_up)
        )

    def _chats(self) -> Iterator[Metric]:
        up = GaugeMetricFamily("holdfast_chat_up", "Whether a platform is heard.", labels=["platform"])
        by = GaugeMetricFamily(
            "holdfast_chat_standing_by", "Whether another process receives.", labels=["platform"]
        )
        quiet = GaugeMetricFamily(
            "holdfast_chat_unheard_seconds", "Since a platform last answered.", labels=["platform"]
        )
        for name, chat in self.app.chats.items():
            up.add_metric([name], float(self.chat(chat).good))
            by.add_metric([name], float(name in self.app.standing_by))
            if (seconds := self.unheard_s(chat)) is not None:
                quiet.add_metric([name], seconds)
        senders = self.app.senders
        interrupted = GaugeMetricFamily(
            "holdfast_sending_interrupted",
            "Whether a platform takes no messages and is only tried with one.",
            labels=["platform"],
        )
        for name, sender in senders.items():
            interrupted.add_metric([name], float(sender.breaker.is_open))
        sent = {name: sender.sent for name, sender in senders.items()}
        failed = {name: sender.failed for name, sender in senders.items()}
        yield from (up, by, quiet, interrupted)
        yield _counters("messages_sent", "Messages that a platform took.", "platform", sent)
        yield _counters("messages_failed", "Attempts at sending that failed.", "platform", failed)

    def _waiting(self, found: QueueStatistics) -> Iterator[Metric]:
        yield _gauge("inbox_waiting", "Events to handle.", found.inbox)
        yield _gauge("inbox_oldest_seconds", "Since the oldest event came in.", self.age_s(found.inbox_since))
        yield _gauge("outbox_waiting", "Messages whose moment has come.", found.outbox)
        yield _gauge(
            "outbox_oldest_seconds", "Since the oldest of them is due.", self.age_s(found.outbox_since)
        )
        yield _gauge("due_waiting", "Work whose moment has come.", found.due)
        yield _gauge("due_oldest_seconds", "Since the oldest of it is due.", self.age_s(found.due_since))
        yield _gauge("nudges_planned", "Nudges still to be sent.", found.nudges_planned)
        yield _gauge("nudges_overdue", "Nudges whose moment has come.", found.nudges_overdue)
        yield _gauge("answers_last_hour", "Answers of students within the last hour.", found.answers_recent)
        yield _gauge("sending_held", "Whether sending is held, as in a restored copy.", found.held)
        if found.backed_up_at is not None:
            yield _gauge("backup_age_seconds", "Since the last backup.", self.age_s(found.backed_up_at))


_GOES_ON = "The worker went on {:.0f} s ago."
_STANDS = "The worker has stood still for {:.0f} s. Restart the bot; nothing is lost."


@dataclass(frozen=True)
class _Families:
    """Metrics of one moment, in the shape in which `generate_latest` takes a registry."""

    families: Sequence[Metric]

    def collect(self) -> Iterator[Metric]:
        return iter(self.families)


def _gauge(name: str, text: str, value: float) -> Metric:
    return GaugeMetricFamily(f"holdfast_{name}", text, value=float(value))


def _counter(name: str, text: str, value: int) -> Metric:
    return CounterMetricFamily(f"holdfast_{name}", text, value=value)


def _counters(name: str, text: str, label: str, values: Mapping[str, int]) -> Metric:
    family = CounterMetricFamily(f"holdfast_{name}", text, labels=[label])
    for key, value in values.items():
        family.add_metric([key], value)
    return family


def _by_kind(counted: Mapping[str, int]) -> dict[str, int]:
    """Return a count of every kind of work, from the start: the first of a figure that was not there is no increase."""
    return {kind: counted.get(kind, 0) for kind in sorted(kinds() | counted.keys())}


def _reception(chat: Chat) -> Reception | None:
    asked = chat.capabilities.reception
    return None if asked is None else asked()


def _free(folder: Path) -> float:
    return float(shutil.disk_usage(folder if folder.exists() else folder.parent).free)


# ---------------------------------------------------------------- serving


def routes(health: Health) -> web.Application:
    """Return the three pages."""

    async def healthz(_request: web.Request) -> web.Response:
        return _page([health.alive()])

    async def readyz(_request: web.Request) -> web.Response:
        return _page(await health.ready())

    async def metrics(_request: web.Request) -> web.Response:
        return web.Response(body=await health.metrics(), headers={"Content-Type": CONTENT_TYPE_LATEST})

    pages = web.Application()
    pages.add_routes([web.get("/healthz", healthz), web.get("/readyz", readyz), web.get("/metrics", metrics)])
    return pages


def _page(checks: Sequence[Check]) -> web.Response:
    good = all(check.good for check in checks)
    told = {check.name: {"good": check.good, "says": check.sentence} for check in checks}
    return web.json_response({"good": good, "checks": told}, status=200 if good else 503)


@contextlib.asynccontextmanager
async def serving(listen: str, health: Health) -> AsyncIterator[str]:
    """Serve the pages on ``host:port`` while the block runs; yields the address, with the port that was taken.

    Raises
    ------
    SettingsError
        Nobody can listen there.
    """
    host, _, port = listen.rpartition(":")
    runner = web.AppRunner(routes(health), access_log=None)
    await runner.setup()
    try:
        site = web.TCPSite(runner, host.strip("[]") or "127.0.0.1", int(port))
        try:
            await site.start()
        except OSError as error:
            raise SettingsError(
                f"HOLDFAST_HEALTH_LISTEN: {listen} cannot be listened on ({error.strerror}). Choose another "
                "port, or see who has it with: ss -ltnp"
            ) from None
        taken = runner.addresses[0]
        yield f"http://{host}:{taken[1]}"
    finally:
        await runner.cleanup()
