"""The languages say the same: the same texts with the same blanks to fill, each short enough for a phone."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from datetime import UTC, date, datetime
from gettext import c2py

import pytest
from babel import Locale

from bot.talk.commands import COMMANDS
from bot.words import LANGUAGES, typed, words
from bot.words.catalogue import HERE, SOURCE, catalogues, categories, messages, read, texts
from storage.school.rules import _WORDED

OTHERS = LANGUAGES[1:]

BUTTON_UNITS = 32
"""Two buttons of this width stand in a row on no phone; one does on all. Chosen."""
MENU_LENGTH = 60
"""A line of a command menu on a phone. Chosen; Telegram allows 256 (Bot API, BotCommand)."""
CAPTION_LENGTH = 1024
"""Telegram's limit for the caption of a picture (Bot API, sendPhoto)."""

ALIKE = {
    "kind.text", "student.button.pause", "teacher.hw.done", "teacher.hw.not", "teacher.hw.unknown",
    "week.picture.file",
}  # fmt: skip
"""Texts that may be the same in two languages although they have words."""


def texts_of(language: str) -> dict[str, object]:
    return dict(texts(language))


def forms_of(text: object) -> list[str]:
    return [text] if isinstance(text, str) else list(text.values())  # type: ignore[attr-defined]


def every_form(language: str) -> Iterator[tuple[str, str]]:
    for key, text in texts_of(language).items():
        for form in forms_of(text):
            yield key, form


def blanks(form: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(form) if name is not None}


def strong(form: str) -> list[str]:
    return re.findall(r"\*([^*\n]+)\*", form)


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_the_same_texts(language: str):
    ours, english = texts_of(language), texts_of("en")
    assert set(ours) - set(english) == set()
    assert set(english) - set(ours) == set()
    assert [key for key in english if isinstance(english[key], str) != isinstance(ours[key], str)] == []


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_the_same_files_and_was_looked_at_since_the_english_changed(language: str):
    english = {path.relative_to(HERE / SOURCE).with_suffix(""): path for path in catalogues(SOURCE)}
    ours = {path.relative_to(HERE / language).with_suffix(""): path for path in catalogues(language)}
    assert set(ours) == set(english)
    for name, path in english.items():
        stands = {message.context: message.id for message in messages(read(ours[name]))}
        assert stands == {message.context: message.id for message in messages(read(path))}, (
            f"{name}: run python -m bot.words update, then look at what is marked fuzzy"
        )
        assert [message.context for message in messages(read(ours[name])) if message.fuzzy] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_key_stands_twice(language: str):
    keys = [message.context for path in catalogues(language) for message in messages(read(path))]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_header_counts_as_unicode_does(language: str):
    # gettext numbers the forms, CLDR names them: the number must be the place of the name.
    names = categories(language)
    for path in catalogues(language):
        catalog = read(path)
        assert catalog.num_plurals == len(names), path
        index = c2py(catalog.plural_expr)
        for n in range(200):
            assert names[index(n)] == Locale.parse(language).plural_form(n), (path, n)


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_has_the_same_blanks_in_every_language(language: str):
    ours, english = texts_of(language), texts_of("en")
    for key, text in english.items():
        wanted = set().union(*(blanks(form) for form in forms_of(text))) - {"n"}
        found = set().union(*(blanks(form) for form in forms_of(ours[key]))) - {"n"}
        assert found == wanted, key


@pytest.mark.parametrize("language", OTHERS)
def test_emphasis_is_kept_and_commands_stay_what_is_typed(language: str):
    ours, english = texts_of(language), texts_of("en")
    known = {command.word for command in COMMANDS}
    for key, text in english.items():
        here, there = strong(forms_of(text)[-1]), strong(forms_of(ours[key])[-1])
        assert len(here) == len(there), key
        said = [{part.split()[0] for part in parts} & known for parts in (here, there)]
        assert said[0] == said[1], key


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_that_counts_has_the_forms_of_its_language(language: str):
    # Unicode CLDR, plural rules: what Babel carries.
    wanted = set(Locale.parse(language).plural_form.tags) | {"other"}
    for key, text in texts_of(language).items():
        assert isinstance(text, str) or set(text) == wanted, key  # type: ignore[call-overload]


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_shouts_and_each_fits_a_phone(language: str):
    for key, form in every_form(language):
        assert "!" not in form, key
        assert len(form) <= 620 or key.startswith(("readme.", "letter.")), (key, len(form))
        if ".button." in key:
            assert len(form) <= BUTTON_UNITS, (key, len(form))
        if key.startswith("command."):
            assert len(form) <= MENU_LENGTH, (key, len(form))
        if key.startswith("teacher.made."):
            assert len(form) <= CAPTION_LENGTH, key


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_left_in_english(language: str):
    english = texts_of("en")
    left = [
        key
        for key, form in every_form(language)
        if form in forms_of(english[key])
        and re.search(r"[^\W\d_]{3}", re.sub(r"\{\w+\}", "", form))
        and key not in ALIKE
    ]
    assert left == []


