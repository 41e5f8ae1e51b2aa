"""What the health page asks of each kind of database."""

from datetime import timedelta

from storage.asked import nudges
from storage.queue import due, inbox, outbox, queue_statistics
from storage.queue.queue_statistics import QueueStatistics
from tests.contracts.storage_school import NOW, later, said, school_class, student

BEFORE = NOW - timedelta(hours=1)
NOTHING = QueueStatistics(0, None, 0, None, 0, None, 0, 0, 0, held=False, backed_up_at=None)


def test_an_empty_database_has_nothing_waiting(db):
    with db.reading() as session:
        assert queue_statistics.take(session, NOW) == NOTHING


def test_what_waits_is_counted_with_the_moment_of_the_oldest(db):
    with db.begin() as session:
        for number, moment in enumerate((BEFORE, NOW, later(hours=1))):
            inbox.record(session, platform="t", key=f"{number}", user="u", event={}, now=moment)
            outbox.put(session, "t", "a", said(), now=moment)
            due.ensure(session, f"{number}", "k", moment)
        found = queue_statistics.take(session, NOW)
    assert (found.inbox, found.inbox_since) == (3, BEFORE)  # what came in waits, whenever that was
    assert (found.outbox, found.outbox_since) == (2, BEFORE)
    assert (found.due, found.due_since) == (2, BEFORE)


def test_nudges_count_while_they_are_planned_and_late_ones_apart(db):
    with db.begin() as session:
        mira = student(session, school_class(session), "Mira").id or 0
        for days, due_at in ((0, BEFORE), (1, later(days=1))):
            day = (NOW + timedelta(days=days)).date()
            nudges.plan(session, mira, day, due_at, later(days=2), [], NOW)
        found = queue_statistics.take(session, NOW)
        counts = queue_statistics.counts(session)
    assert (found.nudges_planned, found.nudges_overdue) == (2, 1)
    assert (counts["classes"], counts["students in classes"], counts["people"]) == (1, 1, 2)


def test_a_written_sign_of_life_and_a_backup_are_kept(db):
    with db.begin() as session:
        queue_statistics.write_something(session, NOW)
        queue_statistics.note_backup(session, BEFORE)
        outbox.hold(session, NOW)
    with db.reading() as session:
        found = queue_statistics.take(session, NOW)
    assert found.backed_up_at == BEFORE
    assert found.held
