"""``holdfast class``, ``teacher``, ``import``, ``export`` and ``erase``."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import click

from bot.cli.common import class_option, named_class, open_database
from bot.cli.outcome import PROBLEMS, CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from datetime import datetime

    from bot.service.teacher.upload_reading import PreparedUpload
    from storage.base.database import Database, Session
    from storage.tables import Enrolment, SchoolClass, UploadKind

    Erase: TypeAlias = Callable[[Session, datetime], Mapping[str, int]]

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
    from storage.school import classes, enrolments

    with open_database(read_only=True) as db, db.reading() as session:
        groups = [(group, enrolments.count(session, id_of(group))) for group in classes.open_classes(session)]
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
    from storage.school import codes
    from storage.tables import CodeKind

    with open_database() as db, db.begin() as session:
        class_id = named_class(session, slug).id if slug else None
        issued = codes.issue(
            session, CodeKind.TEACHER, now=_now(), class_id=class_id, uses=1, lasts=TEACHER_CODE_LASTS
        )
    click.echo(issued.text)
    click.echo("The teacher sends the bot: join and this code. It works once, for 14 days.", err=True)


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
    from bot.service.teacher import upload_reading
    from storage.files.problem import DAY_FIRST, MONTH_FIRST
    from storage.tables import UploadKind

    wanted = UploadKind(kind)
    if day_first is not None:
        chosen["days"] = DAY_FIRST if day_first else MONTH_FIRST
    with open_database() as db:
        with db.reading() as session:
            class_id = id_of(named_class(session, slug))
            known = upload_reading.known_class(session, class_id, _now())
        prepared = upload_reading.prepare(wanted, file.read_bytes(), file.name, known, choices=chosen)
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


# ---------------------------------------------------------------- export and erase

CANNOT_BE_RECALLED = (
    "What cannot be recalled from here: messages that a chat application has delivered, files that a teacher has "
    "downloaded, and backups made before. Delete old backups, or let them run out."
)

_student_option = click.option(
    "--student",
    "student",
    metavar="NAME",
    help="Name in the class, or the number that is shown when two have the same: #12.",
)


@click.command()
@class_option
@_student_option
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    show_default="this folder",
    help="Folder to write into.",
)
@click.option(
    "--records",
    is_flag=True,
    help="The answers of the class as open learning records: xAPI statements, a table, a data dictionary.",
)
@click.option("--names", is_flag=True, help="With --records: names of students instead of pseudonyms.")
@click.option(
    "--typed", is_flag=True, help="With --records: also what students typed, which may hold anything."
)
def export(slug: str, student: str | None, out: Path, records: bool, names: bool, typed: bool) -> None:
    """Write everything stored about a student, or in a whole class: as JSON and as text to read.

    Example: holdfast export --class 10b-physics --student "Mira Sorensen" --out for-mira

    A student's file covers all classes of that student. The files can be read by you only: hand them to the student,
    or as the law where you are has it, to the parents, and to nobody else.

    With --records the answers of the class's present students are written for other programs: one xAPI statement
    (IEEE 9274.1.1) a line, and a CSV. Students appear under pseudonyms, which are the same in every export.

    Example: holdfast export --class 10b-physics --records --out records
    """
    if (names or typed) and not records:
        raise click.UsageError("--names and --typed belong to --records.")
    if records:
        if student is not None:
            raise click.UsageError("--records is of a whole class: leave --student out.")
        from bot.cli.records import write_records

        write_records(slug, out, names=names, typed=typed)
        return
    from storage.privacy import export as exporting

    with open_database(read_only=True) as db, db.reading() as session:
        group = named_class(session, slug)
        if student is None:
            data, name = exporting.of_class(session, id_of(group), _now()), group.slug
        else:
            row = _named_student(session, group, student)
            if row.person_id is None:
                raise CommandFailed(f"{row.name} has not joined yet: only this name on the roster is stored.")
            data, name = exporting.of_person(session, row.person_id, _now()), f"{group.slug}-{row.id}"
    out.mkdir(parents=True, exist_ok=True)
    as_json = json.dumps(data, ensure_ascii=False, indent=2) + "\n"
    for file, text in ((f"{name}.json", as_json), (f"{name}.txt", exporting.readable(data))):
        _write_private(out / file, text)
        click.echo(str(out / file))


def _write_private(path: Path, text: str) -> None:
    """Write a file that only its owner can read, also if it was there before with other rights."""
    path.unlink(missing_ok=True)
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)


@click.command()
@class_option
@_student_option
@click.option(
    "--everywhere", is_flag=True, help="The student in all classes and chats, not in this class only."
)
@click.option("--whole-class", is_flag=True, help="The class with all its students, questions and answers.")
@click.option("--yes", is_flag=True, help="Do not ask.")
def erase(slug: str, student: str | None, everywhere: bool, whole_class: bool, yes: bool) -> None:
    """Erase a student from a class, or everywhere, or a whole class. It cannot be taken back.

    Example: holdfast erase --class 10b-physics --student "Mira Sorensen"

    Everything goes: answers, planned questions, messages that wait, what came in, pictures. A student who is in no
    other class is erased altogether. Prints how many rows of each kind went. To keep a copy first: holdfast export
    """
    if (student is None) != whole_class:
        raise click.UsageError("Name a student with --student NAME, or say --whole-class.")
    if everywhere and whole_class:
        raise click.UsageError("--everywhere belongs to --student.")
    with open_database() as db:
        with db.reading() as session:
            whom, asked = _whom(session, slug, student, everywhere)
        if not yes:
            _ask(asked)
        with db.begin() as session:
            counts = whom(session, _now())
    for what, number in counts.items():
        click.echo(f"{what}\t{number}")
    click.echo(f"Erased: {sum(counts.values())} rows. {CANNOT_BE_RECALLED}", err=True)


def _whom(session: Session, slug: str, student: str | None, everywhere: bool) -> tuple[Erase, str]:
    """Return what erases, and the question to ask before."""
    from storage.privacy import erasure
    from storage.school import enrolments

    group = named_class(session, slug)
    class_id = id_of(group)
    if student is None:
        number = enrolments.count(session, class_id)
        question = f"Erase the class {group.name} with {number} students and all their answers, for ever?"
        return (lambda open_, now: erasure.erase_class(open_, class_id, now)), question
    row = _named_student(session, group, student)
    enrolment_id, person_id = id_of(row), row.person_id
    if everywhere and person_id is not None:
        question = f"Erase {row.name} from all classes and chats, for ever?"
        return (lambda open_, now: erasure.erase_person(open_, person_id, now)), question
    question = f"Erase {row.name} from {group.name}, with all answers, for ever?"
    return (lambda open_, now: erasure.erase_enrolment(open_, enrolment_id, now)), question


def _named_student(session: Session, group: SchoolClass, name: str) -> Enrolment:
    """Return the student of a class that was named, those who left included; say which there are otherwise."""
    from storage.school import enrolments

    rows = enrolments.roster(session, id_of(group), left=True)
    by_number = [row for row in rows if name == f"#{row.id}"]
    found = by_number or [row for row in rows if enrolments.fold(row.name) == enrolments.fold(name)]
    if len(found) == 1:
        return found[0]
    if found:
        numbers = ", ".join(f"#{row.id} (since {row.joined_at:%Y-%m-%d})" for row in found)
        raise CommandFailed(
            f'{len(found)} students of {group.name} are called "{name}": {numbers}. Name a number.'
        )
    raise CommandFailed(
        f'Nobody in {group.name} is called "{name}". Look at the names with: holdfast export --class {group.slug}'
    )


def _ask(question: str) -> None:
    if not sys.stdin.isatty():
        raise CommandFailed("Nothing was erased. Run it again with --yes if you are sure.")
    click.confirm(question, abort=True)
