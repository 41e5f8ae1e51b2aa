"""A teacher adds, edits and retires questions in the chat, by text and by picture."""

from __future__ import annotations

import pytest
from sqlmodel import select

from bot.chat.port import FileSent
from bot.grading.grade import grade
from bot.grading.keys import from_dict
from bot.talk.teacher.drafts import read_drafts
from bot.talk.teacher.posts import parts_of
from bot.words import words
from storage.files.questions import read_questions
from storage.school import questions
from storage.tables import Answer, Blob, Nudge, Question, Review, Verdict
from tests.teaching import START, School, Talker

PNG = b"\x89PNG\r\n\x1a\n" + b"\x00" * 40


@pytest.fixture
def teacher(school: School) -> Talker:
    teacher = school.teacher()
    teacher.says("New topic: Density")
    return teacher


def in_use(school: School) -> list[tuple[str, str, float]]:
    with school.db.begin() as session:
        return [
            (one.prompt, one.kind, questions.row(session, one.id).chance)
            for one in questions.of_class(session, 1)
        ]


def answered(school: School, question_id: int) -> None:
    """Let somebody have answered a question."""
    from storage.school import enrolments, people

    with school.db.begin() as session:
        person = people.meet(session, "terminal", "mira", "@mira", START).person_id
        student = enrolments.join(session, 1, person, "Mira", START).id or 0
        nudge = Nudge(enrolment_id=student, day=START.date(), due_at=START, expires_at=START)
        session.add(nudge)
        session.flush()
        review = Review(
            nudge_id=nudge.id or 0,
            enrolment_id=student,
            topic_id=1,
            question_id=question_id,
            position=1,
            planned_at=START,
        )
        session.add(review)
        session.flush()
        session.add(
            Answer(
                review_id=review.id or 0,
                enrolment_id=student,
                topic_id=1,
                question_id=question_id,
                verdict=Verdict.RIGHT,
                chance=0.0,
                on_time=True,
                at=START,
            )
        )


def test_questions_are_sent_one_per_message_until_enough(school: School, teacher: Talker):
    assert "Send the questions for Density, one a line" in teacher.presses("Looks right")
    said = teacher.says("270 g in 100 cm³? / 2.7 g/cm³")
    assert said.startswith("Added to Density (its first): “270 g in 100 cm³?” – a number: 2.7 g/cm³.")
    assert "a choice; right: mass by volume" in teacher.says(
        "Density is / mass by volume / volume by mass / mass"
    )
    assert "a formula" in teacher.says("Density of m and V? / m/V")
    assert "a short text" in teacher.says("Which metal has 2.7 g/cm³? / aluminium")
    assert teacher.presses("That’s all") == "Density has 4 questions now."
    assert [(kind, round(chance, 2)) for _, kind, chance in in_use(school)] == [
        ("number", 0.02),
        ("choice", 0.33),
        ("formula", 0.01),
        ("text", 0.02),
    ]


def test_an_answer_that_cannot_be_graded_is_refused_with_what_to_do(school: School, teacher: Talker):
    teacher.says("add Density")
    assert teacher.says("How much? / 12 / twelve / 12") == (
        'The options "12" and "12" are the same. Change one.'
    )
    assert "I need a question and its answer for Density" in teacher.says("just talk")
    assert "is no tolerance" in teacher.says("How much? / 12\ntolerance: some")
    assert in_use(school) == []


def test_a_question_without_a_topic_is_asked_for_one(school: School, teacher: Talker):
    assert "For which topic?" in teacher.says("Unit of density? / kg/m³")
    assert "I know no topic “Optics” in this class." in teacher.says("Optics")
    assert "Added to Density" in teacher.says("dens")
    teacher.presses("That’s all")
    teacher.says("270 g in 100 cm³? / 2.7 g/cm³")
    assert "Added to Density (2 now)" in teacher.presses("Density")


def test_a_question_is_edited_in_place_until_it_was_answered(school: School, teacher: Talker):
    teacher.says("add Density")
    teacher.says("270 g in 100 cm³? / 27 g/cm³\nbecause: m / V")
    said = teacher.presses("Edit it")
    assert "270 g in 100 cm³? / 27 g/cm³\nbecause: m / V" in said
    assert teacher.says("270 g in 100 cm³? / 2.7 g/cm³").startswith("Changed:")
    with school.db.begin() as session:
        (only,) = session.exec(select(Question)).all()
    answered(school, only.id or 0)
    teacher.says("questions Density")
    teacher.presses("Edit 1")
    teacher.says("270 g in 100 cm³? / 2.70 g/cm³")
    with school.db.begin() as session:
        old, new = session.exec(select(Question).order_by(Question.id)).all()  # type: ignore[arg-type]
        assert old.retired_at is not None
        assert new.retired_at is None
    assert len(in_use(school)) == 1


def test_a_retired_question_comes_back_with_undo(school: School, teacher: Talker):
    teacher.says("add Density")
    teacher.says("Unit of density? / kg/m³")
    teacher.presses("That’s all")
    assert "1. Unit of density? → kg/m³" in teacher.says("questions density")
    assert teacher.presses("Retire 1").startswith("Retired: “Unit of density?”.")
    assert in_use(school) == []
    teacher.says("undo")
    assert len(in_use(school)) == 1


