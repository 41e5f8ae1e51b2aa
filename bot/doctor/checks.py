"""What is right and what is not, in plain words, before the program is started."""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

from bot.doctor.findings import SYNAPSE_LIMITS, CheckResult
from bot.extras import lacking
from bot.settings import PREFIX, Settings
from storage.base.database import Database, connect, is_sqlite_file, parse_url, sqlite_path
from storage.base.errors import StorageError
from storage.queue import queue_statistics

LEAST_FREE_BYTES = 200_000_000
BACKUP_AGE = timedelta(days=7)
TICKS_S = (0.5, 120.0)
"""Work that is due waits for the next tick; shorter ones only warm the processor [s]."""
PACES = (1.0, 30.0)
"""Messages a second: fewer and a class waits, more and the platform refuses them (Bot API FAQ: about 30)."""
WEBHOOK_PORTS = (443, 80, 88, 8443)
"""Ports to which Telegram sends (Bot API, setWebhook)."""
EVERYWHERE = {"0.0.0.0", "::", "[::]", "*"}  # noqa: S104 - to be noticed, not to be bound


def examine(settings: Settings, now: datetime, *, offline: bool = False) -> list[CheckResult]:
    """Look at everything that can be looked at without changing anything or writing to anybody.

    Parameters
    ----------
    settings : Settings
        What was set.
    now : datetime
        This machine's clock.
    offline : bool
        Ask no platform.
    """
    chats = list(_chats(settings))
    findings = [
        *_environment(),
        *_folder(settings.data_dir),
        *_database(settings.database, now),
        *_speeds(settings),
        *_health(settings),
        *_fonts(),
        *chats,
    ]
    if offline:
        return [
            *findings,
            CheckResult("note", "No platform was asked (--offline): tokens and addresses may be wrong."),
        ]
    if any(finding.wrong for finding in chats):
        return findings
    from bot.doctor.platforms import platforms  # an HTTP client: not for those who ask nobody

    return [*findings, *platforms(settings, now, _kept_token(settings))]


def _environment() -> Iterator[CheckResult]:
    known = {PREFIX + name.upper() for name in Settings.model_fields} | {
        PREFIX + "SETTINGS",
        PREFIX + "TRACEBACK",
    }
    for name in sorted(name for name in os.environ if name.startswith(PREFIX) and name not in known):
        yield CheckResult("note", f"The environment has {name}, which is no setting. See: holdfast init -")


def _folder(folder: Path) -> Iterator[CheckResult]:
    if not folder.exists():
        yield CheckResult(
            "note", f"The data folder {folder} is not there yet; it is made at the first start."
        )
        return
    if not os.access(folder, os.W_OK | os.X_OK):
        yield CheckResult(
            "wrong", f"The data folder {folder} cannot be written to. Give it to the user who runs the bot."
        )
        return
    free = shutil.disk_usage(folder).free
    if free < LEAST_FREE_BYTES:
        yield CheckResult("wrong", f"Only {free // 1_000_000} MB are free in {folder}. Free at least 200 MB.")
    if folder.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield CheckResult(
            "note", f"Others can look into {folder}, which holds students' data. Run: chmod 700 {folder}"
        )
    yield CheckResult("good", f"The data folder {folder} can be written to.")


def _database(url: str, now: datetime) -> Iterator[CheckResult]:
    try:
        place = parse_url(url)
        shown = place.render_as_string(hide_password=True)
        if is_sqlite_file(place) and not sqlite_path(place).exists():
            yield CheckResult("wrong", f"There is no database {shown} yet. Make it with: holdfast db upgrade")
            return
        database = connect(url, read_only=True)
    except StorageError as error:
        yield CheckResult("wrong", str(error))
        return
    try:
        yield from _content(database, shown, now)
    finally:
        database.close()
    if is_sqlite_file(place):
        yield from _modes(sqlite_path(place))


_MEND = "Stop the bot, keep the file, and restore the last backup into an empty place: holdfast restore FILE"


def _content(database: Database, shown: str, now: datetime) -> Iterator[CheckResult]:
    broken = database.damage()
    if broken is not None:
        yield CheckResult("wrong", f"The database {shown} is damaged ({broken}). {_MEND}")
        return
    yield CheckResult("good", f"The database {shown} answers, is whole and has this program's tables.")
    with database.reading() as session:
        found, counts = queue_statistics.take(session, now), queue_statistics.counts(session)
    if found.held:
        yield CheckResult(
            "wrong",
            "The database is a restored or moved copy: it receives, but sends nothing. Once the original does not run "
            "any more: holdfast db release",
        )
    if counts["people"]:
        yield from _backup(found.backed_up_at, now)


def _backup(saved: datetime | None, now: datetime) -> Iterator[CheckResult]:
    if saved is None:
        yield CheckResult(
            "note", "The database was never saved. Do it every day: holdfast backup FOLDER --keep 14"
        )
    elif now - saved > BACKUP_AGE:
        yield CheckResult(
            "note",
            f"The database was last saved on {saved:%Y-%m-%d}, {(now - saved).days} days ago. Do it every day: "
            "holdfast backup FOLDER --keep 14",
        )


def _modes(path: Path) -> Iterator[CheckResult]:
    for file in (path, path.with_name(f"{path.name}-wal")):
        if file.exists() and _others_may(file):
            yield CheckResult(
                "note", f"Others can read {file}, which holds students' data. Run: chmod 600 {file}"
            )


