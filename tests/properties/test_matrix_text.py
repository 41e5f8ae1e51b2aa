"""Whatever anybody types: the markup is valid, the words are the same, nobody is called, and events fit."""

import json
import re
from html.parser import HTMLParser

from hypothesis import given, settings
from hypothesis import strategies as st

from bot.chat.matrix.rendering import ACTIONS, edit_content, file_content, plan, taps, text_content, to_html
from bot.chat.port import Attachment, Button, Message
from bot.chat.wording import clean
from bot.words.rich import Rich, Span

MARKUP = ["<b>", "</strong>", "<", ">", "&", "&lt;", "&#", ";", '"', "'", "<br>", "*", "`", "[x](y)"]
CALLS = [
    "@room",
    "@",
    "room",
    "@mira:x.org",
    "#a:b",
    "!r:s",
    "matrix.to",
    "matrix",
    ".to",
    "matrix:u/",
    ":",
    "x",
]
CONTROLS = ["\n", "\r\n", "\t", "\x00", "\u202e", "\u2028", "\ud83d", "  ", "$", "\\", "😀", "e\u0301"]
nasty = st.lists(st.sampled_from([*MARKUP, *CALLS, *CONTROLS])).map("".join)
anything = st.one_of(st.text(st.characters(codec=None), max_size=300), nasty)
rich = st.lists(st.builds(Span, anything, st.booleans()), max_size=6).map(lambda spans: Rich(tuple(spans)))
letters = st.sampled_from(["", "A", "B", "H"])
typed = st.lists(anything, max_size=2).map(tuple)
button = st.builds(Button, anything, st.just("s:0"), typed, letters)
rows = st.lists(st.lists(button, max_size=4).map(tuple), max_size=4).map(tuple)

moderate = settings(max_examples=150, deadline=None)

# What a client or a push rule would take for a call of a person or a room.
CALL = re.compile(r"@room|[@#!](?!\u2060)[^\s:]+:\w|matrix\.to\b|matrix:[a-z]+/", re.IGNORECASE)


class Reader(HTMLParser):
    """Reads our HTML back as a client shows it; any tag but ours is an error."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text = ""
        self.strong = ""
        self.depth = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in ("strong", "br"), tag
        assert not attrs
        if tag == "br":
            self.text += "\n"
        else:
            self.depth += 1

    def handle_endtag(self, tag: str) -> None:
        assert tag == "strong"
        self.depth -= 1

    def handle_data(self, data: str) -> None:
        self.text += data
        if self.depth:
            self.strong += data


def read(markup: str) -> Reader:
    reader = Reader()
    reader.feed(markup)
    reader.close()
    assert reader.depth == 0
    return reader


@moderate
@given(rich)
def test_any_text_renders_to_valid_markup_and_reads_back_as_the_same_text(text: Rich) -> None:
    tidy = Rich(tuple(Span(clean(span.text), span.strong) for span in text.spans))
    seen = read(to_html(tidy))
    assert seen.text.replace("\u00a0", " ") == tidy.plain.replace("\u00a0", " ")
    strong = "".join("".join(span.text.split()) for span in tidy.spans if span.strong)
    assert "".join(seen.strong.split()) == strong


@moderate
@given(rich, rows)
def test_no_text_calls_anybody_and_every_event_fits(
    text: Rich, buttons: tuple[tuple[Button, ...], ...]
) -> None:
    message = Message(text, buttons=buttons)
    planned = plan(message)
    for part in planned.texts:
        content = text_content(part) | {ACTIONS: planned.actions}
        assert content["m.mentions"] == {}
        assert not CALL.search(content["body"])
        assert not CALL.search(read(content.get("formatted_body", "")).text)
        assert len(json.dumps(content)) < 48_000
        content["body"].encode()
        edit = edit_content(part, planned.actions, "$1")
        assert not CALL.search(edit["body"])


@moderate
@given(anything, anything, st.sampled_from(["image/png", "text/csv"]))
def test_no_name_or_description_of_a_file_calls_anybody(name: str, alt: str, kind: str) -> None:
    content = file_content(Attachment(name, kind, b"x", alt), {"url": "mxc://x/y"})
    assert content["m.mentions"] == {}
    assert not CALL.search(content["body"])
    assert not CALL.search(content["filename"])
    assert content["filename"]
    json.dumps(content).encode()


@moderate
@given(rows)
def test_any_buttons_have_different_signs(buttons: tuple[tuple[Button, ...], ...]) -> None:
    message = Message(Rich.of("?"), buttons=buttons)
    plain = [tap.key for tap in taps(message) if not tap.button.letter]
    assert len(plain) == len(set(plain))
    assert all(tap.key for tap in taps(message))
