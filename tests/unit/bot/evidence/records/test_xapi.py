"""The open learning-record export. The rules of the standard are in tests/published."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from io import StringIO
from typing import Any

import pytest

from bot.evidence.records.xapi import (
    COLUMNS,
    RecordRules,
    answers_csv,
    dictionary_csv,
    pseudonym,
    questions_csv,
    record_files,
    xapi_lines,
)
from bot.grading.keys import ChoiceKey, to_dict
from bot.words import Words
from storage.history.evidence_rows import AskedRecord, ClassRecords, QuestionRecord

KEY = b"0123456789abcdef"
RULES = RecordRules("https://rowan-hill.example/", KEY)
AT = datetime(2026, 12, 3, 18, 0, tzinfo=UTC)


def _answer(question: int, topic: int, **more: Any) -> AskedRecord:
    row = AskedRecord(
        13, topic, question, AT, verdict="right", on_time=True, answered_at=AT, option=0, given="2.7 g/cm³",
        taken_s=12.5, review_id=question, predicted=0.6,
    )  # fmt: skip
    return replace(row, **more)


def _lines(data: bytes) -> list[dict[str, Any]]:
    return [json.loads(line) for line in data.decode().splitlines()]


Rows = Callable[..., ClassRecords]


def test_each_answer_is_one_statement_and_silence_is_none(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    silent = _answer(11, 4, verdict=None, answered_at=None)
    lines = _lines(xapi_lines(make_rows(), made_questions, [_answer(10, 2), silent, _answer(12, 5)], RULES))
    assert [line["object"]["id"] for line in lines] == [
        "https://rowan-hill.example/questions/10",
        "https://rowan-hill.example/questions/12",
    ]


def test_students_are_pseudonymous_unless_asked(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    rows = make_rows()
    hidden = xapi_lines(rows, made_questions, [_answer(10, 2)], RULES)
    named = xapi_lines(rows, made_questions, [_answer(10, 2)], replace(RULES, names=True))
    assert b"Mira" not in hidden
    assert b"Mira" in named
    assert b"Mira" not in answers_csv(rows, made_questions, [_answer(10, 2)], RULES)


def test_a_pseudonym_stays_the_same_with_the_key_and_not_without() -> None:
    assert pseudonym(KEY, 13) == pseudonym(KEY, 13)
    assert len({pseudonym(KEY, number) for number in range(1000)}) == 1000
    assert pseudonym(KEY, 13) != pseudonym(KEY[::-1], 13)


def test_what_was_typed_is_left_out_unless_asked(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    typed = _answer(12, 5, given="98 kPa, says Ben")
    assert b"Ben" not in xapi_lines(make_rows(), made_questions, [typed], RULES)
    assert b"Ben" not in answers_csv(make_rows(), made_questions, [typed], RULES)
    (line,) = _lines(xapi_lines(make_rows(), made_questions, [typed], replace(RULES, typed=True)))
    assert line["result"]["response"] == "98 kPa, says Ben"


def test_a_choice_is_told_by_its_option(make_rows: Rows, made_questions: tuple[QuestionRecord, ...]) -> None:
    (line,) = _lines(
        xapi_lines(make_rows(), made_questions, [_answer(10, 2, option=2, verdict="wrong")], RULES)
    )
    assert line["result"]["response"] == "c"
    assert line["result"]["success"] is False
    definition = line["object"]["definition"]
    assert definition["correctResponsesPattern"] == ["a"]
    assert [one["id"] for one in definition["choices"]] == ["a", "b", "c", "d"]


def test_not_sure_has_no_response(make_rows: Rows, made_questions: tuple[QuestionRecord, ...]) -> None:
    (line,) = _lines(
        xapi_lines(make_rows(), made_questions, [_answer(10, 2, verdict="unsure", option=None)], RULES)
    )
    assert "response" not in line["result"]
    assert line["result"]["extensions"]["https://rowan-hill.example/terms/not-sure"] is True


def test_statements_have_the_same_id_in_every_export(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    first = xapi_lines(make_rows(), made_questions, [_answer(10, 2)], RULES)
    assert first == xapi_lines(make_rows(), made_questions, [_answer(10, 2)], RULES)


@pytest.mark.parametrize("home", ["rowan-hill", "ftp://x.example", "https://", "https://a b.example", ""])
def test_an_address_that_is_none_is_refused(home: str) -> None:
    with pytest.raises(ValueError, match="is no web address"):
        RecordRules(home, KEY)


def test_a_short_key_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 16 bytes; it has 4"):
        RecordRules("https://rowan-hill.example", b"1234")


def test_the_table_has_every_question_asked_also_the_unanswered(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    silent = _answer(11, 4, verdict=None, answered_at=None, taken_s=None, option=None)
    data = answers_csv(make_rows(), made_questions, [_answer(10, 2), silent], RULES)
    rows = list(csv.DictReader(StringIO(data.decode("utf-8-sig"), newline="")))
    assert [row["verdict"] for row in rows] == ["right", ""]
    assert rows[0]["seconds"] == "12.5"
    assert rows[0]["answered_at"] == "2026-12-03T18:00:00.000Z"
    assert rows[1]["answered_at"] == ""


def test_the_dictionary_names_every_column(english: Words) -> None:
    rows = list(csv.reader(StringIO(dictionary_csv(english).decode("utf-8-sig"), newline="")))
    assert [row[0] for row in rows] == ["column", *(name for name, _ in COLUMNS)]
    assert all(len(row[2]) > 10 for row in rows[1:])


def test_questions_are_listed_with_their_answers(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    text = questions_csv(make_rows(), made_questions).decode("utf-8-sig")
    assert "98.1 kPa" in text
    assert "Archimedes" in text


DRAWN = {
    "seed": "1", "values": {"s": "60"}, "prompt": "60 m in 12 s. How fast?", "explanation": "", "feedback": None,
    "answer": to_dict(ChoiceKey("5 m/s", ("720 m/s", "0.2 m/s"))),
}  # fmt: skip


def test_a_question_with_drawn_values_is_told_as_it_was_asked(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...]
) -> None:
    asked = [_answer(10, 2, drawn=DRAWN, review_id=77), _answer(10, 2)]
    second, first = _lines(xapi_lines(make_rows(), made_questions, asked, RULES))
    told = first["object"]["definition"]
    assert list(told["description"].values()) == ["60 m in 12 s. How fast?"]
    assert [list(one["description"].values()) for one in told["choices"]] == [
        ["5 m/s"],
        ["720 m/s"],
        ["0.2 m/s"],
    ]
    # An identifier stands for one activity (xAPI 1.0.3, 2.4.4.1; from memory); the question is named beside it.
    assert first["object"]["id"] == "https://rowan-hill.example/asked/77"
    assert first["context"]["contextActivities"]["other"][0]["id"] == second["object"]["id"]
    table = answers_csv(make_rows(), made_questions, asked, RULES).decode("utf-8-sig")
    rows = list(csv.DictReader(StringIO(table, newline="")))
    assert [row["as_asked"] for row in rows] == ["60 m in 12 s. How fast?", ""]


def test_an_export_is_five_documents(
    make_rows: Rows, made_questions: tuple[QuestionRecord, ...], english: Words
) -> None:
    files = record_files(make_rows(), made_questions, [_answer(10, 2)], RULES, english)
    assert [one.name for one in files] == [
        "10b-answers.jsonl", "10b-answers.csv", "10b-questions.csv", "10b-question-sheet.csv",
        "data-dictionary.csv",
    ]  # fmt: skip
