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

from collections.abc import Mapping
from typing import Any, TypeVar


class StorageError(Exception):
    """Something the storage refuses or cannot do.

    Attributes
    ----------
    code : str
        Which refusal it is, for whoever words it (`bot.words`, ``refusal.CODE``); empty for what only a technician or
        a developer meets, whose message is English.
    values : mapping
        What the words are filled in with.
    """

    code: str = ""
    values: Mapping[str, Any] = {}


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


E = TypeVar("E", bound=StorageError)


def refused(kind: type[E], code: str, *, field: str = "", **values: Any) -> E:
    """Return an error that people can be told about in their language.

    Parameters
    ----------
    kind : type
        `InvalidValue`, `NotFound` or `NotAllowed`.
    code : str
        The text is ``refusal.CODE``.
    field : str
        For `InvalidValue`: the column that the value was meant for.
    **values : object
        What the words ask for.
    """
    message = ", ".join((code, *(f"{name}={value}" for name, value in values.items())))
    error: Any = InvalidValue(field, message) if issubclass(kind, InvalidValue) else kind(message)
    error.code, error.values = code, values
    return error  # type: ignore[no-any-return]
