"""The comparison of doses on simulated classes, on few students."""

from __future__ import annotations

from datetime import timedelta

from scheduler.simulation.doses import DosePlan, run_dose, school_term, table


def test_a_school_term_is_asked_on_its_days_until_the_exam() -> None:
    term = school_term((0, 2, 4))
    exam, covered = term.dates.quizzes[-1]
    assert set(covered) == set(term.topics)
    assert term.last_day == exam.date()
    first = term.dates.lessons[0][0]
    assert {at.weekday() for at in term.evenings(first)} == {0, 2, 4}
    assert max(at for at, _ in term.dates.lessons) < exam - timedelta(weeks=4)


def test_a_dose_is_run_and_put_into_a_table() -> None:
    none = run_dose("activation", 1, DosePlan("none", 0), n_students=2)
    some = run_dose("activation", 1, DosePlan("2 on three days", 2, (0, 2, 4)), n_students=2)
    assert (none.asked, none.answers) == (0.0, 0.0)
    assert 1.0 < some.asked <= 2.0
    assert some.exam > none.exam + 0.1
    assert some.promised > none.promised
    assert [line.split("  ")[0] for line in table([none, some]).splitlines()[1:]] == [
        "none",
        "2 on three days",
    ]


def test_a_target_asks_less_than_it_may() -> None:
    # Two evenings a week, one of them the Friday on which the dose may rise: asked freely, it comes to 8 an evening.
    target = run_dose("activation", 1, DosePlan("target 60", 10, (0, 4), target=0.6), n_students=2)
    assert 0.0 < target.asked < 2.0
    assert target.exam > 0.5
