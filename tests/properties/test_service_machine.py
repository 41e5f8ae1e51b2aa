"""A machine over the whole service: whatever order things happen in, what is promised holds after each.

Rules: students press, platforms deliver twice, a commit fails and the event is brought again, the program restarts,
hours pass, people block and come back, the teacher adds a holiday and takes it back.

Promises, looked at after every rule (see `Service.promises_hold`):

1. What came in is handled: nothing acknowledged waits.
2. A review has one answer if it is answered and none otherwise.
3. At most one question on a topic has gone out to a student and waits; and at most one is planned, which takes its
   place when the day's nudge comes.
4. No nudge leaves outside its student's hours, on a day off, or to somebody who has blocked the bot.
5. No nudge of a student is written twice, but for one that the student has put off.
6. What the transaction that failed would have said was not said.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlmodel import Session, col, select

from bot.chat.port import ButtonPressed, PresenceChanged
from bot.service.asking import planning
from bot.service.engine.context import AppContext
from bot.teaching.school_days import class_rules, student_rules
from scheduler.calendar.allowed_moments import is_allowed
from scheduler.calendar.school_days import local_day
from storage.queue import inbox
from storage.school import classes, enrolments, timetable
from storage.school.change_journal import Journal, take_back
from storage.tables import Answer, Nudge, OutboxItem, Review, ReviewState
from tests.dialogues import CHOICE, MONDAY, ZONE, Frozen, Stage, add_class, at, enrolment, join, stage, teach

DAY = timedelta(days=1)
PEOPLE = ("mira", "jonas")
CLASS = 1


class Torn(Exception):
    """The commit that fails."""


def _tear(text: str) -> None:
    if text == "COMMIT":
        raise Torn


@cache
def school() -> Frozen:
    """Return a class of two on a Monday morning, with more topics than an evening asks."""
    made = stage(at(MONDAY - 3 * DAY, 12))
    group = add_class(made, questions_per_nudge=2)
    for number in range(5):
        teach(made, group, f"Topic {number}", at(MONDAY - (5 + number) * DAY, 10), [CHOICE])
    for user, hour in zip(PEOPLE, ("17:00", "18:00"), strict=True):
        join(made, group, user, hour)
    made.now = at(MONDAY, 8)
    return made.freeze()


class Service(RuleBasedStateMachine):
    """The rules."""

    stage: Stage

    @initialize()
    def begin(self) -> None:
        self.stage = school().thaw()
        self.begun = self.stage.now
        self.blocked: set[str] = set()
        self.undo: list[dict[str, Any]] = []
        self.days_off: set[date] = set()
        self.seen = self.put_off = 0
        self.last: tuple[str, str, str] | None = None
        self.keys = 0

    # ------------------------------------------------------------ people

    def _actions(self, user: str) -> list[str]:
        return [button.action for said in self.stage.of(user)[-3:] for button in said.message.all_buttons]

    @rule(user=st.sampled_from(PEOPLE), place=st.integers(0, 7))
    def press(self, user: str, place: int) -> None:
        actions = self._actions(user)
        if actions and user not in self.blocked:
            self._deliver(user, actions[-1 - place % len(actions)])

    @rule(user=st.sampled_from(PEOPLE))
    def answer(self, user: str) -> None:
        wanted = [a for a in self._actions(user) if a.startswith(("student:start", "student:pick"))]
        if wanted and user not in self.blocked:
            self._deliver(user, wanted[-1])

    def _deliver(self, user: str, action: str) -> None:
        self.keys += 1
        self.last = (user, action, f"press{self.keys}")
        self.put_off += action.startswith(("student:hour", "student:later"))
        self.stage.event(user, ButtonPressed(action), self.last[2])
        self.stage.work()

    @precondition(lambda self: self.last is not None)
    @rule()
    def deliver_again(self) -> None:
        assert self.last is not None
        user, action, key = self.last
        assert self.stage.event(user, ButtonPressed(action), key) == []

    @rule(user=st.sampled_from(PEOPLE))
    def fail_to_commit_and_deliver_again(self, user: str) -> None:
        actions = self._actions(user)
        if not actions or user in self.blocked:
            return
        before = len(self.stage.heard)
        self.stage.db.before_statement = _tear
        with pytest.raises(Torn):
            self.stage.event(user, ButtonPressed(actions[-1]), f"press{self.keys + 1}")
        self.stage.db.before_statement = None
        assert self.stage.collect() == []
        assert len(self.stage.heard) == before
        self._deliver(user, actions[-1])

    @rule(user=st.sampled_from(PEOPLE))
    def block(self, user: str) -> None:
        self.stage.event(user, PresenceChanged("blocked"))
        self.blocked.add(user)

    @rule(user=st.sampled_from(PEOPLE))
    def come_back(self, user: str) -> None:
        self.stage.event(user, PresenceChanged("unblocked"))
        self.blocked.discard(user)

    # ------------------------------------------------------------ the program and its time

    @rule()
    def restart(self) -> None:
        self.stage.app_context = AppContext()
        self.stage.jump(self.stage.now)

    @rule(hours=st.sampled_from([1, 3, 9, 24]))
    def pass_time(self, hours: int) -> None:
        self.stage.go_to(self.stage.now + timedelta(hours=hours))

    @rule(hours=st.sampled_from([2, 20, 60]))
    def be_off(self, hours: int) -> None:
        self.stage.jump(self.stage.now + timedelta(hours=hours))

    # ------------------------------------------------------------ the timetable

    @rule(ahead=st.integers(0, 3))
    def add_holiday(self, ahead: int) -> None:
        day = local_day(self.stage.now, ZONE) + ahead * DAY

        def change(session: Session) -> dict[str, Any]:
            journal = Journal(session)
            timetable.add_holiday(journal, CLASS, day, day, "Day off")
            planning.look_at_all(session, self.stage.now)
            return journal.as_data()

        self.undo.append(self.stage.run(change))

    @precondition(lambda self: self.undo)
    @rule()
    def take_holiday_back(self) -> None:
        data = self.undo.pop()

        def back(session: Session) -> None:
            take_back(session, data, self.stage.now)
            planning.look_at_all(session, self.stage.now)

        self.stage.run(back)

    # ------------------------------------------------------------ what holds

    @invariant()
    def promises_hold(self) -> None:
        if not hasattr(self, "blocked"):
            return
        self.stage.run(self._stored)
        self._sent()

    def _stored(self, session: Session) -> None:
        assert inbox.waiting(session)[0] == 0
        rows = list(session.exec(select(Review)))
        answered = Counter(session.exec(select(Answer.review_id)).all())
        assert answered == Counter(row.id for row in rows if row.state is ReviewState.ANSWERED)
        open_ones = (ReviewState.PLANNED, ReviewState.OPEN)
        gone_out = {row.id: row.sent_at is not None for row in session.exec(select(Nudge))}
        waiting = Counter(
            (row.enrolment_id, row.topic_id, gone_out[row.nudge_id]) for row in rows if row.state in open_ones
        )
        assert all(number == 1 for number in waiting.values())
        asked = select(OutboxItem.nudge_id).where(
            col(OutboxItem.key).like("nudge:%"), col(OutboxItem.nudge_id).is_not(None)
        )
        written = Counter(session.exec(asked).all())
        assert sum(number - 1 for number in written.values()) <= self.put_off

    def _sent(self) -> None:
        """Look at the nudges that were written since the last look, by the timetable that they were written under."""
        new, self.seen = self.stage.heard[self.seen :], len(self.stage.heard)
        for said in new:
            if said.nudge_id is not None and said.message.key.startswith("nudge:"):
                user = said.address.removeprefix("chat-")
                assert user not in self.blocked
                assert self.stage.run(_allowed, enrolment(self.stage, user, _GROUP), said.at), said.at


class _Group:
    id = CLASS


_GROUP: Any = _Group()


def _allowed(session: Session, student_id: int, when: datetime) -> bool:
    student = enrolments.get(session, student_id)
    return is_allowed(
        when, student_rules(class_rules(session, classes.get(session, student.class_id)), student)
    )


TestService = Service.TestCase
TestService.settings = settings(
    max_examples=12, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck)
)


def test_the_machine_reaches_nudges_answers_and_days_off() -> None:
    """A machine that never gets anywhere proves nothing: walk through it by hand once."""
    machine = Service()
    machine.begin()
    machine.pass_time(9)
    machine.pass_time(1)
    for _ in range(3):
        machine.answer("mira")
    machine.deliver_again()
    machine.fail_to_commit_and_deliver_again("jonas")
    machine.block("jonas")
    machine.add_holiday(1)
    machine.be_off(20)
    machine.come_back("jonas")
    machine.take_holiday_back()
    machine.restart()
    machine.pass_time(24)
    machine.promises_hold()
    assert len(machine.stage.run(lambda s: s.exec(select(Answer)).all())) == 2
    assert len(machine.stage.run(lambda s: s.exec(select(Nudge)).all())) >= 4
