"""What a student's own page says and advises: strengths first, and nothing that cannot be done."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bot.evidence.load import read
from bot.evidence.load_student import student_data
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.student.drawing import student_picture_png, student_text
from bot.evidence.student.numbers import Evening, StudentData, student_picture
from bot.teaching.memories import build
from bot.words import LANGUAGES, words
from scheduler.values import Retention
from storage.base.database import connect
from storage.tables import Question
from tests.taught import NOW, fill
from tests.unit.bot.evidence.test_layout import Written, check, written

__all__ = ["written"]  # the fixture that notes what is drawn

NEEDS_NOTHING = {"en": "Nothing needs you tonight", "de": "Heute Abend braucht dich nichts"}


def _at(shot: Snapshot, level: float, answers: int = 6) -> Snapshot:
    mean = np.full_like(shot.retention.mean, level)
    spread = Retention(mean, np.clip(mean - 0.05, 0.0, 1.0), np.clip(mean + 0.05, 0.0, 1.0))
    return replace(shot, retention=spread, answers=np.full_like(shot.answers, answers))


def _all_at(data: StudentData, level: float, gain: float, answers: int = 6) -> StudentData:
    """Let every topic stand at one level, now and on the date."""
    return replace(
        data, now=_at(data.now, level, answers), as_it_stands=_at(data.as_it_stands, level, answers),
        gain=np.full_like(data.gain, gain),
    )  # fmt: skip


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f31_six_of_a_hundred_is_never_told_that_nothing_is_needed(
    made_student: StudentData, language: str
) -> None:
    own = student_picture(_all_at(made_student, 0.06, 0.01))
    said = student_text(own, words(language)).plain
    assert own.evening is Evening.LITTLE_ALONE
    assert NEEDS_NOTHING[language] not in said
    assert ("next evenings" if language == "en" else "nächsten Abende") in said


def test_f31_nothing_is_needed_only_where_all_of_it_stays(made_student: StudentData) -> None:
    own = student_picture(_all_at(made_student, 0.9, 0.01))
    said = student_text(own, words("en")).plain
    assert own.evening is Evening.NOTHING_NEEDED
    assert NEEDS_NOTHING["en"] in said
    assert said.splitlines()[1].startswith("What stays: ")


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f31_topics_without_questions_are_not_advised(
    made_student: StudentData, written: list[Written], language: str
) -> None:
    data = _all_at(made_student, 0.3, 0.2)
    some = student_picture(replace(data, askable=frozenset({4})))
    assert [row.name for row in some.tonight] == ["Moments"]
    assert all(row.reviewed == row.later.mean for row in some.topics if row.id != 4)
    none = student_picture(replace(data, askable=frozenset()))
    assert none.tonight == ()
    said = student_text(none, words(language)).plain
    assert ("no questions" if language == "en" else "keine Fragen") in said
    assert NEEDS_NOTHING[language] not in said
    student_picture_png(none, words(language))
    check(written)


def test_f31_what_has_questions_is_read_from_the_class() -> None:
    database = connect("sqlite://")
    with database.begin() as session:
        group = fill(session)
        for question in (3, 4):  # all those on topic 2
            session.get_one(Question, question).retired_at = NOW
        found = read(session, group, NOW)
    database.close()
    data = student_data(found, 1, build(found.story, found.others))
    assert data.askable == frozenset({1, 3, 4})
    assert all(row.id != 2 for row in student_picture(data).tonight)


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f31_strengths_stand_before_every_figure(made_student: StudentData, language: str) -> None:
    low = _all_at(made_student, 0.2, 0.1)
    low.now.retention.mean[:, 1] = 0.85
    low.now.retention.low[:, 1] = 0.75
    low.now.retention.mean[:, 3] = 0.5
    lines = student_text(student_picture(low), words(language)).plain.splitlines()
    assert "Density" in lines[1]
    assert "Moments" in lines[2]
    first = next(place for place, line in enumerate(lines) if "%" in line)
    assert first == 3


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f31_without_answers_there_is_no_figure(made_student: StudentData, language: str) -> None:
    own = student_picture(_all_at(made_student, 0.06, 0.2, answers=0))
    lines = student_text(own, words(language)).plain.splitlines()
    assert ("too early" if language == "en" else "zu früh") in lines[1]
    assert not own.topics[0].stays
    assert own.evening is Evening.ADVICE


def test_f31_all_of_tonights_advice_is_in_the_picture(
    made_student: StudentData, written: list[Written]
) -> None:
    """Of many topics only some are drawn: those of the advice among them, though others stand lower."""
    rows = made_student.rows
    more = tuple(replace(rows.topics[0], id=100 + n, name=f"Topic {n}") for n in range(12))
    topics = (*rows.topics, *more)

    def widened(shot: Snapshot) -> Snapshot:
        retention = Retention(
            *(np.hstack([part, np.full((len(part), 12), 0.05)]) for part in
              (shot.retention.mean, shot.retention.low, shot.retention.high))
        )  # fmt: skip
        wide = np.ones((len(shot.students), 12))
        return replace(
            shot, topics=tuple(row.id for row in topics), retention=retention,
            answers=np.hstack([shot.answers, wide.astype(int)]), taught=np.hstack([shot.taught, wide > 0]),
        )  # fmt: skip

    data = replace(
        made_student, rows=replace(rows, topics=topics), quiz=None, now=widened(made_student.now),
        as_it_stands=widened(made_student.as_it_stands),
        gain=np.hstack([made_student.gain, np.zeros((len(made_student.gain), 12))]),
    )  # fmt: skip
    own = student_picture(data)
    assert len(own.tonight) == 3
    student_picture_png(own, words("en"))
    check(written)
    drawn = {one.text for one in written}
    assert {row.name for row in own.tonight} <= drawn
