"""Which questions work: the numbers, and a plain verdict only where the answers allow one.

Facility and discrimination take the *first* answer of each student to a question, so that answers are independent
and nobody counts twice; time, "not sure" and options take all answers. Discrimination is the correlation with the
share right of the student's *other* questions (item-rest). Because students are asked when they are about to
forget, facility is that of a question under the plan, not of a question in an exam: `expected` says what the
predictions made of it beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import atanh, isfinite, tanh
from statistics import median, quantiles

import numpy as np

from bot.evidence.questions.findings import NORMAL, FindingSigns, QuestionFinding, findings, idleness
from bot.evidence.shared.figures import Z80, IntervalEstimate, Proportion, share
from bot.grading.keys import BadKey, from_dict
from bot.grading.kinds import recipe_of
from scheduler.statistics.items import Band, Floats, Options, band, corrected_score, item_rest, options
from scheduler.statistics.screening import right_tails, shrink
from storage.history.evidence_rows import AskedRecord, ClassRecord, ClassRecords, QuestionRecord

ENOUGH_FOR_FACILITY = 10
"""Students who have answered, for a word on how easy a question is. Chosen."""

ENOUGH_FOR_DISCRIMINATION = 15
"""The same for telling strong from weak. Chosen: with fewer the interval of a correlation spans nearly everything."""

FAR = 0.9999
"""Correlations beyond this count as this: Fisher's z of 1 is infinite."""

WIDEST_BAND = 1
"""How many bands the two ends of an interval may lie apart for a band to be named. Chosen: it is then one of two."""


@dataclass(frozen=True)
class OptionUse:
    """How one option was used; `discrimination` None where it cannot be told."""

    letter: str
    text: str
    is_right: bool
    taken: Proportion
    discrimination: float | None


@dataclass(frozen=True)
class QuestionStat:
    """What the answers say of one question.

    Attributes
    ----------
    students : int
        Students who have answered it: what facility and discrimination rest on.
    facility : Proportion
        Right first answers.
    corrected : float or None
        Facility corrected for guessing (choices); may be negative.
    expected : float or None
        What the predictions and the chance level made of the same first answers beforehand, moved by how much
        the class's answers lie above or below its predictions altogether. [0..1]
    surprise : float or None
        How unlikely as many right answers are, as a standard normal value: positive when more were right.
    item_rest : float or None
        Correlation with the share right elsewhere, as it was found; None under 15 students.
    discrimination : IntervalEstimate or None
        The same pulled towards the other questions of its kind, with its 80 % interval.
    seconds, seconds_low, seconds_high : float or None
        Median time to answer, and its quartiles. [s]
    findings : tuple of QuestionFinding
        Most pressing first; empty when nothing speaks against it, or too little is known.
    """

    id: int
    topic: str
    prompt: str
    kind: str
    retired: bool
    students: int
    answers: int
    facility: Proportion
    corrected: float | None
    expected: float | None
    surprise: float | None
    item_rest: float | None
    discrimination: IntervalEstimate | None
    band: Band
    unsure: Proportion
    seconds: float | None
    seconds_low: float | None
    seconds_high: float | None
    options: tuple[OptionUse, ...] = ()
    findings: tuple[QuestionFinding, ...] = ()
    misleading: tuple[str, ...] = ()
    idle: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        """Whether there are enough answers for any verdict."""
        return self.students >= ENOUGH_FOR_FACILITY


@dataclass(frozen=True)
class QuestionTable:
    """Every question of a class with its statistics, by topic and age."""

    school_class: ClassRecord
    generated_at: datetime
    questions: tuple[QuestionStat, ...]

    @property
    def to_look_at(self) -> tuple[QuestionStat, ...]:
        """Questions in use that something speaks against, most pressing first."""
        found = [row for row in self.questions if row.findings and not row.retired]
        order = list(QuestionFinding)
        return tuple(sorted(found, key=lambda row: (order.index(row.findings[0]), row.topic, row.id)))

    @property
    def avoid(self) -> frozenset[int]:
        """Questions that a starter should not use."""
        bad = {QuestionFinding.CHECK_KEY, QuestionFinding.NEGATIVE}
        return frozenset(row.id for row in self.questions if bad & set(row.findings))


def question_table(
    rows: ClassRecords,
    questions: Sequence[QuestionRecord],
    asked: Sequence[AskedRecord],
    generated_at: datetime,
) -> QuestionTable:
    """Compute the statistics of every question of a class.

    Parameters
    ----------
    asked : sequence of AskedRecord
        Everything ever asked of the class; rows without an answer are left aside.
    """
    answered = [row for row in asked if row.answered and row.question_id is not None]
    answered.sort(key=lambda row: (row.answered_at or row.asked_at, row.review_id))
    sheet = _Sheet(questions, answered)
    topics = {row.id: row.name for row in rows.topics}
    known = [row for row in questions if row.topic_id in topics]
    stats = [_stat(row, topics[row.topic_id], sheet) for row in known]
    return QuestionTable(rows.school_class, generated_at, tuple(_judged(stats, known, sheet)))


