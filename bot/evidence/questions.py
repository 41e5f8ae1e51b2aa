"""Which questions work: the numbers, and a plain verdict only where the answers allow one.

Facility and discrimination take the *first* answer of each student to a question, so that answers are independent
and nobody counts twice; time, "not sure" and options take all answers. Discrimination is the correlation with the
share right of the student's *other* questions (item-rest). Because students are asked when they are about to
forget, facility is that of a question under the plan, not of a question in an exam: `expected` says what the
predictions made of it beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from math import atanh, isfinite, tanh
from statistics import median, quantiles

import numpy as np

from bot.evidence.figures import Z80, Z95, Estimate, Share, share
from bot.grading.keys import BadKey, ChoiceKey, from_dict
from scheduler.items import Band, Floats, Options, band, corrected_score, item_rest, options
from storage.evidence_rows import AskedRow, ClassRow, ClassRows, QuestionRow

ENOUGH_FOR_FACILITY = 10
"""Students who have answered, for a word on how easy a question is. Chosen."""

ENOUGH_FOR_DISCRIMINATION = 15
"""The same for telling strong from weak. Chosen: with fewer the interval of a correlation spans nearly everything."""

TOO_EASY, TOO_HARD = 0.90, 0.30
"""Common practice, no source: above and below these a question tells little about a student."""

MANY_UNSURE = 0.35
"""Share of "not sure" that asks for a look. Chosen."""


class Finding(StrEnum):
    """What is to be said of a question, most pressing first."""

    CHECK_KEY = "check key"
    NEGATIVE = "negative"
    TOO_HARD = "too hard"
    HARDER = "harder than expected"
    UNSURE = "many unsure"
    TOO_EASY = "too easy"
    FLAT = "does not tell"
    IDLE_OPTION = "idle option"


@dataclass(frozen=True)
class OptionUse:
    """How one option was used; `discrimination` None where it cannot be told."""

    letter: str
    text: str
    is_right: bool
    taken: Share
    discrimination: float | None


@dataclass(frozen=True)
class QuestionStat:
    """What the answers say of one question.

    Attributes
    ----------
    students : int
        Students who have answered it: what facility and discrimination rest on.
    facility : Share
        Right first answers.
    corrected : float or None
        Facility corrected for guessing (choices); may be negative.
    expected : float or None
        What the predictions and the chance level made of the same first answers beforehand, moved by how much
        the class's answers lie above or below its predictions altogether. [0..1]
    surprise : float or None
        Observed minus expected, in standard errors.
    discrimination : Estimate or None
        Item-rest correlation with its 80 % interval (Fisher's z); None under 15 students.
    seconds, seconds_low, seconds_high : float or None
        Median time to answer, and its quartiles. [s]
    findings : tuple of Finding
        Most pressing first; empty when nothing speaks against it, or too little is known.
    """

    id: int
    topic: str
    prompt: str
    kind: str
    retired: bool
    students: int
    answers: int
    facility: Share
    corrected: float | None
    expected: float | None
    surprise: float | None
    discrimination: Estimate | None
    band: Band
    unsure: Share
    seconds: float | None
    seconds_low: float | None
    seconds_high: float | None
    options: tuple[OptionUse, ...] = ()
    findings: tuple[Finding, ...] = ()
    misleading: tuple[str, ...] = ()
    idle: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        """Whether there are enough answers for any verdict."""
        return self.students >= ENOUGH_FOR_FACILITY


@dataclass(frozen=True)
class QuestionTable:
    """Every question of a class with its statistics, by topic and age."""

    school_class: ClassRow
    generated_at: datetime
    questions: tuple[QuestionStat, ...]

    @property
    def to_look_at(self) -> tuple[QuestionStat, ...]:
        """Questions in use that something speaks against, most pressing first."""
        found = [row for row in self.questions if row.findings and not row.retired]
        order = list(Finding)
        return tuple(sorted(found, key=lambda row: (order.index(row.findings[0]), row.topic, row.id)))

    @property
    def avoid(self) -> frozenset[int]:
        """Questions that a starter should not use."""
        bad = {Finding.CHECK_KEY, Finding.NEGATIVE}
        return frozenset(row.id for row in self.questions if bad & set(row.findings))


def question_table(
    rows: ClassRows, questions: Sequence[QuestionRow], asked: Sequence[AskedRow], generated_at: datetime
) -> QuestionTable:
    """Compute the statistics of every question of a class.

    Parameters
    ----------
    asked : sequence of AskedRow
        Everything ever asked of the class; rows without an answer are left aside.
    """
    answered = [row for row in asked if row.answered and row.question_id is not None]
    answered.sort(key=lambda row: (row.answered_at or row.asked_at, row.review_id))
    sheet = _Sheet(questions, answered)
    topics = {row.id: row.name for row in rows.topics}
    known = [row for row in questions if row.topic_id in topics]
    stats = tuple(_stat(row, topics[row.topic_id], sheet) for row in known)
    return QuestionTable(rows.school_class, generated_at, stats)


# ---------------------------------------------------------------- parts


@dataclass
class _Sheet:
    """First answers as an array of students by questions, and all answers by question."""

    questions: Sequence[QuestionRow]
    answered: Sequence[AskedRow]
    first: dict[int, list[AskedRow]] = field(default_factory=dict)
    every: dict[int, list[AskedRow]] = field(default_factory=dict)
    rest: dict[int, float] = field(default_factory=dict)
    bias: float = 0.0

    def __post_init__(self) -> None:
        column = {row.id: place for place, row in enumerate(self.questions)}
        line = {
            student: place for place, student in enumerate(sorted({row.student_id for row in self.answered}))
        }
        self._line, self._column = line, column
        right = np.full((max(1, len(line)), max(1, len(column))), np.nan)
        for row in self.answered:
            if row.question_id not in column:
                continue
            self.every.setdefault(row.question_id, []).append(row)
            place = line[row.student_id], column[row.question_id]
            if np.isnan(right[place]):
                right[place] = float(row.right)
                self.first.setdefault(row.question_id, []).append(row)
        self.right = right
        self._right_by, self._answered_by = np.nansum(right, axis=1), (~np.isnan(right)).sum(axis=1)
        known = [row for rows in self.first.values() for row in rows if row.predicted is not None]
        if known:
            self.bias = sum(row.right - _chance_right(row) for row in known) / len(known)
        if len(line) > 1 and len(column) > 1:
            self.rest = dict(zip(column, item_rest(right).tolist(), strict=True))

    def score_elsewhere(self, row: AskedRow) -> float:
        """Return the student's share right on other questions, NaN when there is none."""
        line, own = (
            self._line[row.student_id],
            self.right[self._line[row.student_id], self._column[row.question_id or 0]],
        )
        count = self._answered_by[line] - (not np.isnan(own))
        return float((self._right_by[line] - np.nan_to_num(own)) / count) if count else float("nan")


def _stat(row: QuestionRow, topic: str, sheet: _Sheet) -> QuestionStat:
    first, every = sheet.first.get(row.id, []), sheet.every.get(row.id, [])
    right = sum(one.right for one in first)
    uses = _options(row, every, sheet)
    correlation = _discrimination(sheet.rest.get(row.id, float("nan")), len(first))
    expected, surprise = _expected(first, sheet.bias)
    low, middle, high = _times(every)
    stat = QuestionStat(
        id=row.id,
        topic=topic,
        prompt=row.prompt,
        kind=row.kind,
        retired=row.retired,
        students=len(first),
        answers=len(every),
        facility=share(right, len(first)),
        corrected=_corrected(row, first, right),
        expected=expected,
        surprise=surprise,
        discrimination=correlation,
        band=band(correlation.mean) if correlation else Band.UNKNOWN,
        unsure=share(sum(one.verdict == "unsure" for one in every), len(every)),
        seconds=middle,
        seconds_low=low,
        seconds_high=high,
        options=uses.all,
        misleading=uses.misleading,
        idle=uses.idle,
    )
    return _with_findings(stat, row.chance)


def _with_findings(stat: QuestionStat, chance: float) -> QuestionStat:
    return QuestionStat(**{**vars(stat), "findings": _findings(stat, chance)})


def _findings(stat: QuestionStat, chance: float) -> tuple[Finding, ...]:
    """Return what speaks against a question; each claim needs its interval to lie clear of the line."""
    if not stat.known:
        return ()
    correlation = stat.discrimination
    claims = {
        Finding.CHECK_KEY: bool(stat.misleading),
        Finding.NEGATIVE: correlation is not None and _surely_negative(correlation.mean, stat.students),
        Finding.TOO_HARD: stat.facility.high < max(TOO_HARD, chance),
        Finding.HARDER: stat.surprise is not None and stat.surprise < -Z95,
        Finding.UNSURE: stat.unsure.low > MANY_UNSURE,
        Finding.TOO_EASY: stat.facility.low > TOO_EASY,
        Finding.FLAT: correlation is not None and 0.0 <= correlation.high < 0.20,
        Finding.IDLE_OPTION: bool(stat.idle),
    }
    return tuple(finding for finding in Finding if claims[finding])


def _surely_negative(correlation: float, students: int) -> bool:
    return correlation <= -1.0 or atanh(correlation) * (students - 3) ** 0.5 < -Z95


def _discrimination(correlation: float, students: int) -> Estimate | None:
    """Return a correlation with its 80 % interval.

    References
    ----------
    R. A. Fisher, Metron 1 (1921) 3-32: atanh(r) is about normal with standard error 1/sqrt(n - 3).
    """
    if students < ENOUGH_FOR_DISCRIMINATION or not isfinite(correlation):
        return None
    if abs(correlation) >= 1.0:
        return Estimate(correlation, correlation, correlation)
    middle, half = atanh(correlation), Z80 / (students - 3) ** 0.5
    return Estimate(correlation, tanh(middle - half), tanh(middle + half))


def _chance_right(row: AskedRow) -> float:
    """Return the predicted probability of a right answer, the chance of a guess included."""
    return row.chance + (1.0 - row.chance) * (row.predicted or 0.0)


def _expected(first: Sequence[AskedRow], bias: float) -> tuple[float | None, float | None]:
    """Return the share right that the predictions expected, and how far the answers lie from it.

    `bias` is by how much the class's answers lie above its predictions altogether: a question is judged against the
    others, not for a model that hopes too much.
    """
    predicted = [_chance_right(row) for row in first if row.predicted is not None]
    chances = [min(0.99, max(0.01, chance + bias)) for chance in predicted]
    if not chances:
        return None, None
    right = sum(row.right for row in first if row.predicted is not None)
    variance = sum(p * (1.0 - p) for p in chances)
    surprise = (right - sum(chances)) / variance**0.5 if variance > 0.0 else None
    return sum(chances) / len(chances), surprise


def _corrected(row: QuestionRow, first: Sequence[AskedRow], right: int) -> float | None:
    """Return facility corrected for guessing; "not sure" counts as omitted. Frary 1988."""
    key = _choice(row)
    if key is None or not first:
        return None
    wrong = sum(one.verdict == "wrong" for one in first)
    return corrected_score(float(right), float(wrong), len(key.options)) / len(first)


def _choice(row: QuestionRow) -> ChoiceKey | None:
    try:
        key = from_dict(row.answer)
    except BadKey:
        return None
    return key if isinstance(key, ChoiceKey) and len(key.options) >= 2 else None


def _times(every: Sequence[AskedRow]) -> tuple[float | None, float | None, float | None]:
    seconds = [row.taken_s for row in every if row.taken_s is not None]
    if not seconds:
        return None, None, None
    if len(seconds) < 4:
        return None, median(seconds), None
    low, middle, high = quantiles(seconds, n=4, method="inclusive")
    return low, middle, high


@dataclass(frozen=True)
class _Uses:
    all: tuple[OptionUse, ...] = ()
    misleading: tuple[str, ...] = ()
    idle: tuple[str, ...] = ()


def _options(row: QuestionRow, every: Sequence[AskedRow], sheet: _Sheet) -> _Uses:
    """Return how the options were used. They are lettered as the teacher wrote them: A is the right one."""
    key = _choice(row)
    if key is None:
        return _Uses()
    count = len(key.options)
    used = _use(every, count, sheet)
    # Who chose what is told by first answers alone: a student who slips twice is one student.
    first = _use(sheet.first.get(row.id, []), count, sheet)
    total = int(used.counts.sum())
    uses = tuple(
        OptionUse(
            chr(ord("A") + place),
            text,
            place == 0,
            share(int(used.counts[place]), total),
            float(first.discrimination[place]) if isfinite(first.discrimination[place]) else None,
        )
        for place, text in enumerate(key.options)
    )
    names = [f"“{text}”" for text in key.options]
    misleading = tuple(names[place] for place in range(1, count) if _misleads(first, place))
    return _Uses(uses, misleading, tuple(names[place] for place in used.unused()))


def _use(answers: Sequence[AskedRow], count: int, sheet: _Sheet) -> Options:
    chosen = [(one.option, one) for one in answers if one.option is not None and 0 <= one.option < count]
    scores: Floats = np.array([sheet.score_elsewhere(one) for _, one in chosen], dtype=float)
    return options(np.array([option for option, _ in chosen], dtype=np.int64), count, scores)


def _misleads(first: Options, place: int) -> bool:
    """Whether a wrong option surely draws stronger students, and more so than the right one does."""
    students, takers = int(first.counts.sum()), int(first.counts[place])
    own, right = float(first.discrimination[place]), float(first.discrimination[0])
    if students < ENOUGH_FOR_DISCRIMINATION or takers < 3 or not isfinite(own) or abs(own) >= 1.0:
        return False
    return atanh(own) * (students - 3) ** 0.5 > Z95 and not own <= right
