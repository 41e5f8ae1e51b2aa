"""The rules of a class: which values are allowed, alone and beside each other.

The upper limits protect students, whatever a teacher sets: at most ten questions a day in at most two
nudges, no time of day within quiet hours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.calendar.quiet_hours import in_quiet_hours, quiet_hours
from scheduler.calendar.zones import DAY_MIN
from storage.base.errors import InvalidValue, refused
from storage.tables import SchoolClass
from storage.values import (
    NUDGES_A_DAY_AT_MOST,
    QUESTIONS_A_DAY_AT_MOST,
    TARGET_HIGHEST,
    TARGET_LOWEST,
    ConsentRule,
    Rules,
)

RULES = tuple(field.name for field in fields(Rules))
"""The columns of `SchoolClass` that are its rules, in the order of `Rules`."""


def rules_of(row: SchoolClass) -> Rules:
    """Return the rules of a class."""
    return of_columns(getattr(row, name) for name in RULES)


def of_columns(values: Iterable[Any]) -> Rules:
    """Return rules from the values of the columns `RULES`, in their order."""
    zone, weekdays, lessons, *others = values
    return Rules(zone, tuple(weekdays), tuple((day, start, end) for day, start, end in lessons), *others)


def check(changes: Mapping[str, Any], row: SchoolClass) -> None:
    """Refuse changes that a class cannot have.

    Parameters
    ----------
    changes : mapping
        Rules by the names of their columns in `SchoolClass`.
    row : SchoolClass
        The class as it is; supplies the rules that do not change.

    Raises
    ------
    InvalidValue
        An unknown rule, or a value that is refused; the message says what is allowed.
    """
    for field, value in changes.items():
        if field not in _CHECKS:
            raise InvalidValue(field, f"There is no rule {field!r} that can be changed.")
        _CHECKS[field](field, value)
    after = {field: changes.get(field, getattr(row, field)) for field in _CHECKS}
    _check_cap(after)
    quiet = quiet_at(after["nudge_minute"], after["quiet_from"], after["quiet_until"])
    if quiet:
        raise refused(InvalidValue, "class_quiet_hours", field="nudge_minute", **quiet)


def check_zone(field: str, value: Any) -> None:
    """Refuse what is not an IANA zone."""
    try:
        ZoneInfo(value)
    except (ValueError, OSError, TypeError, LookupError):
        raise refused(InvalidValue, "zone", field=field, found=str(value)[:60]) from None


def check_minute(field: str, value: Any) -> None:
    """Refuse what is not a minute of the day, 0 to 1439 [min after local midnight]."""
    _whole(0, DAY_MIN - 1, "a time of day between 00:00 and 23:59")(field, value)


def quiet_at(minute: int, quiet_from: int | None, quiet_until: int | None) -> dict[str, str]:
    """Return what a refusal of a nudge within quiet hours names; nothing where the time is outside of them.

    Parameters
    ----------
    minute, quiet_from, quiet_until : int or None
        Minutes after local midnight; there are no quiet hours where an end is missing. [0..1439]
    """
    for hours in quiet_hours(quiet_from, quiet_until):
        if in_quiet_hours(minute, (hours,)):
            return {"at": clock_text(minute), "start": f"{hours.start:%H:%M}", "end": f"{hours.end:%H:%M}"}
    return {}


def clock_text(minute: int) -> str:
    """Return a minute of the day as people write it: 1110 is ``18:30``."""
    return f"{minute // 60:02}:{minute % 60:02}"


def _check_cap(after: Mapping[str, Any]) -> None:
    a_day = after["nudges_per_day"] * after["questions_per_nudge"]
    if a_day > QUESTIONS_A_DAY_AT_MOST:
        raise refused(
            InvalidValue,
            "cap",
            field="questions_per_nudge",
            nudges=after["nudges_per_day"],
            questions=after["questions_per_nudge"],
            a_day=a_day,
            most=QUESTIONS_A_DAY_AT_MOST,
        )


_WORDED = frozenset({"questions_per_nudge", "nudges_per_day", "term_allowance", "target"})
"""Rules whose limits people can be told about, as ``rule_FIELD``."""


def _whole(low: int, high: int, what: str) -> Callable[[str, Any], None]:
    def judge(field: str, value: Any) -> None:
        whole = isinstance(value, int) and not isinstance(value, bool)
        if whole and not low <= value <= high and field in _WORDED:
            raise refused(InvalidValue, f"rule_{field}", field=field, low=low, most=high)
        if not whole or not low <= value <= high:
            raise InvalidValue(field, f"{value!r} does not fit {field}: it has to be {what}.")

    return judge


def _text(longest: int) -> Callable[[str, Any], None]:
    def judge(field: str, value: Any) -> None:
        if not isinstance(value, str) or len(value) > longest:
            raise InvalidValue(field, f"The {field} has to be a text of at most {longest} characters.")

    return judge


def _kind(kind: type, what: str) -> Callable[[str, Any], None]:
    def judge(field: str, value: Any) -> None:
        if not isinstance(value, kind):
            raise InvalidValue(field, f"{value!r} does not fit {field}: it has to be {what}.")

    return judge


def _or_none(judge: Callable[[str, Any], None]) -> Callable[[str, Any], None]:
    return lambda field, value: None if value is None else judge(field, value)


def _weekdays(field: str, value: Any) -> None:
    whole = isinstance(value, list) and all(isinstance(day, int) and 0 <= day <= 6 for day in value)
    if not whole or not value or sorted(set(value)) != value:
        raise InvalidValue(
            field, "School days have to be weekdays in order, Monday 0 to Sunday 6, at least one."
        )


def _lesson_hours(field: str, value: Any) -> None:
    if not isinstance(value, list) or len(value) > 60:
        raise InvalidValue(field, "Lesson hours have to be a list of at most 60 lessons a week.")
    for entry in value:
        if not (isinstance(entry, list) and len(entry) == 3 and all(isinstance(part, int) for part in entry)):
            raise InvalidValue(field, f"{entry!r} is not a lesson: give weekday, start and end.")
        weekday, start, end = entry
        if not (0 <= weekday <= 6 and 0 <= start < end <= DAY_MIN):
            raise refused(InvalidValue, "lesson_hours", field=field)


_CHECKS: Mapping[str, Callable[[str, Any], None]] = {
    "subject": _text(80),
    "zone": check_zone,
    "language": _text(35),
    "school_weekdays": _weekdays,
    "lesson_hours": _lesson_hours,
    "quiet_from": check_minute,
    "quiet_until": check_minute,
    "nudge_minute": check_minute,
    "nudges_per_day": _whole(1, NUDGES_A_DAY_AT_MOST, f"1 to {NUDGES_A_DAY_AT_MOST}"),
    "questions_per_nudge": _whole(1, QUESTIONS_A_DAY_AT_MOST, f"1 to {QUESTIONS_A_DAY_AT_MOST}"),
    "term_allowance": _or_none(_whole(0, 10_000, "a number of questions, or none")),
    "target": _or_none(
        _whole(TARGET_LOWEST, TARGET_HIGHEST, f"{TARGET_LOWEST} to {TARGET_HIGHEST} percent, or none")
    ),
    "on_holidays": _kind(bool, "yes or no"),
    "consent": _kind(ConsentRule, "student or school"),
    "report_weekday": _whole(0, 6, "a weekday, Monday 0 to Sunday 6"),
    "report_minute": check_minute,
    "retain_until": _or_none(_kind(date, "a day")),
}