def test_the_german_texts_hold_no_english_words_and_have_their_own_marks():
    for key, form in every_form("de"):
        if key == "language.en":
            continue
        bare = re.sub(r"\*[^*\n]+\*|\{\w+\}", "", form)
        assert not re.search(r"\b(the|and|you|your|of|is|to|for|please|quiz)\b", bare), (key, form)
        assert "”" not in form, key
        assert form.count("„") == form.count("“"), key


def test_students_are_du_and_teachers_are_sie():
    for key, form in every_form("de"):
        if key.startswith(("student.", "joining.", "own.")):
            assert not re.search(r"\b(Ihr|Ihre|Ihren|Ihnen)\b", form), key
        if key.startswith(("teacher.", "forecast.", "week.", "quiz.", "questions.", "channel.")):
            assert not re.search(r"\b(du|dich|dir|deine?[rmns]?)\b", form, re.IGNORECASE), key


def test_people_are_named_without_a_gender():
    """Chosen: Lernende, Lehrkraft, Person; in a letter the name."""
    for key, form in every_form("de"):
        assert not re.search(r"\bSchülers?\b|\bLehrers?\b|Lehrern\b|[a-zäöüß][*:_]in", form), key


# ---------------------------------------------------------------- picking and filling in


@pytest.mark.parametrize(
    ("wanted", "language"),
    [
        (("de",), "de"), (("de-AT",), "de"), (("DE_ch",), "de"), (("en-GB",), "en"),
        (("tr",), "en"), ((), "en"), (("",), "en"), (("", "tr", "de", "en"), "de"),
    ],
)  # fmt: skip
def test_the_first_language_wanted_that_there_is_speaks(wanted: tuple[str, ...], language: str):
    assert words(*wanted).language == language


def test_dates_times_and_figures_follow_the_language():
    english, german = words("en"), words("de")
    day, moment = date(2026, 12, 11), datetime(2026, 12, 11, 17, 5, tzinfo=UTC)
    assert (english.day(day), german.day(day)) == ("Fri 11 Dec", "Fr., 11. Dez.")
    assert german.long_day(day) == "11. Dezember 2026"
    assert german.weekday(day) == "Freitag"
    assert german.time(moment, "Europe/Berlin") == "18:05"
    assert (english.figure("2.70 g/cm³"), german.figure("2.70 g/cm³")) == ("2.70 g/cm³", "2,70 g/cm³")
    assert german.figure("-1.5 × 10^-3") == "-1,5 × 10^-3"
    assert german.about(0.58) == "60\u00a0%"


def test_counting_takes_the_right_form():
    german = words("de")
    assert german.text("student.back.weeks", n=1) == "Das Thema kommt in etwa einer Woche wieder."
    assert german.text("student.back.weeks", n=3) == "Das Thema kommt in etwa 3 Wochen wieder."


def test_a_day_that_ends_in_a_full_stop_gets_no_second_one():
    german, day = words("de"), words("de").day(date(2026, 12, 11))
    assert german.text("student.back.quiz", day=day).endswith("am Fr., 11. Dez. wieder.")
    assert german.text("student.done.paused_until", day=day) == (
        "Pause bis Fr., 11. Dez. Tippe resume, um früher weiterzumachen."
    )
    assert words("en").text("teacher.reading", name="a.").endswith("a. …")


@pytest.mark.parametrize("name", ["question Density of water?", "topic Measure it!"])
def test_what_ends_in_a_mark_of_its_own_gets_no_full_stop(name: str):
    assert words("en").say("teacher.undone", name=name).plain.startswith(f"Taken back: {name} Everything")


def test_every_refusal_of_the_storage_is_raised_somewhere_and_only_with_its_values():
    top = HERE.parents[1]
    sources = "".join(
        path.read_text() for folder in ("storage", "bot/service") for path in (top / folder).rglob("*.py")
    )
    raised = set(re.findall(r'refused\(\s*\w+,\s*"(\w+)"', sources))
    worded = {key.removeprefix("refusal.") for key in texts_of("en") if key.startswith("refusal.")}
    by_field = {f"rule_{field}" for field in _WORDED}
    named = set(re.findall(r'"refusal\.(\w+)"', sources))
    assert raised | by_field <= worded
    assert worded <= raised | by_field | named


def test_yes_and_no_are_understood_in_every_language():
    assert {"yes", "ja"} <= set(typed("yes"))
    assert {"no", "nein"} <= set(typed("no"))
    assert {"not sure", "weiß nicht"} <= set(typed("unsure"))
    assert typed("nothing of the kind") == ()
