"""Remembers what Telegram calls the files that it has: in memory, and in the database beyond the program's life."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

from bot.chat.telegram.incoming import PLATFORM
from bot.chat.telegram.sending import FilesInMemory
from storage.base.database import Database
from storage.queue import sent_files


@dataclass
class FilesOnRecord:
    """`bot.chat.telegram.sending.KnownFiles` on a database.

    Attributes
    ----------
    bot_id : str
        Number of the bot. Telegram's identifiers are good for the bot that got them only, so that another token on
        the same database has to send its files anew.
    """

    db: Database
    bot_id: str
    _memory: FilesInMemory = field(default_factory=FilesInMemory)

    async def get(self, digest: str) -> str | None:
        """Return Telegram's file identifier for the bytes with this digest (``p:…`` photo, ``d:…`` document)."""
        known = await self._memory.get(digest)
        if known is None:
            known = await self.db.read(sent_files.get, self._place(digest), _bare(digest))
            if known is not None:
                await self._memory.put(digest, known)
        return known

    async def put(self, digest: str, file_id: str) -> None:
        """Remember it."""
        await self._memory.put(digest, file_id)
        await self.db.run(sent_files.put, self._place(digest), _bare(digest), file_id)

    def _place(self, digest: str) -> str:
        """Name what the identifier is good for, in the 24 characters that there are."""
        bot = hashlib.sha256(self.bot_id.encode()).hexdigest()[:10]
        return f"{PLATFORM}:{bot}:{digest[:1]}"


def _bare(digest: str) -> str:
    return digest.partition(":")[2]
