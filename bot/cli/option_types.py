"""The types of options that several commands share: a moment, an ISO week, a student."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any, TypeVar

import click

_Command = TypeVar("_Command", bound=Callable[..., Any])
_WEEK = re.compile(r"(\d{4})-?W(\d{1,2})", re.IGNORECASE)


def moment(text: str) -> datetime:
    """Read a day or a moment of ISO 8601, as an aware moment in UTC; without an offset it is meant in UTC.

    Raises
    ------
    click.BadParameter
        It is neither.
    """
    try:
        read = datetime.fromisoformat(text.strip())
        return read.replace(tzinfo=UTC) if read.tzinfo is None else read.astimezone(UTC)
    except (ValueError, OverflowError):
        raise click.BadParameter(f'"{text}" is not a moment. Write 2026-12-04 or 2026-12-04T15:30.') from None


def iso_week(text: str) -> tuple[int, int]:
    """Read a week of ISO 8601 such as ``2026-W48``, as (year, week).

    Raises
    ------
    click.BadParameter
        It is none, or not a week of that year.
    """
    shape = _WEEK.fullmatch(text.strip())
    if shape is None:
        raise click.BadParameter(f'"{text}" is not an ISO week. Write 2026-W48.')
    year, week = int(shape[1]), int(shape[2])
    try:
        date.fromisocalendar(year, week, 1)
    except ValueError:
        raise click.BadParameter(f"{year} has no week {week}.") from None
    return year, week


def student_name(text: str) -> str:
    """Read a student's name in a class, or the number that tells two of one name apart, such as ``#12``.

    Raises
    ------
    click.BadParameter
        It is empty.
    """
    tidy = " ".join(text.split())
    if not tidy:
        raise click.BadParameter("the name is empty. Write a name of the class, or a number such as #12.")
    return tidy


def student_option(*, required: bool = False) -> Callable[[_Command], _Command]:
    """Give a command the option that names a student."""
    return click.option(
        "--student",
        "student",
        type=student_name,
        metavar="NAME",
        required=required,
        help="Name in the class, or the number that is shown when two have the same: #12.",
    )


def as_of_option(command: _Command) -> _Command:
    """Give a command the option of the moment as of which it looks."""
    option = click.option(
        "--as-of",
        type=moment,
        metavar="MOMENT",
        help=(
            "See it as of this moment, in UTC unless an offset is written: nothing that came later is used. "
            "Default: now. What has no history (names, rules, holidays, absences, pauses that are over) stands as it "
            "is today; what was erased is gone."
        ),
    )
    return option(command)


def week_option(command: _Command) -> _Command:
    """Give a command the option of the week that it is about."""
    option = click.option(
        "--week",
        type=iso_week,
        metavar="YEAR-WEEK",
        help="ISO week such as 2026-W48. Default: the week that ended last.",
    )
    return option(command)


def json_option(help_text: str) -> Callable[[_Command], _Command]:
    """Give a command the option to answer programs instead of people."""
    return click.option("--json", "as_json", is_flag=True, help=help_text)