def _others_may(path: Path) -> bool:
    return bool(path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO))


def _speeds(settings: Settings) -> Iterator[CheckResult]:
    low, high = TICKS_S
    if not low <= settings.tick_s <= high:
        yield CheckResult(
            "wrong",
            f'{PREFIX}TICK_S is "{settings.tick_s:g}". So often or so seldom would be looked at what is due; use '
            f"{low:g} to {high:g} seconds (15 is the default).",
        )
    low, high = PACES
    if not low <= settings.messages_per_second <= high:
        yield CheckResult(
            "wrong",
            f'{PREFIX}MESSAGES_PER_SECOND is "{settings.messages_per_second:g}". Fewer than {low:g} keep a class '
            f"waiting, more than {high:g} are refused by the platform (25 is the default).",
        )


def _health(settings: Settings) -> Iterator[CheckResult]:
    host = settings.health_listen.rpartition(":")[0]
    if host in EVERYWHERE:
        yield CheckResult(
            "note",
            f'{PREFIX}HEALTH_LISTEN is "{settings.health_listen}", so every machine that reaches this one can read '
            "the health page, which asks no password. Outside a container use 127.0.0.1:9100",
        )


def _fonts() -> Iterator[CheckResult]:
    from matplotlib import font_manager

    try:
        font_manager.findfont("DejaVu Sans", fallback_to_default=False)
    except ValueError:
        yield CheckResult(
            "wrong",
            "The font DejaVu Sans, which matplotlib brings, is not there, so no picture can be drawn. Install "
            "matplotlib again, or the font (on Debian: apt-get install fonts-dejavu-core).",
        )


def _chats(settings: Settings) -> Iterator[CheckResult]:
    if settings.telegram_token is None and not settings.matrix_homeserver:
        yield CheckResult(
            "wrong",
            f"No chat is set up. Set {PREFIX}TELEGRAM_TOKEN or {PREFIX}MATRIX_HOMESERVER, "
            "or try it without an account: holdfast demo",
        )
    if settings.telegram_token is not None:
        yield from _telegram(settings, settings.telegram_token.get_secret_value())
    if settings.matrix_homeserver:
        yield from _matrix(settings)


def _telegram(settings: Settings, token: str) -> Iterator[CheckResult]:
    number, _, rest = token.partition(":")
    if not (number.isdigit() and len(rest) >= 20):
        yield CheckResult("wrong", f"{PREFIX}TELEGRAM_TOKEN does not look like 123456:ABC… Copy it again.")
    if not _is_web(settings.telegram_api_url):
        yield CheckResult(
            "wrong",
            f'{PREFIX}TELEGRAM_API_URL is "{settings.telegram_api_url}". Write it with https:// in front.',
        )
    if settings.telegram_webhook_url:
        yield from _webhook(settings.telegram_webhook_url)


def _is_web(address: str) -> bool:
    return address.startswith(("https://", "http://")) and bool(urlsplit(address).hostname)


def _webhook(address: str) -> Iterator[CheckResult]:
    try:
        parts = urlsplit(address)
        port = parts.port or 443
    except ValueError:
        parts, port = urlsplit(""), 0
    if parts.scheme != "https" or not parts.hostname:
        yield CheckResult(
            "wrong",
            f'{PREFIX}TELEGRAM_WEBHOOK_URL is "{address}". Telegram sends to https addresses only: write the public '
            "https address of your proxy, or leave it empty and the bot asks for updates itself.",
        )
    elif port not in WEBHOOK_PORTS:
        yield CheckResult(
            "wrong",
            f'{PREFIX}TELEGRAM_WEBHOOK_URL is "{address}". Telegram sends to the ports '
            f"{', '.join(map(str, WEBHOOK_PORTS))} only, not to {port}.",
        )


def _kept_token(settings: Settings) -> str:
    """Return the token of an earlier login to Matrix, which the bot would use; empty if there is none."""
    from bot.chat.matrix.store_folder import read_private

    try:
        return str((read_private(settings.data_dir / "matrix" / "login.json") or {}).get("token", ""))
    except (OSError, ValueError):  # the start names what is wrong with it
        return ""


def _matrix(settings: Settings) -> Iterator[CheckResult]:
    user, server = settings.matrix_user, settings.matrix_homeserver
    if not (user.startswith("@") and user.partition(":")[2]):
        yield CheckResult(
            "wrong", f'{PREFIX}MATRIX_USER is "{user}". Write the full id: @holdfast:school.example'
        )
        return
    if not server.startswith(("https://", "http://")):
        yield CheckResult(
            "wrong", f'{PREFIX}MATRIX_HOMESERVER is "{server}". Write it with https:// in front.'
        )
        return
    missing = lacking("matrix", f"{PREFIX}MATRIX_HOMESERVER is set, and Matrix")
    if missing:
        yield CheckResult("wrong", missing)
    yield CheckResult("good", f"Matrix: {user} on {server}.")
    folder = settings.data_dir / "matrix"
    if not folder.exists():
        yield CheckResult(
            "note", f"Matrix: the folder {folder} with the bot's keys is made at the first start."
        )
    elif folder.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield CheckResult(
            "wrong", f"Others can look into {folder}, which holds the bot's keys. Run: chmod 700 {folder}"
        )
    yield CheckResult(
        "note",
        "Matrix: a homeserver slows a bot down after about ten messages unless its administrator lifts the limit "
        f"for this account. {SYNAPSE_LIMITS}",
    )