# ---------------------------------------------------------------- parts


@dataclass
class _Sheet:
    """First answers as an array of students by questions, and all answers by question."""

    questions: Sequence[QuestionRecord]
    answered: Sequence[AskedRecord]
    first: dict[int, list[AskedRecord]] = field(default_factory=dict)
    every: dict[int, list[AskedRecord]] = field(default_factory=dict)
    rest: dict[int, float] = field(default_factory=dict)

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
        self._off = {
            question: [row.right - _chance_right(row) for row in rows if row.predicted is not None]
            for question, rows in self.first.items()
        }
        self._off_sum = sum(map(sum, self._off.values()))
        self._off_count = sum(map(len, self._off.values()))
        if len(line) > 1 and len(column) > 1:
            self.rest = dict(zip(column, item_rest(right).tolist(), strict=True))

    def bias(self, question_id: int) -> float:
        """Return by how much the answers to the other questions lie above their predictions altogether."""
        own = self._off.get(question_id, [])
        others = self._off_count - len(own)
        return (self._off_sum - sum(own)) / others if others else 0.0

    def score_elsewhere(self, row: AskedRecord) -> float:
        """Return the student's share right on other questions, NaN when there is none."""
        line, own = (
            self._line[row.student_id],
            self.right[self._line[row.student_id], self._column[row.question_id or 0]],
        )
        count = self._answered_by[line] - (not np.isnan(own))
        return float((self._right_by[line] - np.nan_to_num(own)) / count) if count else float("nan")


def _stat(row: QuestionRecord, topic: str, sheet: _Sheet) -> QuestionStat:
    first, every = sheet.first.get(row.id, []), sheet.every.get(row.id, [])
    right = sum(one.right for one in first)
    uses = _options(row, every, sheet)
    expected, surprise = _expected(first, sheet.bias(row.id))
    low, middle, high = _times(every)
    return QuestionStat(
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
        item_rest=_observed(sheet.rest.get(row.id, float("nan")), len(first)),
        discrimination=None,
        band=Band.UNKNOWN,
        unsure=share(sum(one.verdict == "unsure" for one in every), len(every)),
        seconds=middle,
        seconds_low=low,
        seconds_high=high,
        options=uses.all,
        idle=uses.idle,
    )


def _observed(correlation: float, students: int) -> float | None:
    return correlation if students >= ENOUGH_FOR_DISCRIMINATION and isfinite(correlation) else None


# ---------------------------------------------------------------- judged together


def _judged(
    stats: Sequence[QuestionStat], rows: Sequence[QuestionRecord], sheet: _Sheet
) -> list[QuestionStat]:
    """Return the questions with discrimination, findings and bands, which all need the other questions."""
    told = _discriminations(stats)
    signs = {
        stat.id: _signs(stat, row, told.get(stat.id), sheet)
        for stat, row in zip(stats, rows, strict=True)
        if stat.known
    }
    found = findings(signs)
    done = []
    for stat in stats:
        own, estimate = found.get(stat.id, ()), told.get(stat.id)
        misleading = tuple(signs[stat.id].misleading or ()) if QuestionFinding.CHECK_KEY in own else ()
        discrimination = estimate[0] if estimate else None
        reading = _band(discrimination, own)
        done.append(
            replace(stat, discrimination=discrimination, band=reading, findings=own, misleading=misleading)
        )
    return done


def _discriminations(stats: Sequence[QuestionStat]) -> dict[int, tuple[IntervalEstimate, float | None]]:
    """Return each discrimination pulled towards those of its kind, with the mean of the others of its kind.

    References
    ----------
    R. A. Fisher, Metron 1 (1921) 3-32: atanh(r) is about normal with standard error 1/sqrt(n - 3). C. N. Morris, JASA
    78 (1983) 47-55: the pulled estimate and its interval.
    """
    told: dict[int, tuple[IntervalEstimate, float | None]] = {}
    for kind in {stat.kind for stat in stats}:
        own = [stat for stat in stats if stat.kind == kind and stat.item_rest is not None]
        if not own:
            continue
        z = np.arctanh(np.clip([stat.item_rest for stat in own], -FAR, FAR))
        pulled = shrink(z, 1.0 / (np.array([stat.students for stat in own], dtype=float) - 3.0))
        half = Z80 * np.sqrt(pulled.variance)
        for stat, middle, room, others in zip(own, pulled.mean, half, pulled.others, strict=True):
            estimate = IntervalEstimate(tanh(middle), tanh(middle - room), tanh(middle + room))
            told[stat.id] = estimate, tanh(others) if isfinite(others) else None
    return told


def _band(discrimination: IntervalEstimate | None, found: Sequence[QuestionFinding]) -> Band:
    """Read a discrimination where its interval leaves two neighbouring bands; a bad one needs a finding besides."""
    if discrimination is None:
        return Band.UNKNOWN
    order, reading = list(Band), band(discrimination.mean)
    apart = order.index(band(discrimination.low)) - order.index(band(discrimination.high))
    bad = reading in (Band.POOR, Band.NEGATIVE)
    if apart > WIDEST_BAND or (bad and not {QuestionFinding.NEGATIVE, QuestionFinding.FLAT} & set(found)):
        return Band.UNKNOWN
    return reading


