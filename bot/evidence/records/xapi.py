"""The open learning-record export: answers as xAPI statements and as a plain CSV with a data dictionary.

Statements follow IEEE 9274.1.1-2023 (xAPI 2.0): one JSON object on each line, interactions described with the
vocabulary of the standard, activity ids under the school's own address. Students appear under pseudonyms that a
secret key makes (HMAC-SHA-256, RFC 2104): the same student has the same one in every export with that key, and
nobody without it can tell who it is. Names, and what students typed, are in it only when asked for.
"""

from __future__ import annotations

import hmac
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit
from uuid import NAMESPACE_URL, uuid5

from bot.chat.port import Attachment
from bot.evidence.records.question_sheet import question_sheet
from bot.evidence.shared.tables import Value
from bot.grading.keys import AnswerKey, BadKey, from_dict, shown
from bot.grading.kinds import KINDS, recipe_of
from bot.words import Words
from storage.files.csv_out import write_csv
from storage.history.evidence_rows import AskedRecord, ClassRecords, QuestionRecord, StudentRecord

ANSWERED = "http://adlnet.gov/expapi/verbs/answered"
INTERACTION = "http://adlnet.gov/expapi/activities/cmi.interaction"
COURSE = "http://adlnet.gov/expapi/activities/course"
LESSON = "http://adlnet.gov/expapi/activities/lesson"
"""Identifiers of the ADL vocabulary that the standard's examples use."""

LEAST_KEY_BYTES = 16


@dataclass(frozen=True)
class RecordRules:
    """What an export may contain.

    Attributes
    ----------
    home : str
        The school's address, such as ``https://school.example``: every id stands under it.
    key : bytes
        Secret that pseudonyms are made with; at least 16 bytes.
    names : bool
        Whether students appear under their names instead of pseudonyms.
    typed : bool
        Whether what students typed is included; it may hold anything.
    """

    home: str
    key: bytes
    names: bool = False
    typed: bool = False

    def __post_init__(self) -> None:
        address = urlsplit(self.home)
        if (
            address.scheme not in ("http", "https")
            or not address.netloc
            or any(c.isspace() for c in self.home)
        ):
            raise ValueError(
                f'"{self.home}" is no web address. Give the school\'s own, for example https://school.example.'
            )
        if len(self.key) < LEAST_KEY_BYTES:
            raise ValueError(
                f"The key for pseudonyms needs at least {LEAST_KEY_BYTES} bytes; it has {len(self.key)}."
            )

    def iri(self, kind: str, number: int | str) -> str:
        """Return the id of something of ours."""
        return f"{self.home.rstrip('/')}/{kind}/{number}"

    def student(self, row: StudentRecord) -> str:
        """Return the name that a student appears under."""
        return row.name if self.names else pseudonym(self.key, row.id)


def pseudonym(key: bytes, student_id: int) -> str:
    """Return the pseudonym of a student: 16 hexadecimal digits of an HMAC, so that it cannot be guessed back.

    Examples
    --------
    >>> pseudonym(b"0123456789abcdef", 7) == pseudonym(b"0123456789abcdef", 7)
    True
    >>> pseudonym(b"0123456789abcdef", 7) == pseudonym(b"0123456789abcdeg", 7)
    False
    """
    return "s-" + hmac.new(key, f"student:{student_id}".encode(), "sha256").hexdigest()[:16]


def xapi_lines(
    rows: ClassRecords, questions: Sequence[QuestionRecord], asked: Sequence[AskedRecord], rules: RecordRules
) -> bytes:
    """Return every answer as one xAPI statement on a line of its own, in the order in which they were given."""
    lines = (json.dumps(one, ensure_ascii=False) for one in statements(rows, questions, asked, rules))
    return "".join(f"{line}\n" for line in lines).encode()


