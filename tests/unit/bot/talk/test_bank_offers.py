"""Questions of the bank, offered to a teacher and taken; through the real loop."""

from __future__ import annotations

import shutil

import pytest
from click.testing import CliRunner
from sqlmodel import col, select

from bot.bank import catalogue, topics_for
from bot.cli.group import holdfast
from bot.service.teacher.bank import offers, take
from storage.base.database import connect
from storage.school import classes, people, timetable
from storage.school.change_journal import Journal
from storage.tables import Question, Topic
from tests.teaching import START, School, Talker

TIMETABLE = b"date,topic\n2026-11-16,Speed\n2026-11-18,Ohmsches Gesetz\n2026-11-20,Poetry\n"
SPEED = len(catalogue().of_topic("speed"))
OHM = len(catalogue().of_topic("ohms-law"))


def with_topics(teacher: Talker) -> str:
    teacher.sends("t.csv", TIMETABLE)
    return teacher.presses("Use it")


def of_topics(school: School) -> dict[str, int]:
    with school.db.begin() as session:
        return {one.name: one.questions for one in timetable.topics(session, 1, START)}


def test_a_first_class_gets_questions_without_one_written(school: School, teacher: Talker):
    assert "Our bank has ready-made questions for 2 topics of these." in with_topics(teacher)
    said = teacher.presses("Look at them")
    assert f"Ready-made questions: {SPEED + OHM} for 2 topics of this class." in said
    looked = teacher.presses(f"Speed ({SPEED})")
    assert f"Speed: {SPEED} questions." in looked
    assert looked.count("→") == min(6, SPEED)
    assert "{" not in looked
    taken = teacher.presses(f"Take these {SPEED}")
    assert f"Added: {SPEED} questions on Speed." in taken
    assert f"Ohmsches Gesetz: {OHM} questions." in taken  # the next topic follows
    last = teacher.presses(f"Take these {OHM}")
    assert "Added" in last
    assert of_topics(school) == {"Speed": SPEED, "Ohmsches Gesetz": OHM, "Poetry": 0}
    assert teacher.says("bank").startswith("The bank has nothing more for the topics of this class.")


def test_everything_is_taken_at_once_and_taken_back_by_undo(school: School, teacher: Talker):
    with_topics(teacher)
    teacher.says("bank")
    assert f"Added: {SPEED + OHM} questions on Speed, Ohmsches Gesetz." in teacher.presses("Take all")
    assert teacher.says("undo").startswith("Taken back: questions from the bank, from Speed on.")
    assert of_topics(school) == {"Speed": 0, "Ohmsches Gesetz": 0, "Poetry": 0}


def test_a_topic_can_be_passed_over_and_a_second_press_adds_nothing(school: School, teacher: Talker):
    with_topics(teacher)
    teacher.says("bank")
    teacher.presses("Speed")
    (take_these,) = [button for button in teacher.buttons() if button.label.startswith("Take these")]
    teacher.presses("Next: Ohmsches Gesetz")
    assert of_topics(school)["Speed"] == 0
    teacher.acts(take_these.action)
    assert "You have them already." in teacher.acts(take_these.action)
    assert of_topics(school)["Speed"] == SPEED


@pytest.mark.parametrize("action", ["teacher:bank:1:x", "teacher:bank_take:1", "teacher:bank_take:1:-1"])
def test_a_forged_button_does_nothing(school: School, teacher: Talker, action: str):
    with_topics(teacher)
    teacher.acts(action)
    assert sum(of_topics(school).values()) == 0


def test_another_teachers_class_is_not_filled(school: School, teacher: Talker):
    with_topics(teacher)
    Talker(school, "mira", 0).acts("teacher:bank_take:1:all")
    assert sum(of_topics(school).values()) == 0


def test_a_class_without_topics_of_the_bank_is_told_so(school: School, teacher: Talker):
    assert "bank" not in teacher.sends("t.csv", b"date,topic\n2026-11-16,Poetry\n") + teacher.presses(
        "Use it"
    )
    assert teacher.says("bank").startswith("The bank has nothing more")


def test_a_german_class_gets_german_questions(school: School, teacher: Talker):
    with_topics(teacher)
    with school.db.begin() as session:
        row = classes.get(session, 1)
        found = offers(session, row, "de", START)
        assert take(Journal(session), 1, found[:1], "de", START) == SPEED
        prompts = {question.prompt for question in session.exec(select(Question))}
    assert prompts == {entry.prompt("de") for entry in catalogue().of_topic("speed")}


def test_what_is_offered_is_what_the_names_of_the_topics_mean():
    assert [topic.id for topic in topics_for("Ohmsches Gesetz")] == ["ohms-law"]
    assert not topics_for("Poetry")


@pytest.fixture
def house(sqlite_template, tmp_path, monkeypatch):
    """A folder with a database in which 10B is taught two topics."""
    shutil.copy(sqlite_template, tmp_path / "holdfast.db")
    url = f"sqlite:///{tmp_path}/holdfast.db"
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", url)
    monkeypatch.setenv("HOLDFAST_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    database = connect(url)
    with database.begin() as session:
        who = people.meet(session, "terminal", "okafor", "okafor", START).person_id
        row = classes.create(
            session, name="10B", zone="UTC", teacher_id=who, teacher_name="Ms Okafor", now=START
        )
        for name in ("Speed", "Density", "Poetry"):
            timetable.teach(Journal(session), row, name, START)
    yield database
    database.close()


def _prompts(database) -> set[tuple[str, str]]:
    stmt = select(Topic.name, Question.prompt).join(Question, col(Question.topic_id) == col(Topic.id))
    with database.begin() as session:
        return set(session.exec(stmt).all())


def test_the_command_line_adds_them_likewise(house):
    done = CliRunner().invoke(holdfast, ["bank", "--class", "10b", "--topics", "density", "--language", "de"])
    assert (done.exit_code, done.stderr) == (
        0,
        f"Added {len(_prompts(house))} questions. All plans follow.\n",
    )
    expected = {("Density", entry.prompt("de")) for entry in catalogue().of_topic("density")}
    assert _prompts(house) == expected
    again = CliRunner().invoke(
        holdfast, ["bank", "--class", "10b", "--topics", "density", "--language", "de"]
    )
    assert again.exit_code != 0
    assert _prompts(house) == expected


def test_the_command_line_lists_without_adding_and_names_what_it_has(house):
    done = CliRunner().invoke(holdfast, ["bank", "--class", "10b", "--list"])
    assert done.stdout.splitlines()[0] == f"Speed: {SPEED} questions"
    wrong = CliRunner().invoke(holdfast, ["bank", "--class", "10b", "--topics", "Poetry; Speed"])
    assert 'nothing more for "Poetry". It has for: Speed; Density' in str(wrong.exception)
    assert not _prompts(house)
