"""``holdfast class``, ``teacher``, ``import``, ``export`` and ``erase``."""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bot.cli.common import class_option, named_class, open_database
from bot.cli.outcome import PROBLEMS, CommandFailed

if TYPE_CHECKING:
    from datetime import datetime

    from bot.service.uploads import Prepared
    from storage.database import Database
    from storage.tables import UploadKind

PROBLEMS_SHOWN = 20
TEACHER_CODE_LASTS = timedelta(days=14)


def _now() -> datetime:
    from bot.clock import WallClock

    return WallClock().now()


@click.group("class")
def class_() -> None:
    """List the classes. A teacher creates a class in the chat with the bot.

    Example: holdfast class list
    """


@class_.command("list")
def class_list() -> None:
    """Name every open class: short name, name, students, zone.

    Example: holdfast class list
    """
    from storage import classes, enrolments

    with open_database(read_only=True) as db, db.reading() as session:
        groups = [
            (group, enrolments.count(session, group.id or 0)) for group in classes.open_classes(session)
        ]
    for group, students in groups:
        click.echo(f"{group.slug}\t{group.name}\t{students} students\t{group.zone}")
    if not groups:
        click.echo("No class yet. A teacher creates one in the chat; see: holdfast teacher add", err=True)


@click.group()
def teacher() -> None:
    """Invite teachers.

    Example: holdfast teacher add
    """


@teacher.command("add")
@click.option("--class", "slug", metavar="NAME", help="Into this class. Default: they create their own.")
def teacher_add(slug: str | None) -> None:
    """Print a single-use code. The teacher sends it to the bot within 14 days.

    Example: holdfast teacher add --class 10b-physics

    Whoever sends the code first becomes the teacher: hand it over in person.
    """
    from storage import codes
    from storage.tables import CodeKind

    with open_database() as db, db.begin() as session:
        class_id = named_class(session, slug).id if slug else None
        issued = codes.issue(
            session, CodeKind.TEACHER, now=_now(), class_id=class_id, uses=1, lasts=TEACHER_CODE_LASTS
        )
    click.echo(issued.text)
    click.echo("The teacher sends the bot: join and this code. It works once, for 14 days.", err=True)


@click.command("import")
@click.argument("kind", type=click.Choice(["timetable", "questions", "roster", "scores"]))
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@class_option
@click.option("--yes", is_flag=True, help="Store without asking, if there is no problem.")
@click.option("--rest", is_flag=True, help="Store the good rows although others have problems.")
@click.option(
    "--day-first/--month-first", "day_first", default=None, help="How to read dates such as 03/04/2027."
)
def import_(kind: str, file: Path, slug: str, yes: bool, rest: bool, day_first: bool | None) -> None:
    """Read a file, show what it holds and every problem by row and column, and store it once confirmed.

    Example: holdfast import timetable physics_autumn.xlsx --class 10b-physics

    KIND is timetable, questions, roster or scores. A file sent again becomes a difference, never a duplicate;
    the teacher can take it back in the chat with: undo. Exit code 3: problems, and nothing was stored.
    """
    from bot.service import uploads
    from storage.tables import UploadKind

    wanted = UploadKind(kind)
    with open_database() as db:
        with db.reading() as session:
            class_id = named_class(session, slug).id or 0
            known = uploads.known_class(session, class_id, _now())
        prepared = uploads.prepare(wanted, file.read_bytes(), file.name, known, day_first=day_first)
        _show_problems(prepared)
        if not prepared.usable or (prepared.problems and not rest):
            raise CommandFailed(_nothing_stored(prepared), PROBLEMS)
        _store(db, class_id, wanted, prepared, ask=not yes)


def _show_problems(prepared: Prepared) -> None:
    for sentence in prepared.problems[:PROBLEMS_SHOWN]:
        click.echo(sentence, err=True)
    if len(prepared.problems) > PROBLEMS_SHOWN:
        click.echo(f"and {len(prepared.problems) - PROBLEMS_SHOWN} more problems.", err=True)


def _nothing_stored(prepared: Prepared) -> str:
    if not prepared.usable:
        return "Nothing was stored: no row of the file can be used."
    return "Nothing was stored. Correct the file and run it again, or store the good rows with --rest."


def _store(db: Database, class_id: int, kind: UploadKind, prepared: Prepared, *, ask: bool) -> None:
    """Store the upload, show the difference, and apply it once confirmed."""
    from bot.service import uploads

    with db.begin() as session:
        upload_id = uploads.store(session, class_id, prepared, _now())
        preview = uploads.preview(session, upload_id)
    parts = [f"{number} {what}" for what, number in preview.counts.items() if number]
    click.echo(f"{prepared.name}: {', '.join(parts) or 'nothing'}")
    if preview.changes is not None:
        changed = [f"{number} {what}" for what, number in preview.changes.items() if number]
        click.echo(f"Compared with what is stored: {', '.join(changed) or 'no difference'}")
    if ask:
        if not sys.stdin.isatty():
            raise CommandFailed("Nothing is stored yet. Run it again with --yes to store this.", PROBLEMS)
        click.confirm("Store this?", abort=True)
    with db.begin() as session:
        uploads.apply(session, upload_id, _now())
    click.echo("Stored. All plans follow.", err=True)
