"""What a teacher pulls, from a class that was taught and asked for a few weeks; through the real loop."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta
from types import SimpleNamespace

import pytest
from sqlmodel import col, select

from bot.chat.packing import unpack
from bot.chat.port import ButtonPressed, Message
from bot.service.teacher.calendar import REPORT, ensure_class_work
from bot.talk.teacher.effects import PULLS
from storage.base.database import Database
from storage.history import class_history
from storage.school import channels, classes, enrolments, people, timetable
from storage.school.change_journal import Journal
from storage.school.questions import QuestionDraft, add
from storage.tables import Answer, Blob, Due, Nudge, OutboxItem, Review, ReviewState, StarterResult, Verdict
from tests.teaching import START, School, Talker
from tests.xapi_rules import hold

NAMES = ("Mira", "Tom", "Elif", "Jonas", "Ada", "Ben")


@pytest.fixture
def teacher(school: School) -> Talker:
    teacher = school.teacher()
    with school.db.begin() as session:
        group = classes.get(session, 1)
        journal = Journal(session)
        for number, topic in enumerate(("Springs", "Density", "Moments")):
            at = START - timedelta(days=14 - 2 * number)
            timetable.teach(journal, group, topic, at, quiz_day=(START + timedelta(days=10)).date())
            for asked in range(4):
                key = {"kind": "text", "answers": [f"answer {asked}"], "wrong": [], "typos": True}
                add(journal, 1, QuestionDraft(topic, "text", f"{topic}, question {asked}?", key, 0.02), at)
        joined = [
            enrolments.join(
                session,
                1,
                people.meet(session, "terminal", name, f"@{name}", START).person_id,
                name,
                START - timedelta(days=15),
            )
            for name in NAMES
        ]
        for who in joined:
            for day in range(8):
                ask(session, who.id or 0, day)
    return teacher


def ask(session, student: int, day: int) -> None:
    at = START - timedelta(days=8 - day)
    nudge = Nudge(
        enrolment_id=student, day=at.date(), due_at=at, expires_at=at + timedelta(hours=12), sent_at=at
    )
    session.add(nudge)
    session.flush()
    topic = day % 3 + 1
    review = Review(
        nudge_id=nudge.id or 0,
        enrolment_id=student,
        topic_id=topic,
        question_id=4 * (topic - 1) + day % 4 + 1,
        position=1,
        state=ReviewState.ANSWERED,
        predicted=0.7,
        planned_at=at,
        asked_at=at,
        closed_at=at,
    )
    session.add(review)
    session.flush()
    right = (student + day) % 3 != 0
    session.add(
        Answer(
            review_id=review.id or 0,
            enrolment_id=student,
            topic_id=topic,
            question_id=review.question_id or 0,
            verdict=Verdict.RIGHT if right else Verdict.WRONG,
            chance=0.02,
            on_time=True,
            at=at + timedelta(minutes=2),
        )
    )


def documents(school: School) -> list[str]:
    with school.db.begin() as session:
        return [one.blob_name for one in session.exec(select(OutboxItem)) if one.blob_name]


@pytest.mark.parametrize(
    ("word", "says", "sends"),
    [
        ("report", "10B Physics · week 48", ".png"),
        ("workbook", "workbook", ".xlsx"),
        ("forecast", "5 Dec", ".xlsx"),
        ("starter", "1", ".png"),
        ("quality", "10B Physics", ".xlsx"),
        ("illustration", "10B Physics", ".png"),
        ("letters", "One page per student", ".html"),
        ("export", "Everything of the class", ".zip"),
        ("records", "Students appear under pseudonyms", "-records.zip"),
    ],
)
def test_every_word_brings_its_text_and_its_file(
    school: School, teacher: Talker, word: str, says: str, sends: str
):
    assert teacher.says(word).endswith(" …")
    said = teacher.hears(school.work())
    assert says in said
    assert any(name.endswith(sends) for name in documents(school))


def test_letters_come_as_pdf_where_that_can_be_made(
    school: School, teacher: Talker, monkeypatch: pytest.MonkeyPatch
):
    class Page:
        def __init__(self, string: str, url_fetcher: object) -> None:
            self.pages = string.count('<section class="letter">')

        def write_pdf(self) -> bytes:
            return f"%PDF {self.pages}".encode()

    monkeypatch.setattr("bot.evidence.student.letter_pdf._library", lambda: SimpleNamespace(HTML=Page))
    teacher.says("letters")
    assert teacher.hears(school.work()) == "One page per student, to print."
    with school.db.begin() as session:
        (row,) = [one for one in session.exec(select(OutboxItem)) if one.blob_name.endswith(".pdf")]
        assert session.get_one(Blob, row.blob).data == f"%PDF {len(NAMES)}".encode()


def test_everything_that_can_be_pulled_can_be_made():
    from bot.service.teacher.pulling import MAKERS

    # What a target takes is asked with its number, not with a button.
    assert set(MAKERS) == set(PULLS) | {"target"}


def test_a_report_offers_what_follows_from_it(school: School, teacher: Talker):
    teacher.says("report")
    teacher.hears(school.work())
    teacher.presses("Forecast")
    assert "forecast" in teacher.hears(school.work()).casefold()


@pytest.mark.parametrize(
    ("said", "week"),
    [
        ("report last week", "week 47"),
        ("report 47", "week 47"),
        ("report W47", "week 47"),
        ("report 2026-W46", "week 46"),
        ("report 12 Nov", "week 46"),
        ("report this", "week 48"),
    ],
)
def test_a_report_can_be_of_any_week(school: School, teacher: Talker, said: str, week: str):
    teacher.says(said)
    assert f"10B Physics · {week}" in teacher.hears(school.work())


def test_a_week_that_cannot_be_read_or_has_not_begun_is_named(school: School, teacher: Talker):
    assert "I could not read a week in “the bad one”." in teacher.says("report the bad one")
    assert teacher.says("workbook 2026-W50") == "The week of Mon 7 Dec has not begun."
    assert school.work() == []


def test_the_workbook_of_an_older_report_is_of_its_week(school: School, teacher: Talker):
    teacher.says("report last week")
    teacher.hears(school.work())
    teacher.presses("Workbook")
    school.work()
    assert "10b-physics-2026-W47.xlsx" in documents(school)


def test_a_button_with_a_forged_week_gives_the_present_one(school: School, teacher: Talker):
    school.happen("okafor", ButtonPressed("teacher:pull:1:workbook:soon", "1"))
    school.work()
    assert "10b-physics-2026-W48.xlsx" in documents(school)


def test_the_comparison_can_be_of_a_certain_quiz(school: School, teacher: Talker):
    teacher.says("comparison 24 Dec")
    assert "There was no quiz on 2026-12-24." in teacher.hears(school.work())
    school.clock.at += timedelta(minutes=1)
    teacher.says("comparison 5 Dec")
    assert "There are no scores for this quiz yet." in teacher.hears(school.work())


def test_a_forecast_can_be_for_another_day(school: School, teacher: Talker):
    teacher.says("forecast 1 Dec")
    assert "1 Dec" in teacher.hears(school.work())
    assert "I could not read a day in “sometime”." in teacher.says("forecast sometime")


def test_an_export_holds_the_class_as_data_and_the_answers_as_a_table(school: School, teacher: Talker):
    teacher.says("export")
    school.work()
    with school.db.begin() as session:
        row = session.exec(select(OutboxItem).where(OutboxItem.blob_name == "10b-physics-export.zip")).one()
        data = session.get_one(Blob, row.blob).data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert sorted(archive.namelist()) == [
            "answers.csv",
            "class.json",
            "data-dictionary.csv",
            "question-sheet.csv",
            "questions-qti.zip",
            "questions.csv",
        ]
        stored = json.loads(archive.read("class.json"))
        assert len(archive.read("answers.csv").splitlines()) == 1 + 8 * len(NAMES)
    assert len(stored["answer"]) == 8 * len(NAMES)


def records(school: School, teacher: Talker, said: str) -> dict[str, bytes]:
    """Say it, and return the files of the archive that comes."""
    teacher.says(said)
    school.work()
    with school.db.begin() as session:
        rows = session.exec(select(OutboxItem).where(OutboxItem.blob_name == "10b-physics-records.zip")).all()
        data = session.get_one(Blob, rows[-1].blob).data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_learning_records_keep_the_rules_of_the_standard_and_name_nobody(school: School, teacher: Talker):
    files = records(school, teacher, "records")
    assert sorted(files) == [
        "10b-physics-answers.csv",
        "10b-physics-answers.jsonl",
        "10b-physics-question-sheet.csv",
        "10b-physics-questions.csv",
        "data-dictionary.csv",
    ]
    statements = [json.loads(line) for line in files["10b-physics-answers.jsonl"].splitlines()]
    hold(statements)
    assert len(statements) == 8 * len(NAMES)
    assert not any(name.encode() in data for name in NAMES for data in files.values())
    assert {one["actor"]["account"]["homePage"] for one in statements} == {"https://school.example"}


def test_pseudonyms_are_the_same_in_the_next_export(school: School, teacher: Talker):
    first = records(school, teacher, "records")
    school.clock.at += timedelta(minutes=1)
    assert records(school, teacher, "records") == first


def test_learning_records_have_names_where_that_is_asked(school: School, teacher: Talker):
    files = records(school, teacher, "records names")
    assert all(name.encode() in files["10b-physics-answers.csv"] for name in NAMES)
    assert "I know records and records names" in teacher.says("records please")


def test_results_are_compared_with_predictions_once_there_are_scores(school: School, teacher: Talker):
    teacher.says("comparison")
    assert teacher.hears(school.work()) != ""
    school.clock.at = START + timedelta(days=11)
    rows = "".join(f"{name},{12 + number},20\n" for number, name in enumerate(NAMES))
    teacher.sends("scores.csv", f"student,score,out of\n{rows}".encode())
    teacher.presses("quiz")
    teacher.presses("Use it")
    school.work()
    teacher.says("comparison")
    said = teacher.hears(school.work())
    assert any(name.endswith(".xlsx") for name in documents(school))
    assert said


def test_after_a_starter_the_teacher_says_how_many_had_it_right(school: School, teacher: Talker):
    teacher.says("starter")
    teacher.hears(school.work())
    with school.db.begin() as session:
        from bot.service.engine.effects import Speaker
        from bot.service.engine.loop import load_state

        asked = load_state(session, Speaker("terminal", "okafor", "@okafor")).data["questions"]
    counts = " ".join(["4"] * len(asked))
    assert "9" in teacher.says(f"{' '.join(['9'] * len(asked))} of 6")
    assert teacher.says(f"{counts} of 6") == "Noted. The model takes it for the class as a whole."
    with school.db.begin() as session:
        assert [(one.asked, one.right) for one in session.exec(select(StarterResult))] == [(6, 4)] * len(
            asked
        )


def test_counts_of_a_starter_can_come_the_next_day_after_other_words(school: School, teacher: Talker):
    assert "There is no starter whose counts" in teacher.says("4 3 of 6")
    teacher.says("starter")
    teacher.hears(school.work())
    teacher.says("report")
    school.work()
    school.clock.at += timedelta(days=1)
    assert teacher.says("4 3 2 of 6") == "Noted. The model takes it for the class as a whole."
    with school.db.begin() as session:
        assert [one.right for one in session.exec(select(StarterResult))] == [4, 3, 2]
    assert "There is no starter whose counts" in teacher.says("4 3 2 of 6")


def test_a_starter_that_was_counted_reaches_the_model(school: School, teacher: Talker):
    teacher.says("starter")
    teacher.hears(school.work())
    teacher.says("0 0 0 of 6")
    with school.db.begin() as session:
        told = class_history.of_class(session, 1, school.clock.now()).happenings
    assert [one.right for one in told if isinstance(one, class_history.Counted)] == [0, 0, 0]


def test_a_summary_goes_to_the_channel_and_names_nobody(school: School, teacher: Talker):
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    teacher.says("share")
    said = {where: message.text.plain for where, message in school.work()}
    assert said["@okafor"] == "Posted to “10B”."
    assert "6" in said["#class"]
    assert not any(name in said["#class"] for name in NAMES)


def test_the_same_summary_is_not_posted_twice_in_a_row(school: School, teacher: Talker):
    with school.db.begin() as session:
        channels.bind(session, 1, "terminal", "#class", START, title="10B")
    teacher.says("share")
    school.work()
    school.clock.at += timedelta(minutes=1)
    teacher.says("share")
    said = school.work()
    assert [where for where, _ in said] == ["@okafor"]
    assert said[0][1].text.plain.startswith("The same summary stands in “10B” already")


def test_work_that_was_done_is_not_done_again(school: School, teacher: Talker):
    teacher.says("report")
    school.work()
    assert school.work() == []
    with school.db.begin() as session:
        assert all(one.done_at for one in session.exec(select(Due).where(Due.kind == "pull")))


@pytest.mark.parametrize(
    "word",
    [
        "report",
        "workbook",
        "forecast",
        "starter",
        "quality",
        "comparison",
        "illustration",
        "letters",
        "export",
        "records",
    ],
)
def test_a_class_without_anything_yet_gets_an_answer_to_every_word(memory_db: Database, word: str):
    school = School(memory_db)
    teacher = school.teacher()
    teacher.says(word)
    said = teacher.hears(school.work())
    assert len(said) > 20
    assert "ref" not in said


@pytest.mark.parametrize("word", ["forecast", "starter"])
def test_a_class_that_was_taught_and_nobody_joined_is_told_just_that(memory_db: Database, word: str):
    school = School(memory_db)
    teacher = school.teacher()
    teacher.sends("timetable.csv", b"date,topic,kind\n2026-11-23,Springs,lesson\n2026-12-11,Quiz 1,quiz\n")
    teacher.presses("Use it")
    teacher.says(word)
    assert "Nobody is in the class yet" in teacher.hears(school.work())


def replaced(school: School, since: int) -> list[str]:
    """Return whose places the messages after a row take, leaving out those that take nobody's."""
    with school.db.begin() as session:
        rows = session.exec(select(OutboxItem).where(col(OutboxItem.id) > since)).all()
        return [row.body["replaces"] for row in rows if row.body["replaces"]]