def statements(
    rows: ClassRecords, questions: Sequence[QuestionRecord], asked: Sequence[AskedRecord], rules: RecordRules
) -> Iterator[dict[str, Any]]:
    """Yield the statements of a class as plain values."""
    students = {row.id: row for row in rows.students}
    known = {row.id: row for row in questions}
    for row in sorted(asked, key=lambda one: (one.answered_at or one.asked_at, one.review_id)):
        student, question = students.get(row.student_id), known.get(row.question_id or 0)
        if row.answered_at is not None and student is not None and question is not None:
            yield _statement(rows, student, _as_asked(question, row), row, rules)


def _as_asked(question: QuestionRecord, row: AskedRecord) -> QuestionRecord:
    """Return a question with the values that were drawn for an asking."""
    if row.drawn is None:
        return question
    return replace(question, prompt=row.drawn["prompt"], answer=row.drawn["answer"])


def _statement(
    rows: ClassRecords, student: StudentRecord, question: QuestionRecord, row: AskedRecord, rules: RecordRules
) -> dict[str, Any]:
    language = rows.school_class.language or "en"
    account = {"homePage": rules.home.rstrip("/"), "name": rules.student(student)}
    return {
        "id": str(uuid5(NAMESPACE_URL, rules.iri("answers", row.review_id))),
        "actor": {"objectType": "Agent", "account": account},
        "verb": {"id": ANSWERED, "display": {"en": "answered"}},
        "object": _activity(question, row, rules, language),
        "result": _result(question, row, rules),
        "context": _context(rows, question, row, rules, language),
        "timestamp": timestamp(row.answered_at or row.asked_at),
    }


def _activity(
    question: QuestionRecord, row: AskedRecord, rules: RecordRules, language: str
) -> dict[str, Any]:
    definition: dict[str, Any] = {
        "type": INTERACTION,
        "description": {language: question.prompt},
        **_interaction(_key(question), language),
    }
    # With other values it is another activity: an identifier stands for one thing (xAPI 1.0.3, 2.4.4.1; from memory).
    kind, number = ("questions", question.id) if row.drawn is None else ("asked", row.review_id)
    return {"objectType": "Activity", "id": rules.iri(kind, number), "definition": definition}


def _key(question: QuestionRecord) -> AnswerKey | None:
    try:
        return from_dict(question.answer)
    except BadKey:
        return None


def _interaction(key: AnswerKey | None, language: str) -> dict[str, Any]:
    """Describe the question in the standard's terms; one whose key is damaged is of no kind that it knows."""
    return {"interactionType": "other"} if key is None else recipe_of(key).interaction(key, language)


def _result(question: QuestionRecord, row: AskedRecord, rules: RecordRules) -> dict[str, Any]:
    result: dict[str, Any] = {"success": row.right, "completion": True}
    response = _response(question, row, rules)
    if response is not None:
        result["response"] = response
    if row.taken_s is not None and row.taken_s >= 0.0:
        result["duration"] = f"PT{row.taken_s:.2f}S"
    result["extensions"] = {
        rules.iri("terms", "not-sure"): row.verdict == "unsure",
        rules.iri("terms", "on-time"): row.on_time,
    }
    return result


def _response(question: QuestionRecord, row: AskedRecord, rules: RecordRules) -> str | None:
    if row.verdict == "unsure":
        return None
    return KINDS[question.kind].response(row.option, row.given if rules.typed else None)


def _context(
    rows: ClassRecords, question: QuestionRecord, row: AskedRecord, rules: RecordRules, language: str
) -> dict[str, Any]:
    topic = rows.topic(question.topic_id)
    parent = {
        "objectType": "Activity",
        "id": rules.iri("topics", topic.id),
        "definition": {"type": LESSON, "name": {language: topic.name}},
    }
    grouping = {
        "objectType": "Activity",
        "id": rules.iri("classes", rows.school_class.slug),
        "definition": {"type": COURSE, "name": {language: rows.school_class.name}},
    }
    activities: dict[str, Any] = {"parent": [parent], "grouping": [grouping]}
    if row.drawn is not None:
        activities["other"] = [{"objectType": "Activity", "id": rules.iri("questions", question.id)}]
    return {"contextActivities": activities, "platform": "Holdfast", "language": language}


