"""Questions typed as text: every form becomes the same questions, in the rows of their lines."""

import pytest

from storage.files.questions import read_questions


def _read(text: str, topics: tuple[str, ...] | None = None, **choices: str):
    return read_questions(text.encode(), "questions.txt", known_topics=topics, choices=choices)


def _rows(text: str, topics: tuple[str, ...] | None = None, **choices: str):
    reading = _read(text, topics, **choices)
    assert reading.clean, reading.problems
    return [
        (row.topic, row.prompt, row.kind, row.answer, row.wrong_options) for row in reading.value.questions
    ]


CHOICE = [("Forces", "Unit of force?", "choice", "newton", ("joule", "watt"))]


@pytest.mark.parametrize(
    "text",
    [
        "1. Unit of force?\na) joule\n*b) newton\nc) watt\n",
        "1) Unit of force?\n\n  A. joule\n  B. newton ✓\n  C. watt\n",
        "Unit of force?\na) joule\nb) newton\nc) watt\nAnswer: b\n",
        "Unit of force?\na) joule\nb) newton (correct)\nc) watt\n",
        "Question 3: Unit of force?\na: joule\nb: newton\nc: watt\nLösung: B\n",
        "Unit of force?\n- [ ] joule\n- [x] newton\n- [ ] watt\n",
        "1. Unit of force? a) joule *b) newton c) watt\n",
        "Unit of force? (a) joule (b) newton* (c) watt\n",
    ],
)
def test_options_in_every_form(text):
    assert _rows(f"Topic: Forces\n{text}") == CHOICE


@pytest.mark.parametrize(
    "text",
    [
        "Unit of force? / newton\n",
        "Unit of force? -> newton\n",
        "Unit of force?\tnewton\n",
        "Unit of force?\nnewton\n",
        "Q: Unit of force?\nA: newton\n",
        "Frage: Unit of force?\nAntwort: newton\n",
        "7. Unit of force?\nnewton\n",
    ],
)
def test_question_and_answer_in_every_form(text):
    assert _rows(f"Thema: Forces\n\n{text}") == [("Forces", "Unit of force?", "text", "newton", ())]


def test_several_topics_explanations_and_commas_stay_what_they_are():
    text = (
        "# Forces\nWhich is a vector, and why?\na) mass\nb) force, as it has a direction\nAnswer: b\n"
        "Explanation: It points, too; mass does not.\n\n# Energy\nUnit of energy?\njoule\n"
    )
    assert _rows(text) == [
        ("Forces", "Which is a vector, and why?", "choice", "force, as it has a direction", ("mass",)),
        ("Energy", "Unit of energy?", "text", "joule", ()),
    ]
    assert _read(text).value.questions[0].explanation == "It points, too; mass does not."


def test_without_a_topic_it_is_asked_once_for_all():
    text = "Unit of force?\nnewton\n\nUnit of energy?\njoule\n"
    (asked,) = _read(text, ("Forces", "Energy")).problems
    assert {(one.about, one.chosen) for one in asked.options} == {("topic", "Forces"), ("topic", "Energy")}
    assert [row[0] for row in _rows(text, ("Forces", "Energy"), topic="Energy")] == ["Energy", "Energy"]
    assert [one.code for one in _read(text).problems] == ["topics_unnamed"]


def test_what_belongs_to_no_question_is_named_with_its_line():
    text = "Topic: Forces\nUnit of force?\nnewton\nsee page 12\n\nUnit of energy?\njoule\n"
    reading = _read(text)
    assert [(one.code, one.row) for one in reading.faults] == [("line_unread", 4)]
    assert [row.prompt for row in reading.value.questions] == ["Unit of force?", "Unit of energy?"]


def test_a_question_without_its_answer_is_named_with_its_line():
    text = "Topic: Forces\nUnit of force?\nnewton\n\nUnit of mass?\n\nUnit of energy?\njoule\n"
    reading = _read(text)
    assert [(one.code, one.row) for one in reading.faults] == [("cell_missing", 5)]


@pytest.mark.parametrize("text", ["Dear all,\nsee you tomorrow?\nBest wishes\nMira\n", "Forces\nSprings\n"])
def test_other_text_is_no_list_of_questions(text):
    assert [one.code for one in _read(text).problems] == ["headings_none"]
