"""A Bot API server of our own, on this machine, as strict as the published documentation.

It checks every request (`tests.servers.botapi_rules`), keeps chats, people and messages, delivers updates by
polling or webhook as Telegram does, and fails on order: 429, 5xx, cut connections before or after the
request was carried out, answers that never come, updates that come again. The methods of `BotApi` named
after what people do (`say`, `press`, `post`, `block`) are the other side of the phone.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import random
import socket
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

import aiohttp
from aiohttp import web

from tests.servers.botapi_rules import (
    METHODS,
    Parsed,
    Upload,
    Wrong,
    checked,
    checked_caption,
    checked_text,
    units,
)

TOKEN = "123456789:local-test-token_of_no_value_AAAAAA"
BOT_ID = 123456789
USERNAME = "holdfast_test_bot"

FaultKind = Literal[
    "flood", "status", "cut_before", "cut_after", "silent_before", "silent_after", "garbage", "page"
]


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that goes wrong with one call.

    ``*_before``: the request is not carried out. ``*_after``: it is, and the answer is lost.
    ``silent``: the connection stays open without an answer until the server closes. ``page``: something in between
    answers with its status and a body of its own, HTML or nothing.
    """

    kind: FaultKind
    retry_after: int = 1
    status: int = 500
    description: str = "Internal Server Error"


@dataclass
class Call:
    """A request that arrived, when [s], and what became of it."""

    method: str
    values: dict[str, Any]
    ok: bool = False
    description: str = ""
    at_s: float = field(default_factory=time.monotonic)


@dataclass
class Person:
    """Somebody with a phone."""

    id: int
    first_name: str
    language_code: str | None = "en"

    def as_json(self) -> dict[str, Any]:
        """The object ``User``."""
        user = {"id": self.id, "is_bot": False, "first_name": self.first_name}
        return user | ({"language_code": self.language_code} if self.language_code else {})


@dataclass
class Sent:
    """A message in a chat."""

    message_id: int
    chat: Place
    date: datetime
    sender: dict[str, Any] | None
    parsed: Parsed
    keyboard: list[list[dict[str, Any]]] = field(default_factory=list)
    photo: str = ""
    document: str = ""
    by_bot: bool = False
    edits: int = 0
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """Its text or caption, without markup."""
        return self.parsed.text

    @property
    def buttons(self) -> list[str]:
        """Labels of its buttons."""
        return [button["text"] for row in self.keyboard for button in row]


@dataclass
class Place:
    """A chat: private, group, supergroup or channel."""

    id: int
    type: str
    title: str = ""
    open: bool = True
    status: str = "member"
    may_write: bool = True
    moved_to: int = 0
    messages: dict[int, Sent] = field(default_factory=dict)
    menu: list[dict[str, str]] | None = None
    last_id: int = 0

    def as_json(self) -> dict[str, Any]:
        """The object ``Chat``."""
        return {"id": self.id, "type": self.type} | ({"title": self.title} if self.title else {})


class Refused(Exception):
    """A request that is well formed and cannot be carried out."""

    def __init__(self, code: int, description: str, **parameters: int) -> None:
        super().__init__(description)
        self.code = code
        self.description = description
        self.parameters = parameters


class _Cut(Exception):
    """Close the connection without a word."""


@dataclass
class PublishedPace:
    """The rates of the Bots FAQ: about 30/s overall, 1/s per chat (short bursts pass), 20 a minute per group."""

    overall: int = 30
    burst: int = 5
    group_minute: int = 20
    _sent: deque[tuple[float, int]] = field(default_factory=deque)

    def wait_s(self, chat_id: int, now_s: float) -> int:
        """Seconds to wait, 0 if the message may go."""
        while self._sent and now_s - self._sent[0][0] > 60:
            self._sent.popleft()
        last_second = [s for s in self._sent if now_s - s[0] < 1]
        own = [s for s in self._sent if s[1] == chat_id]
        too_many = len(last_second) >= self.overall
        too_many |= chat_id > 0 and len([s for s in own if now_s - s[0] < self.burst]) >= self.burst
        too_many |= chat_id < 0 and len(own) >= self.group_minute
        if too_many:
            return 3
        self._sent.append((now_s, chat_id))
        return 0


