"""A student's own picture, and the letter."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from io import BytesIO
from types import SimpleNamespace

import pytest
from PIL import Image

import bot.evidence.student.letter_pdf as letter_pdf_module
from bot.evidence.shared.snapshot import Snapshot
from bot.evidence.student.drawing import student_picture_png, student_text
from bot.evidence.student.letter import Letter, LetterData, letter
from bot.evidence.student.letter_html import letter_html, letters_html
from bot.evidence.student.letter_pdf import PdfNotInstalled, letter_pdf, printable
from bot.evidence.student.numbers import StudentData, student_picture
from bot.words import LANGUAGES, Words, words
from storage.history.evidence_rows import AskedRecord, ClassRecords, ScoreRecord

Rows = Callable[..., ClassRecords]
Shot = Callable[..., Snapshot]


def test_a_student_sees_the_topics_of_the_quiz_in_the_order_taught(made_student: StudentData) -> None:
    own = student_picture(made_student)
    assert [row.name for row in own.topics] == [
        "Density", "Pressure in solids", "Moments", "Pressure in liquids", "Buoyancy",
    ]  # fmt: skip
    assert own.name == "Mira"


def test_a_review_never_takes_away(made_student: StudentData) -> None:
    own = student_picture(replace(made_student, gain=-made_student.gain))
    assert all(row.gain == 0.0 for row in own.topics)
    assert own.tonight == ()


def test_tonight_names_at_most_three_by_gain(made_student: StudentData) -> None:
    tonight = student_picture(made_student).tonight
    assert len(tonight) == 3
    assert [row.gain for row in tonight] == sorted((row.gain for row in tonight), reverse=True)


def test_what_a_review_tonight_would_do_is_said_in_different_figures(
    made_student: StudentData, english: Words
) -> None:
    said = student_text(student_picture(made_student), english).plain
    steps = re.findall(r"\(from (\d+)\s% to (\d+)\s%\)", said)
    assert len(steps) == 3
    assert all(int(before) < int(after) for before, after in steps)
    assert " points" not in said


def test_without_a_quiz_every_topic_taught_is_shown(made_student: StudentData) -> None:
    assert len(student_picture(replace(made_student, quiz=None)).topics) == 8


def test_another_class_has_no_such_student(made_student: StudentData) -> None:
    with pytest.raises(KeyError):
        student_picture(replace(made_student, student_id=999))


def test_the_own_text_names_nobody_else(made_student: StudentData, english: Words) -> None:
    text = student_text(student_picture(made_student), english).plain
    assert "if you do nothing more" in text
    assert not any(re.search(rf"\b{row.name}\b", text) for row in made_student.rows.students)


def test_the_own_picture_is_twice_a_phone_wide(made_student: StudentData, english: Words) -> None:
    shown = student_picture_png(student_picture(made_student), english)
    with Image.open(BytesIO(shown.data)) as image:
        assert image.width == 780


def test_a_student_who_was_taught_nothing_gets_a_sentence(made_student: StudentData, english: Words) -> None:
    nothing = replace(made_student.now, taught=made_student.now.taught & False)
    own = student_picture(replace(made_student, now=nothing))
    assert "Nothing has been taught yet" in student_text(own, english).plain
    assert student_picture_png(own, english).is_picture


# ---------------------------------------------------------------- the letter


@pytest.fixture
def mira(
    make_rows: Rows,
    make_asked: Callable[[ClassRecords], tuple[AskedRecord, ...]],
    make_snapshot: Callable[..., Snapshot],
) -> LetterData:
    rows = make_rows()
    at = rows.students[0].last_answer_at
    assert at is not None
    scores = [(date(2026, 11, 20), "Forces 1", ScoreRecord(13, None, 13.5, 20.0))]
    return LetterData(rows, 13, at, make_snapshot(rows, at, 0.15), make_asked(rows), scores, (3, 4))


def test_a_letter_counts_only_the_students_own_answers(mira: LetterData) -> None:
    made = letter(mira)
    own = [row for row in mira.asked if row.student_id == 13]
    assert made.asked == len(own)
    assert made.answered == sum(row.answered for row in own)
    assert made.on_time <= made.answered <= made.asked


def test_every_topic_taught_stands_under_one_heading(mira: LetterData) -> None:
    made = letter(mira)
    names = [row.name for row in (*made.solid, *made.needs_work, *made.between)] + list(made.unknown)
    assert len(names) == len(set(names))
    assert all(row.now.mean >= 0.7 and row.now.low >= 0.5 for row in made.solid)
    assert all(row.now.mean < 0.5 for row in made.needs_work)


def test_scores_by_topic_are_added_up(mira: LetterData) -> None:
    parts = [(date(2026, 11, 20), "Forces 1", ScoreRecord(13, topic, 3.0, 4.0)) for topic in (1, 2)]
    assert letter(replace(mira, scores=parts)).scores == ((date(2026, 11, 20), "Forces 1", 6.0, 8.0),)


class _Page(HTMLParser):
    """Collects text and checks that every element is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[str] = []
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag != "meta":
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style" and data.strip():
            self.texts.append(data.strip())


def _read(page: bytes) -> _Page:
    parser = _Page()
    parser.feed(page.decode())
    assert parser.open == []
    return parser


