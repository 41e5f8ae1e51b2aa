"""All wording, one folder per language with a catalogue per conversation; this module picks, fills in, counts.

A text is a template: ``*so*`` stands out, ``{name}`` is filled in. The marks are read before anything is
filled in, so no value can become markup. A text that depends on a number is a mapping from the plural
categories of Unicode CLDR (``one``, ``other``, …) to templates, chosen by the value ``n``.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from babel import Locale
from babel.dates import format_date, format_skeleton, format_time
from babel.lists import format_list

from bot.words.catalogue import Template, texts
from bot.words.rich import Rich, Span

LANGUAGES = ("en", "de")
"""The languages that there are catalogues for; the first stands in where a text is missing."""

_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_STRONG = re.compile(r"\*([^*\n]+)\*")


@dataclass(frozen=True, slots=True)
class Words:
    """The texts of one language, with its way to write dates and numbers.

    Attributes
    ----------
    language : str
        One of `LANGUAGES`.
    """

    language: str

    def say(self, key: str, /, **values: object) -> Rich:
        """Return a text with its emphasis. `values` may themselves be `Rich`.

        Raises
        ------
        KeyError
            No language has a text of that name, or a value is missing.
        """
        return Rich(tuple(_without_second_stop(_spans(self._template(key, values), values))))

    def text(self, key: str, /, **values: object) -> str:
        """Return a text without emphasis, for buttons, menus and file names."""
        return self.say(key, **values).plain

    def day(self, day: date) -> str:
        """Write a date as people say it: ``Fri 11 Dec``."""
        return format_skeleton("MMMEd", day, locale=_locale(self.language))

    def long_day(self, day: date) -> str:
        """Write a date in full: ``11 December 2026``."""
        return format_date(day, "long", locale=_locale(self.language))

    def day_and_month(self, day: date) -> str:
        """Write a day without its year: ``3 April``."""
        return format_skeleton("MMMMd", day, locale=_locale(self.language))

    def weekday(self, day: date) -> str:
        """Write the name of a weekday: ``Thursday``."""
        return format_date(day, "EEEE", locale=_locale(self.language))

    def clock(self, minute: int) -> str:
        """Write minutes after midnight as a time of day: ``18:00``."""
        return f"{minute // 60:02d}:{minute % 60:02d}"

    def time(self, at: datetime, zone: str) -> str:
        """Write the local time of a moment: ``18:00``."""
        return format_time(at.astimezone(ZoneInfo(zone)), "HH:mm", locale=_locale(self.language))

    def figure(self, written: str) -> str:
        """Write a figure the way of the language: ``2.7 g/cm³`` with its comma in German.

        Only for what is one figure with its unit: in other texts a point between digits may be a date.
        """
        sign = _locale(self.language).number_symbols["latn"]["decimal"]
        return _POINT.sub(str(sign), written)

    def about(self, probability: float) -> str:
        """Write a prediction rounded to what it is worth, to five of a hundred: ``60 %``, not to be parted.

        Nothing is ever certain, so none is 0 or 100 %.
        """
        return f"{min(max(5 * round(probability * 20), 5), 95)}\u00a0%"

    def listed(self, items: list[str]) -> str:
        """Join names: ``Jonas, Elif``."""
        return ", ".join(items)

    def either(self, items: list[str]) -> str:
        """Join what is as good one as the other: ``Newton or N``."""
        return str(format_list(items, style="or", locale=_locale(self.language)))

    def typed(self, name: str) -> tuple[str, ...]:
        """Return what may be typed for a meaning, as `typed` does, this language's own forms first."""
        own = _forms_in(self.language, name)
        return tuple(dict.fromkeys((*own, *typed(name))))

    def keys(self, beginning: str) -> tuple[str, ...]:
        """Return the names of all texts that begin so."""
        return tuple(key for key in _catalogue(self.language) if key.startswith(beginning))

    def _template(self, key: str, values: Mapping[str, object]) -> str:
        template = _catalogue(self.language).get(key)
        if template is None:
            template = _catalogue(LANGUAGES[0])[key]
        if isinstance(template, str):
            return template
        count = values["n"]
        if not isinstance(count, int | float):
            raise TypeError(f'The text "{key}" counts by n, which is {count!r}.')
        category = _locale(self.language).plural_form(count)
        return template.get(category, template["other"])


@cache
def words(*wanted: str) -> Words:
    """Return the texts of the first language wanted that there is: ``de-AT`` is served by ``de``; else English.

    Examples
    --------
    >>> words("de-AT").language, words("tr", "de").language, words("tr").language
    ('de', 'de', 'en')
    """
    tags = (language.replace("_", "-").split("-")[0].lower() for language in wanted)
    return Words(next((tag for tag in tags if tag in LANGUAGES), LANGUAGES[0]))


def language_named(text: str) -> str | None:
    """Return the tag of the language that a text names, in any language there is."""
    wanted = text.strip().casefold()
    for tag in LANGUAGES:
        names = {words(spoken).text(f"language.{tag}").casefold() for spoken in LANGUAGES}
        if wanted == tag or wanted in names:
            return tag
    return None


@cache
def typed(name: str) -> tuple[str, ...]:
    """Return what may be typed for a meaning such as ``yes``, in every language: people mix them.

    It stands as the text ``typed.NAME``, with bars between the forms.

    Examples
    --------
    >>> typed("no")
    ('no', 'n', 'nein')
    """
    return tuple(dict.fromkeys(form for language in LANGUAGES for form in _forms_in(language, name)))


def _forms_in(language: str, name: str) -> tuple[str, ...]:
    text = _catalogue(language).get(f"typed.{name}", "")
    return tuple(form for form in text.split("|") if form) if isinstance(text, str) else ()


@cache
def _catalogue(language: str) -> Mapping[str, Template]:
    return texts(language)


@lru_cache(maxsize=16)
def _locale(language: str) -> Locale:
    # British English: day before month, as the timetables that teachers send.
    return Locale.parse("en_GB" if language == "en" else language)


def _spans(template: str, values: Mapping[str, object]) -> Iterator[Span]:
    position = 0
    for mark in _STRONG.finditer(template):
        yield from _filled(template[position : mark.start()], values, strong=False)
        yield from _filled(mark.group(1), values, strong=True)
        position = mark.end()
    yield from _filled(template[position:], values, strong=False)


def _without_second_stop(spans: Iterable[Span]) -> Iterator[Span]:
    """Leave out a full stop after what ends a sentence already: a month cut short (``Fr., 11. Dez.``), a question."""
    before = ""
    for span in spans:
        doubled = before.endswith((".", "?", "!")) and re.match(r"\.(?!\.)", span.text)
        text = span.text[1:] if doubled else span.text
        before = span.text
        if text:
            yield Span(text, span.strong)


def _filled(template: str, values: Mapping[str, object], *, strong: bool) -> Iterator[Span]:
    for literal, name, _format, _conversion in string.Formatter().parse(template):
        if literal:
            yield Span(literal, strong)
        if name is not None:
            value = values[name]
            if isinstance(value, Rich):
                yield from value.spans
            elif str(value):
                yield Span(str(value), strong)
