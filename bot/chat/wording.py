"""What every chat does with text before it is shown: cleaned, trimmed, cut and divided without hurting emphasis.

Each platform counts length in its own way, so the functions that keep to one are given a `Measure`. A measure
adds up: the measure of a text is the sum over its characters.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace

from bot.words.rich import Rich, Span

Measure = Callable[[str], int]

MOST_PARTS = 4
"""A text too long for one message is continued in others, but nobody is sent a book."""

# C0 and C1 controls except the line feed; embeddings, overrides and isolates of direction, which would
# turn round whatever follows a name; halves of surrogate pairs, which no UTF-8 can carry.
_UNWANTED = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
_LINE_BREAKS = re.compile("\r\n?|\u2028|\u2029|\x0b|\x0c|\x85")
_UNREADABLE = re.compile("[\x00\ud800-\udfff]")

WORD_JOINER = "\u2060"
"""Invisible; put behind a sign, it takes the sign's meaning to a machine, not its look."""


def clean(text: str) -> str:
    """Return `text` without control characters and turns of direction; a tab becomes a space."""
    return _UNWANTED.sub("", _LINE_BREAKS.sub("\n", text).replace("\t", " "))


def readable(text: str | None) -> str:
    """Return what somebody wrote without NUL and halves of surrogate pairs, which databases cannot keep."""
    return _UNREADABLE.sub("", text or "")


def trimmed(rich: Rich) -> Rich:
    """Drop white space at both ends."""
    plain = rich.plain
    start = len(plain) - len(plain.lstrip())
    return _slice(rich, start, len(plain.rstrip()))


def _slice(rich: Rich, start: int, end: int) -> Rich:
    """Characters `start` to `end` of the plain text, with their emphasis."""
    spans: list[Span] = []
    at = 0
    for span in rich.spans:
        text = span.text[max(0, start - at) : max(0, end - at)]
        if text:
            spans.append(replace(span, text=text))
        at += len(span.text)
    return Rich(tuple(spans))


def disarmed(rich: Rich, calling: re.Pattern[str]) -> Rich:
    """Put an invisible joiner behind whatever calls somebody; it may begin in one span and end in the next."""
    places = [found.end() for found in calling.finditer(rich.plain)]
    done: list[Span] = []
    at = 0
    for span in rich.spans:
        inside = [place - at for place in places if at < place <= at + len(span.text)]
        done.append(replace(span, text=_joined_at(span.text, inside)))
        at += len(span.text)
    return Rich(tuple(done))


def _joined_at(text: str, places: list[int]) -> str:
    for place in reversed(places):
        text = text[:place] + WORD_JOINER + text[place:]
    return text


def split(rich: Rich, limit: int, most: int, measure: Measure) -> tuple[Rich, ...]:
    """Divide a text into parts of at most `limit`, at paragraphs, lines or words where possible.

    What does not fit into `most` parts is left out, and an ellipsis says so.
    """
    parts: list[Rich] = []
    rest = trimmed(rich)
    while rest.spans:
        if measure(rest.plain) <= limit:
            return (*parts, rest)
        if len(parts) == most - 1:
            return (*parts, cut(rest, limit, measure))
        end = _break_before(rest.plain, limit, measure)
        parts.append(trimmed(_slice(rest, 0, end)))
        rest = trimmed(_slice(rest, end, len(rest.plain)))
    return tuple(parts)


def cut(rich: Rich, limit: int, measure: Measure) -> Rich:
    """Return `rich` shortened to `limit`, ending in an ellipsis if something is missing."""
    plain = rich.plain
    if measure(plain) <= limit:
        return rich
    end = _whole_characters(plain, limit - measure("…"), measure)
    kept = trimmed(_slice(rich, 0, end))
    return kept + Rich.of("…")


def cut_line(text: str, limit: int, measure: Measure) -> str:
    """Return `text` as one clean line of at most `limit`."""
    return cut(trimmed(Rich.of(" ".join(clean(text).split()))), limit, measure).plain


def _break_before(plain: str, limit: int, measure: Measure) -> int:
    """Where to break so that the first part keeps to `limit` and is at least half full."""
    end = _whole_characters(plain, limit, measure)
    for mark in ("\n\n", "\n", " "):
        at = plain.rfind(mark, end // 2, end)
        if at > 0:
            return at
    return end


def _whole_characters(plain: str, limit: int, measure: Measure) -> int:
    """Count of leading code points within `limit` that does not part a sign from its accents."""
    end, used = 0, 0
    for character in plain:
        used += measure(character)
        if used > limit:
            break
        end += 1
    whole = end
    while 0 < whole < len(plain) and _joins(plain[whole]):
        whole -= 1
    return whole or end


def _joins(character: str) -> bool:
    return (
        unicodedata.combining(character) > 0
        or character in "\u200d\ufe0e\ufe0f"
        or ("\U0001f3fb" <= character <= "\U0001f3ff")
    )
