"""Every interaction of the standard, in three versions: read as it is, or named with the reason; nothing is dropped."""

import pytest

from bot.service.teacher.question_rows import made_of
from bot.words import words
from storage.files.qti.items import read_items
from storage.files.questions import read_questions
from storage.files.reading import opened
from storage.files.roster import read_roster
from tests.samples.qti import DRAWN, NAMED, READ, in_version, package
from tests.wording import sentence

VERSIONS = ("2.1", "2.2", "3.0")


@pytest.fixture(autouse=True)
def _parsed_here(monkeypatch):
    """Parse in this process, with the reader of the child."""
    monkeypatch.setattr(opened, "read_in_child", lambda task, data, name: read_items(data, name))


def _read(data: bytes, name: str = "items.zip", **choices: str):
    return read_questions(
        data, name, known_topics=("Forces", "Energy"), choices={"topic": "Forces", **choices}
    )


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", READ)
def test_an_item_that_a_chat_can_ask_is_read(name, version):
    text, (prompt, answer, wrong, why) = READ[name]
    reading = _read(in_version(text, version), "item.xml")
    assert not reading.problems, [sentence(one) for one in reading.problems]
    (row,) = reading.value.questions
    assert (row.topic, row.prompt, row.answer, row.wrong_options, row.why_wrong) == (
        "Forces", prompt, answer, wrong, why,
    )  # fmt: skip
    assert made_of(row, "en", words("en")).draft is not None


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", NAMED)
def test_an_item_that_cannot_be_asked_is_named_with_the_reason(name, version):
    text, code = NAMED[name]
    (problem,) = _read(in_version(text, version), "item.xml").problems
    assert (problem.code, problem.row, problem.place) == ("qti_left", 1, "item")
    assert dict(problem.fields)["why"].key == f"qti.{code}"
    said = sentence(problem)
    assert said.startswith('Item 1: "')
    assert "None" not in said


def test_a_number_has_its_tolerance_and_its_other_answers():
    (row,) = _read(in_version(READ["number with a tolerance"][0], "3.0")).value.questions
    assert (row.kind, row.tolerance.amount, row.tolerance.relative) == ("number", 0.1, False)
    (row,) = _read(in_version(READ["text entry"][0], "2.1")).value.questions
    assert row.alternatives == ("newtons",)


@pytest.mark.parametrize("version", VERSIONS)
def test_template_variables_become_drawn_values(version):
    (row,) = _read(in_version(DRAWN, version)).value.questions
    assert row.drawn.values == "t = 2..9; v = 2..12 step 2; s = (v * t)"
    assert row.drawn.where == "t != v"
    assert row.prompt == "A sledge covers {s} m in {t} s. Speed in m/s?"
    made = made_of(row, "en", words("en"))
    assert made.draft is not None, made.problems
    assert len(made.examples) == 3


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("folder", ["", "set/"])
def test_a_package_gives_all_its_items_in_order_with_their_sections(version, folder):
    items = {"unit": READ["choice"][0], "order": NAMED["orderInteraction"][0], "name": READ["text entry"][0]}
    data = package(items, version, {"unit": "Forces", "name": "Energy"}, folder)
    reading = read_questions(data, "set.zip", known_topics=("Forces", "Energy"))
    assert [(row.row, row.topic, row.answer) for row in reading.value.questions] == [
        (1, "Forces", "newton"),
        (3, "Energy", "newton"),
    ]
    assert [(one.code, one.row) for one in reading.problems] == [("qti_left", 2)]
    assert reading.rows_read == 3


def test_without_sections_the_topic_is_asked_once():
    data = package({"unit": READ["choice"][0]}, "3.0")
    (problem,) = read_questions(data, "set.zip", known_topics=("Forces", "Energy")).problems
    assert problem.code == "topic_for_all"
    assert [one.chosen for one in problem.options] == ["Forces", "Energy"]


def test_an_item_that_is_missing_in_the_package_is_named():
    data = package({"unit": READ["choice"][0], "name": READ["text entry"][0]}, "3.0", lacking="unit")
    reading = _read(data)
    assert [(one.code, one.row) for one in reading.problems] == [("qti_left", 1)]
    assert [row.row for row in reading.value.questions] == [2]


def test_questions_of_the_standard_are_no_class_list():
    assert [
        one.code for one in read_roster(package({"u": READ["choice"][0]}, "3.0"), "set.zip").problems
    ] == ["file_kind"]


@pytest.mark.parametrize(
    "data", [b'<?xml version="1.0"?><assessmentItem', b'<assessmentItem xmlns="x"><a></assessmentItem>']
)
def test_damaged_items_are_refused_in_words(monkeypatch, data):
    monkeypatch.undo()
    assert [one.code for one in _read(data, "item.xml").problems] == ["file_broken"]


def test_declared_entities_are_refused(monkeypatch):
    monkeypatch.undo()
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><assessmentItem title="&a;"/>'
    assert [one.code for one in _read(bomb, "item.xml").problems] in (["file_broken"], ["file_entities"])
