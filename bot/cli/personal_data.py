"""``holdfast export`` and ``erase``: what is stored about a student or a class."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import click

from bot.cli.common import class_option, confirm, named_class, named_student, open_database, present_moment
from bot.cli.option_types import student_option
from bot.cli.outcome import CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from datetime import datetime

    from storage.base.database import Session

    Erase: TypeAlias = Callable[[Session, datetime], Mapping[str, int]]

CANNOT_BE_RECALLED = (
    "What cannot be recalled from here: messages that a chat application has delivered, files that a teacher has "
    "downloaded, and backups made before. Delete old backups, or let them run out."
)


@click.command()
@class_option
@student_option()
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
@click.option(
    "--questions",
    is_flag=True,
    help="The questions of the class, without names or answers: a sheet to import again, and a QTI package.",
)
def export(
    slug: str, student: str | None, out: Path, records: bool, names: bool, typed: bool, questions: bool
) -> None:
    """Write everything stored about a student, or in a whole class: as JSON and as text to read.

    Example: holdfast export --class 10b-physics --student "Mira Sorensen" --out for-mira

    A student's file covers all classes of that student. The files can be read by you only: hand them to the student,
    or as the law where you are has it, to the parents, and to nobody else.

    With --records the answers of the class's present students are written for other programs: one xAPI statement
    (IEEE 9274.1.1) a line, and a CSV. Students appear under pseudonyms, which are the same in every export.

    Example: holdfast export --class 10b-physics --records --out records

    With --questions only the questions are written, for a colleague or another program: as a sheet that can be
    imported again exactly, and in the form of the standard QTI 3.0; what that cannot hold is named.
    """
    if questions:
        if student is not None or records:
            raise click.UsageError("--questions is of a whole class, and stands alone.")
        from bot.cli.records import write_questions

        write_questions(slug, out)
        return
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
        school_class = named_class(session, slug)
        if student is None:
            data, name = exporting.of_class(session, id_of(school_class), present_moment()), school_class.slug
        else:
            row = named_student(session, school_class, student)
            if row.person_id is None:
                raise CommandFailed(f"{row.name} has not joined yet: only this name on the roster is stored.")
            data, name = (
                exporting.of_person(session, row.person_id, present_moment()),
                f"{school_class.slug}-{row.id}",
            )
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
@student_option()
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
            confirm(asked, "Nothing was erased.")
        with db.begin() as session:
            counts = whom(session, present_moment())
    for what, number in counts.items():
        click.echo(f"{what}\t{number}")
    click.echo(f"Erased: {sum(counts.values())} rows. {CANNOT_BE_RECALLED}", err=True)


def _whom(session: Session, slug: str, student: str | None, everywhere: bool) -> tuple[Erase, str]:
    """Return what erases, and the question to ask before."""
    from storage.privacy import erasure
    from storage.school import enrolments

    school_class = named_class(session, slug)
    class_id = id_of(school_class)
    if student is None:
        number = enrolments.count(session, class_id)
        question = (
            f"Erase the class {school_class.name} with {number} students and all their answers, for ever?"
        )
        return (lambda open_, now: erasure.erase_class(open_, class_id, now)), question
    row = named_student(session, school_class, student)
    enrolment_id, person_id = id_of(row), row.person_id
    if everywhere and person_id is not None:
        question = f"Erase {row.name} from all classes and chats, for ever?"
        return (lambda open_, now: erasure.erase_person(open_, person_id, now)), question
    question = f"Erase {row.name} from {school_class.name}, with all answers, for ever?"
    return (lambda open_, now: erasure.erase_enrolment(open_, enrolment_id, now)), question
