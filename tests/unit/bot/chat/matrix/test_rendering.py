"""What Matrix is given: texts, signs to tap, edits, files."""

import io
import json
import unicodedata

import pytest
from PIL import Image

from bot.chat.matrix.rendering import (
    ACTIONS,
    actions,
    edit_content,
    file_content,
    normal_key,
    plan,
    taps,
    text_content,
)
from bot.chat.port import Attachment, Button, Message
from bot.words.rich import Rich

CHOICES = ((Button("8 cm", "s:0", ("a",), "A"), Button("10 cm", "s:1", ("b",), "B")),)
OTHERS = ((Button("Not sure", "s:x", ("unsure",)), Button("Later", "s:l", ("later",))),)


def text_of(message: Message) -> str:
    return plan(message).texts[-1].plain


def test_choices_stand_in_the_text_lettered_and_have_a_sign_each() -> None:
    message = Message(Rich.of("How far?"), buttons=CHOICES)
    assert text_of(message) == "How far?\n\nA\u20028 cm\nB\u200210 cm\n\nTap a letter below, or type it."
    assert [tap.key for tap in taps(message)] == ["🇦", "🇧"]


def test_other_buttons_are_numbered_and_say_what_can_be_typed() -> None:
    message = Message(Rich.of("How far?"), buttons=CHOICES + OTHERS)
    assert text_of(message).splitlines()[4:] == [
        "🔑\u2002Not sure (or type: unsure)",
        "☕\u2002Later",
        "",
        "Tap below, or type the letter or the words.",
    ]
    assert [tap.key for tap in taps(message)] == ["🇦", "🇧", "🔑", "☕"]
    only = Message(Rich.of("Ready?"), buttons=OTHERS)
    assert text_of(only).endswith("Tap below, or type the words.")


def test_what_is_added_to_a_message_is_in_its_language() -> None:
    message = Message(
        Rich.of("Wie weit?"), buttons=((Button("Los", "s:go", ("los", "go")), *OTHERS[0]),), language="de"
    )
    assert text_of(message).splitlines()[2:] == [
        "🔑\u2002Los",
        "☕\u2002Not sure (oder schreiben: unsure)",
        "⛵\u2002Later",
        "",
        "Unten antippen oder die Worte schreiben.",
    ]


def test_a_message_in_the_place_of_another_has_other_signs() -> None:
    first = Message(Rich.of("How far?"), buttons=OTHERS)
    second = Message(Rich.of("Right"), buttons=OTHERS, replaces="q7")
    assert not {tap.key for tap in taps(first)} & {tap.key for tap in taps(second)}


@pytest.mark.parametrize("replaces", ["", "q7"])
@pytest.mark.parametrize("choices", [CHOICES, ()], ids=["lettered", "number question"])
def test_f14_no_sign_holds_a_digit_or_can_be_typed_as_an_answer(
    choices: tuple[tuple[Button, ...], ...], replaces: str
) -> None:
    many = tuple((Button(f"Topic {name}", f"t:{name}"),) for name in "abcdefghij")
    message = Message(Rich.of("How far?"), buttons=choices + many, replaces=replaces)
    others = [tap.key for tap in taps(message) if not tap.button.letter]
    assert len(set(others)) == 10
    for key in others:
        # Unicode's own character data: no digit, no number, no letter, in any width or circle.
        assert not any(unicodedata.category(sign)[0] in "NL" for sign in unicodedata.normalize("NFKC", key))
        assert unicodedata.numeric(key[0], None) is None
        assert "\u20e3" not in key
    meaning = actions(message)
    assert not any(normal_key(digit) in meaning for digit in (*"0123456789", "1️⃣", "2⃣", "🔟", "①", "⓪"))


def test_the_sign_names_no_answer() -> None:
    for tap in taps(Message(Rich.of("?"), buttons=CHOICES + OTHERS)):
        assert not any(word in tap.key for word in ("8", "cm", "sure", "s:"))


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ("🇦", "s:0"),
        ("A", "s:0"),
        ("b", "s:1"),
        ("🅱️", "s:1"),
        ("🔑", "s:x"),
        ("🔑\ufe0f", "s:x"),
        ("☕", "s:l"),
    ],
)
def test_a_sign_is_known_however_a_client_writes_it(sent: str, meant: str) -> None:
    meaning = actions(Message(Rich.of("?"), buttons=CHOICES + OTHERS))
    assert meaning[normal_key(sent)] == meant


@pytest.mark.parametrize("sent", ["👍", "", "1", "C", "1️⃣", "3️⃣", "①", "🔷", "é", "A1"])
def test_another_sign_means_nothing(sent: str) -> None:
    assert normal_key(sent) not in actions(Message(Rich.of("?"), buttons=CHOICES + OTHERS))


def test_more_buttons_than_signs_can_still_be_typed() -> None:
    many = tuple((Button(f"Topic {n}", f"t:{n}", (f"topic {n}",)),) for n in range(14))
    message = Message(Rich.of("Which?"), buttons=many)
    assert len(taps(message)) == 10
    assert "•\u2002Topic 13" in text_of(message)