def test_the_same_question_sent_twice_is_one_question(school: School, teacher: Talker):
    teacher.says("add Density")
    teacher.says("Unit of density? / kg/m³")
    teacher.says("unit of  density? / kg/m³")
    assert len(in_use(school)) == 1


def picture(school: School, teacher: Talker, data: bytes, caption: str) -> str:
    school.chat.files["photo"] = data
    teacher.hears(
        school.happen(teacher.user, FileSent("photo", "photo.png", "image/png", len(data), caption))
    )
    return teacher.hears(school.work())


def test_a_picture_with_a_caption_becomes_a_question_that_keeps_it(school: School, teacher: Talker):
    teacher.says("add Density")
    said = picture(school, teacher, PNG, "Which body is denser, A or B? / B / A / equal")
    assert said.startswith("Added to Density (its first)")
    with school.db.begin() as session:
        (question,) = session.exec(select(Question)).all()
        (blob,) = session.exec(select(Blob)).all()
        assert question.picture == blob.digest
        assert question.picture_alt == "Which body is denser, A or B?"
        assert blob.media_type == "image/png"
    assert "[picture] Which body" in teacher.says("questions Density")


def test_pictures_that_come_at_the_same_moment_all_become_questions(school: School, teacher: Talker):
    """An album is several messages; a clock may stand still between them."""
    teacher.says("add Density")
    for number in (1, 2):
        school.chat.files[f"photo {number}"] = PNG
        sent = FileSent(
            f"photo {number}", "photo.png", "image/png", len(PNG), f"Which is denser, {number}? / B"
        )
        school.happen(teacher.user, sent)
    teacher.hears(school.work())
    assert len(in_use(school)) == 2


def test_a_picture_question_without_a_topic_waits_for_it(school: School, teacher: Talker):
    assert "For which topic?" in (picture(school, teacher, PNG, "Denser? / B") or teacher.last[0].text.plain)
    teacher.presses("Density")
    assert teacher.hears(school.work()).startswith("Added to Density")


def test_a_picture_needs_a_caption_with_an_answer_and_must_be_one(school: School, teacher: Talker):
    teacher.says("add Density")
    school.chat.files["photo"] = PNG
    said = teacher.hears(school.happen("okafor", FileSent("photo", "p.png", "image/png", 10, "look at this")))
    assert "A picture needs a caption" in said
    assert "That is no picture that I can show." in picture(
        school, teacher, b"MZ not a picture", "Denser? / B"
    )
    assert in_use(school) == []


def test_a_topic_post_brings_its_questions_and_names_what_it_did_not_understand(
    school: School, teacher: Talker
):
    said = teacher.says(
        "New topic: Pressure\nUnit of pressure? / pascal / newton\nTwice? / a / a\nsee you tomorrow\nquiz: 11/12/2026"
    )
    assert "Noted for 10B Physics: Pressure, taught Wed 25 Nov" in said
    assert "There is 1 question for it. First checks go out on Thursday." in said
    assert "• see you tomorrow" in said
    assert "are the same" in said
    assert "Which day is the quiz?" in said
    assert teacher.presses("Fri 11 Dec").startswith("Noted for 10B Physics: Pressure")
    assert "in the quiz on Fri 11 Dec" in teacher.last[0].text.plain


def test_not_a_topic_takes_a_post_back_altogether(school: School, teacher: Talker):
    teacher.says("New topic: Pressure\nUnit of pressure? / pascal / newton\nhomework: p. 3")
    assert teacher.presses("Not a topic") == "Taken back. It was no topic."
    assert "Pressure" not in teacher.says("topics")
    assert in_use(school) == []


def test_a_topic_is_renamed_and_given_homework(school: School, teacher: Talker):
    teacher.says("New topic: Presure")
    teacher.presses("Change")
    teacher.presses("Another name")
    assert teacher.says("Pressure") == "It is Pressure now. Its questions and reviews stay."
    teacher.says("New topic: Pressure\nquiz: 11 Dec")
    teacher.presses("Change")
    teacher.presses("Homework")
    assert "Homework for Pressure: page 12." in teacher.says("page 12")
    assert teacher.says("Density").startswith("I did not understand that.")


# ---------------------------------------------------------------- several at once, several answers, formulas


THREE = "Unit of force? / newton\nUnit of mass? / kilogram|kg\nbecause: SI\nUnit of volume? / m³ / m² / m"


def test_f19_each_line_is_a_question_of_its_own(school: School, teacher: Talker):
    teacher.says("add Density")
    said = teacher.says(THREE)
    assert said.startswith("Added 3 questions to Density (3 now):\n")
    assert "• “Unit of force?” – a short text: newton\n" in said
    assert "• “Unit of mass?” – a short text: kilogram or kg\n" in said
    assert "• “Unit of volume?” – a choice; right: m³\n" in said
    assert [prompt for prompt, _, _ in in_use(school)] == [
        "Unit of force?",
        "Unit of mass?",
        "Unit of volume?",
    ]
    teacher.says("undo")
    assert in_use(school) == []


