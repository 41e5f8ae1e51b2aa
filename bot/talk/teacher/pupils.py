"""The students of a class: who has joined, who waits for permission, names, removal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bot.talk.core import State, Step, once
from bot.talk.facts import Facts
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    do,
    foreign,
    gone,
    labelled,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.effects import PermissionCode, Permit, RemoveStudent, RenameStudent
from bot.talk.teacher_facts import PupilFacts, TeachingFacts


def students(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """List the students, or show the one that is named."""
    if rest:
        found = teaching.student_named(rest)
        if found is None:
            return answer(facts, at_home(facts, state), "student_unknown", names=rest[:60])
        return _shown(found, state, facts, teaching)
    if not teaching.students:
        return answer(facts, at_home(facts, state), "no_students")
    groups = (
        ("students.asked", [one for one in teaching.students if one.joined and one.state == "active"]),
        ("students.paused", [one for one in teaching.students if one.joined and one.state == "paused"]),
        ("students.waiting", _waiting(teaching)),
        ("students.not_joined", [one for one in teaching.students if not one.joined]),
    )
    shown = [
        facts.words.text(
            f"teacher.{key}", n=len(group), names=facts.words.listed([one.name for one in group])
        )
        for key, group in groups
        if group
    ]
    buttons = [labelled(one.name, "student", teaching.class_id, one.id) for one in teaching.students[:30]]
    first = [[press(facts, "permit_list", "permits", teaching.class_id)]] if _waiting(teaching) else []
    return answer(
        facts, at_home(facts, state), "students", [*first, *rows_of(buttons, 3)], list="\n".join(shown)
    )


def _waiting(teaching: TeachingFacts) -> list[PupilFacts]:
    return [one for one in teaching.students if one.joined and one.state == "waiting"]


def student(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show what can be done about one student."""
    who = teaching.student(number(args[0]) or 0) if args else None
    return gone(facts, state) if who is None else _shown(who, state, facts, teaching)


def _shown(who: PupilFacts, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    here = (teaching.class_id, who.id)
    buttons = [press(facts, "rename", "restudent", *here), press(facts, "remove", "remove", *here)]
    if who.joined and who.state == "waiting":
        buttons.insert(0, press(facts, "permit", "permit", *here))
        buttons.insert(1, press(facts, "permit_code", "permitcode", *here))
    key = f"student.{who.state}" if who.joined else "student.not_joined"
    return answer(facts, at_home(facts, state), key, rows_of(buttons), name=who.name)


# ---------------------------------------------------------------- permission


def permit(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show who waits for permission."""
    waiting = _waiting(teaching)
    if not waiting:
        return answer(facts, at_home(facts, state), "nobody_waits")
    buttons = [labelled(one.name, "permit", teaching.class_id, one.id) for one in waiting]
    everybody = (
        [[press(facts, "permit_all", "permit", teaching.class_id, 0, n=len(waiting))]]
        if len(waiting) > 1
        else []
    )
    return answer(
        facts, at_home(facts, state), "permit_whom", [*rows_of(buttons, 3), *everybody], n=len(waiting)
    )


def permits_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show who waits for permission."""
    return permit("", state, facts, teaching)


def permit_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Note the permission for one student, or for all who wait (0)."""
    who = number(args[0]) if args else None
    if who is None:
        return foreign(facts, state)
    return do(facts, state, Permit(teaching.class_id, who or None))


def permit_code(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Make a code with which parents give their permission themselves."""
    who = number(args[0]) if args else None
    return foreign(facts, state) if who is None else do(facts, state, PermissionCode(teaching.class_id, who))


# ---------------------------------------------------------------- names and removal


def rename(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask for another name."""
    who = teaching.student(number(args[0]) or 0) if args else None
    if who is None:
        return gone(facts, state)
    return answer(facts, at(facts, state, "teacher.restudent", student=who.id), "ask_student", name=who.name)


def renamed(text: str, state: State, facts: Facts) -> Step:
    """Take the other name."""
    if facts.teaching is None:
        return gone(facts, state)
    return do(facts, state, RenameStudent(facts.teaching.class_id, state.data.get("student", 0), text))


def remove(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask before a student is removed."""
    who = teaching.student(number(args[0]) or 0) if args else None
    if who is None:
        return gone(facts, state)
    here = (teaching.class_id, who.id)
    buttons = [[press(facts, "remove_yes", "removeyes", *here), press(facts, "keep", "student", *here)]]
    asked = once("remove", who.id)
    return answer(facts, at_home(facts, state), "remove_sure", buttons, name=who.name, key=asked)


def remove_yes(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Remove a student."""
    who = number(args[0]) if args else None
    return foreign(facts, state) if who is None else do(facts, state, RemoveStudent(teaching.class_id, who))


COMMANDS: Mapping[str, Typed] = {"students": with_class(students), "permit": with_class(permit)}
STATES: Mapping[str, Typed] = {"teacher.restudent": renamed}
BUTTONS: Mapping[str, Pressed] = {
    "student": of_class(student),
    "permits": of_class(permits_pressed),
    "permit": of_class(permit_pressed),
    "permitcode": of_class(permit_code),
    "restudent": of_class(rename),
    "remove": of_class(remove),
    "removeyes": of_class(remove_yes),
}
