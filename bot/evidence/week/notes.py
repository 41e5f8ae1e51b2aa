"""Whom to talk to and whom to congratulate: each student against the own weeks and predictions, never each other."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb
from statistics import median
from zlib import crc32

from bot.evidence.shared.figures import Standing, rank_sum_z, standing
from bot.evidence.week.counts import RECENT, Window, count, delays, nudges_answered
from bot.evidence.week.values import Note, Reason, StudentWeek
from storage.history.evidence_rows import StudentRecord

SLOWER_FACTOR, SLOWER_HOURS, SLOWER_Z = 2.0, 1.0, 1.645
"""Chosen: a week is slower than usual when the median delay is at least doubled and an hour longer, and the
delays rank above the usual ones at the 5 % level (one-sided): two slow evenings are no news."""

SLOWER_NOW, SLOWER_BEFORE = 3, 8
"""Fewest answers in the week and before it to speak of a usual pace. Chosen."""

MORE_NOW, MORE_BEFORE, MORE_CHANCE = 3, 6, 0.05
"""Fewest nudges in the week and before it to speak of more than usual (chosen), and in how many of a hundred students
for whom nothing changed it may be said."""

BETTER_Z = 1.645
"""Right answers above expectation that deserve a word: one-sided 5 % under the predictions."""


def talk_to(
    joined: Sequence[StudentRecord], students: Sequence[StudentWeek], window: Window
) -> tuple[Note, ...]:
    """Name those who answered nothing for a week, are slower than usual, or stand surely below half for the quiz."""
    notes: list[Note] = []
    for row, week in zip(joined, students, strict=True):
        note = _unanswered(row, window) or _slower(week, window) or _below_half(week)
        if note is not None:
            notes.append(note)
    return tuple(notes)


def _unanswered(row: StudentRecord, window: Window) -> Note | None:
    """Asked at least once in the last seven days, a student for all of them, and not one answer."""
    if not row.active or row.joined_at > window.until - RECENT:
        return None
    recent = window.last_days(row.id)
    if not any(not item.asked_for for item in recent) or any(item.answered for item in recent):
        return None
    last = row.last_answer_at if row.last_answer_at and row.last_answer_at <= window.until else None
    asked = sum(not item.asked_for for item in recent)
    return Note(row.id, row.name, Reason.UNANSWERED, value=float(asked), since=last)


def _slower(week: StudentWeek, window: Window) -> Note | None:
    now, usual = delays(window.week(week.id)), delays(window.before(week.id))
    if len(now) < SLOWER_NOW or len(usual) < SLOWER_BEFORE:
        return None
    fast, slow = median(usual), median(now)
    if slow < SLOWER_FACTOR * fast or slow - fast < SLOWER_HOURS or rank_sum_z(now, usual) < SLOWER_Z:
        return None
    return Note(week.id, week.name, Reason.SLOWER, value=slow, against=fast)


def _below_half(week: StudentWeek) -> Note | None:
    if week.quiz is None or standing(week.quiz, week.answers_ever) is not Standing.BELOW:
        return None
    return Note(week.id, week.name, Reason.BELOW_HALF, value=week.quiz.mean)


def congratulate(students: Sequence[StudentWeek], window: Window) -> tuple[Note, ...]:
    """Name those whose own week deserves a private word.

    Their order is drawn anew each week: only the first are named in a message, and an alphabet would always name
    the same.
    """
    notes: list[Note] = []
    for week in students:
        note = _back(week, window) or _more(week, window) or _better(week, window) or _all_on_time(week)
        if note is not None:
            notes.append(note)
    return tuple(
        sorted(notes, key=lambda note: crc32(f"{window.start.isoformat()} {note.student_id}".encode()))
    )


def _back(week: StudentWeek, window: Window) -> Note | None:
    """Nothing answered the week before, at least three answers and half of what was asked this week."""
    before = count(window.week(week.id, weeks_ago=1))
    if before.asked < 3 or before.answers or week.answered < 3 or 2 * week.answered < week.asked:
        return None
    return Note(week.id, week.name, Reason.BACK, value=float(week.answered), against=float(week.asked))


def _more(week: StudentWeek, window: Window) -> Note | None:
    """Note more nudges answered than in the student's own weeks before, beyond what chance makes.

    Nudges and not questions: the questions of one evening are answered together or not at all, so that five evenings
    of three questions tell as much as five.
    """
    usual, before = nudges_answered(window.before(week.id))
    now, of = nudges_answered(window.week(week.id))
    if of < MORE_NOW or before < MORE_BEFORE or _chance_of_so_many(now, of, usual, before) > MORE_CHANCE:
        return None
    return Note(week.id, week.name, Reason.MORE, value=now / of, against=usual / before)


def _chance_of_so_many(now: int, of: int, usual: int, before: int) -> float:
    """Return how often chance alone puts as many of all answered nudges, or more, into the week.

    References
    ----------
    R. A. Fisher, "The logic of inductive inference", Journal of the Royal Statistical Society 98 (1935) 39-82: the
    exact test of a table of two by two, one-sided.
    """
    total, every = now + usual, of + before
    ways = sum(comb(of, k) * comb(before, total - k) for k in range(now, min(of, total) + 1))
    return ways / comb(every, total)


def _better(week: StudentWeek, window: Window) -> Note | None:
    """More right answers than the predictions expected, counting the chance of a guess."""
    rows = [row for row in window.week(week.id) if row.answered and row.predicted is not None]
    if len(rows) < 5:
        return None
    expected = [row.chance + (1.0 - row.chance) * (row.predicted or 0.0) for row in rows]
    variance = sum(p * (1.0 - p) for p in expected)
    right = sum(row.right for row in rows)
    if variance <= 0.0 or (right - sum(expected)) / variance**0.5 < BETTER_Z:
        return None
    return Note(week.id, week.name, Reason.BETTER, value=float(right), against=float(sum(expected)))


def _all_on_time(week: StudentWeek) -> Note | None:
    if week.asked < 4 or week.on_time < week.asked:
        return None
    return Note(week.id, week.name, Reason.ALL_ON_TIME, value=float(week.on_time))
