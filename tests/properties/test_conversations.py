"""Whatever happens in whatever state: an answer or a declared silence, never an exception, nothing twice."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import hypothesis.strategies as st
from hypothesis import HealthCheck, given, settings
from sqlmodel import col, select

from bot.chat.port import ButtonPressed, Content, FileSent, PresenceChanged, TextSaid
from bot.grading.keys import AnswerKey
from bot.service.engine.effects import Speaker
from bot.service.engine.loop import save_state
from bot.talk.commands import COMMANDS
from bot.talk.core import MENU, State
from bot.talk.joining import ANY_TIME
from bot.talk.joining import BUTTONS as JOINING_BUTTONS
from bot.talk.joining import WORDS as JOINING_WORDS
from bot.talk.student import BUTTONS, WORDS
from bot.teaching.school_days import class_rules, student_rules
from scheduler.calendar.allowed_moments import is_allowed
from storage.school import classes, enrolments
from storage.tables import Answer, Review, ReviewState
from tests.dialogues import (
    CHOICE,
    FORMULA,
    MONDAY,
    NUMBER,
    TEXT,
    Frozen,
    Said,
    Stage,
    add_class,
    at,
    join,
    stage,
    teach,
)

DAY = timedelta(days=1)
PEOPLE = ("mira", "jonas", "stranger")
LATER = {"next", "progress", "data"}
"""Commands whose answer is worked out first: nothing is said until the work is done."""


@cache
def school() -> Frozen:
    """Return two classes on a Monday evening; mira is in both and has an open nudge, jonas is in one."""
    made = stage(at(MONDAY - 3 * DAY, 12))
    physics = add_class(made)
    keys: tuple[AnswerKey, ...] = (CHOICE, NUMBER, TEXT, FORMULA)
    for number, key in enumerate(keys):
        teach(made, physics, f"Topic {number}", at(MONDAY - (6 + number) * DAY, 10), [key])
    teach(made, physics, "Moments", at(MONDAY, 9), [], homework="p. 12")
    biology = add_class(made, "9A Biology")
    teach(made, biology, "Cells", at(MONDAY - 6 * DAY, 10))
    for user in ("mira", "jonas"):
        join(made, physics, user)
    join(made, biology, "mira", "18:00")
    made.now = at(MONDAY, 17)
    made.go_to(at(MONDAY, 18))
    made.press("mira", "Start")
    return made.freeze()


ids = st.integers(-1, 12).map(str)
verbs = st.sampled_from([*BUTTONS, *(verb for _, verb in JOINING_BUTTONS), *ANY_TIME, "nonsense", ""])
actions = st.tuples(st.sampled_from(["student", "joining"]), verbs, st.lists(ids, max_size=3)).map(
    lambda parts: ":".join([parts[0], parts[1], *parts[2]])
)
words = st.one_of(
    st.sampled_from(
        ["a", "b", "C)", "2.7", "2,7 g/cm3", "27", "photosynthesis", "E = m v^2/2", "yes", "no", "?", "start", "later",
         "not sure", "18:00", "21:00-7:00", "Lisbon", "off", "2 weeks", "English", "Mira", "join", "join ABC", "blah"]
    ),
    st.sampled_from([command.word for command in COMMANDS if command.conversation != "teacher"]),
    st.sampled_from([f"/{command.word} x" for command in COMMANDS if command.conversation != "teacher"]),
    st.text(max_size=40),
)  # fmt: skip
contents: st.SearchStrategy[Content] = st.one_of(
    words.map(TextSaid),
    actions.map(ButtonPressed),
    st.text(max_size=20).map(ButtonPressed),
    st.just(FileSent("h", "a.xlsx", "application/zip", 10)),
    st.sampled_from(["blocked", "unblocked"]).map(PresenceChanged),  # type: ignore[arg-type]
)


def silent(content: Content, stage: Stage) -> bool:
    """Whether nothing has to be said: presence changes, and what is still being worked out."""
    if isinstance(content, PresenceChanged):
        return True
    return bool(stage.run(_working))


def _working(session: Any) -> Any:
    from storage.tables import Due

    kinds = ["ask_more", "progress", "own_data"]
    return session.exec(select(Due).where(col(Due.kind).in_(kinds), col(Due.done_at).is_(None))).first()


def check(stage: Stage) -> None:
    """Check what holds at every moment."""
    rows = stage.run(lambda s: list(s.exec(select(Review))))
    waiting = [
        (r.enrolment_id, r.topic_id) for r in rows if r.state in (ReviewState.PLANNED, ReviewState.OPEN)
    ]
    assert len(waiting) == len(set(waiting)), "two questions of one student and topic wait"
    answered = {r.id for r in rows if r.state is ReviewState.ANSWERED}
    assert answered == {a.review_id for a in stage.run(lambda s: list(s.exec(select(Answer))))}


@settings(deadline=None, max_examples=25, suppress_health_check=list(HealthCheck))
@given(events=st.lists(st.tuples(st.sampled_from(PEOPLE), contents), min_size=4, max_size=14))
def test_any_event_is_answered_and_none_breaks_anything(events: list[tuple[str, Content]]) -> None:
    made = school().thaw()
    for user, content in events:
        said = made.event(user, content)
        assert said or silent(content, made), (user, content)
        for one in said:
            assert one.address == f"chat-{user}", "somebody else was told"
            assert one.message.text.plain or one.message.attachment or one.message.menu is not None
            assert "!" not in one.text.replace(getattr(content, "text", "!"), "")
        check(made)
    made.work()
    check(made)


@settings(deadline=None, max_examples=25, suppress_health_check=list(HealthCheck))
@given(contents=st.lists(contents, min_size=4, max_size=12), press=st.integers(0, 7))
def test_of_all_that_ask_the_same_once_at_most_the_last_can_be_pressed(
    contents: list[Content], press: int
) -> None:
    made = school().thaw()
    for content in contents:
        made.event("mira", content)
        asking = [one for one in made.screen("mira") if one.message.key.startswith(MENU) and one.labels]
        keys = [one.message.key for one in asking]
        assert len(keys) == len(set(keys)), keys
        if asking:
            pressed = asking[-1]
            buttons = pressed.message.all_buttons
            made.event("mira", ButtonPressed(buttons[press % len(buttons)].action))
            assert pressed not in made.screen("mira"), (
                f"{pressed.text!r} was pressed and stands there unchanged"
            )


STATES = sorted({*WORDS, "student.erasing", "student.leaving", *JOINING_WORDS, "idle", "gone.x"})
DATA: tuple[dict[str, Any], ...] = (
    {},
    {"join": 1},
    {"join": 1, "name": "Mira", "enrolment": 1},
    {"review": 1, "number": "2.7", "units": ["g/cm³", "kg"]},
    {"class": 1, "review": 99, "number": 3, "units": []},
)


@settings(deadline=None, max_examples=40, suppress_health_check=list(HealthCheck))
@given(
    user=st.sampled_from(PEOPLE),
    name=st.sampled_from(STATES),
    data=st.sampled_from(DATA),
    content=contents,
)
def test_any_event_in_any_state_is_answered(
    user: str, name: str, data: dict[str, Any], content: Content
) -> None:
    made = school().thaw()
    speaker = Speaker("terminal", user, f"chat-{user}")
    made.run(lambda s: save_state(s, speaker, State(name, data), made.now))
    said = made.event(user, content)
    assert said or silent(content, made)
    check(made)


@settings(deadline=None, max_examples=15, suppress_health_check=list(HealthCheck))
@given(user=st.sampled_from(PEOPLE), content=contents, after=st.integers(1, 60))
def test_an_event_that_is_delivered_again_after_a_crash_has_its_effect_once(
    user: str, content: Content, after: int
) -> None:
    whole = _dump(lambda made: made.event(user, content, key="again"))
    assert _dump(lambda made: _crash_and_repeat(made, user, content, after)) == whole


def _crash_and_repeat(made: Stage, user: str, content: Content, after: int) -> None:
    left = [after]

    def count(_statement: str) -> None:
        left[0] -= 1
        if left[0] == 0:
            raise RuntimeError("crash")

    made.db.before_statement = count
    try:
        made.event(user, content, key="again")
    except RuntimeError:
        pass
    finally:
        made.db.before_statement = None
    made.event(user, content, key="again")
    made.event(user, content, key="again")


SECRET = ("code", "due")
"""Tables with something random in every row: compared by their number of rows."""


def _dump(happens: Callable[[Stage], object]) -> list[Any]:
    made = school().thaw()
    happens(made)
    found: list[Any] = []
    frozen = made.freeze()  # held: the copy is closed with it
    copy = frozen.copy
    for (table,) in copy.execute(
        "select name from sqlite_master where type = 'table' order by name"
    ).fetchall():
        if table == "sqlite_sequence":  # a refused repeat uses up a number
            continue
        what = "count(*)" if table in SECRET else "*"
        rows = copy.execute(f'select {what} from "{table}"').fetchall()
        if table == "outbox":  # a code is said once
            rows = [(row[0], len(row)) for row in rows]
        found.append((table, rows))
    return found


# ---------------------------------------------------------------- time passes

ACTS = st.one_of(
    st.tuples(st.just("wait"), st.integers(10, 40 * 60)),
    st.tuples(st.just("off"), st.integers(60, 4 * 24 * 60)),
    st.tuples(st.just("do"), st.tuples(st.sampled_from(("mira", "jonas")), contents)),
    st.tuples(st.just("start"), st.sampled_from(("mira", "jonas"))),
)


@settings(deadline=None, max_examples=8, suppress_health_check=list(HealthCheck))
@given(acts=st.lists(ACTS, min_size=3, max_size=8))
def test_over_days_and_restarts_nudges_keep_to_one_a_day_and_to_allowed_hours(
    acts: list[tuple[str, Any]],
) -> None:
    made = school().thaw()
    begin = len(made.heard)
    for what, how in acts:
        match what:
            case "wait":
                made.go_to(made.now + timedelta(minutes=how))
            case "off":
                made.jump(made.now + timedelta(minutes=how))
            case "do":
                made.event(*how)
                made.work()
            case "start":
                made.say(how, "start")
        check(made)
    _check_nudges(made, made.heard[begin:])


def _check_nudges(made: Stage, said: list[Said]) -> None:
    from storage.tables import Nudge

    first: dict[tuple[int, Any], int] = {}
    for one in said:
        if one.nudge_id is None:
            continue
        nudge = made.run(lambda s, number=one.nudge_id: s.get(Nudge, number))
        if nudge is None:  # its student has been erased
            continue
        rules = made.run(lambda s, number=nudge.enrolment_id: _rules(s, number))
        assert rules is None or is_allowed(_created(one), rules), (one.at, rules)
        assert first.setdefault((nudge.enrolment_id, nudge.day), nudge.id) == nudge.id


def _created(one: Said) -> datetime:
    return one.at


def _rules(session: Any, enrolment_id: int) -> Any:
    student = enrolments.get(session, enrolment_id)
    if student.zone is not None or student.quiet_from is not None:
        return None  # may have been changed after the nudge went out
    return student_rules(class_rules(session, classes.get(session, student.class_id)), student)
