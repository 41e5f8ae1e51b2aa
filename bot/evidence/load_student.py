"""What one student's own papers are made of: the picture and the letter."""

from __future__ import annotations

from bot.evidence.forecast.gains import review_gain, snapshot
from bot.evidence.load import WITHOUT_QUIZ, ClassEvidence, NothingThere
from bot.evidence.load_effect import student_effect
from bot.evidence.starter.numbers import topics_with_questions
from bot.evidence.student.letter import LetterData
from bot.evidence.student.numbers import StudentData
from scheduler.model.memory import ClassMemory


def student_data(read: ClassEvidence, student_id: int, memory: ClassMemory) -> StudentData:
    """Return what a student's own picture is computed from.

    Raises
    ------
    NothingThere
        When the model does not know the student yet, or nothing has been taught.
    """
    if str(student_id) not in memory.students or not memory.topics:
        raise NothingThere("own.nothing")
    quiz = read.rows.next_quiz(read.now)
    target = quiz.at if quiz else read.now + WITHOUT_QUIZ
    return StudentData(
        rows=read.rows,
        student_id=student_id,
        generated_at=read.now,
        target_at=target,
        quiz=quiz,
        now=snapshot(memory, read.now),
        as_it_stands=snapshot(memory, target),
        gain=review_gain(memory, read.now, target),
        askable=frozenset(topics_with_questions(read.questions)),
        effect=student_effect(memory, student_id, read.now),
    )


def letter_data(read: ClassEvidence, student_id: int, memory: ClassMemory | None) -> LetterData:
    """Return what a student's letter is computed from."""
    quizzes = {row.id: row for row in read.rows.quizzes}
    scores = [
        (quizzes[quiz].day, quizzes[quiz].name, score)
        for quiz, rows in read.scores.items()
        for score in rows
        if score.student_id == student_id and quiz in quizzes
    ]
    known = memory is not None and str(student_id) in memory.students and bool(memory.topics)
    return LetterData(
        rows=read.rows,
        student_id=student_id,
        generated_at=read.now,
        now=snapshot(memory, read.now) if memory is not None and known else None,
        asked=[row for row in read.asked if row.student_id == student_id],
        scores=scores,
        homework=read.homework_of.get(student_id, (0, 0)),
        effect=student_effect(memory, student_id, read.now) if memory is not None and known else None,
    )
