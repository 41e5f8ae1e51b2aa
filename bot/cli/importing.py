"""``holdfast import``: a file of the school, checked and stored."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bot.cli.common import class_option, named_class, open_database, present_moment
from bot.cli.outcome import PROBLEMS, CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from bot.service.teacher.uploads import PreparedUpload
    from storage.base.database import Database
    from storage.tables import UploadKind

PROBLEMS_SHOWN = 20


def _choices(_context: click.Context, _option: click.Parameter, written: tuple[str, ...]) -> dict[str, str]:
    """Read the options of the form WHAT=HOW."""
    pairs = [one.partition("=") for one in written]
    if any(not what or not how for what, _, how in pairs):
        raise click.BadParameter("write WHAT=HOW, for example encoding=mac_roman")
    return {what: how for what, _, how in pairs}


@click.command("import")
@click.argument("kind", type=click.Choice(["timetable", "questions", "roster", "scores"]))
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@class_option
@click.option("--yes", is_flag=True, help="Store without asking, if there is no problem.")
@click.option("--rest", is_flag=True, help="Store the good rows although others have problems.")
@click.option(
    "--day-first/--month-first", "day_first", default=None, help="How to read dates such as 03/04/2027."
)
@click.option(
    "--choose",
    "chosen",
    multiple=True,
    metavar="WHAT=HOW",
    callback=_choices,
    help="Settle what is doubtful in the file, as the problem says. Can be repeated.",
)
def import_(
    kind: str,
    file: Path,
    slug: str,
    yes: bool,
    rest: bool,
    day_first: bool | None,
    chosen: dict[str, str],
) -> None:
    """Read a file, show what it holds and every problem by row and column, and store it once confirmed.

    Example: holdfast import timetable physics_autumn.xlsx --class 10b-physics

    KIND is timetable, questions, roster or scores. A file sent again becomes a difference, never a duplicate;
    the teacher can take it back in the chat with: undo. Exit code 3: problems or doubts, and nothing was stored;
    what is doubtful is settled with --choose, for example --choose encoding=mac_roman.
    """
    from bot.service.teacher import uploads
    from storage.files.problem import DAY_FIRST, MONTH_FIRST
    from storage.tables import UploadKind

    wanted = UploadKind(kind)
    if day_first is not None:
        chosen["days"] = DAY_FIRST if day_first else MONTH_FIRST
    with open_database() as db:
        with db.reading() as session:
            class_id = id_of(named_class(session, slug))
            known = uploads.known_class(session, class_id, present_moment())
        prepared = uploads.prepare(wanted, file.read_bytes(), file.name, known, choices=chosen)
        _show_problems(prepared)
        if not prepared.usable or (prepared.doubtful and not rest):
            raise CommandFailed(_nothing_stored(prepared), PROBLEMS)
        _store(db, class_id, wanted, prepared, ask=not yes)


def _show_problems(prepared: PreparedUpload) -> None:
    for sentence in prepared.problems[:PROBLEMS_SHOWN]:
        click.echo(sentence, err=True)
    if len(prepared.problems) > PROBLEMS_SHOWN:
        click.echo(f"and {len(prepared.problems) - PROBLEMS_SHOWN} more problems.", err=True)
    for about, chosen, shown in prepared.asks:
        click.echo(f"Decide: --choose {about}={chosen}  ({shown})", err=True)


def _nothing_stored(prepared: PreparedUpload) -> str:
    if prepared.asks:
        return "Nothing was stored: decide as shown above, and run it again."
    if not prepared.usable:
        return "Nothing was stored: no row of the file can be used."
    return "Nothing was stored. Correct the file and run it again, or store the good rows with --rest."


def _store(db: Database, class_id: int, kind: UploadKind, prepared: PreparedUpload, *, ask: bool) -> None:
    """Store the upload, show the difference, and apply it once confirmed."""
    from bot.service.teacher import uploads

    with db.begin() as session:
        upload_id = uploads.store(session, class_id, prepared, present_moment())
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
        uploads.apply(session, upload_id, present_moment())
    click.echo("Stored. All plans follow.", err=True)