def test_plain_text_stands_alone_and_emphasis_is_added_formatted() -> None:
    assert text_content(Rich.of("a < b")) == {"msgtype": "m.text", "body": "a < b", "m.mentions": {}}
    content = text_content(Rich.of("Right", strong=True) + Rich.of(": a < b\nand  so"))
    assert content["body"] == "Right: a < b\nand  so"
    assert content["formatted_body"] == "<strong>Right</strong>: a &lt; b<br>and \u00a0so"


def test_an_edit_holds_the_new_text_and_what_its_signs_mean() -> None:
    content = edit_content(Rich.of("Right"), {"🔷": "s:why"}, "$1")
    assert content["m.relates_to"] == {"rel_type": "m.replace", "event_id": "$1"}
    assert content["body"] == "* Right"
    assert content["m.new_content"] == {
        "msgtype": "m.text",
        "body": "Right",
        "m.mentions": {},
        ACTIONS: {"🔷": "s:why"},
    }


@pytest.mark.parametrize(
    "words",
    [
        "@room",
        "Hello @Room!",
        "é@room",
        "@mira:school.example",
        "#physics:school.example",
        "see !abc:school.example",
        "https://matrix.to/#/@mira:school.example",
        "matrix:u/mira:school.example",
        "MATRIX.TO/#/x",
    ],
)
def test_nobody_and_no_room_is_called_or_linked(words: str) -> None:
    shown = plan(Message(Rich.of(words))).texts[0].plain
    assert shown != words
    assert shown.replace("\u2060", "") == words


@pytest.mark.parametrize(
    "words", ["mira@school.example", "5! = 120", "#1: read", "3 : 4", "matrix", "a@b", "the matrix: rows"]
)
def test_other_words_are_left_alone(words: str) -> None:
    assert plan(Message(Rich.of(words))).texts[0].plain == words


def test_a_mention_over_two_spans_is_broken_too() -> None:
    parts = plan(Message(Rich.of("@ro", strong=True) + Rich.of("om"))).texts[0]
    assert parts.plain == "@\u2060room"


def test_a_picture_goes_first_with_its_alternative_text() -> None:
    out = io.BytesIO()
    Image.new("RGB", (30, 20)).save(out, format="PNG")
    file = Attachment("week.png", "image/png", out.getvalue(), "3 of 4 right")
    planned = plan(Message(Rich.of("Your week"), attachment=file, buttons=CHOICES))
    assert planned.files == (file,)
    assert planned.texts[0].plain.startswith("Your week\n")
    content = file_content(file, {"url": "mxc://x/y"})
    assert (content["msgtype"], content["body"], content["filename"]) == (
        "m.image",
        "3 of 4 right",
        "week.png",
    )
    assert content["info"] == {"mimetype": "image/png", "size": len(file.data), "w": 30, "h": 20}


def test_a_document_keeps_its_name_and_a_broken_picture_is_still_sent() -> None:
    sheet = file_content(Attachment("report @room.pdf", "application/pdf", b"%PDF"), {"url": "mxc://x/y"})
    assert (sheet["msgtype"], sheet["body"]) == ("m.file", "report @\u2060room.pdf")
    assert "w" not in file_content(Attachment("x.png", "image/png", b"no picture"), {})["info"]


def test_a_formula_becomes_a_picture_beside_readable_text() -> None:
    planned = plan(Message(Rich.of(r"Find $\frac{a+b}{2}$ and $x^2$")))
    assert [(file.name, file.alt) for file in planned.files] == [("formula.png", "(a+b)/2")]
    assert planned.texts[0].plain == "Find (a+b)/2 and x²"


def test_a_book_is_divided_and_every_part_fits_into_an_event() -> None:
    message = Message(Rich.of("Ωmega & <words>\n" * 6000, strong=True), buttons=CHOICES)
    planned = plan(message)
    assert 1 < len(planned.texts) <= 4
    for part in planned.texts:
        content = text_content(part) | {ACTIONS: planned.actions}
        assert len(json.dumps(content)) * 4 / 3 < 64_000


def test_a_file_alone_has_no_text() -> None:
    planned = plan(Message(Rich(), attachment=Attachment("a.csv", "text/csv", b"x")))
    assert planned.texts == ()


def test_an_edit_shows_its_beginning_and_its_last_line_to_clients_that_know_no_edits():
    text = "\n".join(["Hello. " + "Much is to be said. " * 40, "→ I agree"])
    body = edit_content(Rich.of(text), {}, "$before")["body"]
    assert body.startswith("* Hello. Much is to be said.")
    assert body.endswith("…\n→ I agree")
    assert len(body) <= 402
    assert edit_content(Rich.of(text), {}, "$before")["m.new_content"]["body"] == text
    one_line = edit_content(Rich.of("word " * 200), {}, "$before")["body"]
    assert one_line.endswith("…")
    assert len(one_line) <= 402
