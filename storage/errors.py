"""What can be wrong with what is asked of the storage. Every message says what, where and what to do.

::

    StorageError
    ├── DatabaseNotReady   no such database, an old or an unknown revision, a place that cannot be used
    ├── NotFound           there is no such row
    ├── NotAllowed         the row belongs to somebody else
    ├── InvalidValue       a value that the rules of the house refuse (`field` names it)
    └── CopyError          a backup, a restore or a copy that did not come out whole
"""

from __future__ import annotations


class StorageError(Exception):
    """Something the storage refuses or cannot do."""


class DatabaseNotReady(StorageError):
    """The database cannot be used as it is."""


class NotFound(StorageError):
    """There is no such row."""


class NotAllowed(StorageError):
    """The person has no right to it."""


class InvalidValue(StorageError):
    """A value is refused. `field` is the name of the column it was meant for."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class CopyError(StorageError):
    """A backup, a restore or a copy did not come out whole; nothing of it is used."""
