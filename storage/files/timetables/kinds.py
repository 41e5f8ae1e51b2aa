"""Lesson, quiz, exam or holiday: what an entry of a timetable is, by its kind column or its title."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from storage.files.headings import plain_heading
from storage.files.timetables.quiz_titles import quiz_in_title

EntryKind = Literal["lesson", "quiz", "exam", "holiday"]

# Common practice in staff rooms (no source): English, German, French, Spanish, and a few neighbours.
_WORDS: dict[EntryKind, str] = {
    "lesson": (
        "lesson lessons class topic period stunde unterricht doppelstunde thema cours lecon seance clase leccion "
        "lezione les"
    ),
    "quiz": (
        "quiz quizzes test kurztest kurzkontrolle lernkontrolle lernzielkontrolle stegreifaufgabe interro "
        "interrogation controle prueba cuestionario toets verifica"
    ),
    "exam": (
        "exam exams examination klausur klassenarbeit schulaufgabe schularbeit prufung examen evaluation "
        "evaluacion esame tentamen"
    ),
    "holiday": (
        "holiday holidays vacation break ferien feiertag ferientag schulfrei frei unterrichtsfrei vacances conge "
        "ferie vacaciones festivo vacanza vacanze vakantie"
    ),
}
_HOLIDAY_PHRASES = (
    "half term, bank holiday, public holiday, no school, school closed, day off, inset day",
    "jour ferie, dia festivo",
)
KINDS: dict[str, EntryKind] = {word: kind for kind, words in _WORDS.items() for word in words.split()}
KINDS.update((phrase, "holiday") for line in _HOLIDAY_PHRASES for phrase in line.split(", "))
_HOLIDAY_TITLES = re.compile(
    r"\b(?:holidays?|half term|vacations?|bank holiday|\w*ferien|feiertag|schulfrei|unterrichtsfrei|vacances|"
    r"jour ferie|vacaciones|festivo|vacanze|vakantie|no school|school closed|inset day)\b"
)
_FREE_DAYS = re.compile(
    r"\w*(?:ferien|feiertage?|vakantie)(?: .*)?|(?:vacances|conges?|vacaciones|vacanze|ferie) \w.*"
    r"|(?:(?:christmas|easter|whitsun|summer|autumn|fall|winter|spring|october|february|may|school|bank|public|term) )?"
    r"(?:holidays?|vacations?|break|half term)(?: week)?"
    r"|(?:\w+ )?(?:entfallt|fallt aus)|(?:lesson |class )?cancell?ed"
    r"|(?:kein|no|pas de|no hay|geen|nessuna) "
    r"(?:unterricht|stunde|lessons?|class(?:es)?|cours|clase|les|lezione)"
    r"|studientag|padagogischer tag|wandertag|bruckentag|(?:inset|teacher training|staff training) days?"
)
"""Titles that are no topic, as a whole (common practice, no source)."""
_PREFIX = re.compile(r"\s*(?P<word>[^\W\d_]+(?:[ -][^\W\d_]+)?)\s*(?:[:–—]|-\s)\s*(?P<rest>.*)", re.DOTALL)
_NUMBERED = re.compile(r"\s*(?P<word>[^\W\d_]+)\s*(?:no\.?|nr\.?|n°)?\s*\d*\s*", re.IGNORECASE)


@dataclass(frozen=True)
class TitleKind:
    """The kind of an entry, and what is left of its title once the kind is taken off.

    ``doubtful`` says that the title can as well be the topic of a lesson.
    """

    written: EntryKind
    rest: str
    doubtful: bool = False


def kind_named(word: str) -> EntryKind | None:
    """Give the kind that a word names, in any case and several languages.

    Examples
    --------
    >>> kind_named("Klassenarbeit"), kind_named("Half-Term"), kind_named("picnic")
    ('exam', 'holiday', None)
    """
    return KINDS.get(plain_heading(word))


def kind_of_title(
    title: str, *, anywhere: bool = False, topics: Collection[str] = (), german: bool = False
) -> TitleKind:
    """Tell the kind from the words of a title; otherwise it is the topic of a lesson.

    Parameters
    ----------
    title : str
        As written.
    anywhere : bool
        Whether a word for holidays anywhere in the title counts (all-day events of a calendar).
    topics : collection of str
        Topics of the class and the file, in plain lower case; see ``quiz_titles``.
    german : bool
        Whether the file is German.

    Returns
    -------
    TitleKind

    Examples
    --------
    >>> kind_of_title("Quiz: Forces"), kind_of_title("Quiz 2")
    (TitleKind(written='quiz', rest='Forces', doubtful=False), TitleKind(written='quiz', rest='Quiz 2', doubtful=False))
    >>> kind_of_title("Testing materials"), kind_of_title("Herbstferien", anywhere=True).written
    (TitleKind(written='lesson', rest='Testing materials', doubtful=False), 'holiday')
    """
    prefixed = _PREFIX.fullmatch(title)
    named = kind_named(prefixed["word"]) if prefixed else None
    if prefixed and named and prefixed["rest"]:
        return TitleKind(named, prefixed["rest"].strip())
    numbered = _NUMBERED.fullmatch(title)
    named = kind_named(numbered["word"]) if numbered else kind_named(title)
    if named and named != "lesson":
        return TitleKind(named, title.strip())
    if _FREE_DAYS.fullmatch(plain_heading(title)):
        return TitleKind("holiday", title.strip())
    if anywhere and _HOLIDAY_TITLES.search(plain_heading(title)):
        return TitleKind("holiday", title.strip())
    guess = quiz_in_title(title, topics, german=german)
    if guess is not None:
        return TitleKind(guess.written, title.strip(), doubtful=not guess.sure)
    return TitleKind("lesson", title.strip())
