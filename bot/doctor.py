"""What is right and what is not, in plain words, before the program is started."""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bot.settings import PREFIX, Settings
from storage.database import connect, is_sqlite_file, parse_url, sqlite_path
from storage.errors import StorageError

LEAST_FREE_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at. `level` is ``good``, ``note`` or ``wrong``."""

    level: str
    sentence: str

    @property
    def sign(self) -> str:
        """A word, so that nothing depends on colour or on a sign that a font may lack."""
        return {"good": "ok   ", "note": "note ", "wrong": "WRONG"}[self.level]

    @property
    def wrong(self) -> bool:
        """Whether the program cannot run like this."""
        return self.level == "wrong"


def examine(settings: Settings) -> list[Finding]:
    """Look at everything that can be looked at without changing anything or writing to anybody."""
    return [
        *_environment(),
        *_folder(settings.data_dir),
        *_database(settings.database),
        *_chats(settings),
    ]


def _environment() -> Iterator[Finding]:
    known = {PREFIX + name.upper() for name in Settings.model_fields} | {
        PREFIX + "SETTINGS",
        PREFIX + "TRACEBACK",
    }
    for name in sorted(name for name in os.environ if name.startswith(PREFIX) and name not in known):
        yield Finding("note", f"The environment has {name}, which is no setting. See: holdfast init -")


def _folder(folder: Path) -> Iterator[Finding]:
    if not folder.exists():
        yield Finding("note", f"The data folder {folder} is not there yet; it is made at the first start.")
        return
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Finding(
            "wrong", f"The data folder {folder} cannot be written to. Give it to the user who runs the bot."
        )
        return
    free = shutil.disk_usage(folder).free
    if free < LEAST_FREE_BYTES:
        yield Finding("wrong", f"Only {free // 1_000_000} MB are free in {folder}. Free at least 200 MB.")
    if folder.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield Finding(
            "note", f"Others can look into {folder}, which holds students' data. Run: chmod 700 {folder}"
        )
    yield Finding("good", f"The data folder {folder} can be written to.")


def _database(url: str) -> Iterator[Finding]:
    place = parse_url(url)
    shown = place.render_as_string(hide_password=True)
    if is_sqlite_file(place) and not sqlite_path(place).exists():
        yield Finding("wrong", f"There is no database {shown} yet. Make it with: holdfast db upgrade")
        return
    try:
        connect(url, read_only=True).close()
    except StorageError as error:
        yield Finding("wrong", str(error))
    else:
        yield Finding("good", f"The database {shown} answers and has this program's tables.")


def _chats(settings: Settings) -> Iterator[Finding]:
    if settings.telegram_token is None and not settings.matrix_homeserver:
        yield Finding(
            "wrong",
            f"No chat is set up. Set {PREFIX}TELEGRAM_TOKEN or {PREFIX}MATRIX_HOMESERVER, "
            "or try it without an account: holdfast demo",
        )
    if settings.telegram_token is not None:
        token = settings.telegram_token.get_secret_value()
        number, _, rest = token.partition(":")
        if number.isdigit() and len(rest) >= 20:
            yield Finding("good", f"Telegram: a token is set; the server is {settings.telegram_api_url}.")
        else:
            yield Finding("wrong", f"{PREFIX}TELEGRAM_TOKEN does not look like 123456:ABC… Copy it again.")
    if settings.matrix_homeserver:
        yield from _matrix(settings)


def _matrix(settings: Settings) -> Iterator[Finding]:
    user, server = settings.matrix_user, settings.matrix_homeserver
    if not (user.startswith("@") and user.partition(":")[2]):
        yield Finding(
            "wrong", f'{PREFIX}MATRIX_USER is "{user}". Write the full id: @holdfast:school.example'
        )
        return
    if not server.startswith(("https://", "http://")):
        yield Finding("wrong", f'{PREFIX}MATRIX_HOMESERVER is "{server}". Write it with https:// in front.')
        return
    yield Finding("good", f"Matrix: {user} on {server}.")
    folder = settings.data_dir / "matrix"
    if not folder.exists():
        yield Finding("note", f"Matrix: the folder {folder} with the bot's keys is made at the first start.")
    elif folder.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield Finding(
            "wrong", f"Others can look into {folder}, which holds the bot's keys. Run: chmod 700 {folder}"
        )
    yield Finding(
        "note",
        "Matrix: a homeserver slows a bot down after about ten messages unless its administrator lifts the limit "
        "for this account (Synapse: override_ratelimit of the admin API).",
    )
