"""Settings: environment variables ``HOLDFAST_…`` or one file, with working defaults.

The environment wins over the file. The file is TOML with the same names in lower case and without the prefix;
it is ``holdfast.toml`` in the current folder unless ``HOLDFAST_SETTINGS`` names another. A secret comes only from
the environment, from systemd's credentials folder, or from a file that others cannot read.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from textwrap import wrap
from typing import Any
from zoneinfo import available_timezones

from pydantic import Field, SecretStr, ValidationError, field_validator, model_validator
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

PREFIX = "HOLDFAST_"
SECRETS = frozenset({"telegram_token", "telegram_webhook_secret", "matrix_password", "matrix_token"})

_LAST_PORT = 65535
_PASSWORD_IN_ADDRESS = re.compile(r"://[^?]*:[^?]*@|[?&]password=")


class SettingsError(Exception):
    """One or more settings are wrong. The text names each one, what was found, and what to do."""


class Settings(BaseSettings):
    """Everything that can be set. The description of each field is its comment in the settings file."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="forbid", frozen=True)

    data_dir: Path = Field(
        default=Path("holdfast-data"),
        description="Folder for the database, the keys of the chats and what commands write.",
    )
    database_url: str = Field(
        default="",
        description="Where everything is kept. Empty: SQLite in the data folder. "
        "For a school or a district: postgresql+psycopg://user@host/holdfast",
    )
    school: str = Field(
        default="",
        description="Name of the school, for letters and exports.",
    )
    school_address: str = Field(
        default="https://school.example",
        description="The school's web address: activity ids of the learning-record export start with it.",
    )
    default_zone: str = Field(
        default="Europe/London",
        description="IANA time zone offered when a teacher creates a class.",
    )
    default_language: str = Field(
        default="en",
        description="Language spoken where neither the chat nor the class says one that there is: en or de.",
    )
    telegram_token: SecretStr | None = Field(
        default=None, description="Token of the Telegram bot. Without it Telegram is off."
    )
    telegram_api_url: str = Field(
        default="https://api.telegram.org",
        description="Address of the Bot API server: the public one, or your own.",
    )
    telegram_webhook_url: str = Field(
        default="",
        description="Public https address for webhooks. Empty: the bot asks for updates itself (polling).",
    )
    telegram_webhook_listen: str = Field(
        default="127.0.0.1:8443",
        description="Host and port on which webhooks are received, behind your proxy.",
    )
    telegram_webhook_secret: SecretStr | None = Field(
        default=None,
        description="Secret that Telegram repeats with each webhook: 1 to 256 of A-Z a-z 0-9 _ -",
    )
    matrix_homeserver: str = Field(
        default="", description="Address of the Matrix homeserver. Without it Matrix is off."
    )
    matrix_user: str = Field(default="", description="Full Matrix id of the bot: @holdfast:school.example")
    matrix_password: SecretStr | None = Field(default=None, description="Password of the Matrix account.")
    matrix_token: SecretStr | None = Field(
        default=None, description="Access token of the Matrix account, instead of the password."
    )
    matrix_welcome: str = Field(
        default="",
        description="Further Matrix homeservers whose people may start a chat with the bot, separated by commas. "
        "Those of the bot's own homeserver always may.",
    )
    health_listen: str = Field(
        default="", description="Host and port for /healthz, /readyz and /metrics, for example 127.0.0.1:9100"
    )
    log_level: str = Field(default="INFO", description="DEBUG, INFO, WARNING or ERROR.")
    tick_s: float = Field(default=15.0, gt=0, description="Seconds between two looks at what is due.")
    messages_per_second: float = Field(
        default=25.0, gt=0, description="Most messages a second over all chats of one platform."
    )

    @field_validator(*sorted(SECRETS), mode="before")
    @classmethod
    def _empty_is_none(cls, value: object) -> object:
        """Take a secret without a letter for none: the sample's own lines, or the empty file of a chat that is off."""
        return None if isinstance(value, str) and not value.strip() else value

    @field_validator("log_level")
    @classmethod
    def _known_level(cls, value: str) -> str:
        level = value.upper()
        if level not in {"DEBUG", "INFO", "WARNING", "ERROR"}:
            raise ValueError("use DEBUG, INFO, WARNING or ERROR")
        return level

    @field_validator("default_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value not in available_timezones():
            raise ValueError("use an IANA name such as Europe/London")
        return value

    @field_validator("default_language")
    @classmethod
    def _known_language(cls, value: str) -> str:
        from bot.words import LANGUAGES

        if value not in LANGUAGES:
            raise ValueError(f"use one of {', '.join(LANGUAGES)}")
        return value

    @field_validator("telegram_webhook_secret")
    @classmethod
    def _takeable(cls, value: SecretStr | None) -> SecretStr | None:
        if value and not re.fullmatch(r"[A-Za-z0-9_-]{1,256}", value.get_secret_value()):
            raise ValueError("use 1 to 256 of A-Z a-z 0-9 _ -")  # Bot API, setWebhook
        return value

    @field_validator("telegram_webhook_listen", "health_listen")
    @classmethod
    def _host_and_port(cls, value: str) -> str:
        port = value.rpartition(":")[2]
        if value and not (re.fullmatch(r"[0-9]{1,5}", port) and int(port) <= _LAST_PORT):
            raise ValueError("use host:port, for example 127.0.0.1:9100")
        return value

    @model_validator(mode="after")
    def _whole(self) -> Settings:
        if self.matrix_homeserver and not self.matrix_user:
            raise ValueError(f"{PREFIX}MATRIX_HOMESERVER is set, so {PREFIX}MATRIX_USER is needed too")
        if self.matrix_homeserver and not (self.matrix_password or self.matrix_token):
            raise ValueError(
                f"{PREFIX}MATRIX_HOMESERVER is set, so {PREFIX}MATRIX_PASSWORD or {PREFIX}MATRIX_TOKEN is needed"
            )
        if self.telegram_webhook_url and not self.telegram_webhook_secret:
            raise ValueError(
                f"{PREFIX}TELEGRAM_WEBHOOK_URL is set, so {PREFIX}TELEGRAM_WEBHOOK_SECRET is needed too"
            )
        if self.telegram_webhook_url and not self.telegram_webhook_listen:
            raise ValueError(
                f"{PREFIX}TELEGRAM_WEBHOOK_URL is set, so {PREFIX}TELEGRAM_WEBHOOK_LISTEN is needed too"
            )
        return self

    @property
    def database(self) -> str:
        """The database's address, with the default filled in."""
        return self.database_url or f"sqlite:///{self.data_dir / 'holdfast.db'}"

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Let the environment win over the file, which is passed in by `load`."""
        return env_settings, file_secret_settings, init_settings


def load(path: Path | None = None) -> Settings:
    """Return the settings from the environment and the settings file.

    Raises
    ------
    SettingsError
        Names every setting that is wrong, what was found, what is expected and where to change it.
    """
    named = os.environ.get(PREFIX + "SETTINGS")
    file = path or Path(named or "holdfast.toml")
    if (path or named) and not file.exists():
        raise SettingsError(f"There is no settings file {file}. Write one with: holdfast init {file}")
    content = _read(file) if file.exists() else {}
    credentials = os.environ.get("CREDENTIALS_DIRECTORY", "")
    secrets = credentials if Path(credentials or "/nowhere").is_dir() else None  # a container may have none
    try:
        return Settings(_secrets_dir=secrets, **content)  # type: ignore[call-arg]  # known to pydantic only at run time
    except ValidationError as error:
        raise SettingsError(_explain(error, file if content else None)) from None


def _read(file: Path) -> dict[str, Any]:
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{file} is not valid TOML: {error}. Compare it with: holdfast init -") from None
    held = sorted(SECRETS & content.keys())
    if _PASSWORD_IN_ADDRESS.search(str(content.get("database_url", ""))):
        held.append("the password in database_url")
    mode = file.stat().st_mode
    if held and mode & (stat.S_IRGRP | stat.S_IROTH):
        raise SettingsError(
            f"{file} holds {', '.join(held)} and can be read by others. Run: chmod 600 {file}"
        )
    return content


def _explain(error: ValidationError, file: Path | None) -> str:
    where = f"the environment or {file}" if file else "the environment"
    lines = []
    for fault in error.errors():
        name = PREFIX + ".".join(str(part) for part in fault["loc"]).upper() if fault["loc"] else ""
        unknown = fault["type"] == "extra_forbidden"  # perhaps a secret under a misspelt name: not shown
        hidden = not name or unknown or name.removeprefix(PREFIX).lower() in SECRETS
        found = "" if hidden else f' is "{fault["input"]}"'
        message = fault["msg"].removeprefix("Value error, ")
        if unknown:
            message = "there is no such setting; see: holdfast init -"
        lines.append(f"{name}{found}: {message}." if name else f"{message}.")
    return "\n".join([*lines, f"Change it in {where}."])


def sample(values: Mapping[str, Any] | None = None) -> str:
    """Return a commented settings file with every key; those in `values` are set, the others show the default."""
    values = values or {}
    lines = [
        "# Settings of Holdfast. Each can also be an environment variable: HOLDFAST_ and the name in capitals.",
        "# Lines that start with # show the default. Keep this file to yourself: chmod 600",
        "",
    ]
    for name, field in Settings.model_fields.items():
        lines.extend(f"# {line}" for line in wrap(field.description or "", 96))
        if name in values:
            lines.append(f"{name} = {_toml(values[name])}")
        else:
            lines.append(f"# {name} = {_toml(field.default)}")
        lines.append("")
    return "\n".join(lines)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return str(value)
    text = "" if value is None else str(value)
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
