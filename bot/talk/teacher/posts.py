"""A topic post: one message that starts a topic, in a class place or to the bot.

First line ``/topic Hooke's law``, ``New topic: Hooke's law`` or ``Neues Thema: …``; then, if wanted, lines with
``homework: …``, ``quiz: 11 Dec`` and questions as ``question / answer / wrong option / …``. Reading is
pure: every line is either understood or handed back to be asked about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from bot.teaching.typed_days import read_days

LONGEST_NAME = 200

_CERTAIN = re.compile(
    r"^\s*(?:/topic(?:@\w+)?(?:\s+|$)[:–-]?\s*|(?:new\s+topic|today'?s?\s+topic|topic|neues\s+thema|heutiges\s+thema|thema)\s*(?:[:–—]|\s-\s)\s*)(.*)$",
    re.IGNORECASE,
)
_DOUBTFUL = re.compile(r"^\s*(?:(?:a\s+)?new\s+topic|(?:ein\s+)?neues\s+thema)\b[\s,.]*(.*)$", re.IGNORECASE)
_HOMEWORK = re.compile(r"^\s*(?:homework|hw|hausaufgaben?|ha)\s*[:–—-]\s*(.*)$", re.IGNORECASE)
_QUIZ = re.compile(
    r"^\s*(?:quiz|test|klassenarbeit|arbeit)(?:\s+date)?\s*(?:[:–—-]|\b(?:on|am)\b)\s*(.*)$", re.IGNORECASE
)
_SLASH = re.compile(r"\s+/\s+")
# A formula: as in a text to be shown, "from $5 / $6" has none.
_FORMULA = re.compile(r"(\$\$?)(?=\S)[^$\n]*?(?<=[^\s\\$])\1(?!\d)")


@dataclass(frozen=True, slots=True)
class TopicPost:
    """What a topic post says.

    Attributes
    ----------
    topic : str
        Name of the topic; empty when the post forgot it.
    certain : bool
        False when it may be ordinary talk: then the teacher is asked first.
    quiz_days : tuple of date
        One day, or two when it could be read in two ways.
    questions : tuple of str
        Lines of the form ``question / answer``.
    unclear : tuple of str
        Lines that mean nothing to us.
    """

    topic: str
    certain: bool = True
    homework: str | None = None
    quiz_days: tuple[date, ...] = ()
    questions: tuple[str, ...] = ()
    unclear: tuple[str, ...] = ()


def read_post(text: str, today: date) -> TopicPost | None:
    r"""Read a message as a topic post; None when it is none.

    Parameters
    ----------
    text : str
        The whole message.
    today : date
        The local day of the class, for dates without a year.

    Examples
    --------
    >>> post = read_post("New topic: Pressure\nhomework: p. 12\nWhat is 1 Pa? / 1 N/m^2", date(2026, 11, 25))
    >>> post.topic, post.homework, post.questions
    ('Pressure', 'p. 12', ('What is 1 Pa? / 1 N/m^2',))
    >>> read_post("Nice topic today", date(2026, 11, 25)) is None
    True
    """
    first, *rest = text.strip().splitlines() or [""]
    certain = _CERTAIN.match(first)
    doubtful = None if certain else _DOUBTFUL.match(first)
    found = certain or doubtful
    if found is None:
        return None
    name = " ".join(found[1].split())[:LONGEST_NAME].rstrip(".")
    homework: str | None = None
    quiz_days: tuple[date, ...] = ()
    questions: list[str] = []
    unclear: list[str] = []
    for line in (line.strip() for line in rest):
        if not line:
            continue
        if given := _HOMEWORK.match(line):
            homework = given[1].strip()[:500]
        elif (given := _QUIZ.match(line)) and not is_question(line):
            quiz_days = read_days(given[1], today)
            unclear += [] if quiz_days else [line]
        elif is_question(line):
            questions.append(line)
        else:
            unclear.append(line)
    return TopicPost(name, certain is not None, homework, quiz_days, tuple(questions), tuple(unclear))


def is_question(line: str) -> bool:
    """Whether a line has the form ``question / answer``: a slash with blanks around it."""
    return len(parts_of(line)) > 1


def parts_of(line: str) -> list[str]:
    """Cut ``question / answer / wrong / wrong`` at slashes with blanks around them, but within no formula."""
    line = line.strip()
    formulas = [found.span() for found in _FORMULA.finditer(line)]
    parts, at = [], 0
    for slash in _SLASH.finditer(line):
        if not any(start < slash.start() < end for start, end in formulas):
            parts.append(line[at : slash.start()].strip())
            at = slash.end()
    return [*parts, line[at:].strip()]