def test_f19_lines_after_add_and_the_topic_are_questions_too(school: School, teacher: Talker):
    assert "Added 3 questions to Density" in teacher.says(f"add Density\n{THREE}")
    teacher.presses("That’s all")
    assert teacher.says("Half of 1? / ½\nA third of 1? / 1/3").startswith(
        "2 questions, good. For which topic?"
    )
    assert "Added 2 questions to Density (5 now)" in teacher.presses("Density")


def test_f19_what_cannot_be_used_is_named_and_the_rest_is_added(school: School, teacher: Talker):
    teacher.says("add Density")
    said = teacher.says("Unit of force? / newton\nTwice? / a / a")
    assert said.startswith("Added to Density (1 now):\n• “Unit of force?”")
    assert "Not added:\n• Twice?: The options" in said
    assert len(in_use(school)) == 1
    assert "are the same" in teacher.says("Twice? / a / a\nOnce more? / b / b")
    assert len(in_use(school)) == 1


def test_f19_an_edit_takes_one_question(school: School, teacher: Talker):
    teacher.says("add Density")
    teacher.says("Unit of force? / newton")
    teacher.presses("Edit it")
    assert "more than one question" in teacher.says(THREE)
    assert teacher.says("Unit of force? / N").startswith("Changed:")
    assert len(in_use(school)) == 1


def test_f19_a_picture_belongs_to_one_question(school: School, teacher: Talker):
    teacher.says("add Density")
    picture(school, teacher, PNG, "Denser? / B\nLighter? / A")
    assert "A picture needs a caption" in teacher.last[0].text.plain
    assert in_use(school) == []


def test_f19_lines_above_an_answer_belong_to_its_question():
    drafts = read_drafts("Look at this.\nWhat is it?\nanswer: a lens\nUnit of force?\nanswer: N\nwrong: J; W")
    assert [one["prompt"] for one in drafts] == ["Look at this.\nWhat is it?", "Unit of force?"]
    assert drafts[1]["wrong"] == ["J", "W"]
    assert len(read_drafts("Unit of force? / newton\nA hint: it is named after a person")) == 1


@pytest.mark.parametrize("answer", ["Newton|N", "Newton | N", "Newton |N"])
def test_f12_bars_part_right_answers_with_or_without_blanks(school: School, teacher: Talker, answer: str):
    teacher.says("add Density")
    assert "– a short text: Newton or N." in teacher.says(f"Unit of force? / {answer}")
    with school.db.begin() as session:
        (one,) = questions.of_class(session, 1)
    key = from_dict(one.answer)
    assert [grade(key, given).right for given in ("newton", "N", "J", "Newton|J")] == [
        True,
        True,
        False,
        False,
    ]


def test_f12_bars_in_a_sheet_need_no_blanks():
    sheet = "topic,question,answer\nForces,Unit of force?,Newton|N\nForces,Modulus?,2|x| + 1\nForces,Chance?,P(A|B)"
    rows = read_questions(sheet.encode(), "q.csv").value.questions
    assert [(row.answer, row.alternatives) for row in rows] == [
        ("Newton", ("N",)),
        ("2|x| + 1", ()),
        ("P(A|B)", ()),
    ]


def test_f12_a_number_with_two_right_answers_is_edited_with_both(school: School, teacher: Talker):
    teacher.says("add Density")
    assert "– a number: 2:1 or 0.4." in teacher.says("Ratio? / 2:1|0.4")
    assert "Ratio? / 2:1\nalso: 0.4" in teacher.presses("Edit it")


def test_f12_german_says_oder():
    assert words("de").either(["Newton", "N"]) == "Newton oder N"


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        (r"$v = \frac{s}{t}$", "v = (s/t)"), ("$v = s / t$", "v = s / t"), ("$F = m a$", "F = m a"),
        (r"$\frac{1}{2} \cdot m \cdot v^2$", "(1/2) · m · v^2"), ("E = 1/2*m*v^2", "E = 1/2*m*v^2"),
        (r"$2\pi\sqrt{\frac{l}{g}}$", "2 pi √(l/g)"),
    ],
)  # fmt: skip
def test_f11_a_formula_typed_between_dollars_is_a_formula(
    school: School, teacher: Talker, typed: str, shown: str
):
    teacher.says("add Density")
    assert f"– a formula: {shown}." in teacher.says(f"Which formula? / {typed}")


def test_f11_a_formula_in_a_topic_post_is_one(school: School, teacher: Talker):
    teacher.says(
        "New topic: Motion\n" + r"Speed? / $v = \frac{s}{t}$" + "\nWay? / $s = v / t$\nE? / E = 1/2*m*v^2"
    )
    assert [kind for _, kind, _ in in_use(school)] == ["formula"] * 3


def test_f11_money_is_no_formula():
    assert parts_of("Price? / $5 / $6 / $7") == ["Price?", "$5", "$6", "$7"]
