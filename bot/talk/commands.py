"""Typed text to command: the one table of commands, for every chat.

A command is one plain English word. A slash in front is allowed, never needed, except where the same word
could be an answer to an open question: there only the form with the slash is a command (`parse`), and the few words
that our own messages name (`bot.talk.student.ASIDES`); any other bare word of a command is asked about (`meant_by`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

ANYBODY = frozenset({"stranger", "student", "teacher"})
STUDENT = frozenset({"student"})
TEACHER = frozenset({"teacher"})


@dataclass(frozen=True, slots=True)
class Command:
    """One command.

    Attributes
    ----------
    word : str
        What is typed.
    conversation : str
        Which conversation takes it: a key of `bot.talk.router.CONVERSATIONS`.
    roles : frozenset of str
        Who may use it.
    takes : str
        What may follow the word, for the help; empty for nothing.
    """

    word: str
    conversation: str
    roles: frozenset[str]
    takes: str = ""


COMMANDS: tuple[Command, ...] = (
    Command("start", "joining", ANYBODY, "code"),
    Command("join", "joining", ANYBODY, "code"),
    # What a teacher types to the bot.
    Command("help", "teacher", TEACHER),
    Command("cancel", "teacher", TEACHER),
    Command("create", "teacher", TEACHER, "name"),
    Command("class", "teacher", TEACHER, "name"),
    Command("code", "teacher", TEACHER),
    Command("upload", "teacher", TEACHER),
    Command("undo", "teacher", TEACHER),
    Command("timetable", "teacher", TEACHER),
    Command("topic", "teacher", TEACHER, "name"),
    Command("topics", "teacher", TEACHER),
    Command("add", "teacher", TEACHER, "topic"),
    Command("questions", "teacher", TEACHER, "topic"),
    Command("bank", "teacher", TEACHER),
    Command("homework", "teacher", TEACHER),
    Command("absent", "teacher", TEACHER, "names"),
    Command("holiday", "teacher", TEACHER, "days"),
    Command("quiz", "teacher", TEACHER, "day"),
    Command("students", "teacher", TEACHER, "name"),
    Command("permit", "teacher", TEACHER),
    Command("rules", "teacher", TEACHER, "rule"),
    Command("target", "teacher", TEACHER, "75"),
    Command("report", "teacher", TEACHER, "week"),
    Command("workbook", "teacher", TEACHER, "week"),
    Command("forecast", "teacher", TEACHER, "day"),
    Command("starter", "teacher", TEACHER),
    Command("quality", "teacher", TEACHER),
    Command("comparison", "teacher", TEACHER, "day"),
    Command("illustration", "teacher", TEACHER),
    Command("letters", "teacher", TEACHER),
    Command("share", "teacher", TEACHER),
    Command("channel", "teacher", TEACHER),
    Command("invite", "teacher", TEACHER),
    Command("close", "teacher", TEACHER),
    Command("export", "teacher", TEACHER),
    Command("records", "teacher", TEACHER, "names"),
    # What a student types to the bot.
    Command("next", "student", STUDENT),
    Command("why", "student", STUDENT, "now"),
    Command("progress", "student", STUDENT),
    Command("pause", "student", STUDENT, "2 weeks"),
    Command("resume", "student", STUDENT),
    Command("time", "student", STUDENT, "18:30"),
    Command("quiet", "student", STUDENT, "21:00-07:00"),
    Command("zone", "student", STUDENT, "city"),
    Command("leave", "student", STUDENT),
    Command("help", "student", STUDENT),
    Command("help", "joining", frozenset({"stranger"})),
    # What everybody can type who is stored here, also somebody who has left every class.
    Command("language", "account", ANYBODY, "name"),
    Command("data", "account", ANYBODY),
    Command("move", "account", ANYBODY),
    Command("erase", "account", ANYBODY),
)
"""Every command. Its one-line description is the text ``command.WORD`` in `bot.words`."""


SYNONYMS: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(
        ("stop", "stopp", "quit", "exit", "unsubscribe", "aufhören", "beenden"), ("pause", "leave")
    ),
    **dict.fromkeys(("verlassen", "austreten", "abmelden"), ("leave",)),
    "pausieren": ("pause",),
    "fortsetzen": ("resume",),
    "fortschritt": ("progress",),
    "umziehen": ("move",),
    **dict.fromkeys(("delete", "löschen"), ("erase",)),
    "sprache": ("language",),
    "hilfe": ("help",),
}
"""Words that are no command, but are typed for one: they are asked about where they would be graded."""


@dataclass(frozen=True, slots=True)
class Typed:
    """A command with what followed it. `slash` tells whether it was typed with a slash."""

    command: Command
    rest: str
    slash: bool


_SHAPE = re.compile(r"^\s*(/?)([a-z]+)(?:@\w+)?(?:[?!.\s]*|\s+(.*))$", re.IGNORECASE | re.DOTALL)


def meant_by(text: str, roles: frozenset[str]) -> tuple[str, ...]:
    """Return the commands that a bare word without a slash may stand for; none where it stands for no command.

    Examples
    --------
    >>> meant_by("Leave!", STUDENT), meant_by("stop", STUDENT), meant_by("time flies", STUDENT)
    (('leave',), ('pause', 'leave'), ())
    """
    typed = parse(text, roles)
    if typed is not None:
        return () if typed.slash or typed.rest else (typed.command.word,)
    return SYNONYMS.get(text.strip(" .!?").casefold(), ())


def parse(text: str, roles: frozenset[str]) -> Typed | None:
    """Return the command that a text is, or None when it is none that these roles may use.

    Without a slash only the bare word counts (``next``), or word and rest where the command takes a rest
    (``join 7K2M…``). The same word may be a command of several conversations: the first whose roles fit wins.
    """
    shape = _SHAPE.match(text)
    if shape is None:
        return None
    slash, word, rest = bool(shape[1]), shape[2].lower(), (shape[3] or "").strip()
    for command in COMMANDS:
        if command.word == word and command.roles & roles and (slash or not rest or command.takes):
            return Typed(command, rest, slash)
    return None
