"""What is wrong with a file is said in the teacher's language, whatever the problem is."""

from __future__ import annotations

import ast
import re
import string
from datetime import date
from pathlib import Path

import pytest

import bot.grading
import storage.files
from bot.grading.upload import KeyRefused, key_from
from bot.words import LANGUAGES, Words, words
from bot.words.problems import advice, description, key_description, label, sentence
from storage.files.levels import LEVELS
from storage.files.problem import DateOrder, Phrase, PossibleReading, Value, Weekday, problem

GERMAN, ENGLISH = words("de"), words("en")
SOURCES = sorted(Path(storage.files.__file__).parent.rglob("*.py"))


def _blanks(code: str, said: Words) -> set[str]:
    texts = (str(said._template(f"file.{code}{part}", {})) for part in ("", ".todo"))
    return {name for text in texts for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("code", sorted(LEVELS))
def test_every_problem_says_what_is_wrong_and_what_to_do_in_plain_sentences(code: str, language: str):
    said = words(language)
    one = problem(code, found="x", **dict.fromkeys(_blanks(code, said) - {"found", "hint", "more"}, "7"))
    assert LEVELS[code] in ("file", "row", "question", "note")
    what, todo, whole = description(one, said), advice(one, said), sentence(one, said)
    assert not what.endswith(".")
    assert todo.endswith((".", "…"))
    assert not re.search(r"[!{]", whole)
    if language == "de":
        assert not re.search(r"\b(the|and|is|of|not|it|Write|Delete)\b", whole)
    else:
        assert not re.search(r"\b(invalid|error|failed|exception)\b", what.replace("the error x", "").lower())


@pytest.mark.parametrize("code", sorted(LEVELS))
def test_every_language_asks_for_the_same_values(code: str):
    assert _blanks(code, GERMAN) == _blanks(code, ENGLISH)


def _literals() -> set[str]:
    trees = [ast.parse(path.read_text()) for path in SOURCES]
    calls = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Call)]
    named = [
        call for call in calls if isinstance(call.func, ast.Name) and call.func.id == "Phrase" and call.args
    ]
    return {str(call.args[0].value) for call in named if isinstance(call.args[0], ast.Constant)}


def test_every_phrase_that_the_readers_fill_in_has_words_and_every_one_is_used():
    used = _literals()
    assert len(used) > 20
    groups = ("file.kind.", "file.wanted.", "file.other.", "file.hint.", "file.rows_more", "file.same_rows")
    assert {f"file.{key}" for key in used} == {key for group in groups for key in ENGLISH.keys(group)}


@pytest.mark.parametrize(
    ("code", "fields", "english", "german"),
    [
        (
            "date_unreal",
            {"order": DateOrder(("day", "month", "year"), " "), "example": date(2026, 11, 30)},
            "day month year, for example 30 November 2026",
            "Tag Monat Jahr, zum Beispiel 30. November 2026",
        ),
        (
            "date_two_ways",
            {"first": date(2027, 4, 3), "second": date(2027, 3, 4)},
            "3 April or 4 March",
            "3. April oder 4. März",
        ),
        (
            "date_two_ways",
            {"first": "", "second": "", "more": Phrase("rows_more", (("n", 2),))},
            "2 more rows",
            "2 weiteren Zeilen",
        ),
        (
            "date_two_ways",
            {"first": "", "second": "", "more": Phrase("rows_more", (("n", 1),))},
            "1 more row.",
            "1 weiterer Zeile.",
        ),
        ("date_weekday", {"meant": "2027-04-03", "weekday": Weekday(5)}, "is a Saturday", "ist ein Samstag"),
        (
            "kind_unknown",
            {"hint": Phrase("hint.meant", (("word", "lesson"),))},
            '(did you mean "lesson"?)',
            "(meinten Sie „lesson“?)",
        ),
        (
            "columns_unread",
            {"hint": Phrase("hint.meant_with", (("word", "topic"), ("heading", "Tema 1")))},
            '(did you mean "topic" with "Tema 1"?)',
            "(meinten Sie „topic“ mit „Tema 1“?)",
        ),
        (
            "heading_missing",
            {"wanted": "score", "also": "mark", "hint": Phrase("hint.close", (("word", "sccore"),))},
            "(sccore comes close)",
            "(sccore kommt dem nahe)",
        ),
        (
            "date_number",
            {"hint": Phrase("hint.day_number", (("day", "2026-11-25"),))},
            "it would be 2026-11-25",
            "wäre es 2026-11-25",
        ),
        ("file_large", {"size": "12.5 MB", "limit": "5 MB"}, "12.5 MB", "12,5 MB"),
        ("file_kind", {"kind": Phrase("kind.old")}, "an old binary document", "ein altes binäres Dokument"),
        ("file_kind", {"kind": "something new"}, "something new", "something new"),
        (
            "options_same",
            {"other": Phrase("other.answer")},
            "the same as the answer",
            "dieselbe wie die Antwort",
        ),
    ],
)
def test_what_a_sentence_is_filled_in_with_is_worded_too(
    code: str, fields: dict[str, Value], english: str, german: str
):
    one = problem(code, found="x", **{"name": "a.xls", **fields})
    assert english in sentence(one, ENGLISH)
    assert german in sentence(one, GERMAN)


@pytest.mark.parametrize("said", [ENGLISH, GERMAN])
def test_the_name_of_a_file_is_never_capitalised(said: Words):
    assert sentence(problem("file_empty", name="physics.csv"), said).startswith("physics.csv ")


def test_a_day_to_choose_is_written_in_the_language_of_the_teacher():
    option = PossibleReading("days", "day-first", day=date(2027, 4, 3))
    assert (label(option, ENGLISH), label(option, GERMAN)) == ("3 April", "3. April")


def _reasons() -> set[str]:
    folder = Path(bot.grading.__file__).parent
    sources = "".join(path.read_text() for path in folder.rglob("*.py"))
    return set(re.findall(r'(?:FormulaError\(\s*|why=)"(\w+)"', sources))


def test_every_reason_why_a_formula_cannot_be_read_has_words_and_every_one_is_used():
    reasons = _reasons()
    assert len(reasons) > 10
    assert {f"formula.{reason}" for reason in reasons} == set(ENGLISH.keys("formula."))


@pytest.mark.parametrize(
    ("answer", "german"),
    [
        ("(x", "lässt sich nicht verwenden: eine Klammer ist nicht mit „)“ geschlossen."),
        ("x/0", "sie hat keinen Wert"),
    ],
)
def test_why_a_formula_cannot_be_read_is_said_in_the_teachers_language(answer: str, german: str):
    with pytest.raises(KeyRefused) as refused:
        key_from("formula", answer)
    assert german in key_description(refused.value.problems[0], GERMAN)
