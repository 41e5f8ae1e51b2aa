"""Reading the files of the bank.

A template in a file::

    [[template]]
    id = "speed-cyclist"                 # never changed: draws that were asked refer to it
    topic = "speed"                      # of topics.toml
    kind = "number"
    values = "s = 60..240 step 20; t in 8, 10, 12"
    answer = "s/t"                       # or in each language, for texts
    unit = "m/s"
    tolerance = "2 %"
    wrong = ["s·t", "t/s"]               # or in each language
    figures = ""                         # how the answer is written
    source = "…"                         # of constants and facts
    [template.en]                        # and the same in [template.de]
    words = "who in Ada, Ben"            # drawn words: as many, in the same order, in both languages
    text = "…"
    because = ["…", "…"]                 # one for each wrong answer
    steps = ["…"]
    explanation = "…"

A question that is the same for everybody::

    [[question]]
    id = "speed-standing-still"
    topic = "speed"
    kind = "choice"                      # or "number", "text", "formula"
    answer = "…"                         # of numbers; else in each language, as are wrong answers and alternatives
    [question.en]                        # and the same in [question.de]
    text = "…"
    answer = "…"
    wrong = ["…", "…"]
    because = ["…", "…"]
    explanation = "…"
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from bot.grading.drawn import Language, Template, Wrong
from bot.grading.kinds import KINDS
from storage.files.keys import read_tolerance
from storage.files.values import QuestionRow, Tolerance

LANGUAGES: tuple[Language, ...] = ("en", "de")

_SHARED = {
    "id",
    "topic",
    "kind",
    "values",
    "answer",
    "alternatives",
    "unit",
    "tolerance",
    "wrong",
    "figures",
    "source",
}
_SPOKEN = {"words", "text", "answer", "alternatives", "wrong", "because", "steps", "explanation"}
_DRAWN = {"values", "figures", "words"}


class BadBank(ValueError):
    """A file of the bank is damaged; the message says which and where."""


@dataclass(frozen=True, slots=True)
class BankTopic:
    """A topic with the names that timetables give it.

    Attributes
    ----------
    id : str
    subject : {"physics", "mathematics"}
    names : mapping of Language to tuple of str
        The first one is shown; the others are aliases.
    """

    id: str
    subject: str
    names: Mapping[Language, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class BankQuestion:
    """A question of the bank in every language.

    Attributes
    ----------
    id : str
    topic : str
        Of a :class:`BankTopic`.
    templates : mapping of Language to Template
        A draw of the one is a draw of the other.
    source : str
        Of constants and facts in it; "" when there are none.
    """

    id: str
    topic: str
    templates: Mapping[Language, Template]
    source: str = ""

    def prompt(self, language: Language) -> str:
        """Return what is asked, values left open."""
        return self.templates[language].text


@dataclass(frozen=True, slots=True)
class FixedQuestion:
    """A question of the bank that is the same for everybody, in every language.

    Attributes
    ----------
    id : str
    topic : str
        Of a :class:`BankTopic`.
    rows : mapping of Language to QuestionRow
        As a question sheet would have it; its row means nothing, its topic is that of the bank.
    source : str
        Of constants and facts in it; "" when there are none.
    """

    id: str
    topic: str
    rows: Mapping[Language, QuestionRow]
    source: str = ""

    def prompt(self, language: Language) -> str:
        """Return what is asked."""
        return self.rows[language].prompt


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything in the bank, by id, in the order of the files.

    Attributes
    ----------
    topics : mapping of str to BankTopic
    entries : mapping of str to BankQuestion
        Questions with drawn values.
    fixed : mapping of str to FixedQuestion
        Questions that are the same for everybody.
    """

    topics: Mapping[str, BankTopic]
    entries: Mapping[str, BankQuestion]
    fixed: Mapping[str, FixedQuestion]

    def of_topic(self, topic: str) -> tuple[BankQuestion | FixedQuestion, ...]:
        """Return the questions of a topic, those with drawn values first."""
        both: tuple[BankQuestion | FixedQuestion, ...] = (*self.entries.values(), *self.fixed.values())
        return tuple(entry for entry in both if entry.topic == topic)


@lru_cache(maxsize=1)
def catalogue() -> Catalogue:
    """Return the bank; read once.

    Raises
    ------
    BadBank
        When a file of the package is damaged.
    """
    place = files(__package__)
    topics = {topic.id: topic for topic in _topics(place / "topics.toml")}
    entries: dict[str, BankQuestion] = {}
    fixed: dict[str, FixedQuestion] = {}
    for subject in sorted({topic.subject for topic in topics.values()}):
        for file in sorted((place / subject).iterdir(), key=lambda file: file.name):
            name, rows = f"{subject}/{file.name}", _toml(file)
            for entry in (read_entry(row, name) for row in rows.get("template", ())):
                _check_new(entry, name, topics, entries.keys() | fixed.keys())
                entries[entry.id] = entry
            for question in (read_fixed(row, name) for row in rows.get("question", ())):
                _check_new(question, name, topics, entries.keys() | fixed.keys())
                fixed[question.id] = question
    return Catalogue(topics, entries, fixed)


