"""The sheet of a class's questions is one that they can be uploaded from again: nothing is lost or changed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.bank import catalogue
from bot.evidence.records.qti_package import qti_package
from bot.evidence.records.question_sheet import question_sheet
from bot.grading.drawn import (
    Feedback,
    Language,
    WrongAnswer,
    feedback_from_dict,
    feedback_to_dict,
    template_to_dict,
)
from bot.grading.grade import grade
from bot.grading.keys import AnswerKey, ChoiceKey, chance_of, shown, to_dict
from bot.grading.upload import KeyRefused, key_from
from bot.service.teacher.question_rows import draft_of_template, made_of
from bot.words import words
from bot.words.problems import sentence
from storage.files.qti.items import read_items
from storage.files.questions import read_questions
from storage.files.reading.opened import OpenedFile
from storage.files.values import QuestionKind, Tolerance
from storage.history.evidence_rows import ClassRecord, ClassRecords, QuestionRecord, TopicRecord
from storage.school.questions import QuestionDraft

ROWS = ClassRecords(
    ClassRecord(1, "10B", "10b", "", "UTC", "en"), (), (TopicRecord(1, "Speed; and | more"),), (), ()
)


def record(number: int, draft: QuestionDraft) -> QuestionRecord:
    return QuestionRecord(
        number, 1, draft.kind, draft.prompt, draft.answer, draft.explanation, draft.chance,
        template=draft.template, feedback=draft.feedback,
    )  # fmt: skip


def again(drafts: list[QuestionDraft], language: Language = "en") -> list[QuestionDraft]:
    """Write questions as a sheet and read it."""
    sheet = question_sheet(ROWS, [record(number, one) for number, one in enumerate(drafts)])
    reading = read_questions(sheet, "q.csv", known_topics=["Speed; and | more"])
    assert [sentence(one, words("en")) for one in reading.problems] == []
    made = [made_of(row, language, words("en")) for row in reading.value.questions]
    assert [one.problems for one in made] == [()] * len(made)
    return [one.draft for one in made if one.draft is not None]


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_template_of_the_bank_comes_back(language: Language) -> None:
    templates = [entry.templates[language] for entry in catalogue().entries.values()][::5]
    drafts = [draft_of_template("Speed; and | more", one, template_to_dict(one)) for one in templates]
    assert again(drafts, language) == drafts


WORDS = st.text("abcdefgxyzäßΩ 0123456789-+=/@.,'\"()$", min_size=1, max_size=30).map(
    lambda t: " ".join(t.split())
)
SAID = WORDS.filter(lambda text: text.strip("'\" ") != "" and " | " not in text)
NAMES = st.from_regex(r"[a-zäöü]{3,9}( [a-z]{3,9})?", fullmatch=True)
FIGURES = st.one_of(
    st.integers(-10_000, 10_000).map(str),
    st.decimals(-1000, 1000, places=2).map(str),
    st.builds(lambda a, b: f"{a}e{b}", st.integers(1, 99), st.integers(-6, 9)),
    st.builds(lambda a, b: f"{a}/{b}", st.integers(1, 20), st.integers(2, 9)),
)
FORMULAS = st.sampled_from(["F = m a", "a/(2b)", "x^2 - 1", "-x + 2", "sqrt(2) t", "E = 1/2 m v^2"])


@st.composite
def fixed(draw: st.DrawFn) -> QuestionDraft | None:
    kind: QuestionKind = draw(st.sampled_from(["choice", "number", "text", "formula"]))
    answers = {"choice": SAID, "number": FIGURES, "text": NAMES, "formula": FORMULAS}[kind]
    unit = draw(st.sampled_from(["", "m/s", "g/cm³", "%"])) if kind == "number" else ""
    tolerances = st.sampled_from([None, Tolerance(0.05), Tolerance(0.02, True)])
    right, *others = draw(st.lists(answers, min_size=2, max_size=4, unique_by=str.casefold))
    try:
        key = key_from(
            kind, right, unit=unit or None, wrong_options=others if kind == "choice" else (),
            tolerance=draw(tolerances) if kind == "number" else None,
        )  # fmt: skip
        wrong = _wrong(kind, key, others if kind == "number" else [], unit, draw)
    except KeyRefused:
        return None
    steps = tuple(draw(st.lists(SAID, max_size=3)))
    feedback = feedback_to_dict(Feedback(tuple(wrong), steps))
    return QuestionDraft(
        "Speed; and | more", kind, draw(NAMES), to_dict(key), chance_of(key), draw(SAID), feedback=feedback
    )


def _wrong(
    kind: QuestionKind, key: AnswerKey, errors: list[str], unit: str, draw: st.DrawFn
) -> list[WrongAnswer]:
    if isinstance(key, ChoiceKey):
        return [WrongAnswer(option, draw(SAID)) for option in key.wrong]
    tolerance = getattr(key, "tolerance", None)
    keys = [key_from(kind, error, unit=unit or None, tolerance=tolerance) for error in errors]
    return [WrongAnswer(shown(one), draw(SAID), one) for one in keys if not grade(key, shown(one)).right]


@given(st.lists(fixed(), min_size=1, max_size=4))
@settings(max_examples=150, deadline=None)
def test_every_fixed_question_comes_back(made: list[QuestionDraft | None]) -> None:
    drafts = list({one.prompt.casefold(): one for one in made if one is not None}.values())
    if drafts:
        assert again(drafts) == drafts


def packed_and_read(drafts: list[QuestionDraft]) -> tuple[list[QuestionDraft], tuple[str, ...]]:
    """Write questions as a package of QTI and read it, with the reader of the child."""
    package = qti_package(ROWS, [record(number, one) for number, one in enumerate(drafts)])
    file = OpenedFile(package.data, "questions.zip")
    assert file.content == "qti"
    items = read_items(package.data, "questions.zip")["items"] if len(package.left_out) < len(drafts) else []
    if not items:
        return [], package.left_out
    file._found[("qti",)] = items  # parsed here, not in a process of its own
    reading = read_questions(file, "questions.zip", known_topics=["Speed; and | more"])
    assert [sentence(one, words("en")) for one in reading.problems] == []
    made = [made_of(row, "en", words("en")) for row in reading.value.questions]
    assert [one.problems for one in made] == [()] * len(made)
    return [one.draft for one in made if one.draft is not None], package.left_out


@given(st.lists(fixed(), min_size=1, max_size=4))
@settings(max_examples=150, deadline=None)
def test_every_question_comes_back_from_a_package_or_is_named(made: list[QuestionDraft | None]) -> None:
    drafts = list({one.prompt.casefold(): one for one in made if one is not None}.values())
    if not drafts:
        return
    back, left = packed_and_read(drafts)
    assert back == [one for one in drafts if one.prompt not in left]
    for one in drafts:
        feedback = feedback_from_dict(one.feedback)
        explained = bool(feedback.steps) or (one.kind != "choice" and bool(feedback.wrong))
        assert (one.prompt in left) == explained


def test_questions_with_drawn_values_are_named_and_not_packed() -> None:
    entry = next(iter(catalogue().entries.values()))
    template = entry.templates["en"]
    draft = draft_of_template("Speed; and | more", template, template_to_dict(template))
    assert packed_and_read([draft]) == ([], (draft.prompt,))


def test_the_same_questions_make_the_same_bytes() -> None:
    draft = QuestionDraft("Speed; and | more", "text", "Unit?", to_dict(key_from("text", "newton")))
    first, second = (qti_package(ROWS, [record(1, draft)]).data for _ in range(2))
    assert first == second