def _signs(
    stat: QuestionStat, row: QuestionRecord, told: tuple[IntervalEstimate, float | None] | None, sheet: _Sheet
) -> FindingSigns:
    first = sheet.first.get(stat.id, [])
    texts = _choice(row)
    misleading, idle = (None, None) if texts is None else _option_signs(texts, first, sheet)
    return FindingSigns(
        students=stat.students,
        facility=stat.facility,
        unsure=share(sum(one.verdict == "unsure" for one in first), len(first)),
        chance=row.chance,
        easier=stat.surprise,
        observed=stat.item_rest,
        usual=told[1] if told else None,
        shrunken_high=told[0].high if told else None,
        misleading=misleading,
        idle=1.0 if idle is not None and not stat.idle else idle,
    )


def _option_signs(
    texts: Sequence[str], first: Sequence[AskedRecord], sheet: _Sheet
) -> tuple[dict[str, float], float | None]:
    """Return how likely it is chance that a wrong option draws stronger students, and that one draws nobody."""
    used = _use(first, len(texts), sheet)
    wrong = used.counts[1:]
    drawn = {
        f"“{texts[place]}”": p for place in range(1, len(texts)) if (p := _misleads(used, place)) is not None
    }
    # Every wrong option is a test of its own, those that draw nobody in particular too.
    tested = {name: min(1.0, p * len(wrong)) for name, p in drawn.items()}
    return tested, idleness(int(wrong.min()), int(wrong.sum()), len(wrong))


def _misleads(first: Options, place: int) -> float | None:
    """Return the p-value of a wrong option that draws stronger students more than the right one does; else None."""
    students, takers = int(first.counts.sum()), int(first.counts[place])
    own, right = float(first.discrimination[place]), float(first.discrimination[0])
    if students < ENOUGH_FOR_DISCRIMINATION or takers < 3 or not isfinite(own) or own <= 0.0 or own <= right:
        return None
    return 1.0 - NORMAL.cdf(atanh(min(own, FAR)) * (students - 3) ** 0.5)


def _chance_right(row: AskedRecord) -> float:
    """Return the predicted probability of a right answer, the chance of a guess included."""
    return row.chance + (1.0 - row.chance) * (row.predicted or 0.0)


def _expected(first: Sequence[AskedRecord], bias: float) -> tuple[float | None, float | None]:
    """Return the share right that the predictions expected, and how far the answers lie from it.

    `bias` is by how much the class's answers lie above its predictions altogether: a question is judged against the
    others, not for a model that hopes too much.
    """
    predicted = [_chance_right(row) for row in first if row.predicted is not None]
    chances = [min(0.99, max(0.01, chance + bias)) for chance in predicted]
    if not chances:
        return None, None
    right = sum(row.right for row in first if row.predicted is not None)
    fewer, more = right_tails(right, chances)
    tail = max(min(fewer, more), 1e-300)
    surprise = NORMAL.inv_cdf(tail) if fewer < more else -NORMAL.inv_cdf(tail)
    return sum(chances) / len(chances), surprise


def _corrected(row: QuestionRecord, first: Sequence[AskedRecord], right: int) -> float | None:
    """Return facility corrected for guessing; "not sure" counts as omitted. Frary 1988."""
    texts = _choice(row)
    if texts is None or not first:
        return None
    wrong = sum(one.verdict == "wrong" for one in first)
    return corrected_score(float(right), float(wrong), len(texts)) / len(first)


def _choice(row: QuestionRecord) -> tuple[str, ...] | None:
    """Return the options of a question that has some, the right one first."""
    try:
        key = from_dict(row.answer)
    except BadKey:
        return None
    texts: tuple[str, ...] = recipe_of(key).options(key)
    return texts if len(texts) >= 2 else None


def _times(every: Sequence[AskedRecord]) -> tuple[float | None, float | None, float | None]:
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
    idle: tuple[str, ...] = ()


def _options(row: QuestionRecord, every: Sequence[AskedRecord], sheet: _Sheet) -> _Uses:
    """Return how the options were used. They are lettered as the teacher wrote them: A is the right one."""
    texts = _choice(row)
    if texts is None:
        return _Uses()
    count = len(texts)
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
        for place, text in enumerate(texts)
    )
    return _Uses(uses, tuple(f"“{texts[place]}”" for place in used.unused()))


def _use(answers: Sequence[AskedRecord], count: int, sheet: _Sheet) -> Options:
    chosen = [(one.option, one) for one in answers if one.option is not None and 0 <= one.option < count]
    scores: Floats = np.array([sheet.score_elsewhere(one) for _, one in chosen], dtype=float)
    return options(np.array([option for option, _ in chosen], dtype=np.int64), count, scores)
