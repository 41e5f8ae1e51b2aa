"""Text, buttons, menus and whole messages as Telegram is given them."""

import pytest

from bot.chat.packing import pack, unpack
from bot.chat.port import Attachment, Button, MenuEntry, Message
from bot.chat.telegram.rendering import (
    commands,
    cut,
    cut_text,
    keyboard,
    plan,
    shown,
    split,
    to_html,
    units,
)
from bot.chat.wording import clean
from bot.words.rich import Rich, Span
from tests.servers.botapi_rules import checked_text

# Source: Bot API documentation, "MessageEntity": offsets and lengths in UTF-16 code units.
FAMILY = "👨‍👩‍👧"


def rows(*buttons: Button) -> list[list[str]]:
    markup = keyboard((buttons,))
    return [] if markup is None else [[b.text for b in row] for row in markup.inline_keyboard]


def test_units_are_those_of_utf_16() -> None:
    assert [units(text) for text in ("", "abc", "é", "😀", FAMILY)] == [0, 3, 1, 2, 8]


def test_only_the_renderer_writes_markup() -> None:
    rich = Rich.of("a < b & c > d", strong=True) + Rich.of(' <i>no</i> &amp; "quoted"')
    assert to_html(rich) == '<b>a &lt; b &amp; c &gt; d</b> &lt;i&gt;no&lt;/i&gt; &amp;amp; "quoted"'


def test_what_is_aside_folds_away_in_one_quotation() -> None:
    # Bot API, "Formatting options": <blockquote expandable>, never nested.
    text = Rich(
        (Span("Wrong.\n"), Span("1 < 2\n", aside=True), Span("so", strong=True, aside=True), Span("\nBye"))
    )
    assert to_html(text) == "Wrong.\n<blockquote expandable>1 &lt; 2\n<b>so</b></blockquote>\nBye"
    parsed = checked_text(to_html(text), "HTML")
    assert [entity["type"] for entity in parsed.entities] == ["bold", "blockquote"]
    assert unpack(pack(Message(text)).body).text == text
    assert "".join(to_html(part) for part in split(text, 10)).count("<blockquote expandable>") == 1


@pytest.mark.parametrize(
    ("dirty", "tidy"),
    [
        ("a\r\nb\rc\u2028d\x0be", "a\nb\nc\nd\ne"),
        ("tab\there", "tab here"),
        ("bell\x07nul\x00", "bellnul"),
        ("turn \u202eback\u2066 and\u2069", "turn back and"),
        ("half \ud83d pair", "half  pair"),
        ("العربية stays", "العربية stays"),
    ],
)
def test_clean_removes_what_could_play_tricks(dirty: str, tidy: str) -> None:
    assert clean(dirty) == tidy


def test_a_mention_in_a_class_is_disarmed_and_an_address_is_left_alone() -> None:
    rich, _ = shown(Rich.of("@all, write to a@b.example"), in_class=True)
    assert rich.plain == "@\u2060all, write to a@b.example"


def test_split_prefers_paragraphs_then_lines_then_words() -> None:
    text = "a" * 60 + "\n\n" + "b" * 30 + "\n" + "c" * 60 + " " + "d" * 30
    assert [part.plain for part in split(Rich.of(text), limit=100)] == [
        "a" * 60,
        "b" * 30 + "\n" + "c" * 60,
        "d" * 30,
    ]


def test_split_keeps_emphasis_across_parts() -> None:
    rich = Rich((Span("x" * 8), Span("y" * 12, strong=True)))
    parts = split(rich, limit=10)
    assert [to_html(part) for part in parts] == ["xxxxxxxx<b>yy</b>", "<b>yyyyyyyyyy</b>"]


def test_split_ends_after_the_allowed_parts_with_an_ellipsis() -> None:
    parts = split(Rich.of("w" * 1000), limit=100, most=4)
    assert [units(part.plain) for part in parts] == [100] * 4
    assert parts[-1].plain.endswith("…")


