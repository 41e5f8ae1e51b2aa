"""What several commands share: settings, the database, the class that was named."""

from __future__ import annotations

import codecs
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

import click

from bot.cli.outcome import SETTINGS, CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from datetime import datetime

    from bot.settings import Settings
    from storage.base.database import Database, Session
    from storage.tables import Enrolment, SchoolClass

_Command = TypeVar("_Command", bound=Callable[..., Any])


def present_moment() -> datetime:
    """Return the present moment."""
    from bot.clock import WallClock

    return WallClock().now()


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


def named_student(session: Session, school_class: SchoolClass, name: str) -> Enrolment:
    """Return the student of a class that was named, those who left included; say which there are otherwise."""
    from storage.school import enrolments

    rows = enrolments.roster(session, id_of(school_class), left=True)
    by_number = [row for row in rows if name == f"#{row.id}"]
    found = by_number or [row for row in rows if enrolments.fold(row.name) == enrolments.fold(name)]
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(f"#{row.id} (since {row.joined_at:%Y-%m-%d})" for row in found)
        raise CommandFailed(
            f'{len(found)} students of {school_class.name} are called "{name}": {numbers}. Name a number.'
        )
    raise CommandFailed(
        f'Nobody in {school_class.name} is called "{name}". '
        f"Look at the names with: holdfast export --class {school_class.slug}"
    )


def confirm(question: str, otherwise: str) -> None:
    """Ask before something that cannot be taken back; without a keyboard end the command with `otherwise`."""
    if not sys.stdin.isatty():
        raise CommandFailed(f"{otherwise} Run it again with --yes if you are sure.")
    click.confirm(question, abort=True)


def json_text(told: Any, *, indent: int | None = 2) -> str:
    """Return values as JSON that this terminal or pipe can carry; days and moments as ISO 8601."""
    carries_all = codecs.lookup(sys.stdout.encoding or "utf-8").name == "utf-8"
    return json.dumps(told, ensure_ascii=not carries_all, indent=indent, default=_iso)


def _iso(value: object) -> str:
    """Return a day or a moment for JSON. Raises `TypeError` for anything else: it would be no stable form."""
    if isinstance(value, date):  # a datetime is one, too
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def known_classes(_ctx: click.Context, _option: click.Parameter, begun: str) -> list[str]:
    """Return the open classes whose short names begin like this, for the shell to complete."""
    from storage.base.errors import StorageError
    from storage.school import classes

    try:
        with open_database(read_only=True) as db, db.reading() as session:
            return [row.slug for row in classes.open_classes(session) if row.slug.startswith(begun)]
    except (CommandFailed, StorageError, OSError):
        return []  # the command itself says what is wrong; a shell that completes can show nothing


def option_of_class(
    help_text: str = "Short name of the class, as in: holdfast class list", *, required: bool = False
) -> Callable[[_Command], _Command]:
    """Give a command the option that names a class; shells complete the names."""
    return click.option(
        "--class",
        "slug",
        required=required,
        metavar="NAME",
        shell_complete=known_classes,
        help=help_text,
    )


class_option = option_of_class(required=True)