def timestamp(at: datetime) -> str:
    """Write a moment as RFC 3339 in UTC with milliseconds, as the standard asks.

    Examples
    --------
    >>> timestamp(datetime(2026, 12, 4, 17, 5, tzinfo=UTC))
    '2026-12-04T17:05:00.000Z'
    """
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


# ---------------------------------------------------------------- the plain table

COLUMNS = (
    ("answer", "integer"),
    ("student", "text"),
    ("topic", "text"),
    ("question_id", "integer"),
    ("kind", "choice | number | text | formula"),
    ("asked_at", "moment, ISO 8601, UTC"),
    ("answered_at", "moment, ISO 8601, UTC"),
    ("verdict", "right | wrong | unsure | empty"),
    ("on_time", "yes | no"),
    ("asked_for", "yes | no"),
    ("seconds", "number, s"),
    ("chance", "number, 0 to 1"),
    ("predicted", "number, 0 to 1"),
    ("option", "integer"),
    ("given", "text"),
    ("as_asked", "text"),
)
"""Columns of the table with their types; what each means is the text ``records.NAME``."""


def answers_csv(
    rows: ClassRecords, questions: Sequence[QuestionRecord], asked: Sequence[AskedRecord], rules: RecordRules
) -> bytes:
    """Return every question that was asked, with its answer if there is one, as CSV."""
    return write_csv([[name for name, _ in COLUMNS], *_table(rows, questions, asked, rules)])


def _table(
    rows: ClassRecords, questions: Sequence[QuestionRecord], asked: Sequence[AskedRecord], rules: RecordRules
) -> Iterator[list[Value]]:
    students = {row.id: rules.student(row) for row in rows.students}
    topics = {row.id: row.name for row in rows.topics}
    kinds = {row.id: row.kind for row in questions}
    for row in asked:
        if row.student_id in students and row.topic_id in topics:
            yield [
                row.review_id,
                students[row.student_id],
                topics[row.topic_id],
                row.question_id,
                kinds.get(row.question_id or 0),
                timestamp(row.asked_at),
                timestamp(row.answered_at) if row.answered_at else None,
                row.verdict,
                _yes(row.on_time) if row.answered else None,
                _yes(row.asked_for),
                None if row.taken_s is None else round(row.taken_s, 2),
                round(row.chance, 4),
                None if row.predicted is None else round(row.predicted, 4),
                row.option,
                row.given if rules.typed else None,
                None if row.drawn is None else row.drawn["prompt"],
            ]


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def dictionary_csv(words: Words) -> bytes:
    """Return what every column of the table means."""
    heading = [words.text(f"records.heading.{name}") for name in ("column", "type", "meaning")]
    return write_csv([heading, *([name, kind, words.text(f"records.{name}")] for name, kind in COLUMNS)])


def record_files(
    rows: ClassRecords,
    questions: Sequence[QuestionRecord],
    asked: Sequence[AskedRecord],
    rules: RecordRules,
    words: Words,
) -> tuple[Attachment, ...]:
    """Return statements, table, the questions asked, and data dictionary as documents."""
    slug = rows.school_class.slug
    return (
        Attachment(f"{slug}-answers.jsonl", "application/jsonl", xapi_lines(rows, questions, asked, rules)),
        Attachment(f"{slug}-answers.csv", "text/csv", answers_csv(rows, questions, asked, rules)),
        Attachment(f"{slug}-questions.csv", "text/csv", questions_csv(rows, questions)),
        Attachment(f"{slug}-question-sheet.csv", "text/csv", question_sheet(rows, questions)),
        Attachment("data-dictionary.csv", "text/csv", dictionary_csv(words)),
    )


def questions_csv(rows: ClassRecords, questions: Sequence[QuestionRecord]) -> bytes:
    """Return the questions that the table names by number."""
    topics = {row.id: row.name for row in rows.topics}
    lines: list[list[Value]] = [["question_id", "topic", "kind", "question", "answer", "in_use"]]
    for row in questions:
        key = _key(row)
        answer = "" if key is None else shown(key)
        lines.append([row.id, topics.get(row.topic_id), row.kind, row.prompt, answer, _yes(not row.retired)])
    return write_csv(lines)
