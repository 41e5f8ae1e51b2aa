"""``holdfast report`` and ``holdfast forecast``, and what every command shares that writes papers of a class."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

import click

from bot.cli.common import json_text, named_class, open_database, option_of_class, present_moment
from bot.cli.option_types import as_of_option, json_option, week_option
from bot.cli.outcome import CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from bot.evidence.load import ClassEvidence
    from bot.words import Words
    from scheduler.model.memory import ClassMemory
    from storage.base.database import Database
    from storage.tables import SchoolClass

    Write: TypeAlias = Callable[[SchoolClass, ClassEvidence, ClassMemory, Words, Path], str]

_STEPS = ("opening", "reading", "predicting", "writing")

_class = option_of_class()
_all = click.option("--all", "all_classes", is_flag=True, help="Every class, each into a folder of its own.")
_out = click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    show_default="this folder",
    help="Folder to write into.",
)


def of_day(which: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the option of a day; `which` says what the day is for, and what is taken without it."""
    return click.option(
        "--date", "day", type=click.DateTime(["%Y-%m-%d"]), metavar="YEAR-MONTH-DAY", help=which
    )


def of_classes(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of all that write papers: which class, where to, as of when."""
    for option in (as_of_option, _out, _all, _class):
        command = option(command)
    return command


@click.command()
@week_option
@json_option("Print the figures as one JSON object for programs; with --all one object a line.")
@click.option(
    "--no-files", is_flag=True, help="Write nothing: only show the text, or with --json the figures."
)
@of_classes
def report(
    week: tuple[int, int] | None,
    as_json: bool,
    no_files: bool,
    slug: str | None,
    all_classes: bool,
    out: Path,
    as_of: datetime | None,
) -> None:
    """Write the weekly completion report: text, picture, workbook and tables.

    Example: holdfast report --class 10b --week 2026-W48 --out reports

    A prediction is no grade; the report says how sure its figures are.
    """

    def write(
        school_class: SchoolClass, read: ClassEvidence, memory: ClassMemory, words: Words, folder: Path
    ) -> str:
        from bot.evidence.load import week_data
        from bot.evidence.week.numbers import week_report
        from bot.evidence.week.text import week_text

        year, number = week or _last_week(read.now, school_class.zone)
        made = week_report(week_data(read, memory, year, number))
        if not no_files:
            from bot.evidence.papers import report_papers, save

            save(report_papers(made, words), folder)
        if as_json:
            told = {"class": school_class.slug, **dataclasses.asdict(made)}
            return json_text(told, indent=None if all_classes else 2)
        return week_text(made, words).plain

    for_each(slug, all_classes, out, as_of, write, shows_all=as_json or no_files, writes_files=not no_files)


@click.command()
@of_day("Forecast for this day. Default: the next quiz.")
@of_classes
def forecast(
    day: datetime | None, slug: str | None, all_classes: bool, out: Path, as_of: datetime | None
) -> None:
    """Write what a class will still know on a day, with and without the reviews that are still planned.

    Example: holdfast forecast --class 10b --date 2026-12-11 --out forecasts
    """

    def write(
        _school_class: SchoolClass, read: ClassEvidence, memory: ClassMemory, words: Words, folder: Path
    ) -> str:
        from bot.evidence.load import NothingThere
        from bot.evidence.papers import forecast_papers, save

        try:
            papers = forecast_papers(read, memory, words, day.date() if day else None)
        except NothingThere as nothing:
            raise CommandFailed(nothing.say(words)) from None
        save(papers, folder)
        return papers[0].data.decode()

    for_each(slug, all_classes, out, as_of, write)


def for_each(
    slug: str | None,
    all_classes: bool,
    out: Path,
    as_of: datetime | None,
    write: Write,
    *,
    shows_all: bool = False,
    writes_files: bool = True,
) -> None:
    """Write the papers of one class, saying the text, or of all classes, showing progress.

    `shows_all`: say the text of all classes, too. `writes_files`: whether `write` does, so that the folder is named.
    """
    if bool(slug) == all_classes:
        raise click.UsageError("Name a class with --class NAME, or say --all.")
    if slug:
        click.echo(_write_named(slug, out, as_of, write).rstrip())
        if writes_files:
            click.echo(f"Written into {out.resolve()}", err=True)
        return
    with open_database(read_only=True) as db:
        _write_all(db, out, as_of or present_moment(), write, shows_all, writes_files)


def _write_named(slug: str, out: Path, as_of: datetime | None, write: Write) -> str:
    """Write the papers of one class, with a step of the bar for each part that takes a moment."""
    with click.progressbar(
        _STEPS, label=slug, file=sys.stderr, show_eta=False, item_show_func=lambda step: step or ""
    ) as shown:
        steps = iter(shown)
        next(steps)
        with open_database(read_only=True) as db:
            with db.reading() as session:
                school_class = named_class(session, slug)
            text = _write_one(db, school_class, out, as_of or present_moment(), write, lambda: next(steps))
        next(steps, None)
    return text


def _write_all(
    db: Database, out: Path, now: datetime, write: Write, shows_all: bool, writes_files: bool
) -> None:
    from storage.school import classes

    with db.reading() as session:
        found = classes.open_classes(session)
    failed: list[str] = []
    with click.progressbar(found, label="Writing", file=sys.stderr, item_show_func=_slug) as shown:
        for school_class in shown:
            try:
                text = _write_one(db, school_class, out / school_class.slug, now, write)
                if shows_all:
                    click.echo(text)
            except CommandFailed as nothing:
                failed.append(f"{school_class.slug}: {nothing}")
    where = f"written into {out.resolve()}" if writes_files else "shown"
    click.echo(f"{len(found) - len(failed)} of {len(found)} classes {where}", err=True)
    for line in failed:
        click.echo(line, err=True)


def _slug(school_class: SchoolClass | None) -> str:
    return school_class.slug if school_class is not None else ""


def _write_one(
    db: Database,
    school_class: SchoolClass,
    folder: Path,
    now: datetime,
    write: Write,
    step: Callable[[], object] = lambda: None,
) -> str:
    from bot.evidence.load import read
    from bot.evidence.past import as_fitted_then
    from bot.teaching.memories import build
    from bot.words import words

    step()
    with db.reading() as session:
        evidence = read(session, id_of(school_class), now)
    step()
    evidence = as_fitted_then(evidence)
    memory = build(evidence.story, evidence.others)
    step()
    text: str = write(school_class, evidence, memory, words(school_class.language), folder)
    return text


def _last_week(now: datetime, zone: str) -> tuple[int, int]:
    from scheduler.calendar.school_days import week_of

    return week_of(now - timedelta(days=7), zone)