class BotApi:
    """The server. Use as an asynchronous context manager; `url` is what ``HOLDFAST_TELEGRAM_API_URL`` takes."""

    def __init__(self, *, now: Callable[[], datetime] | None = None, port: int = 0) -> None:
        self.token = TOKEN
        self.now = now or (lambda: datetime.now(UTC))
        self.calls: list[Call] = []
        self.violations: list[str] = []
        self.people: dict[int, Person] = {}
        self.places: dict[int, Place] = {}
        self.newcomers_menus: dict[str, list[dict[str, str]]] = {}
        self.files: dict[str, bytes] = {}
        self.file_names: dict[str, str] = {}
        self.pace: PublishedPace | None = None
        self.chance: Callable[[str], Fault | None] = lambda method: None
        self.repeat_share = 0.0
        self.reads_groups = False
        self.rng = random.Random(0)
        self.presses: dict[str, bool] = {}
        self.acknowledged = 0
        self._faults: dict[str, deque[Fault]] = {}
        self._pending: deque[dict[str, Any]] = deque()
        self._last_update = 1000
        self._last_file = 0
        self._news = asyncio.Condition()
        self._poll = 0
        self._webhook: dict[str, Any] = {}
        self._closing = asyncio.Event()
        self._port = port
        self._tasks: list[asyncio.Task[None]] = []
        self._runner: web.AppRunner | None = None

    # ------------------------------------------------------------ life

    async def __aenter__(self) -> BotApi:
        app = web.Application(client_max_size=60_000_000)
        app.router.add_route("*", "/bot{token}/{method}", self._handle)
        app.router.add_get("/file/bot{token}/{path:.*}", self._download)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.5)
        await self._runner.setup()
        site = web.TCPSite(self._runner, "127.0.0.1", self._port, reuse_address=True)
        await site.start()
        server: Any = site._server
        self._port = server.sockets[0].getsockname()[1]
        self._tasks.append(asyncio.create_task(self._bring()))
        return self

    async def __aexit__(self, *_: object) -> None:
        self._closing.set()
        async with self._news:
            self._news.notify_all()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self._runner is not None:
            await self._runner.cleanup()

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self._port}"

    # ------------------------------------------------------------ what people do

    def person(self, user_id: int, first_name: str, language_code: str | None = "en") -> Person:
        """Somebody gets a phone. The bot may not write to them before they wrote."""
        person = Person(user_id, first_name, language_code)
        self.people[user_id] = person
        self.places[user_id] = Place(user_id, "private", open=False)
        return person

    def group(self, chat_id: int, title: str, kind: str = "group") -> Place:
        """A group (``supergroup``, ``channel``) that the bot is in."""
        place = Place(chat_id, kind, title, status="administrator" if kind == "channel" else "member")
        self.places[chat_id] = place
        return place

    def say(self, user_id: int, text: str, *, chat_id: int = 0, reply_to: int = 0, **extra: Any) -> Sent:
        """Write a text, in private or in a group."""
        return self._write(user_id, chat_id, Parsed(text), reply_to, extra)

    def post(self, chat_id: int, text: str, signature: str = "") -> Sent:
        """Post in a channel, which names no author."""
        place = self.places[chat_id]
        extra: dict[str, Any] = {"sender_chat": place.as_json()}
        if signature:
            extra["author_signature"] = signature
        sent = self._keep(place, None, Parsed(text), extra=extra)
        self.update("channel_post", self.message_json(sent))
        return sent

    def send_document(
        self,
        user_id: int,
        name: str,
        data: bytes,
        media_type: str = "text/csv",
        caption: str = "",
        chat_id: int = 0,
    ) -> Sent:
        """Send a file."""
        file_id = self._store(data, name)
        document = {
            "file_id": file_id,
            "file_unique_id": f"u{file_id}",
            "file_name": name,
            "mime_type": media_type,
            "file_size": len(data),
        }
        return self._write(user_id, chat_id, Parsed(caption), 0, {"document": document})

    def send_photo(self, user_id: int, data: bytes, caption: str = "", chat_id: int = 0) -> Sent:
        """Send a photo; Telegram makes several sizes of it."""
        sizes = self._photo_sizes(self._store(data, "photo.jpg"), 1280, 960, len(data))
        return self._write(user_id, chat_id, Parsed(caption), 0, {"photo": sizes})

    def press(self, user_id: int, sent: Sent, label: str) -> str:
        """Tap a button by (the start of) its label; returns the id of the query."""
        for row in sent.keyboard:
            for button in row:
                if button["text"].startswith(label):
                    return self.press_data(user_id, sent, button["callback_data"])
        raise AssertionError(f"no button {label!r} among {sent.buttons}")

    def press_data(self, user_id: int, sent: Sent, data: str) -> str:
        """Send callback data, also forged ones."""
        query_id = f"q{self._last_update + 1}"
        self.presses[query_id] = False
        query = {
            "id": query_id,
            "from": self.people[user_id].as_json(),
            "message": self.message_json(sent),
            "chat_instance": str(sent.chat.id),
            "data": data,
        }
        self.update("callback_query", query)
        return query_id

    def block(self, user_id: int) -> None:
        """Block the bot."""
        self._change(self.places[user_id], self.people[user_id], "kicked")
        self.places[user_id].open = False

    def unblock(self, user_id: int) -> None:
        """Let the bot in again."""
        self._change(self.places[user_id], self.people[user_id], "member")
        self.places[user_id].open = True

    def set_bot(self, chat_id: int, status: str, by: int, *, may_write: bool = True) -> None:
        """Somebody changes what the bot is in a group or channel."""
        place = self.places[chat_id]
        self._change(place, self.people[by], status, may_write)
        place.status, place.may_write = status, may_write

    def migrate(self, chat_id: int, new_id: int) -> Place:
        """A group becomes a supergroup."""
        old = self.places[chat_id]
        new = self.group(new_id, old.title, "supergroup")
        old.moved_to = new_id
        sent = self._keep(old, None, Parsed(), extra={"migrate_to_chat_id": new_id})
        self.update("message", self.message_json(sent))
        return new

    def update(self, kind: str, payload: Mapping[str, Any]) -> int:
        """Queue an update of any kind."""
        self._last_update += 1
        self._queue({"update_id": self._last_update, kind: dict(payload)})
        return self._last_update

    def raw_update(self, update: dict[str, Any]) -> None:
        """Queue an update exactly as given, also a repeated or an unreadable one."""
        self._last_update = max(self._last_update, update.get("update_id", 0))
        self._queue(update)

    def _queue(self, update: dict[str, Any]) -> None:
        self._pending.append(update)
        if self.rng.random() < self.repeat_share:
            self._pending.append(update)
        self._tasks.append(asyncio.get_running_loop().create_task(self._tell()))

    async def _tell(self) -> None:
        async with self._news:
            self._news.notify_all()

    def _write(
        self, user_id: int, chat_id: int, parsed: Parsed, reply_to: int, extra: dict[str, Any]
    ) -> Sent:
        place = self.places[chat_id or user_id]
        place.open = True
        key = "caption" if {"photo", "document"} & set(extra) else "text"
        payload: dict[str, Any] = dict(extra)
        if reply_to:
            payload["reply_to_message"] = self.message_json(place.messages[reply_to])
        sent = self._keep(place, self.people[user_id].as_json(), parsed, extra=payload)
        message = self.message_json(sent)
        if key == "caption" and "text" in message:
            message["caption"] = message.pop("text")
        if self._hears(place, parsed.text, reply_to):
            self.update("message", message)
        return sent

    def _hears(self, place: Place, text: str, reply_to: int) -> bool:
        """Privacy mode (Telegram, "Bot Features"): in groups commands and replies only, unless an administrator."""
        private_by_default = place.type in ("group", "supergroup") and not self.reads_groups
        if not private_by_default or place.status == "administrator":
            return True
        return text.startswith("/") or (bool(reply_to) and place.messages[reply_to].by_bot)

    def _change(self, place: Place, by: Person, status: str, may_write: bool = True) -> None:
        self.update(
            "my_chat_member",
            {
                "chat": place.as_json(),
                "from": by.as_json(),
                "date": int(self.now().timestamp()),
                "old_chat_member": _member(place, place.status, place.may_write),
                "new_chat_member": _member(place, status, may_write),
            },
        )
        place.status = status

    # ------------------------------------------------------------ what can be looked at

    def seen_by(self, chat_id: int) -> list[Sent]:
        """The bot's messages in a chat, oldest first."""
        return [sent for sent in self.places[chat_id].messages.values() if sent.by_bot]

    def called(self, method: str) -> list[Call]:
        """Every request for this method."""
        return [call for call in self.calls if call.method == method]

    @property
    def waiting(self) -> int:
        """Updates that the bot has not confirmed."""
        return len(self._pending)

    # ------------------------------------------------------------ what goes wrong

    def fail(self, method: str, fault: Fault, times: int = 1) -> None:
        """Let the next calls of a method (``*``: of any) go wrong."""
        self._faults.setdefault(method, deque()).extend([fault] * times)

    def _fault(self, method: str) -> Fault | None:
        for key in (method, "*"):
            if self._faults.get(key):
                return self._faults[key].popleft()
        return self.chance(method)

    # ------------------------------------------------------------ requests

    async def _handle(self, request: web.Request) -> web.StreamResponse:
        method = request.match_info["method"]
        if request.match_info["token"] != self.token:
            return _answer(401, "Unauthorized")
        if method not in METHODS:
            self.violations.append(f"unknown method {method}")
            return _answer(404, "Not Found")
        call = Call(method, {})
        self.calls.append(call)
        try:
            return await self._answered(request, call)
        except ConnectionResetError:
            return web.Response()  # whoever asked was killed
        except _Cut:
            transport = request.transport
            if transport is None:
                return web.Response()
            # RST, not FIN: the client cannot take it for an answer.
            sock = transport.get_extra_info("socket")
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\x00\x00\x00\x00\x00\x00\x00")
            transport.abort()
            return web.Response()

    async def _answered(self, request: web.Request, call: Call) -> web.Response:
        fault = self._fault(call.method)
        raw, files = await _form(request)
        await self._before(fault)
        try:
            result = await self._carry_out(call, raw, files)
        except Wrong as wrong:
            self.violations.append(f"{call.method}: {wrong}")
            call.description = f"Bad Request: {wrong}"
            return _answer(400, call.description)
        except Refused as refused:
            call.description = refused.description
            return _answer(refused.code, refused.description, refused.parameters)
        call.ok = True
        if fault is not None and fault.kind == "garbage":
            return web.Response(body=b"<html>proxy</html>", content_type="text/html")
        await self._after(fault)
        return web.json_response({"ok": True, "result": result})

    async def _before(self, fault: Fault | None) -> None:
        match fault:
            case Fault(kind="flood"):
                raise_later = fault.retry_after
                text = f"Too Many Requests: retry after {raise_later}"
                raise web.HTTPTooManyRequests(
                    text=json.dumps(_error(429, text, {"retry_after": raise_later})),
                    content_type="application/json",
                )
            case Fault(kind="status"):
                raise _http(fault.status, fault.description)
            case Fault(kind="page"):
                raise _page(fault.status, fault.description)
            case Fault(kind="cut_before"):
                raise _Cut
            case Fault(kind="silent_before"):
                await self._closing.wait()
                raise _Cut

    async def _after(self, fault: Fault | None) -> None:
        if fault is not None and fault.kind == "silent_after":
            await self._closing.wait()
        if fault is not None and fault.kind in ("cut_after", "silent_after"):
            raise _Cut

    async def _carry_out(self, call: Call, raw: dict[str, str], files: dict[str, Upload]) -> Any:
        call.values = checked(call.method, raw, files)
        action = getattr(self, f"_{call.method}")
        result = action(call.values)
        return await result if asyncio.iscoroutine(result) else result

    async def _download(self, request: web.Request) -> web.Response:
        data = self.files.get(request.match_info["path"].rpartition("/")[2])
        if request.match_info["token"] != self.token or data is None:
            return _answer(404, "Not Found")
        fault = self._fault("download")
        if fault is not None and fault.kind == "status":
            return _answer(fault.status, fault.description)
        return web.Response(body=data)

    # ------------------------------------------------------------ methods: updates

    def _getMe(self, values: dict[str, Any]) -> dict[str, Any]:
        return {
            "id": BOT_ID,
            "is_bot": True,
            "first_name": "Holdfast",
            "username": USERNAME,
            "can_join_groups": True,
            "can_read_all_group_messages": self.reads_groups,
            "supports_inline_queries": False,
        }

    async def _getUpdates(self, values: dict[str, Any]) -> list[dict[str, Any]]:
        if self._webhook:
            raise Refused(
                409,
                "Conflict: can't use getUpdates method while webhook is active; "
                "use deleteWebhook to delete the webhook first",
            )
        if not values.get("allowed_updates"):
            raise Wrong("allowed_updates: name the kinds each time, the server remembers the last list")
        self._confirm(values.get("offset", 0))
        self._poll += 1
        mine = self._poll
        await self._wait_for_news(mine, values.get("timeout", 0))
        if self._poll != mine:
            raise Refused(
                409,
                "Conflict: terminated by other getUpdates request; make sure that only one bot instance is running",
            )
        kinds = set(values["allowed_updates"])
        wanted = [u for u in self._pending if set(u) & kinds or len(u) == 1]
        return wanted[: values.get("limit", 100)]

    def _confirm(self, offset: int) -> None:
        before = len(self._pending)
        self._pending = deque(u for u in self._pending if u.get("update_id", 0) >= offset)
        self.acknowledged += before - len(self._pending)

    async def _wait_for_news(self, mine: int, timeout_s: int) -> None:
        async with self._news:
            self._news.notify_all()  # an older poller learns that it was replaced
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(timeout_s):
                    await self._news.wait_for(
                        lambda: self._pending or self._poll != mine or self._closing.is_set()
                    )

    def _setWebhook(self, values: dict[str, Any]) -> bool:
        loopback = values["url"].startswith("http://127.0.0.1:")
        if values["url"] and not (values["url"].startswith("https://") or loopback):
            raise Refused(400, "Bad Request: bad webhook: An HTTPS URL must be provided for webhook")
        self._webhook = values if values["url"] else {}
        self._tasks.append(asyncio.get_running_loop().create_task(self._tell()))
        return True

    def _deleteWebhook(self, values: dict[str, Any]) -> bool:
        if values.get("drop_pending_updates"):
            raise Wrong("drop_pending_updates loses what students said")
        self._webhook = {}
        return True

    async def _bring(self) -> None:
        """Deliver to the webhook, one after the other, again until it is taken."""
        async with aiohttp.ClientSession() as client:
            while True:
                async with self._news:
                    await self._news.wait_for(lambda: self._webhook and self._pending)
                update = self._pending[0]
                if await self._bring_one(client, update):
                    with contextlib.suppress(ValueError):
                        self._pending.remove(update)
                    self.acknowledged += 1
                else:
                    await asyncio.sleep(0.05)

    async def _bring_one(self, client: aiohttp.ClientSession, update: dict[str, Any]) -> bool:
        headers = {"X-Telegram-Bot-Api-Secret-Token": self._webhook.get("secret_token", "")}
        try:
            async with client.post(self._webhook["url"], json=update, headers=headers) as answer:
                return 200 <= answer.status < 300
        except aiohttp.ClientError:
            return False

    # ------------------------------------------------------------ methods: messages

    def _sendMessage(self, values: dict[str, Any]) -> dict[str, Any]:
        place = self._writable(values)
        parsed = checked_text(values["text"], values.get("parse_mode"))
        return self.message_json(self._keep(place, self._getMe({}), parsed, values, by_bot=True))

    def _sendPhoto(self, values: dict[str, Any]) -> dict[str, Any]:
        place = self._writable(values)
        parsed = checked_caption(values.get("caption", ""), values.get("parse_mode"))
        photo = self._photo(values["photo"])
        sent = self._keep(place, self._getMe({}), parsed, values, by_bot=True)
        sent.photo = photo
        return self.message_json(sent)

    def _sendDocument(self, values: dict[str, Any]) -> dict[str, Any]:
        place = self._writable(values)
        parsed = checked_caption(values.get("caption", ""), values.get("parse_mode"))
        document = self._document(values["document"])
        sent = self._keep(place, self._getMe({}), parsed, values, by_bot=True)
        sent.document = document
        return self.message_json(sent)

    def _editMessageText(self, values: dict[str, Any]) -> dict[str, Any]:
        sent = self._editable(values)
        if sent.photo or sent.document:
            raise Refused(400, "Bad Request: there is no text in the message to edit")
        if "text" not in values:
            raise Wrong("text is missing")
        return self._changed(sent, checked_text(values["text"], values.get("parse_mode")), values)

    def _editMessageCaption(self, values: dict[str, Any]) -> dict[str, Any]:
        sent = self._editable(values)
        if not (sent.photo or sent.document):
            raise Refused(400, "Bad Request: there is no caption in the message to edit")
        return self._changed(
            sent, checked_caption(values.get("caption", ""), values.get("parse_mode")), values
        )

    def _editMessageReplyMarkup(self, values: dict[str, Any]) -> dict[str, Any]:
        sent = self._editable(values)
        return self._changed(sent, sent.parsed, values)

    def _editMessageMedia(self, values: dict[str, Any]) -> dict[str, Any]:
        sent, media = self._editable(values), values["media"]
        parsed = checked_caption(media.get("caption") or "", media.get("parse_mode"))
        photo = self._photo(media["media"]) if media["type"] == "photo" else ""
        document = self._document(media["media"]) if media["type"] == "document" else ""
        same_file = (photo, document) == (sent.photo, sent.document)
        sent.photo, sent.document = photo, document
        return self._changed(sent, parsed, values, same_file=same_file)

    def _changed(
        self, sent: Sent, parsed: Parsed, values: dict[str, Any], *, same_file: bool = True
    ) -> dict[str, Any]:
        keyboard = values.get("reply_markup", {}).get("inline_keyboard", [])
        if same_file and (parsed, keyboard) == (sent.parsed, sent.keyboard):
            raise Refused(
                400,
                "Bad Request: message is not modified: specified new message content and reply markup are exactly "
                "the same as a current content and reply markup of the message",
            )
        sent.parsed, sent.keyboard = parsed, keyboard
        sent.edits += 1
        return self.message_json(sent)

    def _answerCallbackQuery(self, values: dict[str, Any]) -> bool:
        if units(values.get("text", "")) > 200:
            raise Wrong("MESSAGE_TOO_LONG")
        query = values["callback_query_id"]
        if self.presses.get(query) is not False:
            raise Refused(
                400, "Bad Request: query is too old and response timeout expired or query ID is invalid"
            )
        self.presses[query] = True
        return True

    # ------------------------------------------------------------ methods: files and menus

    def _getFile(self, values: dict[str, Any]) -> dict[str, Any]:
        file_id = values["file_id"]
        if file_id not in self.files:
            raise Refused(400, "Bad Request: wrong file_id or the file is temporarily unavailable")
        size = len(self.files[file_id])
        if size > 20_000_000:
            raise Refused(400, "Bad Request: file is too big")
        return {
            "file_id": file_id,
            "file_unique_id": f"u{file_id}",
            "file_size": size,
            "file_path": f"documents/{file_id}",
        }

    def _setMyCommands(self, values: dict[str, Any]) -> bool:
        if values.get("scope", {}).get("type") == "all_private_chats":
            self.newcomers_menus[values.get("language_code", "")] = values["commands"]
            return True
        self._scope(values).menu = values["commands"]
        return True

    def _deleteMyCommands(self, values: dict[str, Any]) -> bool:
        self._scope(values).menu = None
        return True

    def _scope(self, values: dict[str, Any]) -> Place:
        place = self.places.get(values.get("scope", {}).get("chat_id"))
        if place is None or (place.type == "private" and not place.messages):
            raise Refused(400, "Bad Request: chat not found")
        return place

    # ------------------------------------------------------------ helpers

    def _writable(self, values: dict[str, Any]) -> Place:
        place = self.places.get(values["chat_id"])
        if place is None:
            raise Refused(400, "Bad Request: chat not found")
        if place.moved_to:
            raise Refused(
                400,
                "Bad Request: group chat was upgraded to a supergroup chat",
                migrate_to_chat_id=place.moved_to,
            )
        self._permitted(place)
        wait_s = 0
        if self.pace is not None:
            wait_s = self.pace.wait_s(place.id, asyncio.get_running_loop().time())
        if wait_s:
            raise Refused(429, f"Too Many Requests: retry after {wait_s}", retry_after=wait_s)
        return place

    @staticmethod
    def _permitted(place: Place) -> None:
        if place.type == "private":
            if place.status == "kicked":
                raise Refused(403, "Forbidden: bot was blocked by the user")
            if not place.open:
                raise Refused(403, "Forbidden: bot can't initiate conversation with a user")
        elif place.status in ("left", "kicked"):
            raise Refused(403, f"Forbidden: bot was kicked from the {place.type} chat")
        elif not place.may_write:
            raise Refused(400, "Bad Request: not enough rights to send text messages to the chat")

    def _editable(self, values: dict[str, Any]) -> Sent:
        if "chat_id" not in values or "message_id" not in values:
            raise Wrong("message identifier is not specified")
        place = self.places.get(values["chat_id"])
        if place is None:
            raise Refused(400, "Bad Request: chat not found")
        if place.moved_to:
            raise Refused(
                400,
                "Bad Request: group chat was upgraded to a supergroup chat",
                migrate_to_chat_id=place.moved_to,
            )
        self._permitted(place)
        sent = place.messages.get(values["message_id"])
        if sent is None:
            raise Refused(400, "Bad Request: message to edit not found")
        if not sent.by_bot:
            raise Refused(400, "Bad Request: message can't be edited")
        return sent

    def _keep(
        self,
        place: Place,
        sender: dict[str, Any] | None,
        parsed: Parsed,
        values: dict[str, Any] | None = None,
        *,
        extra: dict[str, Any] | None = None,
        by_bot: bool = False,
    ) -> Sent:
        place.last_id += 1
        keyboard = (values or {}).get("reply_markup", {}).get("inline_keyboard", [])
        sent = Sent(
            place.last_id, place, self.now(), sender, parsed, keyboard, by_bot=by_bot, extra=extra or {}
        )
        place.messages[sent.message_id] = sent
        return sent

    def message_json(self, sent: Sent) -> dict[str, Any]:
        """The object ``Message``."""
        message: dict[str, Any] = {
            "message_id": sent.message_id,
            "date": int(sent.date.timestamp()),
            "chat": sent.chat.as_json(),
            **sent.extra,
        }
        if sent.sender:
            message["from"] = sent.sender
        has_file = bool(sent.photo or sent.document)
        if sent.text:
            message["caption" if has_file else "text"] = sent.text
        if sent.parsed.entities:
            message["caption_entities" if has_file else "entities"] = sent.parsed.entities
        if sent.keyboard:
            message["reply_markup"] = {"inline_keyboard": sent.keyboard}
        if sent.photo:
            message["photo"] = self._photo_sizes(sent.photo, 600, 450, len(self.files[sent.photo]))
        if sent.document:
            message["document"] = {
                "file_id": sent.document,
                "file_unique_id": f"u{sent.document}",
                "file_name": self.file_names[sent.document],
            }
        return message

    def _photo_sizes(self, file_id: str, width: int, height: int, size: int) -> list[dict[str, Any]]:
        small = f"small-{file_id}"
        self.files.setdefault(small, b"small")
        return [
            {"file_id": small, "file_unique_id": f"u{small}", "width": 90, "height": 67, "file_size": 5},
            {
                "file_id": file_id,
                "file_unique_id": f"u{file_id}",
                "width": width,
                "height": height,
                "file_size": size,
            },
        ]

    def _store(self, data: bytes, name: str) -> str:
        self._last_file += 1
        file_id = f"AgAC{self._last_file:06d}"
        self.files[file_id] = data
        self.file_names[file_id] = name
        return file_id

    def forget_files(self) -> None:
        """Make every file identifier stale."""
        self.files.clear()

    def _photo(self, photo: Upload | str) -> str:
        """Sending files: at most 10 MB, width and height 10000 in total, ratio at most 20."""
        if isinstance(photo, str):
            return self._known(photo)
        if len(photo.data) > 10_000_000:
            raise Refused(400, "Bad Request: file is too big")
        width, height = _size(photo.data)
        if width + height > 10_000 or max(width, height) > 20 * min(width, height):
            raise Refused(400, "Bad Request: PHOTO_INVALID_DIMENSIONS")
        return self._store(photo.data, photo.name)

    def _document(self, document: Upload | str) -> str:
        if isinstance(document, str):
            return self._known(document)
        if len(document.data) > 50_000_000 or not document.data:
            raise Refused(400, "Bad Request: file must be non-empty and at most 50 MB")
        return self._store(document.data, document.name)

    def _known(self, file_id: str) -> str:
        if file_id not in self.files:
            raise Refused(
                400,
                "Bad Request: wrong remote file identifier specified: can't unserialize it. Wrong last symbol",
            )
        return file_id