def test_the_letter_is_one_page_that_loads_nothing(mira: LetterData, english: Words) -> None:
    made = letter_html(letter(mira), english)
    page = made.data.decode()
    assert (made.name, made.media_type) == ("10b-letter-Mira.html", "text/html")
    assert "size: A4" in page
    assert not re.search(r"src=|href=|@import|url\(|<script", page)
    texts = _read(made.data).texts
    assert texts[1] == "Mira in 10B Physics"
    assert {"What was done", "What is solid", "What needs work", "How to read the figures"} <= set(texts)
    assert "Forces 1, Fri 20 Nov: 13.5 of 20." in texts
    assert "Homework: 3 of 4 done, as reported." in texts


def test_the_letter_names_no_other_student(mira: LetterData, english: Words) -> None:
    page = " ".join(_read(letter_html(letter(mira), english).data).texts)
    others = [row.name for row in mira.rows.students if row.id != 13]
    assert not any(re.search(rf"\b{name}\b", page) for name in others if name != "Will")


def test_a_name_cannot_become_markup(mira: LetterData, english: Words) -> None:
    name = '<script>alert("x")</script> & Co'
    people = tuple(replace(row, name=name) if row.id == 13 else row for row in mira.rows.students)
    page = _read(letter_html(letter(replace(mira, rows=replace(mira.rows, students=people))), english).data)
    assert "script" not in page.tags
    assert any(name in text for text in page.texts)


def test_a_long_term_stays_on_one_page(mira: LetterData, english: Words) -> None:
    made = letter(mira)
    row = made.solid[0] if made.solid else made.between[0]
    long = replace(made, solid=(row,) * 30, between=(), needs_work=(row,) * 30, unknown=("Topic",) * 30)
    page = letter_html(long, english).data.decode()
    assert page.count("<tr>") == 14
    assert page.count("and 23 more") == 3
    three = letter_html(replace(long, between=(row,) * 30), english).data.decode()
    assert three.count("<tr>") == 12
    assert three.count("and 26 more") == 3


def test_letters_of_a_class_are_one_document_with_a_page_each(mira: LetterData, english: Words) -> None:
    letters: list[Letter] = [letter(replace(mira, student_id=number)) for number in (1, 2, 3)]
    made = letters_html(letters, english)
    assert made.name == "10b-letters.html"
    assert made.data.decode().count('<section class="letter">') == 3
    with pytest.raises(ValueError, match="no student"):
        letters_html([], english)


def test_a_student_without_any_question_gets_a_letter_all_the_same(mira: LetterData, english: Words) -> None:
    made = letter(replace(mira, asked=(), now=None, scores=(), homework=(0, 0)))
    assert "No question has reached Mira yet." in letter_html(made, english).data.decode()


# ---------------------------------------------------------------- PDF, where the library is there


def test_without_the_library_the_way_out_is_named(
    mira: LetterData, english: Words, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(letter_pdf_module, "LIBRARY", "a_library_that_is_not_there")
    with pytest.raises(PdfNotInstalled, match="open it in a browser and print it"):
        letter_pdf(letter_html(letter(mira), english))


class _Html:
    """Stands in for the library: writes down what it was given."""

    def __init__(self, string: str, url_fetcher: Callable[..., object]) -> None:
        with pytest.raises(ValueError, match="loads nothing"):
            url_fetcher("https://elsewhere.example/x.png")
        self.string = string

    def write_pdf(self) -> bytes:
        return b"%PDF " + self.string[:15].encode()


def test_a_pdf_is_made_of_the_same_page_and_loads_nothing(
    mira: LetterData, english: Words, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(letter_pdf_module, "_library", lambda: SimpleNamespace(HTML=_Html))
    made = letter_pdf(letter_html(letter(mira), english))
    assert (made.name, made.media_type) == ("10b-letter-Mira.pdf", "application/pdf")
    assert made.data == b"%PDF <!DOCTYPE html>"


def test_the_library_itself_makes_a_pdf_of_a_page_per_student(mira: LetterData, english: Words) -> None:
    """Runs where the optional extra `pdf` is installed."""
    library = pytest.importorskip("weasyprint", reason="the optional extra pdf is not installed")
    page = letters_html([letter(mira), letter(mira)], english)
    made = printable(page)
    assert (made.media_type, made.data[:5]) == ("application/pdf", b"%PDF-")
    assert len(library.HTML(string=page.data.decode()).render().pages) == 2


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_f30_an_ordinary_letter_is_one_printed_page(mira: LetterData, language: str) -> None:
    """Runs where the optional extra `pdf` is installed."""
    library = pytest.importorskip("weasyprint", reason="the optional extra pdf is not installed")
    made = letter(mira)
    row = (made.solid or made.between)[0]
    scores = tuple((date(2026, 11, day), f"Forces {day}", 13.5, 20.0) for day in range(1, 6))
    for between in ((), (row,) * 9):
        full = replace(
            made, solid=(row,) * 9, between=between, needs_work=(row,) * 9, unknown=("Pressure in liquids",) * 9,
            scores=scores,
        )  # fmt: skip
        html = letter_html(full, words(language)).data.decode()
        assert len(library.HTML(string=html).render().pages) == 1


def test_letters_stay_html_where_no_pdf_can_be_made(
    mira: LetterData, english: Words, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(letter_pdf_module, "LIBRARY", "a_library_that_is_not_there")
    page = letter_html(letter(mira), english)
    assert printable(page) is page
