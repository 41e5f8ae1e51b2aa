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
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from bot.grading.drawn import Language, Template, Wrong
from storage.files.keys import read_tolerance

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


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything in the bank, by id, in the order of the files."""

    topics: Mapping[str, BankTopic]
    entries: Mapping[str, BankQuestion]

    def of_topic(self, topic: str) -> tuple[BankQuestion, ...]:
        """Return the questions of a topic."""
        return tuple(entry for entry in self.entries.values() if entry.topic == topic)


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
    for subject in sorted({topic.subject for topic in topics.values()}):
        for file in sorted((place / subject).iterdir(), key=lambda file: file.name):
            for row in _toml(file).get("template", ()):
                entry = read_entry(row, f"{subject}/{file.name}")
                if entry.id in entries or entry.topic not in topics:
                    raise BadBank(
                        f"{subject}/{file.name}: {entry.id} stands twice, or has no topic {entry.topic}."
                    )
                entries[entry.id] = entry
    return Catalogue(topics, entries)


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
    unknown = set(row) - _SHARED - set(LANGUAGES)
    if unknown:
        raise BadBank(f"{name} has the unknown field {sorted(unknown)[0]}.")
    try:
        templates = {language: _template(row, language, name) for language in LANGUAGES}
        return BankQuestion(row["id"], row["topic"], templates, row.get("source", ""))
    except KeyError as error:
        raise BadBank(f"{name} lacks {error}.") from error


def _template(row: Mapping[str, Any], language: Language, name: str) -> Template:
    spoken = row[language]
    unknown = set(spoken) - _SPOKEN
    if unknown:
        raise BadBank(f"{name} has the unknown field {language}.{sorted(unknown)[0]}.")
    both = {**row, **spoken}
    wrong, because = both.get("wrong", []), spoken.get("because", [])
    if len(wrong) != len(because):
        raise BadBank(f"{name} has {len(wrong)} wrong answers and {len(because)} explanations in {language}.")
    tolerance = read_tolerance(row["tolerance"]) if "tolerance" in row else None
    if tolerance is None and "tolerance" in row:
        raise BadBank(f"{name} has the tolerance {row['tolerance']!r}, which is none.")
    return Template(
        kind=row["kind"],
        text=spoken["text"],
        # Words come last: a number beside a word may follow from the shared values.
        values="; ".join(part for part in (row["values"], spoken.get("words", "")) if part),
        answer=both["answer"],
        wrong=tuple(Wrong(answer, said) for answer, said in zip(wrong, because, strict=True)),
        alternatives=tuple(both.get("alternatives", ())),
        unit=row.get("unit", ""),
        tolerance=tolerance,
        figures=row.get("figures", ""),
        explanation=spoken.get("explanation", ""),
        steps=tuple(spoken.get("steps", ())),
        language=language,
    )