def _size(data: bytes) -> tuple[int, int]:
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data)) as image:
            return image.size
    except UnidentifiedImageError:
        raise Refused(400, "Bad Request: IMAGE_PROCESS_FAILED") from None


def _member(place: Place, status: str, may_write: bool) -> dict[str, Any]:
    bot = {"id": BOT_ID, "is_bot": True, "first_name": "Holdfast", "username": USERNAME}
    member: dict[str, Any] = {"status": status, "user": bot}
    if status == "kicked":
        member["until_date"] = 0
    if status == "administrator":
        rights = (
            "manage_chat",
            "delete_messages",
            "manage_video_chats",
            "restrict_members",
            "promote_members",
        )
        more = ("change_info", "invite_users", "post_stories", "edit_stories", "delete_stories")
        member |= {f"can_{right}": False for right in (*rights, *more)}
        member |= {"can_be_edited": False, "is_anonymous": False}
        if place.type == "channel":
            member["can_post_messages"] = may_write
    if status == "restricted":
        kinds = ("audios", "documents", "photos", "videos", "video_notes", "voice_notes", "polls")
        member |= {f"can_send_{kind}": may_write for kind in (*kinds, "messages", "other_messages")}
        more = ("add_web_page_previews", "change_info", "invite_users", "pin_messages", "manage_topics")
        member |= {f"can_{right}": False for right in more}
        member |= {"is_member": True, "until_date": 0, "can_react_to_messages": True, "can_edit_tag": False}
    return member


