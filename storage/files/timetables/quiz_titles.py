"""Quiz or exam, by the words that schools use in a title; what can be a topic as well is doubtful.

"1. Klausur", "Physics exam" and "Quiz on forces" are certain. A test is also what one does with a hypothesis or a
charge, so "Test charges in fields" is asked about, while "Test: forces", "Physics test" and "Test Kräfte" are not.
The words are common practice in schools of the six languages (no source).
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from storage.files.headings import plain_heading

Written = Literal["quiz", "exam"]

_BOTH: tuple[Written, ...] = ("exam", "quiz")

# Certain wherever a title begins or ends with them.
_STRONG: dict[Written, str] = {
    "quiz": (
        r"(?:pop )?quiz(?:zes)?|kurztest|kurzkontrolle|lernkontrolle|lernzielkontrolle|lernstandskontrolle|"
        r"stegreifaufgabe|extemporale|vokabeltest|interro|cuestionario|toets|schriftelijke overhoring|"
        r"devoir sur table|devoir surveille|controle continu"
    ),
    "exam": (
        r"exams?|midterms?|mid term|mock exam|klausur|klassenarbeit|schulaufgabe|schularbeit|abschlussprufung|examen|"
        r"examenes|proefwerk|tentamen|compito in classe|esame|parcial|bac blanc|vorabitur"
    ),
}  # fmt: skip
# Words that name other things, too: certain only with a number, a subject, a known topic or the like beside them.
_WEAK: dict[Written, str] = {
    "quiz": r"tests?|leistungskontrolle|kontrolle|controle|control|prueba|verifica|prova|interrogation|assessment|ds",
    "exam": r"examinations?|prufung|evaluation|evaluacion|valutazione|leistungsnachweis",
}
_SUBJECTS = (
    r"physik|physics|physique|fisica|natuurkunde|mathe|maths?|mathematik|mathematics|mathematiques|matematicas|"
    r"matematica|wiskunde|chemie|chemistry|chimie|quimica|chimica|scheikunde|bio|biologie|biology|biologia|science|"
    r"sciences|ciencias|scienze|english|englisch|anglais|ingles|inglese|engels|deutsch|german|allemand|aleman|tedesco|"
    r"duits|french|franzosisch|francais|frances|francese|frans|spanish|spanisch|espagnol|espanol|latin|latein|"
    r"history|geschichte|histoire|historia|storia|geschiedenis|geography|geographie|geografia|erdkunde|geo|"
    r"informatik|computing|informatique|informatica|musik|music|religion|ethik|politik|wirtschaft|economics|vocabulary|"
    r"vocab|vokabel|grammatik|grammar|spelling|unit|chapter|topic|module|term|year|end of unit|end of topic|"
    r"end of chapter|halbjahres|jahres|zwischen|abschluss|eingangs|probe|nachschreibe|kapitel|einheit|chapitre|unidad|"
    r"tema|capitolo|hoofdstuk|written|oral|schriftliche[rs]?|mundliche[rs]?|kleine[rs]?|grosse[rs]?|kurze[rs]?|ecrit|"
    r"ecrite|orale?|scritta|escrita|escrito|final|finale|summative|formative|diagnostic|practice|weekly|short"
)
_ORDER = (
    r"\d{1,2}|[ivx]{1,4}|first|second|third|fourth|last|next|erste[rs]?|zweite[rs]?|dritte[rs]?|vierte[rs]?|letzte[rs]?|"
    r"premiere?|deuxieme|troisieme|primera?|primo|segund[oa]|second[oa]|tercera?|eerste|tweede|derde|"
    r"\d{1,2}(?:st|nd|rd|th|er|ere|e|eme)"
)
_NUMBER = rf"(?: (?:no|nr|n|nummer|number|teil|part|kw)? ?(?:{_ORDER}|[a-c]))?"
_LINK = r"on|about|for|uber|zu|zum|zur|sur|de|des|du|d|sobre|su|di|del|della|dei|sui|over|in|im|bei|mit"
_SURE_LINK = r"on|about|uber|zu|zum|zur|sur|sobre|su|sui|sulla|sul|over"
_LESSON = re.compile(
    r"\b(?:prep|preparation|revision|revise|review|feedback|corrections?|technique|skills|return(?:ed|ing)?|"
    r"vorbereitung\w*|ruckgabe\w*|nachbesprechung\w*|besprechung\w*|wiederholung\w*|korrektur\w*|berichtigung\w*|"
    r"corrige\w*|repaso|preparacion|correccion|devolucion|ripasso|preparazione|correzione|restituzione|herhaling|"
    r"voorbereiding|nabespreking|bespreking|teruggave|revisions)\b"
)
_PRACTICE = re.compile(
    r"\b(?:practice|practise|ubung\w*|uben|mock|probe\w*|entrainement|oefen\w*|practica)\b"
)
_COMPOUND: dict[Written, str] = {
    "quiz": rf"(?:{_SUBJECTS})s?(?:test|quiz|kontrolle)",
    "exam": rf"\w{{3,}}(?:klausur|klassenarbeit|schulaufgabe|schularbeit|examen|proefwerk)|(?:{_SUBJECTS})s?prufung",
}
_OPEN_COMPOUND = re.compile(r"\w{3,}(?:test|prufung|kontrolle|toets)")
_GERMAN_NOUN = re.compile(
    r"(?:Test|Prüfung|Kontrolle|Leistungskontrolle)\s+(?:[A-ZÄÖÜ]\w+)(?:\s+(?:und|u\.)\s+[A-ZÄÖÜ]\w+)?"
)


@dataclass(frozen=True)
class Guess:
    """What a title says: quiz or exam, and whether that is certain."""

    written: Written
    sure: bool


def quiz_in_title(title: str, topics: Collection[str] = (), *, german: bool = False) -> Guess | None:
    """Tell whether a title names a quiz or exam.

    Parameters
    ----------
    title : str
        As written.
    topics : collection of str
        Topics of the class, in plain lower case (``headings.plain_heading``): "Forces test" is then certain.
    german : bool
        Whether the file is German, where a capital letter makes a noun: "Test Federn".

    Returns
    -------
    Guess or None
        None for what is no quiz; a guess that is not sure has to be asked about.

    Examples
    --------
    >>> quiz_in_title("1. Klausur"), quiz_in_title("Test charges in fields"), quiz_in_title("Testing materials")
    (Guess(written='exam', sure=True), Guess(written='quiz', sure=False), None)
    """
    plain = plain_heading(re.sub(r"[()\[\]]", " ", title))
    found = _strong(plain) or _weak(plain, title, topics, german)
    if found is None:
        return None
    if _PRACTICE.search(plain):
        return Guess(found.written, sure=False)
    return None if _LESSON.search(plain) else found


def _strong(plain: str) -> Guess | None:
    """Find words that mean a quiz or exam only: certain in front or at the end, else worth a question."""
    beginning = rf"(?:(?:the|der|die|das|le|la|el|il|de|een|unser) )?(?:(?:{_ORDER}) )?(?:(?:{_SUBJECTS}) )*"
    for written in _BOTH:
        words = rf"(?:{_STRONG[written]}|{_COMPOUND[written]})"
        if re.match(rf"{beginning}{words}(?:\b)", plain) or re.search(rf"\b{words}{_NUMBER}$", plain):
            return Guess(written, sure=True)
        if re.search(rf"\b{words}\b", plain):
            return Guess(written, sure=False)
    return None


def _weak(plain: str, title: str, topics: Collection[str], german: bool) -> Guess | None:
    """Find words that can mean something else: certain only by what stands beside them."""
    for written in _BOTH:
        words = _WEAK[written]
        first = re.match(rf"(?:(?P<lead>(?:{_ORDER})|(?:{_SUBJECTS})) )*(?:{words})\b(?P<rest>.*)", plain)
        last = re.search(rf"^(?P<rest>.*)\b(?:{words}){_NUMBER}$", plain)
        if first:
            sure = first["lead"] is not None or _tells(first["rest"].strip(), topics)
            sure = sure or (bool(_GERMAN_NOUN.fullmatch(title.strip())) and (german or not title.isascii()))
            sure = sure or bool(re.match(r"\s*[^\W\d_]+\s+\d{1,2}\s+[A-ZÄÖÜÉ]", title))
            sure = sure or bool(re.match(r"\s*[^\W\d_]+\s*(?:\d+\s*)?[:–—]\s|\s*[^\W\d_]+ - ", title))
            return Guess(written, sure)
        if last:
            rest = last["rest"].strip()
            sure = (
                rest in topics or re.search(rf"(?:^|\s)(?:{_SUBJECTS})(?: (?:{_ORDER}))?$", rest) is not None
            )
            return Guess(written, sure)
    if _OPEN_COMPOUND.fullmatch(plain) and plain not in (
        "protest",
        "contest",
        "attest",
        "uberprufung",
        "latest",
    ):
        return Guess("exam" if plain.endswith("prufung") else "quiz", sure=False)
    return None


def _tells(rest: str, topics: Collection[str]) -> bool:
    """Whether what follows the word leaves no doubt: nothing, a number, a subject, a known topic, "on …"."""
    if not rest or re.fullmatch(_NUMBER.strip(), f" {rest}") or re.match(rf"(?:{_SURE_LINK})\b", rest):
        return True
    bare = re.sub(rf"^(?:(?:no|nr|n|nummer|number) ?)?(?:(?:{_ORDER}) )?(?:(?:{_LINK}) )?", "", rest)
    return bare in topics or re.match(rf"(?:{_SUBJECTS})\b", bare) is not None
