"""``holdfast import``: a file of the school, checked and stored."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bot.cli.common import class_option, json_text, named_class, open_database, present_moment
from bot.cli.option_types import json_option
from bot.cli.outcome import PROBLEMS, CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from bot.cli.file_check import FileCheck
    from bot.service.teacher.upload_reading import PreparedUpload
    from storage.base.database import Database

PROBLEMS_SHOWN = 20


def choices_of(_context: click.Context, _option: click.Parameter, written: tuple[str, ...]) -> dict[str, str]:
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
@click.option("--check", "only_check", is_flag=True, help="Store nothing: only say what the file holds.")
@click.option(
    "--day-first/--month-first", "day_first", default=None, help="How to read dates such as 03/04/2027."
)
@click.option(
    "--choose",
    "chosen",
    multiple=True,
    metavar="WHAT=HOW",
    callback=choices_of,
    help="Settle what is doubtful in the file, as the problem says. Can be repeated.",
)
@json_option("Print one JSON object for programs: rows, what to decide, problems. Needs --check or --yes.")
def import_(
    kind: str,
    file: Path,
    slug: str,
    yes: bool,
    rest: bool,
    only_check: bool,
    day_first: bool | None,
    chosen: dict[str, str],
    as_json: bool,
) -> None:
    """Read a file, show what it holds and every problem by row and column, and store it once confirmed.

    Example: holdfast import timetable physics_autumn.xlsx --class 10b-physics

    KIND is timetable, questions, roster or scores. A file sent again becomes a difference, never a duplicate;
    the teacher can take it back in the chat with: undo. Exit code 3: problems or doubts, and nothing was stored;
    what is doubtful is settled with --choose, for example --choose encoding=mac_roman.

    Example: holdfast import roster names.csv --class 10b-physics --check --json
    """
    from bot.cli.file_check import check
    from bot.service.teacher import upload_reading
    from bot.words import words
    from storage.files.problem import DAY_FIRST, MONTH_FIRST
    from storage.tables import UploadKind

    if as_json and not (only_check or yes):
        raise click.UsageError("--json asks nobody: say --check to store nothing, or --yes.")
    if day_first is not None:
        chosen["days"] = DAY_FIRST if day_first else MONTH_FIRST
    with open_database(read_only=only_check) as db:
        with db.reading() as session:
            class_id = id_of(named_class(session, slug))
            known = upload_reading.known_class(session, class_id, present_moment())
        prepared = upload_reading.prepare(
            UploadKind(kind), file.read_bytes(), file.name, known, choices=chosen
        )
        with db.reading() as session:
            found = check(session, class_id, prepared, present_moment(), words("en"), chosen)
        stores = not only_check and (found.ready or (rest and bool(found.rows) and not found.asks))
        if not as_json:
            _show_problems(found)
            _show_content(found)
        if stores:
            counts = _store(db, class_id, prepared, chosen, ask=not yes)
            told = {**found.as_data(stored=True), "counts": counts}
        else:
            told = found.as_data()
    if as_json:
        click.echo(json_text(told))
    elif stores:
        click.echo("Stored. All plans follow.", err=True)
    if not stores and not (only_check and found.ready):
        raise CommandFailed(_nothing_stored(found), PROBLEMS)
    if only_check and not as_json:
        click.echo("Nothing was stored: it was only checked. It can be stored as it is.", err=True)


def _show_problems(found: FileCheck) -> None:
    for one in found.problems[:PROBLEMS_SHOWN]:
        click.echo(one.text, err=True)
    if len(found.problems) > PROBLEMS_SHOWN:
        click.echo(f"and {len(found.problems) - PROBLEMS_SHOWN} more problems.", err=True)
    for ask in found.asks:
        click.echo(ask.text, err=True)
        for about, chosen, shown in ask.options:
            click.echo(f"Decide: --choose {about}={chosen}  ({shown})", err=True)


def _nothing_stored(found: FileCheck) -> str:
    if found.asks:
        return "Nothing was stored: decide as shown above, and run it again."
    if not found.rows:
        return "Nothing was stored: no row of the file can be used."
    return "Nothing was stored. Correct the file and run it again, or store the good rows with --rest."


def _show_content(found: FileCheck) -> None:
    """Say how much of what the file holds, and what would change."""
    if not found.rows:
        return
    preview = found.preview
    parts = [_counted(number, what) for what, number in preview.counts.items() if number]
    click.echo(f"{found.name}: {', '.join(parts) or 'nothing'}")
    if preview.changes is not None:
        changed = [_counted(number, what) for what, number in preview.changes.items() if number]
        click.echo(f"Compared with what is stored: {', '.join(changed) or 'no difference'}")


def _counted(number: int, what: str) -> str:
    """Write ``9 lessons`` or ``1 quiz``."""
    one = {"quizzes": "quiz"}.get(what, what.removesuffix("s"))
    return f"{number} {one if number == 1 else what}"


def _store(
    db: Database, class_id: int, prepared: PreparedUpload, chosen: Mapping[str, str], *, ask: bool
) -> dict[str, int]:
    """Store a file that was looked at, once confirmed; return what that came to."""
    from bot.cli.file_check import settled
    from bot.service.teacher import uploads

    if ask:
        if not sys.stdin.isatty():
            raise CommandFailed("Nothing is stored yet. Run it again with --yes to store this.", PROBLEMS)
        click.confirm("Store this?", abort=True)
    now = present_moment()
    with db.begin() as session:
        decided = settled(session, class_id, prepared, now, chosen)
        upload_id = uploads.store(session, class_id, prepared, now)
        uploads.settle(
            session, upload_id, quiz_id=decided.get("quiz_id"), not_renamed=bool(decided.get("not_renamed"))
        )
        return dict(uploads.apply(session, upload_id, now).counts)
