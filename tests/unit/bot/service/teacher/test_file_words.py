"""What is wrong with a file is said in the teacher's language, whatever the problem is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import storage.files
from bot.service.teacher.file_words import sentence
from bot.words import words
from storage.files.problem import problem
from storage.files.words import WORDS

GERMAN, ENGLISH = words("de"), words("en")
SOURCES = "".join(path.read_text() for path in Path(storage.files.__file__).parent.rglob("*.py"))


def fields_of(code: str) -> dict[str, object]:
    _, what, todo = WORDS[code]
    names = set(re.findall(r"\{(\w+)\}", what + todo)) - {"found", "hint", "more"}
    return dict.fromkeys(names, "7")


@pytest.mark.parametrize("code", sorted(WORDS))
def test_every_problem_has_a_german_sentence(code: str):
    one = problem(code, found="x", **fields_of(code))
    said = sentence(one, GERMAN)
    assert said.endswith((".", "…"))
    assert "{" not in said
    assert not re.search(r"\b(the|and|is|of|not|it|Write|Delete)\b", said)
    assert sentence(one, ENGLISH) == one.sentence


@pytest.mark.parametrize("name", ["kind", "wanted"])
def test_every_phrase_that_the_readers_fill_in_has_words(name: str):
    known = {ENGLISH.text(key) for key in ENGLISH.keys(f"file.{name}.")}
    used = set(re.findall(rf'problem\([^()]*\b{name}="((?:an?|the) [^"]+)"', SOURCES))
    used |= set(re.findall(r'\.text\("[a-z]+", "(the [^"]+)"', SOURCES)) if name == "wanted" else set()
    assert len(used) >= 3
    assert used <= known
    for phrase in known:
        assert f'"{phrase}"' in SOURCES, "it is written nowhere any more"


@pytest.mark.parametrize(
    ("code", "fields", "said"),
    [
        (
            "date_unreal",
            {"order": "day month year", "example": "30 November 2026"},
            "Tag Monat Jahr, zum Beispiel 30. November 2026",
        ),
        ("date_two_ways", {"first": "3 April", "second": "4 March"}, "3. April oder 4. März"),
        (
            "date_two_ways",
            {"first": "3 April", "second": "4 March", "more": "; so can the days in 2 more rows"},
            "in 2 weiteren Zeilen",
        ),
        ("date_weekday", {"meant": "2027-04-03", "weekday": "Saturday"}, "ist ein Samstag"),
        ("kind_unknown", {"hint": ' (did you mean "lesson"?)'}, "(meinten Sie „lesson“?)"),
        (
            "columns_unread",
            {"hint": ' (did you mean "topic" with "Tema 1"?)'},
            "(meinten Sie „topic“ mit „Tema 1“?)",
        ),
        (
            "heading_missing",
            {"wanted": "score", "also": "mark", "hint": " (sccore comes close)"},
            "(sccore kommt dem nahe)",
        ),
        (
            "date_number",
            {"hint": " (as a spreadsheet's day number it would be 2026-11-25)"},
            "wäre es 2026-11-25",
        ),
        ("file_large", {"size": "12.5 MB", "limit": "5 MB"}, "12,5 MB"),
        ("file_kind", {"kind": "an old binary document (.xls)"}, "ein altes binäres Dokument"),
        ("file_kind", {"kind": "something new"}, "something new"),
        ("options_same", {"other": "the answer"}, "dieselbe wie die Antwort"),
    ],
)
def test_what_a_sentence_is_filled_in_with_is_worded_too(code: str, fields: dict[str, str], said: str):
    assert said in sentence(problem(code, found="x", **{"name": "a.xls", **fields}), GERMAN)
