"""``holdfast export --records`` and ``--questions``: the answers and the questions of a class for other programs."""

from __future__ import annotations

from pathlib import Path

import click

from bot.cli.common import named_class, open_database, settings
from bot.cli.outcome import CommandFailed
from storage.base.rows import id_of


def write_records(slug: str, out: Path, *, names: bool, typed: bool) -> None:
    """Write the learning records of a class into a folder, readable by their owner only; name the files."""
    from bot.clock import WallClock
    from bot.evidence.load import BEGINNING
    from bot.evidence.papers import save
    from bot.evidence.records.xapi import RecordRules, record_files
    from bot.words import words
    from storage.history import evidence
    from storage.privacy import export as exporting

    now, home = WallClock().now(), settings().school_address
    with open_database() as db, db.begin() as session:
        group = named_class(session, slug)
        key = exporting.records_key(session, now)
        rows, questions = (
            evidence.class_rows(session, id_of(group), now),
            evidence.questions(session, id_of(group), now),
        )
        asked = evidence.asked(session, id_of(group), BEGINNING, now)
    try:
        rules = RecordRules(home, key, names=names, typed=typed)
    except ValueError as wrong:
        raise CommandFailed(f"{wrong} It is the setting school_address.") from None
    for path in save(record_files(rows, questions, asked, rules, words(group.language)), out):
        click.echo(str(path))
    who = "their names" if names else "pseudonyms; --names writes their names"
    click.echo(f"Students appear under {who}. Ids stand under {home} (setting school_address).", err=True)


def write_questions(slug: str, out: Path) -> None:
    """Write the questions of a class into a folder, as a sheet and in the form of QTI; name the files."""
    from bot.chat.port import Attachment
    from bot.clock import WallClock
    from bot.evidence.papers import save
    from bot.evidence.records.qti_package import qti_package
    from bot.evidence.records.question_sheet import question_sheet
    from storage.history import evidence

    now = WallClock().now()
    with open_database(read_only=True) as db, db.reading() as session:
        class_id = id_of(named_class(session, slug))
        rows = evidence.class_rows(session, class_id, now)
        questions = evidence.questions(session, class_id, now)
    package = qti_package(rows, questions)
    files = (
        Attachment(f"{slug}-questions.csv", "text/csv", question_sheet(rows, questions)),
        Attachment(f"{slug}-questions-qti.zip", "application/zip", package.data),
    )
    for path in save(files, out):
        click.echo(str(path))
    for prompt in package.left_out:
        click.echo(f'Not in the package, only in the sheet: "{prompt}"', err=True)
