"""Export, erasure, retention: everything that is stored, all of it gone, and in time."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

import pytest
from sqlmodel import Session, SQLModel, col, func, select

from storage.base import blobs, key_values
from storage.base.database import Database
from storage.base.errors import InvalidValue, NotFound
from storage.privacy import belongings, cleanup, erasure, export
from storage.queue import conversations, inbox, outbox
from storage.school import classes, codes, enrolments, people
from storage.tables import (
    Answer,
    Blob,
    ClassFit,
    CodeKind,
    Due,
    Enrolment,
    InboxItem,
    OutboxItem,
    Person,
    Quiz,
    Review,
    SchoolClass,
    Upload,
)
from tests.contracts.storage_full import School, furnish
from tests.contracts.storage_school import NOW, Said, later, person, said, school_class, student

TABLES: dict[str, type[Any]] = {
    str(mapper.class_.__tablename__): mapper.class_ for mapper in SQLModel._sa_registry.mappers
}


def everything(session: Session, without: tuple[str, ...] = ()) -> str:
    """Return all that is stored, as one text."""
    found = {}
    for name, table in TABLES.items():
        if name not in without:
            rows = session.exec(select(table)).all()
            found[name] = sorted(
                json.dumps(
                    {k: str(v) for k, v in row.model_dump().items()}, ensure_ascii=False, sort_keys=True
                )
                for row in rows
            )
    return json.dumps(found, ensure_ascii=False)


def counts(session: Session) -> dict[str, int]:
    return {
        name: session.exec(select(func.count()).select_from(table)).one() for name, table in TABLES.items()
    }


def test_the_furnished_school_has_rows_in_every_table(memory_db: Database):
    with memory_db.begin() as session:
        furnish(session)
        assert [name for name, number in counts(session).items() if number == 0] == []


def test_every_table_belongs_to_somebody_or_is_said_not_to(memory_db: Database):
    with memory_db.begin() as session:
        school = furnish(session)
        of_person = belongings.of_person(belongings.owner(session, school.teacher))
        of_class = belongings.of_class(session, school.group)
    listed = {part.name for part in [*of_person, *of_class]} | belongings.ABOUT_NOBODY
    assert listed == set(TABLES)


# ---------------------------------------------------------------- export


def test_an_export_shows_what_is_stored_about_a_student_and_nobody_else(db: Database):
    with db.begin() as session:
        school = furnish(session)
        data = export.of_person(session, school.mira.person_id or 0, NOW)
    assert set(data) == {
        *(
            "made_at",
            "person",
            "contact",
            "enrolment",
            "inbox",
            "dialogue",
            "codetry",
            "code",
            "due",
            "score",
        ),
        *("homework_report", "absence", "nudge", "review", "answer", "outbox"),
    }
    [answer] = data["answer"]
    assert (answer["topic"], answer["given"], answer["verdict"], answer["student"]) == (
        "Hooke’s law",
        "10 cm",
        "right",
        "Mira",
    )
    assert answer["question"].startswith("A spring")
    assert data["enrolment"][0]["class"] == "10B Physics"
    assert data["inbox"][0]["event"] == {"text": "10 cm"}
    assert json.loads(json.dumps(data)) == data
    text = json.dumps(data)
    assert "Tom" not in text
    assert "digest" not in text


def test_an_export_says_a_question_with_drawn_values_as_it_was_asked(db: Database):
    with db.begin() as session:
        school = furnish(session)
        for review in session.exec(select(Review)):
            review.drawn = {"prompt": "60 m in 12 s?", "values": {"s": "60"}}
        session.flush()
        data = export.of_person(session, school.mira.person_id or 0, NOW)
    assert {row["question"] for row in (*data["answer"], *data["review"])} == {"60 m in 12 s?"}


def test_an_export_can_be_read(db: Database):
    with db.begin() as session:
        school = furnish(session)
        data = export.of_person(session, school.mira.person_id or 0, NOW)
    text = export.readable(data, {"answer": "Your answers"})
    assert "\nYour answers\n" in text
    assert "given: 10 cm" in text
    assert "\nreview\n" in text
    for name in data:
        assert name == "made_at" or name in export.KINDS


def test_a_class_is_exported_whole(db: Database):
    with db.begin() as session:
        school = furnish(session)
        data = export.of_class(session, school.group, NOW)
    assert {row["student"] for row in data["answer"]} == {"Mira", "Tom"}
    assert data["school_class"][0]["name"] == "10B Physics"
    assert json.loads(json.dumps(data)) == data


def test_exporting_nobody_is_refused(db: Database):
    with db.begin() as session:
        with pytest.raises(NotFound):
            export.of_person(session, 99, NOW)
        with pytest.raises(NotFound):
            export.of_class(session, 99, NOW)


# ---------------------------------------------------------------- erasure


def test_an_erased_student_is_named_nowhere(db: Database):
    with db.begin() as session:
        school = furnish(session)
        counted = erasure.erase_person(session, school.mira.person_id or 0, NOW)
    with db.begin() as session:
        left = everything(session).casefold()
        assert "mira" not in left
        assert counted["answer"] == counted["enrolment"] == counted["person"] == 1
        assert counted["upload"] == 1
        assert session.exec(select(Blob)).all()[0].digest == school.picture
        assert len(session.exec(select(Blob)).all()) == 1  # the report's picture is gone


def test_an_erased_student_is_named_in_no_list_that_a_teacher_was_choosing_from(db: Database):
    lists = {"offers": [["mira novak", "teacher:student:1:1"]], "menus": [["menu:x", [["Mira?", False]], []]]}
    with db.begin() as session:
        school = furnish(session)
        conversations.save(session, "terminal", "okafor", "teacher", lists, NOW)
        counted = erasure.erase_person(session, school.mira.person_id or 0, NOW)
        assert counted["dialogue"] >= 1
    with db.begin() as session:
        assert "mira" not in everything(session).casefold()
        assert conversations.load(session, "terminal", "okafor")[0] == "idle"


def test_erasing_one_student_leaves_the_others_whole(db: Database):
    with db.begin() as session:
        school = furnish(session)
        tom = export.of_person(session, school.tom.person_id or 0, NOW)
        erasure.erase_person(session, school.mira.person_id or 0, NOW)
    with db.begin() as session:
        assert export.of_person(session, school.tom.person_id or 0, NOW) == tom
        assert session.exec(select(Due).where(Due.kind == "plan")).one()
        kept = session.exec(select(OutboxItem).where(OutboxItem.address == "chat-okafor")).all()
        assert [row.body["text"][0][0] for row in kept] == ["The quiz is on 1 October."]
        names = session.exec(select(Upload)).one().content["rows"]
        assert [row["name"] for row in names] == [erasure.ERASED, "Tom"]


def test_the_message_that_asked_for_the_erasure_can_be_closed_and_its_repeat_is_refused(db: Database):
    with db.begin() as session:
        school = furnish(session)
        inbox.record(
            session, platform="terminal", key="delivery-9", user="mira", event={"t": "more"}, now=NOW
        )
        [item] = [one for one in inbox.claim(session, NOW) if one.user == "mira"]
    with db.begin() as session:
        erasure.erase_person(session, school.mira.person_id or 0, NOW)
        assert inbox.done(session, item.id, NOW)
        assert (
            inbox.record(session, platform="terminal", key=item.key, user="mira", event={}, now=NOW) is None
        )
        assert [one for one in inbox.claim(session, later(days=1)) if one.user in ("", "mira")] == []


def test_an_erasure_that_fails_leaves_everything(db: Database):
    class Stop(Exception):
        pass

    def stop(statement: str) -> None:
        if "DELETE FROM contact" in statement:
            raise Stop

    with db.begin() as session:
        school = furnish(session)
        before = everything(session)
    db.before_statement = stop
    with pytest.raises(Stop), db.begin() as session:
        erasure.erase_person(session, school.mira.person_id or 0, NOW)
    db.before_statement = None
    with db.begin() as session:
        assert everything(session) == before


def test_the_last_teacher_of_an_open_class_cannot_be_erased(db: Database):
    with db.begin() as session:
        school = furnish(session)
        with pytest.raises(InvalidValue, match="only_teacher, name=10B Physics"):
            erasure.erase_person(session, school.teacher, NOW)
        classes.close(session, school.group, NOW)
        assert erasure.erase_person(session, school.teacher, NOW)["teaching"] == 1
        assert session.exec(select(Upload)).one().person_id is None
        assert "okafor" not in everything(session).casefold()


def test_erasing_nobody_is_refused(db: Database):
    with db.begin() as session:
        for erase in (erasure.erase_person, erasure.erase_enrolment, erasure.erase_class):
            with pytest.raises(NotFound, match="nothing was erased"):
                erase(session, 99, NOW)


def test_a_student_of_two_classes_can_be_erased_from_one(db: Database):
    with db.begin() as session:
        school = furnish(session)
        maths = school_class(session, "10B Maths")
        other = enrolments.join(session, maths.id or 0, school.mira.person_id or 0, "Mira", NOW)
        erasure.erase_enrolment(session, school.mira.id or 0, NOW)
        assert enrolments.of_person(session, school.mira.person_id or 0, left=True) == [other]
        assert session.exec(select(func.count()).select_from(Answer)).one() == 1
        erasure.erase_enrolment(session, other.id or 0, NOW)
        assert session.get(Person, school.mira.person_id) is None


def test_a_name_on_the_roster_that_never_joined_can_be_erased(db: Database):
    with db.begin() as session:
        school = furnish(session)
        [elif_] = [row for row in enrolments.roster(session, school.group) if row.person_id is None]
        assert erasure.erase_enrolment(session, elif_.id or 0, NOW) == {
            "enrolment": 1,
            "outbox": 1,
            "blob": 1,
        }


def test_an_erased_class_leaves_nothing_but_what_belongs_to_others(db: Database):
    with db.begin() as session:
        empty = counts(session)
        school = furnish(session)
        erasure.erase_class(session, school.group, NOW)
    with db.begin() as session:
        left = {name: number for name, number in counts(session).items() if number != empty[name]}
        # The teacher may create classes and stays; keys of deliveries stay, without content; so does our mail to her.
        assert set(left) == {
            "person",
            "contact",
            "staff",
            "key_value",
            "inbox",
            "outbox",
            "blob",
            "sending_pace",
        }
        assert (left["person"], left["contact"]) == (1, 1)
        text = everything(session, without=("outbox", "inbox")).casefold()
        assert "mira" not in text
        assert "tom" not in text


@pytest.mark.parametrize(
    ("data", "found"),
    [("Mira", True), ({"a": ["x", {"b": "mira"}]}, True), ("Míra", True), ({"a": "Tom"}, False)],
)
def test_a_name_is_found_in_data_however_it_is_written(data: object, found: bool):
    assert erasure.mentions(data, "Mira") is found
    assert erasure.mentions(erasure.without(data, "Mira"), "Mira") is False


# ---------------------------------------------------------------- retention


def forget_all(session: Session, now: datetime) -> dict[str, int]:
    """Run the nightly work until there is nothing left to do."""
    total: dict[str, int] = {}
    while went := cleanup.forget(session, now):
        for name, number in went.items():
            total[name] = total.get(name, 0) + number
    return total


def test_nothing_is_forgotten_too_early(db: Database):
    with db.begin() as session:
        furnish(session)
        before = everything(session, without=("codetry",))
        assert forget_all(session, later(days=6)) == {"codetry": 2}
        assert everything(session, without=("codetry",)) == before


def test_a_class_goes_when_its_period_and_the_grace_are_over(db: Database):
    with db.begin() as session:
        school = furnish(session)
        classes.change_rules(session, school.group, retain_until=date(2026, 10, 1))
        forget_all(session, datetime(2026, 10, 31, 12, tzinfo=NOW.tzinfo))
        assert session.get(SchoolClass, school.group) is not None
    with db.begin() as session:
        went = forget_all(session, datetime(2026, 11, 1, 12, tzinfo=NOW.tzinfo))
        assert went["school_class"] == 1
        assert went["answer"] == 2
        assert session.exec(select(ClassFit)).all() == []
        assert session.exec(select(Enrolment)).all() == []


def test_without_a_period_a_class_is_kept_a_year_or_90_days_past_its_timetable(db: Database):
    with db.begin() as session:
        school = furnish(session)
        group = classes.get(session, school.group)
        assert cleanup.ends_on(session, group) == date(2027, 9, 1)
        session.add(Quiz(class_id=school.group, at=later(days=400)))
        session.flush()
        assert cleanup.ends_on(session, group) == later(days=490).date()
        assert cleanup.ended(session, later(days=519)) == []
        assert cleanup.ended(session, later(days=522)) == [school.group]


def test_what_came_in_loses_its_content_after_a_week_and_its_row_after_two_months(db: Database):
    with db.begin() as session:
        number = (
            inbox.record(session, platform="t", key="1", user="-", event={"text": "secret"}, now=NOW) or 0
        )
        waiting = inbox.record(session, platform="t", key="2", user="x", event={"text": "open"}, now=NOW) or 0
        inbox.done(session, number, NOW)
        assert forget_all(session, later(days=6, hours=23)) == {}
        assert forget_all(session, later(days=8)) == {"inbox content": 1}
        session.expire_all()
        row = session.get_one(InboxItem, number)
        assert (row.event, row.user) == ({}, "")
        assert inbox.record(session, platform="t", key="1", user="-", event={}, now=NOW) is None
        assert forget_all(session, later(days=61)) == {"inbox": 1}
        assert session.get_one(InboxItem, waiting).event == {"text": "open"}


def test_sent_messages_go_after_a_while_and_waiting_ones_never(db: Database):
    with db.begin() as session:
        people.meet(session, "t", "mira", "mira", NOW)
        group = school_class(session)
        student(session, group, "Mira")
        enrolments.join(
            session, group.id or 0, people.meet(session, "t", "mira", "mira", NOW).person_id, "M", NOW
        )
        sent = outbox.put(session, "t", "mira", said(), now=NOW)
        outbox.sent(session, sent, "r", NOW)
        stranger = outbox.put(session, "t", "nobody", Said({}, None), now=NOW)
        outbox.sent(session, stranger, "r2", NOW)
        outbox.put(session, "t", "mira", said("waiting"), now=NOW)
        assert forget_all(session, later(hours=23)) == {}
        assert forget_all(session, later(days=2)) == {"outbox": 1}
        assert forget_all(session, later(days=91)) == {"outbox": 1}
        assert session.exec(select(OutboxItem)).one().body["text"] == [["waiting", False]]


def test_bytes_that_nothing_names_go_the_next_day(db: Database):
    with db.begin() as session:
        furnish(session)
        blobs.keep(session, b"loose", "image/png", NOW)
        assert forget_all(session, later(hours=23)) == {}
        assert forget_all(session, later(days=1, hours=1))["blob"] == 1


def test_somebody_who_wrote_but_never_joined_is_forgotten_after_a_month(db: Database):
    with db.begin() as session:
        person(session, "curious")
        joined = student(session, school_class(session), "Mira")
        assert forget_all(session, later(days=29)) == {}
        assert forget_all(session, later(days=31)) == {"person": 1, "contact": 1}
        assert people.get(session, joined.person_id or 0)


def test_ended_codes_and_finished_work_go(db: Database):
    with db.begin() as session:
        codes.issue(session, CodeKind.CLASS, now=NOW)
        codes.revoke(session, codes.issue(session, CodeKind.CLASS, now=NOW).code.id or 0, NOW)
        session.add(Due(key="a", kind="k", due_at=NOW, done_at=NOW))
        session.add(Due(key="b", kind="k", due_at=NOW))
        session.flush()
        assert forget_all(session, later(days=29)) == {}
        assert forget_all(session, later(days=61)) == {"code": 1, "due": 1}


def test_a_place_that_nobody_bound_is_forgotten_after_a_day(db: Database):
    with db.begin() as session:
        key_values.put(session, f"{codes.OFFERED_PLACE}7", "telegram -100 10B Physics", NOW)
        key_values.put(session, "matrix sync", "s1", NOW)
        assert forget_all(session, later(hours=23)) == {}
        assert forget_all(session, later(days=1, hours=1)) == {"offered place": 1}
        assert key_values.get(session, "matrix sync") == "s1"


def test_nightly_work_is_done_in_portions(db: Database):
    with db.begin() as session:
        session.add_all(Due(key=str(n), kind="k", due_at=NOW, done_at=NOW) for n in range(7))
        session.flush()
        assert [cleanup.forget(session, later(days=61), limit=3) for _ in range(4)] == [
            {"due": 3},
            {"due": 3},
            {"due": 1},
            {},
        ]


def come_in(session: Session, at: datetime, *keys: str) -> list[int]:
    """Store something that is done at once, for each key; return the numbers."""
    numbers = [
        inbox.record(session, platform="t", key=key, user="-", event={"text": key}, now=at) or 0
        for key in keys
    ]
    for number in numbers:
        inbox.done(session, number, at)
    return numbers


def contents(session: Session) -> list[str]:
    session.expire_all()
    return [row.event.get("text", "-") for row in session.exec(select(InboxItem).order_by(col(InboxItem.id)))]


def test_contents_are_emptied_from_where_the_night_before_ended(db: Database):
    with db.begin() as session:
        come_in(session, NOW, "a", "b", "c")
        come_in(session, later(days=1), "d")
        assert forget_all(session, later(days=7, hours=1)) == {"inbox content": 3}
        assert contents(session) == ["-", "-", "-", "d"]
        # A row from before is not looked at any more; nothing writes such a one.
        session.get_one(InboxItem, min(ids(session))).event = {"text": "put back"}
        session.flush()
        assert forget_all(session, later(days=8, hours=1)) == {"inbox content": 1}
        assert contents(session) == ["put back", "-", "-", "-"]


def ids(session: Session) -> list[int]:
    return [number or 0 for number in session.exec(select(InboxItem.id))]


@pytest.mark.parametrize("number", [1, 3, 4, 7])
def test_contents_that_ended_at_one_moment_are_emptied_in_portions_too(db: Database, number: int):
    with db.begin() as session:
        come_in(session, NOW, *(f"k{n}" for n in range(number)))
        come_in(session, later(minutes=1), "z")
        blanked = 0
        while went := cleanup.forget(session, later(days=8), limit=3):
            blanked += went.get("inbox content", 0)
        assert blanked == number + 1
        assert contents(session) == ["-"] * (number + 1)


def test_a_night_on_a_clock_that_was_ahead_spares_nobodys_content(db: Database):
    with db.begin() as session:
        come_in(session, NOW, "a")
        forget_all(session, later(days=50))
        come_in(session, later(days=1), "b")
        assert forget_all(session, later(days=9)) == {"inbox content": 1}
        assert contents(session) == ["-", "-"]


def test_all_messages_are_looked_at_once_a_night_a_part_at_a_time(db: Database, monkeypatch):
    monkeypatch.setattr(cleanup, "LOOK_AT_ONCE", 4)
    with db.begin() as session:
        people.meet(session, "t", "mira", "mira", NOW)
        enrolments.join(
            session,
            school_class(session).id or 0,
            people.meet(session, "t", "mira", "mira", NOW).person_id,
            "M",
            NOW,
        )
        kept = [outbox.put(session, "t", "mira", said(f"{n}"), now=NOW) for n in range(9)]
        strangers = [outbox.put(session, "t", "nobody", Said({}, None), now=NOW) for _ in range(2)]
        for number in kept[:8] + strangers:
            outbox.sent(session, number, f"r{number}", NOW)
        seen = [cleanup.forget(session, later(days=2)) for _ in range(4)]
        assert seen == [{"outbox looked at": 4}, {"outbox looked at": 4}, {"outbox": 2}, {}]
        assert cleanup.forget(session, later(days=2, hours=1)) == {}, "once a night"
        assert forget_all(session, later(days=91)) == {"outbox": 8, "outbox looked at": 8}
        assert session.exec(select(OutboxItem.id)).all() == [kept[8]]


def test_messages_go_in_portions_too(db: Database):
    with db.begin() as session:
        for n in range(7):
            outbox.sent(session, outbox.put(session, "t", "nobody", Said({}, None), now=NOW), f"r{n}", NOW)
        gone = [cleanup.forget(session, later(days=2), limit=3).get("outbox", 0) for _ in range(4)]
        assert gone == [3, 3, 1, 0]
        assert session.exec(select(OutboxItem)).all() == []


def test_the_furnished_school_names_its_people(memory_db: Database):
    with memory_db.begin() as session:
        assert isinstance(furnish(session), School)
        assert "Mira" in everything(session)
