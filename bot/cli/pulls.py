"""``holdfast starter``, ``quality``, ``comparison``, ``illustration``, ``letters`` and ``progress``.

The same that a teacher pulls in the chat (`bot.service.teacher.pulling`), written into files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bot.cli.evidence import for_each, of_classes, of_day
from bot.cli.option_types import student_option
from bot.cli.outcome import CommandFailed

if TYPE_CHECKING:
    from bot.chat.port import Attachment
    from bot.cli.evidence import Write
    from bot.evidence.load import ClassEvidence
    from bot.talk.teacher.effects import EvidenceMessage
    from bot.words import Words
    from scheduler.model.memory import ClassMemory
    from storage.tables import SchoolClass


@click.command()
@click.option(
    "--questions", "count", type=click.IntRange(3, 5), default=4, show_default=True, help="How many."
)
@of_classes
def starter(count: int, slug: str | None, all_classes: bool, out: Path, as_of: datetime | None) -> None:
    """Write the questions that serve a class best at the start of the next lesson, to read and to project.

    Example: holdfast starter --class 10b --questions 4 --out starters

    The answers are pages of their own.
    """
    for_each(slug, all_classes, out, as_of, _writes("starter", {"count": count}))


@click.command()
@of_classes
def quality(slug: str | None, all_classes: bool, out: Path, as_of: datetime | None) -> None:
    """Write which questions of a class do not work, why, and what to do: text and workbook.

    Example: holdfast quality --class 10b --out questions
    """
    for_each(slug, all_classes, out, as_of, _writes("quality"))


@click.command()
@of_day("The quiz of this day. Default: the latest that has scores.")
@of_classes
def comparison(
    day: datetime | None, slug: str | None, all_classes: bool, out: Path, as_of: datetime | None
) -> None:
    """Write the scores of a quiz beside what was predicted for it: text, picture, workbook.

    Example: holdfast comparison --class 10b --date 2026-12-11 --out quizzes
    """
    options = {"day": day.date().isoformat()} if day else {}
    for_each(slug, all_classes, out, as_of, _writes("comparison", options))


@click.command()
@of_classes
def illustration(slug: str | None, all_classes: bool, out: Path, as_of: datetime | None) -> None:
    """Draw what a class keeps with no review, one, two and three, from its own timetable.

    Example: holdfast illustration --class 10b --out pictures
    """
    for_each(slug, all_classes, out, as_of, _writes("illustration"))


@click.command()
@student_option()
@click.option("--html", is_flag=True, help="HTML, also where PDFs could be made.")
@of_classes
def letters(
    student: str | None,
    html: bool,
    slug: str | None,
    all_classes: bool,
    out: Path,
    as_of: datetime | None,
) -> None:
    """Write one page per student for a parents' evening: PDF where it can be made, else HTML to print.

    Example: holdfast letters --class 10b --out letters
    """
    if not html:
        _say_if_no_pdf()
    for_each(slug, all_classes, out, as_of, _writes("letters", {"student": student, "html": html}))


@click.command()
@student_option(required=True)
@of_classes
def progress(student: str, slug: str | None, all_classes: bool, out: Path, as_of: datetime | None) -> None:
    """Draw one student's own topics: now, on quiz day, and what one review tonight would do.

    Example: holdfast progress --class 10b --student Mira --out pictures
    """
    if all_classes:
        raise click.UsageError("A student is in a class: name it with --class NAME.")
    for_each(slug, all_classes, out, as_of, _writes("progress", {"student": student}))


def _say_if_no_pdf() -> None:
    from bot.evidence.student.letter_pdf import PdfNotInstalled, ready

    try:
        ready()
    except PdfNotInstalled as missing:
        click.echo(str(missing), err=True)


def _writes(what: str, options: Mapping[str, Any] | None = None) -> Write:
    """Return what makes one kind of papers and writes them into a folder, giving its text back."""

    def write(
        group: SchoolClass, read: ClassEvidence, memory: ClassMemory, words: Words, folder: Path
    ) -> str:
        from bot.evidence.load import NothingThere
        from bot.evidence.papers import save
        from bot.service.teacher import pulling

        try:
            made = getattr(pulling, what)(read, memory, words, options or {})
        except NothingThere as nothing:
            raise CommandFailed(nothing.say(words)) from None
        text = _text(made.pieces)
        save([_as_file(f"{group.slug}-{what}.txt", text), *_attachments(made.pieces)], folder)
        return text

    return write


def _text(pieces: Sequence[EvidenceMessage]) -> str:
    """Return what is said; lines that only go with a picture are left out where there is more."""
    said = [piece.text.plain for piece in pieces if piece.attachment is None]
    return "\n\n".join(said or [piece.text.plain for piece in pieces])


def _attachments(pieces: Sequence[EvidenceMessage]) -> list[Attachment]:
    return [piece.attachment for piece in pieces if piece.attachment is not None]


def _as_file(name: str, text: str) -> Attachment:
    from bot.chat.port import Attachment

    return Attachment(name, "text/plain", f"{text}\n".encode())
