"""Questions with drawn values and with explanations, typed in the chat and edited there; through the real loop."""

from __future__ import annotations

import pytest
from sqlmodel import select

from bot.bank import catalogue
from bot.grading.drawn import Language, template_from_dict, template_to_dict
from bot.service.teacher.question_rows import draft_of_template
from bot.service.teacher.typed_questions import draft_of, line_of
from bot.talk.teacher.drafts import read_draft
from bot.words import words
from storage.base.errors import InvalidValue
from storage.school.questions import QuestionDraft, QuestionInfo
from storage.tables import Question
from tests.teaching import School, Talker

TYPED = """A cyclist covers {s} m in {t} s. How fast is she?
answer: {s}/{t}
values: s = 20..120 step 10; t in 4, 5, 8, 10
typical errors: {s}*{t}; {t}/{s}
why wrong: {wrong} is distance times time; not by it. | Distance by time.
unit: m/s
tolerance: 2 %
steps: v = s : t | {s} m : {t} s = {answer}"""


def info(draft: QuestionDraft) -> QuestionInfo:
    return QuestionInfo(
        1, 1, draft.topic, draft.kind, draft.prompt, draft.answer, draft.explanation, None, 0,
        draft.template, draft.feedback,
    )  # fmt: skip


def again(draft: QuestionDraft, language: Language = "en") -> QuestionDraft:
    """Edit a question without changing anything."""
    typed = read_draft(line_of(info(draft)))
    assert typed is not None
    return draft_of(draft.topic, typed, words("en"), class_language=language)


def test_a_question_typed_with_values_is_stored_and_shown_with_an_example(school: School, teacher: Talker):
    teacher.sends("t.csv", b"date,topic\n2026-11-16,Speed\n")
    teacher.presses("Use it")
    teacher.says("add Speed")
    said = teacher.says(TYPED)
    assert "a number: {s}/{t} m/s For example: A cyclist covers " in said
    with school.db.begin() as session:
        template = template_from_dict(session.exec(select(Question)).one().template or {})
    assert template.values == "s = 20..120 step 10; t in 4, 5, 8, 10"
    assert [one.because for one in template.wrong] == [
        "{wrong} is distance times time; not by it.",
        "Distance by time.",
    ]
    assert template.steps == ("v = s : t", "{s} m : {t} s = {answer}")


def test_a_typed_template_that_fails_is_refused_with_the_draw(school: School, teacher: Talker):
    teacher.sends("t.csv", b"date,topic\n2026-11-16,Speed\n")
    teacher.presses("Use it")
    teacher.says("add Speed")
    said = teacher.says("{a} : {b} = ?\nanswer: a/b\nvalues: a = 1..9; b = 0..9")
    assert "answer: A division by zero can happen." in said
    assert "b = 0" in said
    with school.db.begin() as session:
        assert not session.exec(select(Question)).all()


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_template_of_the_bank_is_the_same_after_an_edit_that_changes_nothing(language: Language):
    entries = list(catalogue().entries.values())
    # Those with a semicolon within a formula are among them: a list of answers is split at semicolons.
    held = [one for one in entries if any(";" in wrong.answer for wrong in one.templates[language].wrong)]
    assert held
    for entry in {one.id: one for one in (*entries[::7], *held)}.values():
        draft = draft_of_template("T", entry.templates[language], template_to_dict(entry.templates[language]))
        assert again(draft, language) == draft, entry.id


@pytest.mark.parametrize(
    "typed",
    [
        "270 g in 100 cm³?\nanswer: 2.7 g/cm³\ntypical errors: 27000; 0.37\nwhy wrong: No. | Over.\nsteps: m : V | 2.7",
        "Unit of force? / newton / joule / watt\nwhy wrong: That is energy. | That is power.",
        "What makes plants green?\nanswer: chlorophyll\ntypical errors: chloroform\nwhy wrong: That makes you sleep.",
        "Einheit?\nantwort: 5 N\ntypische fehler: 50 N\nwarum falsch: Zehnmal zu viel.\nschritte: 10 : 2 | 5",
    ],
)  # fmt: skip
def test_explanations_and_steps_of_a_fixed_question_survive_an_edit(typed: str):
    draft = draft_of("T", read_draft(typed) or {}, words("en"))
    assert draft.feedback is not None
    assert again(draft) == draft


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("2 + 3?\nanswer: 5\ntypical errors: 5.0", "would be graded right"),
        ("2 + 3?\nanswer: 5\nwhy wrong: because", "1 explanations of wrong answers, but 0"),
        ("2 + 3?\nanswer: 5\ntypical errors: six", "is not a number"),
    ],
)
def test_feedback_that_does_not_fit_is_refused(typed: str, says: str):
    with pytest.raises(InvalidValue, match=says):
        draft_of("T", read_draft(typed) or {}, words("en"))
