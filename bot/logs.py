"""Logging: one line an event, no personal data, no secret.

The HTTP libraries log whole addresses, which for Telegram hold the bot's token: they are silenced below
warnings, and whatever looks like a token is masked in every line all the same.
"""

from __future__ import annotations

import logging
import re
import sys
from typing import TextIO

import structlog

QUIET = ("httpx", "httpcore", "apscheduler", "nio", "telegram", "matplotlib", "peewee", "aiohttp.access")

_TOKENS = re.compile(
    r"(?<!\d)\d{6,12}:[A-Za-z0-9_-]{30,}"  # Telegram, also right after "bot" as in its addresses
    r"|\bsyt_[A-Za-z0-9_]{10,}"  # Matrix access tokens of Synapse
    r"|\bm(?:at|ct|cr)_[A-Za-z0-9_]{10,}"  # and of Matrix Authentication Service (prefixes from memory)
    r"|(?<=access_token=)[^&\s\"']+"
    r"|(?<=password=)[^&\s\"']+"  # of a database, among the options of its address
    r"|(?<=[Bb]earer )[^\s\"',]+"
    r"|(?<=://)[^/\s:@]+:[^/\s@]+(?=@)"  # user and password in an address
)


def mask(text: str) -> str:
    """Return the text with everything that looks like a secret replaced by ``***``."""
    return _TOKENS.sub("***", text)


def _masked(_logger: object, _method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
    return {key: mask(value) if isinstance(value, str) else value for key, value in event.items()}


def set_up(level: str, *, stream: TextIO | None = None) -> None:
    """Send all logging through structlog, masked, to stderr (or `stream`)."""
    shared: list[structlog.typing.Processor] = [
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.stdlib.PositionalArgumentsFormatter(),
        structlog.processors.StackInfoRenderer(),
        structlog.processors.format_exc_info,
    ]
    formatter = structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=shared,
        processors=[
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            _masked,
            structlog.processors.KeyValueRenderer(
                key_order=["timestamp", "level", "logger", "event"], repr_native_str=False
            ),
        ],
    )
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(formatter)
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(level)
    for name in QUIET:
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.captureWarnings(True)
