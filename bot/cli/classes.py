"""``holdfast class`` and ``holdfast teacher``."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import click

from bot.cli.common import (
    class_option,
    confirm,
    json_text,
    named_class,
    open_database,
    option_of_class,
    present_moment,
    settings,
)
from bot.cli.option_types import json_option
from bot.cli.outcome import CommandFailed
from storage.base.rows import id_of

if TYPE_CHECKING:
    from datetime import datetime

    from storage.base.database import Session
    from storage.school.teachers import TeacherInfo
    from storage.tables import SchoolClass

TEACHER_CODE_LASTS = timedelta(days=14)
HOW_TO_USE_A_CODE = "The teacher sends the bot: join and this code. It works once, for 14 days."


@click.group("class")
def class_() -> None:
    """Create, list, show or close classes. A teacher can do the same in the chat with the bot.

    Example: holdfast class list
    """


@class_.command("list")
@click.option("--closed", is_flag=True, help="Closed classes too.")
@json_option("Print one JSON object for programs instead of lines.")
def class_list(closed: bool, as_json: bool) -> None:
    """Name every open class: short name, name, students, zone.

    Example: holdfast class list
    """
    from storage.school import classes, enrolments

    with open_database(read_only=True) as db, db.reading() as session:
        found = classes.all_classes(session) if closed else classes.open_classes(session)
        rows = [(one, enrolments.count(session, id_of(one))) for one in found]
    if as_json:
        _print_json({"classes": [{**_named(one), "students": students} for one, students in rows]})
        return
    for one, students in rows:
        ended = f"\tclosed {one.closed_at:%Y-%m-%d}" if one.closed_at else ""
        click.echo(f"{one.slug}\t{one.name}\t{students} students\t{one.zone}{ended}")
    if not rows:
        click.echo("No class yet. Create one with: holdfast class create", err=True)


@class_.command("create")
@click.argument("name")
@click.option("--subject", default="", metavar="TEXT", help="What is taught, as in: Physics")
@click.option("--zone", metavar="ZONE-OR-CITY", help="Time zone of the school. Default: as in the settings.")
@click.option("--language", metavar="TAG", help="Language of its messages. Default: as in the settings.")
@click.option(
    "--teacher",
    "teacher_name",
    metavar="NAME",
    help="Its first teacher, as in: holdfast teacher list. Default: whoever sends the code that is printed.",
)
@json_option("Print one JSON object for programs instead of lines.")
def class_create(
    name: str, subject: str, zone: str | None, language: str | None, teacher_name: str | None, as_json: bool
) -> None:
    """Make a class, and print its short name. Without --teacher a single-use code for its teacher follows.

    Example: holdfast class create "10B Physics" --subject Physics --zone Europe/London
    """
    from bot.service.teacher import class_lifecycle
    from storage.school import codes
    from storage.tables import CodeKind

    chosen, now = settings(), present_moment()
    spoken = _language(language or chosen.default_language)
    place = _zone(zone or chosen.default_zone)
    code = None
    with open_database() as db, db.begin() as session:
        first = _named_teacher(session, teacher_name) if teacher_name else None
        made = class_lifecycle.begin(
            session,
            name=name,
            subject=" ".join(subject.split()),
            zone=place,
            language=spoken,
            teacher_id=first.person_id if first else None,
            teacher_name=first.name if first else "",
            now=now,
        )
        if first is None:
            code = codes.issue(
                session,
                CodeKind.TEACHER,
                now=now,
                class_id=id_of(made),
                uses=1,
                lasts=TEACHER_CODE_LASTS,
            ).text
        named = _named(made)
    if as_json:
        _print_json({**named, "teacher_code": code})
        return
    click.echo(named["class"])
    if code is not None:
        click.echo(code)
        click.echo(HOW_TO_USE_A_CODE, err=True)


@class_.command("show")
@class_option
@json_option("Print one JSON object for programs instead of lines.")
def class_show(slug: str, as_json: bool) -> None:
    """Say what a class is like: teachers, how many students, questions and lessons, rules. No student is named.

    Example: holdfast class show --class 10b-physics
    """
    with open_database(read_only=True) as db, db.reading() as session:
        shown = _portrait(session, named_class(session, slug), present_moment())
    if as_json:
        _print_json(shown)
        return
    for what, value in shown.items():
        click.echo(f"{what.replace('_', ' ')}\t{_in_a_line(value)}")


@class_.command("close")
@class_option
@click.option("--yes", is_flag=True, help="Do not ask.")
def class_close(slug: str, yes: bool) -> None:
    """End a class: nobody is asked any more, and its codes open nothing. Its data go at the end of their period.

    Example: holdfast class close --class 10b-physics

    To keep what is stored: holdfast export
    """
    from bot.service.teacher import class_lifecycle
    from storage.privacy import cleanup

    with open_database() as db:
        with db.reading() as session:
            school_class = named_class(session, slug)
            if school_class.closed_at is not None:
                raise CommandFailed(
                    f"{school_class.name} is closed since {school_class.closed_at:%Y-%m-%d}; nothing was done."
                )
            class_id, name = id_of(school_class), school_class.name
            until = cleanup.ends_on(session, school_class)
        if not yes:
            confirm(
                f"Close {name}? Nobody is asked any more, and nobody can join. What is stored goes after {until}.",
                "Nothing was closed.",
            )
        with db.begin() as session:
            class_lifecycle.end(session, class_id, present_moment())
    click.echo(f"{name} is closed. What is stored of it goes after {until}.")


# ---------------------------------------------------------------- what is shown of a class


def _named(school_class: SchoolClass) -> dict[str, Any]:
    """Return what tells a class from others."""
    closed = school_class.closed_at
    return {
        "class": school_class.slug,
        "name": school_class.name,
        "subject": school_class.subject,
        "zone": school_class.zone,
        "language": school_class.language,
        "closed_at": closed.isoformat() if closed else None,
    }


def _portrait(session: Session, school_class: SchoolClass, now: datetime) -> dict[str, Any]:
    from storage.privacy import cleanup
    from storage.school import classes, enrolments, questions, timetable
    from storage.school.rules import clock_text
    from storage.tables import EnrolmentState

    class_id = id_of(school_class)
    roster = enrolments.roster(session, class_id)
    ahead = timetable.quizzes(session, class_id, since=now)
    return {
        **_named(school_class),
        "teachers": [_who(one.person_id, one.name) for one in classes.teachers(session, class_id)],
        "students": {
            "joined": sum(1 for one in roster if one.person_id is not None),
            "asked at present": sum(
                1 for one in roster if one.person_id is not None and one.state is EnrolmentState.ACTIVE
            ),
            "on the roster only": sum(1 for one in roster if one.person_id is None),
        },
        "topics": len(timetable.topics(session, class_id, now)),
        "questions": sum(questions.counts(session, class_id).values()),
        "lessons_ahead": len(timetable.lessons(session, class_id, since=now)),
        "next_quiz": {"name": ahead[0].name, "day": ahead[0].day.isoformat()} if ahead else None,
        "questions_at": clock_text(school_class.nudge_minute),
        "questions_per_nudge": school_class.questions_per_nudge,
        "quiet": f"{clock_text(school_class.quiet_from)}-{clock_text(school_class.quiet_until)}",
        "consent": school_class.consent.value,
        "kept_until": cleanup.ends_on(session, school_class).isoformat(),
    }


def _who(person_id: int, name: str) -> dict[str, Any]:
    return {"number": f"#{person_id}", "name": name}


def _in_a_line(value: Any) -> str:
    """Return a value of the portrait for people."""
    if isinstance(value, list):
        return ", ".join(f"{one['name']} ({one['number']})" for one in value) or "none yet"
    if isinstance(value, dict) and "day" in value:
        return f"{value['name'] or 'without a name'}, {value['day']}"
    if isinstance(value, dict):
        return ", ".join(f"{number} {what}" for what, number in value.items())
    return "–" if value in (None, "") else str(value)


def _language(tag: str) -> str:
    from bot.words import LANGUAGES

    if tag not in LANGUAGES:
        raise click.BadParameter(
            f'"{tag}" is not spoken. Choose: {", ".join(LANGUAGES)}.', param_hint="--language"
        )
    return tag


def _zone(text: str) -> str:
    """Return the zone that is meant, read as in the chat: a whole name, or a city of one zone."""
    from bot.talk.zones import zones_named

    found = zones_named(text, parts=True)
    if len(found) == 1:
        return found[0]
    which = f"It can be: {', '.join(found)}." if found else "Write one such as Europe/London."
    raise click.BadParameter(f'"{text}" is no single time zone. {which}', param_hint="--zone")


def _print_json(told: dict[str, Any]) -> None:
    click.echo(json_text(told))


# ---------------------------------------------------------------- teachers


@click.group()
def teacher() -> None:
    """Invite teachers, list them, or take somebody's rights away.

    Example: holdfast teacher add
    """


@teacher.command("add")
@option_of_class("Into this class. Default: they create their own.")
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
            session,
            CodeKind.TEACHER,
            now=present_moment(),
            class_id=class_id,
            uses=1,
            lasts=TEACHER_CODE_LASTS,
        )
    click.echo(issued.text)
    click.echo(HOW_TO_USE_A_CODE, err=True)


@teacher.command("list")
@option_of_class("Teachers of this class only.")
@json_option("Print one JSON object for programs instead of lines.")
def teacher_list(slug: str | None, as_json: bool) -> None:
    """Name every teacher: number, name, classes, and whether they may create classes.

    Example: holdfast teacher list
    """
    from storage.school import teachers

    with open_database(read_only=True) as db, db.reading() as session:
        only = named_class(session, slug).slug if slug else None
        found = [one for one in teachers.all_teachers(session) if only is None or only in one.classes]
    if as_json:
        told = [
            {**_who(one.person_id, one.name), "classes": list(one.classes), "may_create_classes": one.creates}
            for one in found
        ]
        _print_json({"teachers": told})
        return
    for one in found:
        may = "\tmay create classes" if one.creates else ""
        click.echo(f"#{one.person_id}\t{one.name}\t{', '.join(one.classes) or 'no class'}{may}")
    if not found:
        click.echo("No teacher yet. Invite one with: holdfast teacher add", err=True)


@teacher.command("remove")
@click.argument("name")
@option_of_class("Out of this class only. Default: out of all.")
@click.option("--yes", is_flag=True, help="Do not ask.")
def teacher_remove(name: str, slug: str | None, yes: bool) -> None:
    """Take a teacher out of a class, or out of all and the right to create classes. What they wrote stays.

    Example: holdfast teacher remove "Ms Okafor" --class 10b-physics

    NAME is a name, or a number such as #4, as in: holdfast teacher list. The last teacher of an open class cannot go:
    add another first, or close the class.
    """
    from storage.school import classes, teachers

    with open_database() as db:
        with db.reading() as session:
            found = _named_teacher(session, name)
            school_class = named_class(session, slug) if slug else None
            class_id = id_of(school_class) if school_class else None
            where = school_class.name if school_class else "all classes, and the right to create classes"
        if not yes:
            confirm(f"Take {found.name} (#{found.person_id}) out of {where}?", "Nobody was removed.")
        with db.begin() as session:
            if class_id is None:
                teachers.withdraw(session, found.person_id)
            else:
                classes.remove_teacher(session, class_id, found.person_id)
    click.echo(f"{found.name} is out of {where}.")


def _named_teacher(session: Session, name: str) -> TeacherInfo:
    """Return the teacher who was named by name or number: somebody who may create a class, or teaches one."""
    from storage.school import enrolments, teachers

    there = teachers.all_teachers(session)
    by_number = [one for one in there if name.strip() == f"#{one.person_id}"]
    found = by_number or [one for one in there if enrolments.fold(one.name) == enrolments.fold(name)]
    if len(found) > 1:
        numbers = ", ".join(f"#{one.person_id} ({', '.join(one.classes) or 'no class'})" for one in found)
        raise CommandFailed(f'{len(found)} teachers are called "{name}": {numbers}. Name a number.')
    if not found:
        raise CommandFailed(f'No teacher is called "{name}". See: holdfast teacher list')
    return found[0]
