"""Questions as they are typed: a list in a message or a document, without a table.

Understood are, with or without numbers before the question::

    Topic: Forces                      1. Unit of force?        Unit of force? / newton
    Unit of force?                     a) joule
    newton                             *b) newton               Q: Unit of force?
                                       c) watt                  A: newton

An option is marked as right by a star or a tick, or named in a line "Answer: b". A line "Explanation: …" is shown after
the answer. A question begins with a number, ends with a question mark, or stands after an empty line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from storage.files.headings import Headings
from storage.files.problem import Choices, PossibleReading, problem
from storage.files.reading.sheet import Cell, FileRefused, Sheet, column_letter, text_cell
from storage.files.values import ColumnUse

_NUMBER = re.compile(
    r"\s*(?:(?:q|question|frage|aufgabe|nr|no)\.?\s*)?\(?\d{1,3}\s*[.):]\s+(?P<rest>\S.*)", re.IGNORECASE
)
_ASKS = re.compile(r"\s*(?:q|f|question|frage|pregunta|domanda)\s*:\s*(?P<rest>\S.*)", re.IGNORECASE)
_ANSWER = re.compile(
    r"\s*(?:a|answer|correct(?: answer)?|solution|key|antwort|l(?:ö|oe)sung|richtig|r[ée]ponse|respuesta|risposta)"
    r"\s*[:=]\s*(?P<rest>\S.*)",
    re.IGNORECASE,
)
_WHY = re.compile(
    r"\s*(?:explanation|why|erkl(?:ä|ae)rung|begr(?:ü|ue)ndung)\s*:\s*(?P<rest>\S.*)", re.IGNORECASE
)
_TOPIC = re.compile(r"\s*(?:(?:topic|thema|sujet|tema)\s*:\s*|#{1,4}\s+)(?P<rest>\S.*)", re.IGNORECASE)
_OPTION = re.compile(
    r"\s*(?:[-•]\s+)?(?P<before>[*✓✔]|\[[xX ]\])?\s*\(?(?P<letter>[A-Ha-h])\s?[).:]\s+(?P<text>\S.*?)"
    r"(?P<after>\s*(?:\*|✓|✔|\((?:correct|right|richtig)\)))?\s*"
)
_TICKED = re.compile(r"\s*[-•*]\s+\[(?P<before>[xX ])\]\s*(?P<text>\S.*)")
_INSIDE = re.compile(r"(?:(?<=\s)|^)(?P<star>[*✓✔]?)\(?(?P<letter>[a-hA-H])\s?[).]\s+")
_PAIR = re.compile(r"(?P<asks>.*\?)\s*(?:/|->|→|=>|\t|–|—|\|)\s*(?P<answer>\S.*)")
_HEADINGS = ("topic", "question", "answer", "explanation", *"ABCDEFGH")
_FIELDS = ("topic", "question", "answer", "explanation", *("option",) * 8)
_MOST_TOPICS = 12


@dataclass
class _Draft:
    """A question while it is put together; `number` is its line, and `asked` says that it begins with "Q:"."""

    number: int
    text: str
    topic: str = ""
    options: list[str] = field(default_factory=list)
    right: list[int] = field(default_factory=list)
    answer: str = ""
    why: str = ""
    asked: bool = False
    numbered: bool = False

    @property
    def answered(self) -> bool:
        """Whether it has all that it needs."""
        return bool(self.answer or self.right)

    @property
    def sure(self) -> bool:
        """Whether it is a question by more than the place of its line."""
        return self.numbered or self.asked or bool(self.options) or self.text.endswith("?")

    def cells(self) -> list[Cell]:
        """Return it as a row under `_HEADINGS`."""
        letters = [column_letter(place) for place in self.right]
        answer = self.answer or ", ".join(letters)
        texts = (self.topic, self.text, answer, self.why, *self.options)
        return [text_cell(text) for text in texts]


def question_list(
    lines: Sequence[str], kind: Sheet, name: str, known_topics: Sequence[str], choices: Choices
) -> tuple[Sheet, Headings] | None:
    """Read lines of text as a list of questions.

    Parameters
    ----------
    lines : sequence of str
        The text, line by line.
    kind : Sheet
        What the file was read as.
    name : str
        Its name, for messages only.
    known_topics : sequence of str
        The topics of the class, to choose from where the text names none.
    choices : mapping
        What was decided; ``topic`` is the topic of all questions.

    Returns
    -------
    tuple of Sheet and Headings, or None
        Each question in the row of its line; None where the text is no list of questions.

    Raises
    ------
    FileRefused
        Where no topic is named: with the question which, or what to write.
    """
    drafts, unread = _drafts(lines)
    complete = [one for one in drafts if one.answered]
    if 2 * sum(one.sure for one in drafts) < len(drafts) or not complete:
        return None
    if len(unread) + len(drafts) - len(complete) > len(complete):
        return None
    if not all(one.topic for one in drafts):
        _ask_topic(drafts, name, known_topics, choices)
    rows: list[tuple[Cell, ...]] = [()] * len(lines)
    for one in drafts:
        rows[one.number - 1] = tuple(one.cells())
    uses = tuple(
        ColumnUse(column_letter(place), heading, _FIELDS[place]) for place, heading in enumerate(_HEADINGS)
    )
    columns = {
        name: tuple(place for place, one in enumerate(_FIELDS) if one == name)
        for name in dict.fromkeys(_FIELDS)
    }
    notes = tuple(replace(problem("line_unread", found=text), row=number) for number, text in unread)
    return replace(kind, rows=tuple(rows)), Headings(0, columns, uses, {}, notes, len(_HEADINGS))


def _ask_topic(drafts: Sequence[_Draft], name: str, known: Sequence[str], choices: Choices) -> None:
    if "topic" not in choices:
        first = next(one for one in drafts if not one.topic)
        if not known:
            raise FileRefused(replace(problem("topics_unnamed", name=name), row=first.number))
        asked = problem("topic_for_all", found=first.text)
        options = tuple(PossibleReading("topic", one, label=one) for one in known[-_MOST_TOPICS:])
        raise FileRefused(replace(asked, options=options))
    for one in drafts:
        one.topic = one.topic or choices["topic"]


def _drafts(lines: Sequence[str]) -> tuple[list[_Draft], list[tuple[int, str]]]:
    """Put the questions of a text together; return also the lines that belong to none."""
    drafts: list[_Draft] = []
    unread: list[tuple[int, str]] = []
    topic, blank = "", True
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            blank = True
            continue
        last = drafts[-1] if drafts else None
        if found := _TOPIC.fullmatch(line):
            topic = found["rest"].strip()
        elif last is not None and _belongs(line, last):
            pass
        elif started := _started(line, number, after_blank=blank, last=last):
            drafts += [replace(one, topic=topic) for one in started]
        elif last is not None and not last.answered and not last.options:
            last.answer = line.strip()
        else:
            unread.append((number, line.strip()))
        blank = False
    return drafts, unread


def _belongs(line: str, last: _Draft) -> bool:
    """Take a line as a part of the question above: an option, its answer, an explanation."""
    if last.asked and not last.options and (found := _ANSWER.fullmatch(line)):
        last.answer = found["rest"].strip()
        return True
    if found := (_TICKED.fullmatch(line) or _OPTION.fullmatch(line)):
        ticked = (found["before"] or "").strip("[] ") or found.groupdict().get("after")
        if ticked:
            last.right.append(len(last.options))
        last.options.append(found["text"].strip())
        return True
    if found := _ANSWER.fullmatch(line):
        last.answer = found["rest"].strip()
        return True
    if found := _WHY.fullmatch(line):
        last.why = found["rest"].strip()
        return True
    return False


def _started(line: str, number: int, *, after_blank: bool, last: _Draft | None) -> list[_Draft]:
    """Take a line as the beginning of a question, perhaps with all that belongs to it."""
    asked = _ASKS.fullmatch(line)
    named = _NUMBER.fullmatch(line) or asked
    text = (named["rest"] if named else line).strip()
    if found := _PAIR.fullmatch(text):
        return [_Draft(number, found["asks"].strip(), answer=found["answer"].strip())]
    if options := list(_options_inside(text)):
        asks, texts, right = (
            options[0][0],
            [one for _, one, _ in options[1:]],
            [place for place, one in enumerate(options[1:]) if one[2]],
        )
        return [_Draft(number, asks, options=texts, right=right)]
    fresh = last is None or last.answered or bool(last.options)
    if named or text.endswith("?") or (after_blank and fresh):
        return [_Draft(number, text, asked=asked is not None, numbered=named is not None)]
    return []


def _options_inside(text: str) -> Iterator[tuple[str, str, bool]]:
    """Cut options that stand in the line of their question: ``Unit? a) joule *b) newton``; nothing if there are none.

    The first that is given is the question.
    """
    marks = list(_INSIDE.finditer(text))
    letters = "".join(one["letter"].lower() for one in marks)
    if len(marks) < 2 or letters != "abcdefgh"[: len(marks)] or not text[: marks[0].start()].strip():
        return
    yield text[: marks[0].start()].strip(), "", False
    ends = [one.start() for one in marks[1:]] + [len(text)]
    for one, end in zip(marks, ends, strict=True):
        inner = text[one.end() : end].strip().rstrip(";,")
        yield "", inner.rstrip("*✓✔ "), bool(one["star"]) or inner.endswith(("*", "✓", "✔"))
