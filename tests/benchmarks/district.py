"""Invented classes in bulk: a district by the thousand, written past the service."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from bot.grading.keys import chance_of, to_dict
from storage import tables
from storage.base.database import Database
from tests.dialogues import CHOICE, ZONE

DAY = timedelta(days=1)
Row = dict[str, Any]


@dataclass(frozen=True)
class Size:
    """How large a class is, and how much it has behind it."""

    students: int = 30
    topics: int = 60
    answers: int = 40

    @property
    def pairs(self) -> int:
        """Students times topics."""
        return self.students * self.topics


def build(db: Database, numbers: range, size: Size, today: date, now: datetime) -> None:
    """Write classes whose topics were taught over the last weeks, and what their students have answered."""
    with db.engine.begin() as connection:
        for number in numbers:
            _Class(connection, number, size, today, now).write()
        if db.is_postgresql:
            for name in ("person", "school_class", "enrolment", "topic", "question", "nudge", "review"):
                sequence = f"pg_get_serial_sequence('{name}', 'id')"
                connection.exec_driver_sql(f"SELECT setval({sequence}, (SELECT max(id) FROM {name}))")


@dataclass
class _Class:
    """Writes one class; ids follow from its number, so that nothing is asked back."""

    connection: sa.Connection
    number: int
    size: Size
    today: date
    now: datetime

    def write(self) -> None:
        """Write everything of the class."""
        self._people()
        self._teaching()
        self._past()

    def _insert(self, table: type[SQLModel], rows: list[dict[str, Any]]) -> None:
        full = [table(**row).model_dump() for row in rows]
        if full and full[0].get("id", 0) is None:
            full = [{name: value for name, value in row.items() if name != "id"} for row in full]
        self.connection.execute(sa.insert(table), full)

    @property
    def _first_student(self) -> int:
        return self.number * self.size.students + 1

    @property
    def _first_topic(self) -> int:
        return self.number * self.size.topics + 1

    def _people(self) -> None:
        students = range(self._first_student, self._first_student + self.size.students)
        group = {
            "id": self.number + 1,
            "name": f"Class {self.number}",
            "slug": f"c{self.number}",
            "zone": ZONE,
        }
        self._insert(tables.SchoolClass, [{**group, "created_at": self.now}])
        self._insert(tables.Person, [{"id": n, "created_at": self.now} for n in students])
        self._insert(tables.Contact, [self._contact(n) for n in students])
        self._insert(tables.Enrolment, [self._enrolment(n) for n in students])

    def _contact(self, n: int) -> Row:
        chat = {"platform": "terminal", "user": f"s{n}", "address": f"chat-s{n}"}
        return {"person_id": n, "last_heard_at": self.now, **chat}

    def _enrolment(self, n: int) -> Row:
        since = self.now - 90 * DAY
        who = {"id": n, "class_id": self.number + 1, "person_id": n, "name": f"S{n}"}
        return {**who, "consented_at": since, "joined_at": since}

    def _teaching(self) -> None:
        topics = range(self._first_topic, self._first_topic + self.size.topics)
        group = self.number + 1
        self._insert(tables.Topic, [{"id": n, "class_id": group, "name": f"Topic {n}"} for n in topics])
        given = [(n, self.now - (1 + place) * DAY) for place, n in enumerate(topics)]
        self._insert(
            tables.Lesson, [{"class_id": group, "topic_id": n, "starts_at": when} for n, when in given]
        )
        self._insert(tables.Question, [self._question(n) for n in topics])

    def _question(self, n: int) -> Row:
        key = {"kind": CHOICE.kind, "answer": to_dict(CHOICE), "chance": chance_of(CHOICE)}
        return {"id": n, "topic_id": n, "prompt": f"Topic {n}?", "created_at": self.now, **key}

    def _past(self) -> None:
        """Write one nudge a day with two answered questions for each student."""
        nudges, reviews, answers = [], [], []
        for place in range(self.size.students):
            for back in range(1, self.size.answers // 2 + 1):
                nudge = self._nudge(place, back)
                nudges.append(nudge)
                for position in (0, 1):
                    topic = self._first_topic + (back + 7 * position + place) % self.size.topics
                    reviews.append(self._review(nudge, position, topic))
                    answers.append(self._answer(reviews[-1]))
        for table, rows in ((tables.Nudge, nudges), (tables.Review, reviews), (tables.Answer, answers)):
            self._insert(table, rows)

    def _nudge(self, place: int, back: int) -> Row:
        student, at = self._first_student + place, self.now - back * DAY
        number = (student - 1) * (self.size.answers // 2) + back
        times = {"due_at": at, "expires_at": at + DAY, "sent_at": at}
        return {
            "id": number,
            "enrolment_id": student,
            "day": self.today - back * DAY,
            "state": tables.NudgeState.DONE,
            **times,
        }

    def _review(self, nudge: Row, position: int, topic: int) -> Row:
        at = nudge["due_at"]
        times = {"planned_at": at, "asked_at": at, "closed_at": at}
        about = {"enrolment_id": nudge["enrolment_id"], "topic_id": topic, "question_id": topic}
        why = {
            "state": tables.ReviewState.ANSWERED,
            "predicted": 0.7,
            "reason": {"gain": 0.1},
            "option_order": [0, 1, 2, 3],
        }
        number = 2 * (nudge["id"] - 1) + position + 1
        return {
            "id": number,
            "nudge_id": nudge["id"],
            "position": position,
            **about,
            **times,
            **why,
        }

    def _answer(self, review: Row) -> Row:
        about = {name: review[name] for name in ("enrolment_id", "topic_id", "question_id")}
        said = {
            "verdict": tables.Verdict("right" if review["id"] % 3 else "wrong"),
            "given": "10 cm",
            "chance": 0.25,
        }
        when = {"on_time": True, "at": review["asked_at"], "taken_s": 12.0}
        return {"review_id": review["id"], **about, **said, **when}


def batched(numbers: range, size: int) -> list[range]:
    """Split a range into ranges of a size."""
    starts = islice(numbers, 0, None, size)
    return [range(start, min(start + size, numbers.stop)) for start in starts]