@pytest.mark.parametrize("sign", ["😀", FAMILY, "e\u0301", "👍🏽", "⚠️"])
def test_cut_does_not_part_a_sign(sign: str) -> None:
    for limit in range(2, 12):
        kept = cut(Rich.of(sign * 6), limit).plain
        assert units(kept) <= limit
        if kept.endswith("…") and units(sign) <= limit - 1 and sign != FAMILY:
            assert kept[:-1] == sign * (len(kept[:-1]) // len(sign))


def test_cut_text_is_one_line() -> None:
    assert cut_text(" a\n b\tc ", 64) == "a b c"
    assert cut_text("abcdef", 4) == "abc…"


def test_letters_stand_before_their_choice() -> None:
    choices = [Button(words, f"a1:q:{n}", (), "ABCD"[n]) for n, words in enumerate(("8", "10", "12", "2.5"))]
    assert rows(*choices) == [["A\u20028", "B\u200210", "C\u200212", "D\u20022.5"]]
    assert rows(*(Button(letter, "x", (), letter) for letter in "ABCD")) == [["A", "B", "C", "D"]]


def test_a_row_that_a_phone_cannot_hold_becomes_one_button_per_row() -> None:
    assert rows(Button("In an hour", "l:1"), Button("Not today", "l:2")) == [["In an hour", "Not today"]]
    long = Button("Wait until next Monday morning", "l:3")
    assert rows(Button("In an hour", "l:1"), long) == [["In an hour"], ["Wait until next Monday morning"]]
    assert [len(row) for row in rows(*(Button(str(n), f"n:{n}") for n in range(11)))] == [8, 3]


def test_a_label_is_never_empty_and_never_endless() -> None:
    assert rows(Button("", "x")) == [["·"]]
    assert rows(Button("\u202e", "x", (), "C")) == [["C"]]
    (only,) = rows(Button("w" * 500, "x"))
    assert units(only[0]) == 64
    assert rows(Button(r"$\alpha^2$", "x", (), "A")) == [["A\u2002α²"]]


def test_no_buttons_are_no_keyboard() -> None:
    assert keyboard(()) is None


def test_commands_keep_telegrams_lengths() -> None:
    made = commands([MenuEntry("Next", "Ask me\nnow"), MenuEntry("x" * 50, "d" * 300), MenuEntry("help", "")])
    assert [(c.command, c.description) for c in made[:1]] == [("next", "Ask me now")]
    assert (len(made[1].command), len(made[1].description)) == (32, 256)
    assert made[2].description == "help"
    assert len(commands([MenuEntry("a", "b")] * 200)) == 100


def test_a_plain_message_is_one_part() -> None:
    (part,) = plan(Message(Rich.of("  Good to have you, Mira. ")))
    assert (part.text.plain, part.file) == ("Good to have you, Mira.", None)


@pytest.mark.parametrize(
    ("media_type", "size", "photo"),
    [
        ("image/png", 10, True),
        ("image/svg+xml", 10, False),
        ("image/png", 10_000_001, False),
        ("text/csv", 5, False),
    ],
)
def test_only_pictures_that_telegram_shows_go_as_photos(media_type: str, size: int, photo: bool) -> None:
    (part,) = plan(Message(Rich.of("x"), attachment=Attachment("f", media_type, b"0" * size)))
    assert part.as_photo is photo


@pytest.mark.parametrize(
    ("text", "alt", "captions"),
    [
        ("Your week", "26 of 30", ["Your week\n\n26 of 30"]),
        ("Your week: 26 of 30", "26 of 30", ["Your week: 26 of 30"]),
        ("", "26 of 30", ["26 of 30"]),
        ("w" * 1020, "26 of 30", ["w" * 1020]),
        ("w" * 1025, "26 of 30", ["26 of 30", "w" * 1025]),
        ("w" * 1025, "a" * 1025, ["a" * 1023 + "…", "w" * 1025]),
    ],
)
def test_alternative_text_is_part_of_the_caption_where_it_fits(
    text: str, alt: str, captions: list[str]
) -> None:
    parts = plan(Message(Rich.of(text), attachment=Attachment("w.png", "image/png", b"png", alt)))
    assert [part.text.plain for part in parts] == captions
    assert [part.file is not None for part in parts] == [True] + [False] * (len(captions) - 1)


def test_a_question_with_its_own_picture_shows_its_formulas_as_text() -> None:
    message = Message(Rich.of(r"Find $\frac{a+b}{2}$"), attachment=Attachment("q.png", "image/png", b"png"))
    (part,) = plan(message)
    assert part.text.plain == "Find (a+b)/2"
    assert part.file is message.attachment
