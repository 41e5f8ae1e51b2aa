"""Whatever anybody types: the markup is valid, the words are the same, and every limit is kept."""

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from bot.chat.formulas import pieces, readable, shown
from bot.chat.port import Attachment, Button, Message
from bot.chat.telegram.rendering import CAPTION_UNITS, keyboard, plan, split, to_html
from bot.chat.wording import clean
from bot.words.rich import Rich, Span
from tests.servers.botapi_rules import check_keyboard, checked_text, parse_text, units

# Any string at all, and strings made of what has a meaning somewhere.
MARKUP = ["<b>", "</b>", "<", ">", "&", "&lt;", "&#", ";", '"', "'", "*", "_", "`", "[x](y)"]
OTHERS = ["@room", "@mira", "/help", "$", "\\", "word", "😀", "é", "e\u0301", " "]
CONTROLS = ["\n", "\r\n", "\t", "\x00", "\u202e", "\u2028", "\ud83d"]
nasty = st.lists(st.sampled_from([*MARKUP, *OTHERS, *CONTROLS])).map("".join)
anything = st.one_of(st.text(st.characters(codec=None), max_size=400), nasty)
rich = st.lists(st.builds(Span, anything, st.booleans()), max_size=6).map(lambda spans: Rich(tuple(spans)))

pressable = st.builds(Button, anything, st.just("a1:q:0"), st.just(()), st.sampled_from(["", "A", "B"]))

moderate = settings(max_examples=150, deadline=None)


def cleaned(text: Rich) -> Rich:
    return Rich(tuple(Span(clean(span.text), span.strong) for span in text.spans))


@moderate
@given(rich)
def test_any_text_renders_to_valid_markup_and_reads_back_as_the_same_text(text: Rich) -> None:
    tidy = cleaned(text)
    parsed = parse_text(to_html(tidy), "HTML")
    assert parsed.text == tidy.plain.strip()
    strong = "".join("".join(s.text.split()) for s in tidy.spans if s.strong)
    assert "".join("".join(piece.split()) for piece in parsed.bold()) == strong


@moderate
@given(rich)
def test_any_message_becomes_parts_that_telegram_takes(text: Rich) -> None:
    for part in plan(Message(text)):
        parsed = checked_text(to_html(part.text), "HTML")
        assert units(parsed.text) <= (4096 if part.file is None else CAPTION_UNITS)


# What Telegram takes for a mention of somebody: an @ that begins a word of Latin letters, digits and underscores.
CALL = re.compile(r"(?<![\w@])@\w", re.ASCII)


@moderate
@given(rich, st.booleans())
def test_no_text_in_a_class_calls_anybody(text: Rich, drawn: bool) -> None:
    file = Attachment("a.png", "image/png", b"x", text.plain) if drawn else None
    for part in plan(Message(text, attachment=file), in_class=True):
        assert not CALL.search(part.text.plain)
        assert not any(
            entity["type"] == "mention" for entity in parse_text(to_html(part.text), "HTML").entities
        )


@moderate
@given(rich, st.integers(min_value=2, max_value=60))
def test_split_loses_nothing_but_white_space_and_keeps_the_limit(text: Rich, limit: int) -> None:
    tidy = cleaned(text)
    parts = split(tidy, limit, most=10_000)
    assert all(units(part.plain) <= limit for part in parts)
    assert all(part.plain == part.plain.strip() != "" for part in parts)
    assert re.sub(r"\s", "", "".join(part.plain for part in parts)) == re.sub(r"\s", "", tidy.plain)


@moderate
@given(st.lists(st.lists(pressable, max_size=10), max_size=4))
def test_any_buttons_make_a_keyboard_that_telegram_takes(rows: list[list[Button]]) -> None:
    markup = keyboard(rows)
    if markup is None:
        assert not any(rows)
    else:
        check_keyboard(markup.to_dict())
        assert sum(len(row) for row in markup.inline_keyboard) == sum(len(row) for row in rows)


@moderate
@given(anything)
def test_formulas_never_raise_and_leave_other_text_alone(text: str) -> None:
    assert "$" in text or shown(text).text == text
    for piece in pieces(text):
        if piece.is_formula:
            assert isinstance(readable(piece.text).text, str)


@moderate
@given(st.text("{}^_\\ afrcsqt+$123", max_size=60))
def test_any_mess_of_tex_is_read_without_an_error(formula: str) -> None:
    assert isinstance(readable(formula).faithful, bool)
    assert isinstance(shown(f"${formula}$").text, str)