async def _form(request: web.Request) -> tuple[dict[str, str], dict[str, Upload]]:
    """Read fields from the address, a form, or JSON."""
    raw = {name: str(value) for name, value in request.query.items()}
    files: dict[str, Upload] = {}
    if request.method == "POST":
        for name, value in (await request.post()).items():
            if isinstance(value, web.FileField):
                files[name] = Upload(value.filename, value.file.read())
            else:
                raw[name] = str(value)
    return raw, files


def _error(code: int, description: str, parameters: Mapping[str, int] | None = None) -> dict[str, Any]:
    body: dict[str, Any] = {"ok": False, "error_code": code, "description": description}
    return body | ({"parameters": dict(parameters)} if parameters else {})


def _answer(code: int, description: str, parameters: Mapping[str, int] | None = None) -> web.Response:
    return web.json_response(_error(code, description, parameters), status=code)


def _http(status: int, description: str) -> web.HTTPException:
    class Failure(web.HTTPException):
        status_code = status

    return Failure(text=json.dumps(_error(status, description)), content_type="application/json")


def _page(status: int, body: str) -> web.HTTPException:
    class Page(web.HTTPException):
        status_code = status

    return Page(text=body, content_type="text/html")


def random_faults(rng: random.Random, share: float) -> Callable[[str], Fault | None]:
    """Let this share of all calls fail in one of the ways that networks and servers do."""
    kinds = (
        Fault("flood", retry_after=1),
        Fault("status", status=500),
        Fault("status", status=502, description="Bad Gateway"),
        Fault("cut_before"),
        Fault("cut_after"),
    )
    return lambda method: rng.choice(kinds) if rng.random() < share else None