def _check_new(
    entry: BankQuestion | FixedQuestion, file: str, topics: Mapping[str, BankTopic], read: Collection[str]
) -> None:
    if entry.id in read or entry.topic not in topics:
        raise BadBank(f"{file}: {entry.id} stands twice, or has no topic {entry.topic}.")


def _toml(file: Traversable) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadBank(f"{file.name} cannot be read: {error}") from error


def _topics(file: Traversable) -> list[BankTopic]:
    return [
        BankTopic(row["id"], row["subject"], {language: tuple(row[language]) for language in LANGUAGES})
        for row in _toml(file)["topic"]
    ]


def read_entry(row: Mapping[str, Any], place: str) -> BankQuestion:
    """Read one template of a file.

    Raises
    ------
    BadBank
        When a field is missing, unknown or does not fit the others.
    """
    name = f"{place}: {row.get('id', 'a template without id')}"
    _check_fields(row, _SHARED, name)
    try:
        templates = {language: _template(row, language, name) for language in LANGUAGES}
        return BankQuestion(row["id"], row["topic"], templates, row.get("source", ""))
    except KeyError as error:
        raise BadBank(f"{name} lacks {error}.") from error


def read_fixed(row: Mapping[str, Any], place: str) -> FixedQuestion:
    """Read one question of a file that is the same for everybody.

    Raises
    ------
    BadBank
        When a field is missing, unknown or does not fit the others.
    """
    name = f"{place}: {row.get('id', 'a question without id')}"
    _check_fields(row, _SHARED - _DRAWN, name)
    try:
        rows = {language: _row(row, language, name) for language in LANGUAGES}
        return FixedQuestion(row["id"], row["topic"], rows, row.get("source", ""))
    except KeyError as error:
        raise BadBank(f"{name} lacks {error}.") from error


def _check_fields(row: Mapping[str, Any], known: set[str], name: str) -> None:
    unknown = sorted(set(row) - known - set(LANGUAGES))
    if unknown:
        raise BadBank(f"{name} has the unknown field {unknown[0]}.")


def _spoken(row: Mapping[str, Any], language: Language, known: set[str], name: str) -> dict[str, Any]:
    """Return the fields of a language together with those of both; as many explanations as wrong answers."""
    spoken = row[language]
    unknown = sorted(set(spoken) - known)
    if unknown:
        raise BadBank(f"{name} has the unknown field {language}.{unknown[0]}.")
    both = {"wrong": [], "because": [], "alternatives": [], **row, **spoken}
    if len(both["wrong"]) != len(both["because"]):
        wrong, because = len(both["wrong"]), len(both["because"])
        raise BadBank(f"{name} has {wrong} wrong answers and {because} explanations in {language}.")
    return both


def _tolerance(row: Mapping[str, Any], name: str) -> Tolerance | None:
    tolerance = read_tolerance(row["tolerance"]) if "tolerance" in row else None
    if tolerance is None and "tolerance" in row:
        raise BadBank(f"{name} has the tolerance {row['tolerance']!r}, which is none.")
    return tolerance


def _row(row: Mapping[str, Any], language: Language, name: str) -> QuestionRow:
    both = _spoken(row, language, _SPOKEN - _DRAWN, name)
    wrong = tuple(both["wrong"])
    choice = KINDS[row["kind"]].is_tapped
    return QuestionRow(
        0,
        row["topic"],
        both["text"],
        row["kind"],
        both["answer"],
        alternatives=tuple(both["alternatives"]),
        wrong_options=wrong if choice else (),
        tolerance=_tolerance(row, name),
        unit=row.get("unit"),
        explanation=both.get("explanation"),
        typical_errors=() if choice else wrong,
        why_wrong=tuple(both["because"]),
        steps=tuple(both.get("steps", ())),
    )


def _template(row: Mapping[str, Any], language: Language, name: str) -> Template:
    both = _spoken(row, language, _SPOKEN, name)
    return Template(
        kind=row["kind"],
        text=both["text"],
        # Words come last: a number beside a word may follow from the shared values.
        values="; ".join(part for part in (row["values"], both.get("words", "")) if part),
        answer=both["answer"],
        wrong=tuple(Wrong(answer, said) for answer, said in zip(both["wrong"], both["because"], strict=True)),
        alternatives=tuple(both["alternatives"]),
        unit=row.get("unit", ""),
        tolerance=_tolerance(row, name),
        figures=row.get("figures", ""),
        explanation=both.get("explanation", ""),
        steps=tuple(both.get("steps", ())),
        language=language,
    )
