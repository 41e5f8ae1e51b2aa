"""What several commands share: settings, the database, the class that was named."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from bot.cli.outcome import SETTINGS, CommandFailed

if TYPE_CHECKING:
    from bot.settings import Settings
    from storage.base.database import Database, Session
    from storage.tables import SchoolClass


def settings() -> Settings:
    """Return the settings, or end the command with what is wrong in them."""
    from bot.settings import SettingsError, load

    try:
        return load()
    except SettingsError as error:
        raise CommandFailed(str(error), SETTINGS) from None


@contextmanager
def open_database(*, read_only: bool = False) -> Iterator[Database]:
    """Open the database of the settings and close it again."""
    from storage.base.database import connect

    database = connect(settings().database, read_only=read_only)
    try:
        yield database
    finally:
        database.close()


def named_class(session: Session, slug: str) -> SchoolClass:
    """Return the class that was named on the command line, or say which there are."""
    from storage.base.errors import NotFound
    from storage.school import classes

    try:
        return classes.by_slug(session, slug)
    except NotFound:
        known = ", ".join(row.slug for row in classes.open_classes(session)) or "none yet"
        raise CommandFailed(
            f'There is no class "{slug}". Classes: {known}. See: holdfast class list'
        ) from None


class_option = click.option(
    "--class",
    "slug",
    required=True,
    metavar="NAME",
    help="Short name of the class, as in: holdfast class list",
)