def last_key(school: School) -> tuple[int, str]:
    with school.db.begin() as session:
        row = session.exec(
            select(OutboxItem).where(OutboxItem.key != "").order_by(col(OutboxItem.id).desc())
        ).first()
        assert row is not None
        return row.id or 0, row.key


@pytest.mark.parametrize("word", ["report", "forecast", "starter", "quality", "comparison", "illustration"])
def test_f08_a_paper_takes_the_place_of_its_own_request_only(school: School, teacher: Talker, word: str):
    """Friday's report edited Monday's, and another class's replaced it: the key held neither class nor week."""
    teacher.says(word)
    monday, key = last_key(school)
    teacher.hears(school.work())
    assert set(replaced(school, monday)) <= {key}
    assert key.split(":")[:3] == ["pull", word, "1"]
    assert key.split(":")[3] == "2026-W48"

    school.clock.at += timedelta(days=2)
    teacher.says(word)
    friday, again = last_key(school)
    teacher.hears(school.work())
    assert again != key
    assert set(replaced(school, friday)) <= {again}


def test_f08_the_report_of_every_week_is_a_message_of_its_own(school: School, teacher: Talker):
    teacher.says("report")
    teacher.hears(school.work())
    with school.db.begin() as session:
        ensure_class_work(session, 1, school.clock.now())
        (due,) = session.exec(select(Due).where(Due.kind == REPORT)).all()
        before = max(row.id or 0 for row in session.exec(select(OutboxItem)))
    school.work(until=due.due_at)
    assert "10B Physics · week" in "".join(
        message.text.plain for _to, message in written_after(school, before)
    )
    assert replaced(school, before) == []


def written_after(school: School, row_id: int) -> list[tuple[str, Message]]:
    with school.db.begin() as session:
        rows = session.exec(select(OutboxItem).where(col(OutboxItem.id) > row_id)).all()
        return [(row.address, unpack(row.body)) for row in rows]


def test_f08_reports_of_two_classes_leave_each_other_alone(school: School, teacher: Talker):
    keys = set()
    with school.db.begin() as session:
        other = classes.create(
            session,
            name="9A Physics",
            zone="Europe/London",
            teacher_id=teacher.person_id,
            teacher_name="Ms Okafor",
            now=START,
        ).id
    for class_id in (1, other):
        school.happen("okafor", ButtonPressed(f"teacher:pull:{class_id}:report", "1"))
        keys.add(last_key(school)[1])
    assert {key.rsplit(":", 1)[0] for key in keys} == {
        "pull:report:1:2026-W48",
        f"pull:report:{other}:2026-W48",
    }
