"""Reports against numbers from outside the project: ISO weeks, Wilson intervals, LSAT section 6, scipy."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from bot.evidence.questions.numbers import question_table
from bot.evidence.shared.figures import pooled_share, share
from bot.evidence.week.numbers import week_report
from bot.evidence.week.values import WeekData
from bot.grading.keys import TextKey, to_dict
from storage.history.evidence_rows import (
    AskedRecord,
    ClassRecord,
    ClassRecords,
    QuestionRecord,
    StudentRecord,
    TopicRecord,
)

GROUP = ClassRecord(1, "10B", "10b", "Physics", "Europe/London", "en")
TERM = datetime(2026, 9, 1, 8, tzinfo=UTC)

# ISO 8601 week dates as printed in the usual examples (2005-2010), and 2026, which has 53 weeks; the years with 53
# weeks from 2000 to 2040 are 2004 2009 2015 2020 2026 2032 2037.
ISO_WEEKS = [
    ("2005-01-01", 2004, 53),
    ("2005-01-02", 2004, 53),
    ("2005-12-31", 2005, 52),
    ("2007-01-01", 2007, 1),
    ("2008-12-29", 2009, 1),
    ("2009-12-31", 2009, 53),
    ("2010-01-03", 2009, 53),
    ("2021-01-03", 2020, 53),
    ("2026-01-01", 2026, 1),
    ("2026-11-25", 2026, 48),
    ("2026-12-28", 2026, 53),
    ("2027-01-03", 2026, 53),
    ("2027-01-04", 2027, 1),
]


def _asked_on(day: date) -> AskedRecord:
    at = datetime.combine(day, time(12), UTC)
    return AskedRecord(1, 1, 1, at, verdict="right", answered_at=at, on_time=True)


@pytest.mark.parametrize(("day", "year", "week"), ISO_WEEKS)
def test_a_question_is_reported_in_its_iso_week(day: str, year: int, week: int) -> None:
    when = date.fromisoformat(day)
    joined = datetime(2000, 1, 1, tzinfo=UTC)
    rows = ClassRecords(
        GROUP, (StudentRecord(1, "Mira", "active", True, joined),), (TopicRecord(1, "Density", joined),)
    )
    at = datetime.combine(when, time(20), UTC) + timedelta(days=10)
    report = week_report(WeekData(rows, year, week, at, (_asked_on(when),)))
    assert report.totals.asked == 1
    assert report.first_day <= when <= report.last_day
    assert (report.first_day.weekday(), report.last_day.weekday()) == (0, 6)
    assert report.first_day.isocalendar()[:2] == (year, week)


# Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998) 857-872,
# Table I, method 3 (Wilson score, no continuity correction), 95 %.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
    (29, 29, 0.8830, 1.0000),
]


@pytest.mark.parametrize(("count", "of", "low", "high"), NEWCOMBE)
def test_shares_have_the_wilson_intervals_of_newcombe_1998_table_1(
    count: int, of: int, low: float, high: float
) -> None:
    found = share(count, of, level=0.95)
    assert [found.low, found.high] == pytest.approx([low, high], abs=5e-5)


@pytest.mark.parametrize(("count", "of"), [(0, 1), (1, 1), (5, 10), (33, 45), (13, 16), (250, 533)])
def test_shares_agree_with_statsmodels_at_the_level_shown(count: int, of: int) -> None:
    low, high = proportion_confint(count, of, alpha=0.2, method="wilson")
    found = share(count, of)
    assert [found.low, found.high] == pytest.approx([low, high])


def test_one_answer_from_each_student_pools_to_a_plain_share() -> None:
    """Cochran 1977, eq. 2.39: with one answer each, the variance of the ratio is that of a proportion, n/(n-1)."""
    found = pooled_share([1] * 12 + [0] * 8, [1] * 20)
    low, high = proportion_confint(12 / 20 * 19, 19, alpha=0.2, method="wilson")
    assert [found.low, found.high] == pytest.approx([low, high])


# LSAT section 6: Bock & Lieberman, Psychometrika 35 (1970) 179-197; counts by pattern as in R psych's bock.table;
# facility and item-rest as printed for these data by R mirt's itemstats.
LSAT6_COUNTS = [3, 6, 2, 11, 1, 1, 3, 4, 1, 8, 0, 16, 0, 3, 2, 15]
LSAT6_COUNTS += [10, 29, 14, 81, 3, 28, 15, 80, 16, 56, 21, 173, 11, 61, 28, 298]
FACILITY = [0.924, 0.709, 0.553, 0.763, 0.870]
ITEM_REST = [0.113, 0.153, 0.173, 0.144, 0.122]


def test_the_table_of_questions_gives_facility_and_item_rest_of_lsat6() -> None:
    patterns = np.repeat(
        np.array([[int(bit) for bit in f"{n:05b}"] for n in range(32)]), LSAT6_COUNTS, axis=0
    )
    asked = [
        AskedRecord(
            student, 1, item + 1, TERM, verdict="right" if right else "wrong", answered_at=TERM,
            review_id=5 * student + item,
        )
        for student, row in enumerate(patterns)
        for item, right in enumerate(row)
    ]  # fmt: skip
    people = tuple(StudentRecord(number, f"P{number}", "active", True, TERM) for number in range(1000))
    rows = ClassRecords(GROUP, people, (TopicRecord(1, "LSAT", TERM),))
    questions = [QuestionRecord(n, 1, "text", f"Item {n}", to_dict(TextKey(("x",)))) for n in range(1, 6)]
    found = question_table(rows, questions, asked, TERM).questions
    assert [row.facility.value for row in found] == pytest.approx(FACILITY)
    assert [row.item_rest for row in found] == pytest.approx(ITEM_REST, abs=5e-4)


def test_the_rank_sum_is_that_of_scipy() -> None:
    """Mann & Whitney 1947, normal approximation with ties, no continuity correction."""
    from scipy import stats

    from bot.evidence.shared.figures import rank_sum_z

    first, second = [3.0, 4.0, 4.0, 7.5, 2.0], [1.0, 2.0, 2.0, 3.0, 4.0, 1.5, 0.5]
    expected = stats.mannwhitneyu(
        first, second, alternative="greater", method="asymptotic", use_continuity=False
    ).pvalue
    assert stats.norm.sf(rank_sum_z(first, second)) == pytest.approx(expected)
